//! People at the door: logging in, roles, waiting, signing, leaving.

use crate::desk::{desk_at, workspace};
use crate::house::{HOST, PORT, get, text};
use axum::Router;
use axum::body::Body;
use axum::http::{Request, Response};
use levigate_project::people::Hand;
use levigate_project::people::password::PasswordHash;
use levigate_project::records::{How, Kept, Lot, Person};
use levigate_project::workbench::people::{TypedPerson, add, roll};
use levigate_project::workspace::Workspace;
use serde_json::{Value, json};
use std::sync::Arc;
use tower::ServiceExt;

pub(crate) const PASSWORD: &str = "grey pestle 41";

/// Lets somebody in, past the pages.
pub(crate) async fn let_in(workspace: &Workspace, name: &str, role: &str) -> Kept<Person> {
    let typed = TypedPerson {
        name: name.to_owned(),
        role: role.to_owned(),
        password: PASSWORD.to_owned(),
        ..TypedPerson::default()
    };
    let hash = PasswordHash::make(PASSWORD, workspace.dice()).unwrap();
    add(workspace, &Hand::initialled("account"), &typed, &hash).await.unwrap()
}

/// A house with an admin, a reviewer and somebody at the bench.
pub(crate) struct Inhabited {
    workspace: Workspace,
    router: Router,
    token: String,
    host: &'static str,
    scheme: &'static str,
    ivo: String,
}

/// What came back: status, headers that matter, body.
pub(crate) struct Came {
    pub(crate) status: u16,
    pub(crate) cookie: String,
    pub(crate) location: String,
    pub(crate) body: String,
}

impl Came {
    async fn of(response: Response<Body>) -> Self {
        let header = |name: &str| {
            response.headers().get(name).map(|value| value.to_str().unwrap().to_owned()).unwrap_or_default()
        };
        let (cookie, location) = (header("set-cookie"), header("location"));
        Self { status: response.status().as_u16(), cookie, location, body: text(response).await }
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.body))
    }

    fn code(&self) -> String {
        self.json()["code"].as_str().unwrap().to_owned()
    }
}

impl Inhabited {
    pub(crate) async fn open() -> Self {
        let workspace = workspace();
        let_in(&workspace, "Ines Marrow", "admin").await;
        let_in(&workspace, "Una Reed", "reviewer").await;
        let ivo = let_in(&workspace, "Ivo Stone", "bench").await;
        let desk = desk_at(workspace.clone()).await;
        let router = levigate_web::serve::router(Arc::new(desk), PORT).unwrap();
        let mut house = Self {
            workspace,
            router,
            token: String::new(),
            host: HOST,
            scheme: "http",
            ivo: ivo.id.to_string(),
        };
        house.token = house.token_of_page().await;
        house
    }

    async fn token_of_page(&self) -> String {
        let page = Came::of(self.send(get("/login")).await).await;
        assert_eq!(page.status, 200, "{}", page.body);
        page.body
            .split("name=\"levigate-token\" content=\"")
            .nth(1)
            .unwrap()
            .split('"')
            .next()
            .unwrap()
            .to_owned()
    }

    async fn send(&self, request: Request<Body>) -> Response<Body> {
        self.router.clone().oneshot(request).await.unwrap()
    }

    pub(crate) async fn look(&self, path: &str, cookie: &str) -> Came {
        let request = Request::get(path).header("host", self.host).header("cookie", cookie);
        Came::of(self.send(request.body(Body::empty()).unwrap()).await).await
    }

    pub(crate) async fn post(&self, path: &str, cookie: &str, body: &Value) -> Came {
        let request = Request::post(path)
            .header("host", self.host)
            .header("origin", format!("{}://{}", self.scheme, self.host))
            .header("x-levigate-token", &self.token)
            .header("cookie", cookie)
            .body(Body::from(body.to_string()))
            .unwrap();
        Came::of(self.send(request).await).await
    }

    async fn try_login(&self, name: &str, password: &str) -> Came {
        self.post("/api/login", "", &json!({ "name": name, "password": password })).await
    }

    /// Logs in and gives the cookie as a browser sends it back.
    pub(crate) async fn log_in(&self, name: &str) -> String {
        let came = self.try_login(name, PASSWORD).await;
        assert_eq!(came.status, 200, "{}", came.body);
        came.cookie.split(';').next().unwrap().to_owned()
    }
}

#[tokio::test]
async fn whoever_has_not_logged_in_sees_nothing_but_the_door() {
    let house = Inhabited::open().await;
    let page = house.look("/formulas/x?version=2", "").await;
    assert_eq!((page.status, page.location.as_str()), (303, "/login?to=/formulas/x%3Fversion%3D2"));
    for path in ["/api/formulas", "/api/people", "/api/lots", "/api/no-such-thing"] {
        let came = house.look(path, "").await;
        assert_eq!((came.status, came.code().as_str()), (401, "log-in"), "{path}");
        assert!(came.json()["place"].is_object());
    }
    for path in ["/", "/people", "/settings", "/photos/1", "/nothing-here"] {
        assert_eq!(house.look(path, "").await.status, 303, "{path}");
    }
    assert_eq!(house.look("/static/api.js", "").await.status, 200);
    let door = house.look("/login", "").await;
    assert!(!door.body.contains("href=\"/materials\""), "the places are for those inside");
    assert!(!door.body.contains("Quillfen"), "{}", door.body);
    for cookie in ["levigate-7117=", "levigate-7117=0000", "other=1", "levigate-7117"] {
        assert_eq!(house.look("/api/formulas", cookie).await.status, 401, "{cookie}");
    }
}

#[tokio::test]
async fn the_cookie_of_a_login_opens_the_house_in_the_name_of_the_person() {
    let house = Inhabited::open().await;
    let came = house.try_login("ines  MARROW", PASSWORD).await;
    assert_eq!(came.json(), json!({ "name": "Ines Marrow", "role": "admin" }));
    for part in ["levigate-7117=", "; Path=/", "; HttpOnly", "; SameSite=Strict", "; Max-Age=43200"] {
        assert!(came.cookie.contains(part), "{}", came.cookie);
    }
    assert!(!came.cookie.contains("Secure"), "there is no encryption on this machine's own address");
    let cookie = came.cookie.split(';').next().unwrap().to_owned();
    let page = house.look("/formulas", &cookie).await;
    assert!(
        page.status == 200
            && page.body.contains("Ines Marrow, admin")
            && page.body.contains("href=\"/people\"")
    );
    assert_eq!(house.look("/login?to=/settings", &cookie).await.location, "/settings");
    let lot = json!({ "material": "Mandelic acid", "code": "M-1" });
    assert_eq!(house.post("/api/lots", &cookie, &lot).await.status, 200);
    let lots: Vec<Kept<Lot>> = house.workspace.all().await.unwrap();
    assert_eq!((lots[0].who.as_str(), lots[0].how), ("Ines Marrow", How::Authenticated));
    house.workspace.verify().await.unwrap();
    // A change still needs a page of ours.
    let request = Request::post("/api/lots").header("host", HOST).header("cookie", &cookie);
    assert_eq!(house.send(request.body(Body::from("{}")).unwrap()).await.status(), 403);
    let request = Request::post("/api/lots")
        .header("host", HOST)
        .header("cookie", &cookie)
        .header("x-levigate-token", &house.token)
        .header("origin", "http://elsewhere.example");
    assert_eq!(house.send(request.body(Body::from("{}")).unwrap()).await.status(), 403);
}

#[tokio::test]
async fn a_wrong_password_and_an_unknown_name_are_told_in_the_same_words_and_then_have_to_wait() {
    let house = Inhabited::open().await;
    let known = house.try_login("Ivo Stone", "slate and chalk 7").await;
    let unknown = house.try_login("Nobody Atall", "slate and chalk 7").await;
    assert_eq!((known.status, known.code().as_str()), (422, "wrong-password"));
    assert_eq!((known.status, &known.body), (unknown.status, &unknown.body));
    assert!(known.cookie.is_empty());
    for name in ["Ivo Stone", "Nobody Atall"] {
        for _ in 0..4 {
            assert_eq!(house.try_login(name, "x").await.status, 422);
        }
        let wait = house.try_login(name, PASSWORD).await;
        assert_eq!((wait.status, wait.code().as_str()), (429, "wait"), "{name}");
        assert_eq!(wait.json()["what"], "Wait 30 seconds before the next try.");
    }
    house.log_in("Ines Marrow").await;
}

#[tokio::test]
async fn a_role_opens_what_it_opens_and_a_refusal_says_who_may() {
    let house = Inhabited::open().await;
    let (admin, bench) = (house.log_in("IM").await, house.log_in("Ivo Stone").await);
    assert_eq!(house.look("/formulas", &bench).await.status, 200);
    let page = house.look("/people", &bench).await;
    assert_eq!(page.status, 403);
    assert!(
        page.body.contains("Ivo Stone has the role bench; only an admin may manage people."),
        "{}",
        page.body
    );
    let new = json!({ "name": "Ada Quill", "role": "bench", "password": "slate and chalk 7" });
    let denied = house.post("/api/people", &bench, &new).await;
    assert_eq!((denied.status, denied.code().as_str()), (403, "not-your-role"));
    assert!(denied.json()["what_now"].as_str().unwrap().contains("Ask an admin."), "{}", denied.body);
    assert_eq!(house.look("/api/people", &bench).await.status, 403);
    let ivo = house.ivo.clone();
    let denied = house.post(&format!("/api/people/{ivo}"), &bench, &json!({ "role": "admin" })).await;
    assert_eq!(denied.status, 403);

    assert_eq!(house.post("/api/people", &admin, &new).await.json()["password"], "kept");
    let listed = house.look("/api/people", &admin).await;
    assert!(
        listed.json().as_array().unwrap().len() == 4 && !listed.body.contains("argon2"),
        "{}",
        listed.body
    );
    assert!(!house.look("/people", &admin).await.body.contains("argon2"));
    // A new role counts at once, in the session that is there.
    assert_eq!(
        house.post(&format!("/api/people/{ivo}"), &admin, &json!({ "role": "admin" })).await.status,
        200
    );
    assert_eq!(house.look("/people", &bench).await.status, 200);
    // Who may no longer log in is out at once.
    assert_eq!(
        house.post(&format!("/api/people/{ivo}"), &admin, &json!({ "active": false })).await.status,
        200
    );
    assert_eq!(house.look("/people", &bench).await.status, 303);
    assert_eq!(house.try_login("Ivo Stone", PASSWORD).await.status, 422);
    let none = house.post("/api/people/none-such", &admin, &json!({ "active": true })).await;
    assert_eq!(none.status, 404);
    let fault =
        house.post("/api/people", &admin, &json!({ "name": "Bo", "role": "chief", "password": "" })).await;
    assert_eq!((fault.status, fault.json()["place"]["field"].as_str()), (422, Some("role")));
}

#[tokio::test]
async fn sessions_end_when_they_are_left_everywhere_or_with_a_new_password() {
    let house = Inhabited::open().await;
    let (one, two) = (house.log_in("Una Reed").await, house.log_in("Una Reed").await);
    let left = house.post("/api/me/logout", &one, &json!({})).await;
    assert!(left.status == 200 && left.cookie.contains("Max-Age=0"), "{}", left.cookie);
    assert_eq!(house.look("/api/formulas", &one).await.status, 401);
    assert_eq!(house.look("/api/formulas", &two).await.status, 200);

    let three = house.log_in("Una Reed").await;
    let wrong =
        house.post("/api/me/password", &two, &json!({ "old": "x", "new": "slate and chalk 7" })).await;
    assert_eq!((wrong.status, wrong.json()["place"]["field"].as_str()), (422, Some("old")));
    let weak = house.post("/api/me/password", &two, &json!({ "old": PASSWORD, "new": "short" })).await;
    assert_eq!((weak.status, weak.json()["place"]["field"].as_str()), (422, Some("password")));
    let changed =
        house.post("/api/me/password", &two, &json!({ "old": PASSWORD, "new": "slate and chalk 7" })).await;
    assert_eq!(changed.status, 200, "{}", changed.body);
    assert_eq!(house.look("/api/formulas", &two).await.status, 200, "the one it was changed in goes on");
    assert_eq!(house.look("/api/formulas", &three).await.status, 401);
    assert_eq!(house.try_login("Una Reed", PASSWORD).await.status, 422);
    assert_eq!(house.try_login("Una Reed", "slate and chalk 7").await.status, 200);

    house.post("/api/me/logout", &two, &json!({ "everywhere": true })).await;
    assert_eq!(house.look("/api/formulas", &two).await.status, 401);
}

#[tokio::test]
async fn a_signature_takes_the_password_again_and_says_how_it_is_known() {
    let house = Inhabited::open().await;
    let (reviewer, bench) = (house.log_in("Una Reed").await, house.log_in("Ivo Stone").await);
    let signed = house.post("/api/sign", &reviewer, &json!({ "password": PASSWORD, "sign_off": true })).await;
    assert_eq!(signed.status, 200, "{}", signed.body);
    let signed = signed.json();
    assert_eq!(
        (&signed["who"], &signed["how"], &signed["words"]),
        (&json!("Una Reed"), &json!("authenticated"), &json!("reviewer, authenticated by password"))
    );
    assert_eq!(signed["ticket"].as_str().unwrap().len(), 64);
    let denied = house.post("/api/sign", &bench, &json!({ "password": PASSWORD, "sign_off": true })).await;
    assert_eq!((denied.status, denied.code().as_str()), (403, "not-your-role"));
    assert!(denied.json()["what"].as_str().unwrap().contains("a reviewer or an admin"), "{}", denied.body);
    let wrong = house.post("/api/sign", &bench, &json!({ "password": "not mine at all" })).await;
    assert_eq!((wrong.status, wrong.code().as_str()), (422, "wrong-password"));
    // Where it is not about signing off, everybody signs for what they did.
    assert_eq!(house.post("/api/sign", &bench, &json!({ "password": PASSWORD })).await.status, 200);
}

#[tokio::test]
async fn a_batch_is_signed_off_and_a_lot_judged_by_whoever_may_with_a_ticket_that_is_theirs_and_good_once() {
    let house = Inhabited::open().await;
    let (reviewer, bench) = (house.log_in("Una Reed").await, house.log_in("Ivo Stone").await);
    // Right and ticket are asked for before the batch is looked for: there is none.
    let nowhere = "018f0000-0000-7000-8000-000000000099";
    let sign_off = format!("/api/batches/{nowhere}/sign-off");
    let ticket = async |cookie: &str| {
        let signed = house.post("/api/sign", cookie, &json!({ "password": PASSWORD })).await;
        signed.json()["ticket"].as_str().unwrap().to_owned()
    };
    let signs = async |cookie: &str, signed_as: &str, ticket: &str| {
        let body = json!({ "signed_as": signed_as, "signature": ticket });
        let came = house.post(&sign_off, cookie, &body).await;
        (came.status, came.code())
    };
    let denied = (403, "not-your-role".to_owned());
    for signed_as in ["reviewed", "released", "rejected", "whatever"] {
        assert_eq!(signs(&bench, signed_as, &ticket(&bench).await).await, denied, "{signed_as}");
    }
    let unsigned = (422, "not-signed".to_owned());
    assert_eq!(signs(&reviewer, "released", "").await, unsigned);
    let stolen = ticket(&bench).await;
    assert_eq!(signs(&reviewer, "made", &stolen).await, unsigned, "a ticket is its person's");
    assert_eq!(signs(&bench, "made", &stolen).await, unsigned, "whoever took it has used it up");
    for (cookie, signed_as) in [(&bench, "made"), (&reviewer, "released")] {
        let own = ticket(cookie).await;
        assert_eq!(signs(cookie, signed_as, &own).await.0, 404);
        assert_eq!(signs(cookie, signed_as, &own).await, unsigned, "it is good once");
    }
    let status = format!("/api/lots/{nowhere}/status");
    for (word, cookie, expected) in
        [("released", &bench, 404), ("quarantine", &bench, 404), ("released", &reviewer, 404)]
    {
        let told = house.post(&status, cookie, &json!({ "status": word, "reason": "looked at" })).await;
        assert_eq!(told.status, expected, "{word}: {}", told.body);
    }
}

#[tokio::test]
async fn a_rejected_lot_is_taken_up_again_by_a_reviewer_alone() {
    let house = Inhabited::open().await;
    let (reviewer, bench) = (house.log_in("Una Reed").await, house.log_in("Ivo Stone").await);
    let lot = json!({ "material": "mandelic-acid", "code": "M-7", "quantity": "500" });
    let lot = house.post("/api/lots", &bench, &lot).await.json()["id"].as_str().unwrap().to_owned();
    let status = format!("/api/lots/{lot}/status");
    let say = async |cookie: &str, word: &str| {
        house.post(&status, cookie, &json!({ "status": word, "reason": "looked at" })).await
    };
    for word in ["quarantine", "used_up", "quarantine"] {
        assert_eq!(say(&bench, word).await.status, 200, "{word}");
    }
    for word in ["released", "rejected"] {
        let denied = say(&bench, word).await;
        assert_eq!((denied.status, denied.code().as_str()), (403, "not-your-role"), "{word}");
    }
    assert_eq!(say(&reviewer, "rejected").await.status, 200);
    for word in ["quarantine", "used_up", "released", "rejected"] {
        let denied = say(&bench, word).await;
        assert_eq!((denied.status, denied.code().as_str()), (403, "not-your-role"), "{word}");
        let what = denied.json()["what"].as_str().unwrap().to_owned();
        assert!(what.contains("only a reviewer or an admin may release or reject a lot"), "{what}");
        assert!(denied.json()["what_now"].as_str().unwrap().contains("reviewer"), "{}", denied.body);
    }
    // Nor by another name, under which the code would be free for a lot that nobody has judged.
    let correction = |code: &str, location: &str| {
        let instead =
            json!({ "material": "mandelic-acid", "code": code, "quantity": "500", "location": location });
        json!({ "reason": "misread", "instead": instead })
    };
    let correct = format!("/api/lots/{lot}/correction");
    let denied = house.post(&correct, &bench, &correction("M-7 old", "")).await;
    assert_eq!((denied.status, denied.code().as_str()), (403, "not-your-role"), "{}", denied.body);
    let page = house.look(&format!("/lots/{lot}"), &bench).await;
    assert!(page.status == 200 && page.body.contains("\"judges\":false"), "{}", page.body);
    assert_eq!(say(&reviewer, "quarantine").await.status, 200);
    let told = house.look(&format!("/api/lots/{lot}"), &bench).await.json();
    assert_eq!(told["status"], "quarantine");
    assert_eq!(told["decisions"].as_array().unwrap().len(), 5, "a refusal writes nothing");
    assert_eq!(told["decisions"][3]["known_by"], "authenticated by password");
    assert_eq!(say(&reviewer, "rejected").await.status, 200);
    let moved = house.post(&correct, &bench, &correction("m-7", "waste")).await;
    assert_eq!(moved.status, 200, "where it stands may be corrected: {}", moved.body);
}

#[tokio::test]
async fn whoever_made_a_batch_is_looked_at_by_somebody_else_or_says_why_not() {
    let house = Inhabited::open().await;
    let (reviewer, bench) = (house.log_in("Una Reed").await, house.log_in("Ivo Stone").await);
    let text = include_str!("../../../../examples/night-toner-mandelic.toml");
    let saved = house.post("/api/formulas/import", &bench, &json!({ "text": text })).await;
    let formula = saved.json()["id"].as_str().unwrap_or_else(|| panic!("{}", saved.body)).to_owned();
    let start = json!({ "version": 1, "size": "200", "unit": "g", "code": "EYES-1" });
    let started = house.post(&format!("/api/formulas/{formula}/batches"), &bench, &start).await;
    let batch = started.json()["id"].as_str().unwrap_or_else(|| panic!("{}", started.body)).to_owned();
    let note = async |cookie: &str, number: u32| {
        let id = format!("018f0000-0000-7000-8000-{number:012}");
        let entry = json!({ "id": id, "did": "note", "text": "stirred" });
        let kept = house.post(&format!("/api/batches/{batch}/entries"), cookie, &entry).await;
        assert_eq!(kept.status, 200, "{}", kept.body);
    };
    // The reviewer made it this time: two entries of three.
    note(&reviewer, 1).await;
    note(&reviewer, 2).await;
    note(&bench, 3).await;
    let sign = async |cookie: &str, signed_as: &str, alone: &str| {
        let ticket = house.post("/api/sign", cookie, &json!({ "password": PASSWORD })).await;
        let ticket = ticket.json()["ticket"].as_str().unwrap().to_owned();
        let body = json!({ "signed_as": signed_as, "alone": alone, "signature": ticket });
        house.post(&format!("/api/batches/{batch}/sign-off"), cookie, &body).await
    };
    let state = async || house.look(&format!("/api/batches/{batch}"), &bench).await.json();
    let early = sign(&reviewer, "reviewed", "").await;
    assert_eq!(
        (early.status, early.json()["place"]["field"].as_str()),
        (422, Some("signed_as")),
        "{}",
        early.body
    );
    assert_eq!(sign(&bench, "made", "").await.status, 200);
    assert_eq!(state().await["seen_by"], "Nobody else has looked at it yet.");
    let own = sign(&reviewer, "reviewed", "").await;
    assert_eq!((own.status, own.json()["place"]["field"].as_str()), (422, Some("alone")), "{}", own.body);
    assert_eq!(own.json()["what"], "Una Reed made most of this batch: 2 of 3 entries are in that name.");
    assert_eq!(state().await["sign_offs"].as_array().unwrap().len(), 1, "a refusal writes nothing");
    assert_eq!(sign(&reviewer, "reviewed", " nobody else here this week ").await.status, 200);
    let told = state().await;
    assert_eq!(told["seen_by"], "Made and reviewed by Una Reed alone: nobody else here this week.");
    assert_eq!(
        (&told["seen_by_another"], &told["sign_offs"][1]["alone"]),
        (&json!(false), &json!("nobody else here this week"))
    );
    // Somebody who neither signed for it nor kept most of it needs no reason, and one given is not written down.
    let admin = house.log_in("Ines Marrow").await;
    assert_eq!(sign(&admin, "released", "a reason nobody asked for").await.status, 200);
    let told = state().await;
    assert_eq!(told["seen_by"], "Made by one person, released by another: Ines Marrow.");
    assert_eq!((&told["seen_by_another"], &told["sign_offs"][2]["alone"]), (&json!(true), &json!(null)));
    house.workspace.verify().await.unwrap();
    let signatures = house.workspace.signatures().await.unwrap();
    assert!(signatures.len() == 3 && signatures.iter().all(|(_, _, holds)| *holds));
}

#[tokio::test]
async fn initials_are_no_second_row_of_tries() {
    let house = Inhabited::open().await;
    for name in ["Ines Marrow", "IM", "im", "ines  marrow", "IM"] {
        assert_eq!(house.try_login(name, "wrong wrong wrong").await.status, 422, "{name}");
    }
    for name in ["Ines Marrow", "IM"] {
        assert_eq!(house.try_login(name, PASSWORD).await.status, 429, "{name}");
    }
    house.log_in("Una Reed").await;
}

#[tokio::test]
async fn where_nobody_logs_in_everything_is_initialled() {
    let workspace = workspace();
    let desk = desk_at(workspace.clone()).await;
    let router = levigate_web::serve::router(Arc::new(desk), PORT).unwrap();
    let mut house =
        Inhabited { workspace, router, token: String::new(), host: HOST, scheme: "http", ivo: String::new() };
    let page = house.look("/formulas", "").await;
    assert_eq!(page.status, 200);
    house.token =
        page.body.split("levigate-token\" content=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    assert_eq!(house.look("/login?to=//elsewhere.example", "").await.location, "/formulas");
    assert!(house.look("/people", "").await.body.contains("levigate people add"));
    assert!(house.look("/settings", "").await.body.contains("initialled and not authenticated"));
    assert_eq!(house.look("/pairing", "").await.status, 404);
    assert_eq!(house.look("/pairing/certificate", "").await.status, 404);
    assert_eq!(
        house.post("/api/lots", "", &json!({ "material": "Mandelic acid", "code": "M-1" })).await.status,
        200
    );
    let lots: Vec<Kept<Lot>> = house.workspace.all().await.unwrap();
    assert_eq!(lots[0].how, How::Initialled);
    let signed = house.post("/api/sign", "", &json!({ "sign_off": true })).await.json();
    assert_eq!(
        (&signed["how"], &signed["words"]),
        (&json!("initialled"), &json!("initialled, not authenticated"))
    );
    // The first person is not made by whoever happens to reach the page.
    let new = json!({ "name": "Ada Quill", "role": "admin", "password": PASSWORD });
    assert_eq!(house.post("/api/people", "", &new).await.code(), "first-person");
    assert_eq!(house.post("/api/people/first", "", &new).await.code(), "wrong-code");
    assert!(roll(&house.workspace).await.unwrap().is_empty());
    assert_eq!(house.post("/api/me/password", "", &json!({ "old": "", "new": PASSWORD })).await.status, 404);
    assert_eq!(house.post("/api/login", "", &json!({ "name": "a", "password": "b" })).await.status, 422);
}

#[tokio::test]
async fn in_the_network_nobody_gets_in_before_there_is_somebody() {
    let workspace = workspace();
    let router = |desk| levigate_web::serve::network_router(Arc::new(desk), "bench.example:7447").unwrap();
    let mut house = Inhabited {
        router: router(desk_at(workspace.clone()).await),
        workspace,
        token: String::new(),
        host: "bench.example:7447",
        scheme: "https",
        ivo: String::new(),
    };
    for path in ["/", "/formulas", "/people", "/pairing"] {
        let came = house.look(path, "").await;
        assert_eq!(came.status, 403, "{path}");
        assert!(came.body.contains("Nobody can log in here yet."), "{}", came.body);
    }
    assert_eq!(house.look("/api/formulas", "").await.code(), "nobody-yet");
    house.token = house.look("/login", "").await.body.split("levigate-token\" content=\"").nth(1).unwrap()
        [..64]
        .to_owned();
    let new = json!({ "code": "", "name": "Ada Quill", "password": PASSWORD });
    assert_eq!(house.post("/api/people/first", "", &new).await.code(), "wrong-code");
    assert_eq!(house.post("/api/people", "", &new).await.code(), "nobody-yet");

    let_in(&house.workspace, "Ines Marrow", "admin").await;
    house.router = router(desk_at(house.workspace.clone()).await);
    house.token = house.look("/login", "").await.body.split("levigate-token\" content=\"").nth(1).unwrap()
        [..64]
        .to_owned();
    assert_eq!(house.look("/formulas", "").await.status, 303);
    let came = house.try_login("Ines Marrow", PASSWORD).await;
    assert!(
        came.cookie.starts_with("__Host-levigate=") && came.cookie.contains("; Secure"),
        "{}",
        came.cookie
    );
    let cookie = came.cookie.split(';').next().unwrap().to_owned();
    assert_eq!(house.look("/formulas", &cookie).await.status, 200);
    assert_eq!(house.look("/pairing", &cookie).await.status, 404, "pairing is shown at the machine itself");
    // Other names of the machine, and a page without encryption, are refused.
    for host in ["127.0.0.1:7447", "bench.example", "elsewhere.example:7447", ""] {
        let request = Request::get("/login").header("host", host).body(Body::empty()).unwrap();
        let came = Came::of(house.send(request).await).await;
        assert!(came.status == 403 && came.body.contains("not one this program answers to"), "{host}");
    }
    house.scheme = "http";
    assert_eq!(house.post("/api/lots", &cookie, &json!({})).await.code(), "foreign-page");
}

mod hostile {
    //! What nobody should send to the door.

    use super::*;
    use proptest::prelude::*;
    use tokio::sync::OnceCell;

    async fn house() -> &'static (Inhabited, String) {
        static HOUSE: OnceCell<(Inhabited, String)> = OnceCell::const_new();
        HOUSE
            .get_or_init(async || {
                let house = Inhabited::open().await;
                let cookie = house.log_in("Ines Marrow").await;
                (house, cookie)
            })
            .await
    }

    fn run<T>(future: impl Future<Output = T>) -> T {
        tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(future)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn no_cookie_but_the_right_one_opens(cookie in "[ -~]{0,120}") {
            run(async {
                let (house, own) = house().await;
                for cookie in [cookie.clone(), format!("levigate-7117={cookie}"), format!("{}{cookie}", &own[..own.len() - 1])] {
                    prop_assert_eq!(house.look("/api/people", &cookie).await.status, 401);
                }
                Ok(())
            })?;
        }

        #[test]
        fn no_address_is_open_by_its_spelling(path in "/[a-z./%A-F0-9]{0,30}") {
            run(async {
                let (house, _) = house().await;
                if Request::get(&path).body(()).is_err() {
                    return Ok(());
                }
                let came = house.look(&path, "").await;
                let open = path.starts_with("/static/") || path == "/login";
                prop_assert!(matches!(came.status, 303 | 401) || open, "{}: {}", path, came.status);
                Ok(())
            })?;
        }

        #[test]
        fn whatever_is_typed_about_people_is_kept_or_told(name in "\\PC{0,40}", role in "\\PC{0,12}", password in "\\PC{0,8}") {
            run(async {
                let (house, cookie) = house().await;
                // No password of fewer than ten letters is taken, so nothing here is slow.
                let body = json!({ "name": name, "initials": role, "role": role, "password": password });
                for path in ["/api/people", &format!("/api/people/{}", house.ivo)] {
                    let came = house.post(path, cookie, &body).await;
                    prop_assert_eq!(came.status, 422, "{}", &came.body);
                    prop_assert!(came.json()["place"]["field"].is_string(), "{}", &came.body);
                }
                let came = house.post("/api/people/first", "", &body).await;
                prop_assert_eq!(came.status, 403);
                Ok(())
            })?;
        }
    }

    #[tokio::test]
    async fn a_body_at_the_door_is_small_and_understood_or_told() {
        let (house, cookie) = house().await;
        let long = "x".repeat(20_000);
        for path in ["/api/login", "/api/sign", "/api/me/password", "/api/people"] {
            let came =
                house.post(path, cookie, &json!({ "name": long, "password": long, "old": long })).await;
            assert_eq!(came.status, 413, "{path}");
            for body in [json!(null), json!([]), json!(7), json!({ "name": 7, "password": 7, "old": 7 })] {
                let came = house.post(path, cookie, &body).await;
                assert!(
                    came.status == 422 && came.json()["place"].is_object(),
                    "{path} {body}: {}",
                    came.body
                );
            }
        }
    }
}

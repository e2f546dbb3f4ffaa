//! Bodies and addresses sent to the routes over a real desk: never a failure of the server. The first byte names the route.
#![no_main]

mod house;

use axum::http::Method;
use house::House;
use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;

const FRESH_AFTER: usize = 300;

thread_local! {
    static HOUSE: RefCell<Option<House>> = const { RefCell::new(None) };
}

fn path(route: u8, house: &House) -> Option<String> {
    let House { formula, trial, lot, batch, .. } = house;
    Some(match route {
        b'a' => "/api/assess".to_owned(),
        b'f' => "/api/figures".to_owned(),
        b'u' => "/api/in-use".to_owned(),
        b'n' => "/api/level".to_owned(),
        b'p' => "/api/procedure".to_owned(),
        b's' => "/api/sure".to_owned(),
        b'c' => "/api/scale".to_owned(),
        b'x' => "/api/measurement".to_owned(),
        b't' => "/api/toml".to_owned(),
        b'm' => "/api/materials".to_owned(),
        b'i' => "/api/formulas/import".to_owned(),
        b'v' => "/api/bring-in/preview".to_owned(),
        b'b' => "/api/bring-in".to_owned(),
        b'A' => "/api/adjust".to_owned(),
        b'C' => "/api/calibrate".to_owned(),
        b'F' => "/api/flow/fit".to_owned(),
        b'w' => "/api/formulas".to_owned(),
        b'r' => format!("/api/formulas/{formula}/versions"),
        b'T' => format!("/api/formulas/{formula}/trials"),
        b'R' => format!("/api/trials/{trial}/readings"),
        b'O' => format!("/api/trials/{trial}/observations"),
        b'j' => format!("/api/trials/{trial}/curves"),
        b'l' => "/api/lots".to_owned(),
        b'L' => format!("/api/lots/{lot}/correction"),
        b'k' => format!("/api/lots/{lot}/status"),
        b'y' => format!("/api/lots/{lot}/movements"),
        b'h' => format!("/api/formulas/{formula}/batches"),
        b'P' => format!("/api/formulas/{formula}/batches/plan"),
        b'e' => format!("/api/batches/{batch}/entries"),
        b'z' => format!("/api/batches/{batch}/undo"),
        b'o' => format!("/api/batches/{batch}/corrections"),
        b'S' => format!("/api/batches/{batch}/sign-off"),
        b'q' => format!("/api/batches/{batch}/samples"),
        _ => return None,
    })
}

fuzz_target!(|input: &[u8]| {
    let Some((route, body)) = input.split_first() else { return };
    HOUSE.with_borrow_mut(|house| {
        if house.as_ref().is_none_or(|house| house.worn(FRESH_AFTER)) {
            *house = Some(House::new());
        }
        let Some(house) = house.as_mut() else { return };
        if *route == b'g' {
            // An address: `{f}`, `{t}`, `{l}` and `{b}` stand for what is there.
            let Ok(address) = std::str::from_utf8(body) else { return };
            let address = address
                .replace("{f}", &house.formula)
                .replace("{t}", &house.trial)
                .replace("{l}", &house.lot)
                .replace("{b}", &house.batch);
            if let Some((status, _)) = house.send(Method::GET, &address, &[]) {
                assert!(!status.is_server_error(), "{address}: {status}");
            }
            return;
        }
        let Some(path) = path(*route, house) else { return };
        let Some((status, answer)) = house.send(Method::POST, &path, body) else { return };
        assert!(!status.is_server_error(), "{path}: {status}");
        if status.is_client_error() {
            let told: serde_json::Value = serde_json::from_slice(&answer).expect("a refusal is JSON");
            assert!(told["place"].is_object(), "{path}: {told}");
        }
        if *route == b'e' || *route == b'h' {
            // What was kept can be shown.
            for page in [format!("/api/batches/{}", house.batch), format!("/batches/{}", house.batch)] {
                let (status, _) = house.send(Method::GET, &page, &[]).expect("an address");
                assert!(status.is_success(), "{page}: {status}");
            }
        }
    });
});

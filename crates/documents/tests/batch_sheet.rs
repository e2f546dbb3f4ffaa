//! The printed page and the table: harmless, complete, self-contained.

mod toner;

use levigate_documents::{SHEET_CONTENT_SECURITY_POLICY, sheet_csv, sheet_html};

const HOSTILE: &str = "\"><script>alert('x')</script><img src=x onerror=y> & </style>";

#[test]
fn nothing_that_was_typed_becomes_markup() {
    let sheet = toner::sheet("200", "0.01", |sheet, materials| {
        sheet.product.name = HOSTILE.to_owned();
        sheet.product.client = Some(HOSTILE.to_owned());
        sheet.phases[0].name = HOSTILE.to_owned();
        sheet.phases[0].step = Some(HOSTILE.to_owned());
        sheet.phases[0].lines[0].lot = Some(HOSTILE.to_owned());
        sheet.phases[0].lines[0].note = Some(HOSTILE.to_owned());
        for material in materials {
            material.name = HOSTILE.to_owned();
            for caution in &mut material.cautions {
                caution.text = HOSTILE.to_owned();
            }
        }
    });
    let html = sheet_html(&sheet);
    for forbidden in ["<script", "<img", "alert('x')"] {
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    assert_eq!(html.matches("</style>").count(), 1);
    assert!(html.matches("&lt;script&gt;").count() > 10);
}

#[test]
fn the_page_fetches_nothing_and_runs_nothing() {
    let html = sheet_html(&toner::sheet("200", "0.01", |_, _| {}));
    for forbidden in ["http:", "https:", "<script", "<link", "@import", " onload", " onclick", "javascript:"]
    {
        // The name space of SVG is not fetched; the page has none outside its own markup.
        assert!(!html.contains(forbidden), "{forbidden}");
    }
    assert_eq!(html.matches("url(").count(), html.matches("url(data:font/woff2;base64,").count());
    assert!(SHEET_CONTENT_SECURITY_POLICY.contains("default-src 'none'"));
}

#[test]
fn every_line_is_on_the_page_with_its_weight_and_a_place_to_write() {
    let sheet = toner::sheet("200", "0.01", |_, _| {});
    let html = sheet_html(&sheet);
    for line in sheet.lines() {
        assert!(html.contains(&format!("<strong>{}</strong>", line.grams)), "{}", line.name);
    }
    assert_eq!(html.matches("<td class=\"box\">").count(), 4 * sheet.lines().count());
    assert!(html.contains("<strong>200.00\u{00A0}g</strong>"));
    for word in
        ["Evaporation is not included", "counter(pages)", "7f3a-20c1", "nothing binds cosmetics to it"]
    {
        assert!(html.contains(word), "{word}");
    }
    assert_eq!(html, sheet_html(&sheet), "the same sheet, the same page");
}

#[test]
fn the_table_adds_up_and_cannot_be_run() {
    let sheet = toner::sheet("200", "0.01", |sheet, materials| {
        materials[0].name = "=HYPERLINK(\"x\")".to_owned();
        sheet.phases[0].lines[1].lot = Some("-1+2".to_owned());
    });
    let csv = sheet_csv(&sheet).expect("a table");
    let mut reader = csv::Reader::from_reader(csv.as_slice());
    let head = reader.headers().expect("a head").clone();
    let column = |name: &str| head.iter().position(|head| head == name).expect("the column");
    let rows: Vec<csv::StringRecord> = reader.records().collect::<Result<_, _>>().expect("rows");
    assert_eq!(rows.len(), sheet.lines().count());
    let total: rust_decimal::Decimal =
        rows.iter().map(|row| row[column("target_g")].parse::<rust_decimal::Decimal>().expect("grams")).sum();
    assert_eq!(total, sheet.total_g);
    assert_eq!(&rows[0][column("name")], "'=HYPERLINK(\"x\")");
    assert_eq!(&rows[1][column("lot")], "'-1+2");
}

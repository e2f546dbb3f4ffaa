//! Measured tables through the reader: the curves of the open data sets, the same points in every dialect a table is written in, and
//! tables that are wrong.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_facts::Facts;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::{Choices, ColumnChoice, Direction, FlowTable, TorqueFloor, read};
use levigate_project::workbench::flow_fit::{Asked, Weights, flow_fit};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::Path;

type Points = Vec<(f64, f64)>;

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/flow")
}

fn understood(text: &[u8]) -> FlowTable {
    with(text, &Choices::default())
}

fn with(text: &[u8], choices: &Choices) -> FlowTable {
    read("a table", text, choices, None).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

fn refused(text: &[u8]) -> Diagnostic {
    match read("a table", text, &Choices::default(), None) {
        Ok(table) => panic!("read as {:?}", table.curves),
        Err(problems) => {
            assert!(!problems[0].what.is_empty() && !problems[0].what_now.is_empty());
            problems[0].clone()
        }
    }
}

fn said(choices: &[&str]) -> Choices {
    let columns = choices.iter().map(|text| ColumnChoice::read(text).unwrap()).collect();
    Choices { columns, ..Choices::default() }
}

fn points(table: &FlowTable) -> BTreeMap<String, Points> {
    let curves = table.curves.iter();
    curves
        .map(|curve| {
            let points = curve.points.iter().map(|point| (point.shear_rate, point.stress));
            (curve.name.clone(), points.collect())
        })
        .collect()
}

fn only(table: &FlowTable) -> Points {
    assert_eq!(table.curves.len(), 1, "{:?}", table.curves);
    points(table).into_values().next().unwrap()
}

fn close(found: &[(f64, f64)], wanted: &[(f64, f64)]) {
    assert_eq!(found.len(), wanted.len(), "{found:?}");
    for (found, wanted) in found.iter().zip(wanted) {
        let near = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-9;
        assert!(near(found.0, wanted.0) && near(found.1, wanted.1), "{found:?} for {wanted:?}");
    }
}

/// As plainly as `tests/flow.rs` reads them.
fn plainly(text: &str) -> BTreeMap<String, Points> {
    let mut curves: BTreeMap<String, Points> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let point = (cells[1].parse().unwrap(), cells[2].parse().unwrap());
        curves.entry(cells[0].to_owned()).or_default().push(point);
    }
    curves
}

#[test]
fn every_open_data_set_is_read_to_the_same_curves() {
    let mut files = 0;
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "csv") {
            continue;
        }
        files += 1;
        let text = std::fs::read_to_string(&path).unwrap();
        let table = understood(text.as_bytes());
        let name = path.display();
        assert_eq!(table.left_out.count, 0, "{name}: {:?}", table.left_out);
        assert!(table.to_confirm.is_empty(), "{name}: {:?}", table.to_confirm);
        assert!(table.understood.iter().all(|column| column.sure), "{name}");
        assert_eq!(points(&table), plainly(&text), "{name}");
    }
    assert_eq!(files, 11);
}

/// How a table is written.
#[derive(Clone, Debug)]
struct Dialect {
    separator: &'static str,
    comma: bool,
    x: (&'static str, &'static [&'static str], f64),
    y: (&'static str, &'static [&'static str], f64, bool),
    spelling: usize,
    units: u8,
    encoding: u8,
    end: &'static str,
    above: bool,
    notes: bool,
    blank: bool,
    turned: bool,
    extra: bool,
    scientific: bool,
}

/// Name, spellings of the unit, factor to SI; for the second whether it is a viscosity.
const X: [(&str, &[&str], f64); 5] = [
    ("Shear rate", &["1/s", "s-1", "s^-1", "s⁻¹"], 1.0),
    ("Scherrate", &["1/s", "1/s", "s-1", "s^-1"], 1.0),
    ("gamma dot", &["1/s", "1/sec", "s^(-1)", "1/s"], 1.0),
    ("Taux de cisaillement", &["1/s", "s-1", "1/s", "s⁻¹"], 1.0),
    ("Shear rate", &["1/min", "min-1", "1/min", "1/min"], 1.0 / 60.0),
];
const Y: [(&str, &[&str], f64, bool); 9] = [
    ("Shear stress", &["Pa", "N/m2", "N/m²", "Pa"], 1.0, false),
    ("Schubspannung", &["Pa", "Pa", "Pa", "Pa"], 1.0, false),
    ("Stress", &["mPa", "mPa", "mPa", "mPa"], 1e-3, false),
    ("Shear stress", &["dyn/cm2", "dyn/cm²", "dyne/cm2", "D/cm²"], 0.1, false),
    ("Viscosity", &["Pa.s", "Pa·s", "Pa s", "Pa*s"], 1.0, true),
    ("Viskosität", &["mPa.s", "mPa·s", "mPas", "mPa-s"], 1e-3, true),
    ("Viscosité", &["cP", "cps", "cP", "centipoise"], 1e-3, true),
    ("Viscosity", &["P", "Poise", "poise", "P"], 0.1, true),
    ("Viscosity", &["µPa·s", "uPa.s", "μPa s", "µPa s"], 1e-6, true),
];

fn dialects() -> impl Strategy<Value = Dialect> {
    let places = (
        prop::sample::select(vec![",", ";", "\t", "|", "  ", " \t "]),
        any::<bool>(),
        0..X.len(),
        0..Y.len(),
        0..4_usize,
        0..4_u8,
        0..5_u8,
        prop::sample::select(vec!["\n", "\r\n", "\r"]),
    );
    (places, prop::array::uniform6(any::<bool>())).prop_map(
        |(
            (separator, comma, x, y, spelling, units, encoding, end),
            [above, notes, blank, turned, extra, scientific],
        )| {
            Dialect {
                separator,
                comma,
                x: X[x],
                y: Y[y],
                spelling,
                units,
                encoding,
                end,
                above,
                notes,
                blank,
                turned,
                extra,
                scientific,
            }
        },
    )
}

impl Dialect {
    fn number(&self, value: f64) -> String {
        let text = if self.scientific { format!("{value:.9E}") } else { format!("{value}") };
        match (self.comma, self.separator) {
            (false, _) => text,
            (true, ",") => format!("\"{}\"", text.replace('.', ",")),
            (true, _) => text.replace('.', ","),
        }
    }

    /// The table in this dialect, and the points that stand in it after rounding to its digits.
    fn write(&self, points: &[(f64, f64)]) -> (Vec<u8>, Points) {
        let mut lines: Vec<String> = Vec::new();
        if self.above {
            lines.push("Instrument: the old one".to_owned());
            lines.push(["Operator", "Qu"].join(self.separator));
            lines.push(String::new());
        }
        let (x_unit, y_unit) = (self.x.1[self.spelling], self.y.1[self.spelling]);
        let head = |name: &str, unit: &str| match self.units {
            0 => format!("{name} [{unit}]"),
            1 => format!("{name} ({unit})"),
            2 => format!("{name} in {unit}"),
            _ => name.to_owned(),
        };
        let row = |x: String, y: String, extra: &str| {
            let mut cells = if self.turned { vec![y, x] } else { vec![x, y] };
            if self.extra {
                cells.insert(0, extra.to_owned());
            }
            cells.join(self.separator)
        };
        lines.push(row(head(self.x.0, x_unit), head(self.y.0, y_unit), "Point"));
        if self.units == 3 {
            lines.push(row(format!("[{x_unit}]"), format!("[{y_unit}]"), "[-]"));
        }
        let mut meant = Vec::new();
        for (number, (rate, stress)) in points.iter().enumerate() {
            let (x, y) = (rate / self.x.2, if self.y.3 { stress / rate } else { *stress } / self.y.2);
            let read = |text: &str| text.trim_matches('"').replace(',', ".").parse::<f64>().unwrap();
            let (x, y) = (self.number(x), self.number(y));
            let (rate, second) = (read(&x) * self.x.2, read(&y) * self.y.2);
            meant.push((rate, if self.y.3 { second * rate } else { second }));
            lines.push(row(x, y, &(number + 1).to_string()));
            if self.blank {
                lines.push(String::new());
            }
        }
        if self.notes {
            lines.push("end of measurement".to_owned());
        }
        let text = lines.join(self.end);
        let bytes = match self.encoding {
            0 => text.into_bytes(),
            1 => [b"\xEF\xBB\xBF", text.as_bytes()].concat(),
            2 => [vec![0xFF, 0xFE], text.encode_utf16().flat_map(u16::to_le_bytes).collect()].concat(),
            3 => [vec![0xFE, 0xFF], text.encode_utf16().flat_map(u16::to_be_bytes).collect()].concat(),
            // Latin-1, where every sign is in it.
            _ if text.chars().all(|sign| u32::from(sign) < 256) => {
                text.chars().map(|sign| sign as u8).collect()
            }
            _ => text.into_bytes(),
        };
        (bytes, meant)
    }
}

fn curves() -> impl Strategy<Value = Points> {
    (3..20_usize, 0.001..1.0_f64, 1.2..4.0_f64, 0.1..100.0_f64, 0.1..1.0_f64).prop_map(
        |(count, first, ratio, consistency, index)| {
            (0..count as i32)
                .map(|k| first * ratio.powi(k))
                .map(|rate| (rate, consistency * rate.powf(index)))
                .collect()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_table_in_any_dialect_reads_back_to_its_points(dialect in dialects(), points in curves()) {
        let (bytes, meant) = dialect.write(&points);
        let table = understood(&bytes);
        close(&only(&table), &meant);
        prop_assert_eq!(table.left_out.count, usize::from(dialect.notes));
    }

    #[test]
    fn arbitrary_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..2000)) {
        let _ = read("-", &bytes, &Choices::default(), None);
        let _ = read("-", &[b"PK\x03\x04", bytes.as_slice()].concat(), &Choices::default(), None);
        let _ = read("-", &[b"\xFF\xFE", bytes.as_slice()].concat(), &Choices::default(), None);
    }

    #[test]
    fn arbitrary_signs_of_tables_are_read_or_refused(text in "[0-9,;.\\-+eE \t\"\n\r#=/\\[\\]a-dPshear trs]{0,600}") {
        let _ = read("-", text.as_bytes(), &Choices::default(), None);
        let under = format!("shear rate [1/s];stress [Pa]\n{text}");
        if let Ok(table) = read("-", under.as_bytes(), &Choices::default(), None) {
            for point in table.curves.iter().flat_map(|curve| &curve.points) {
                prop_assert!(point.shear_rate > 0.0 && point.stress > 0.0 && point.stress.is_finite());
            }
        }
    }

    #[test]
    fn points_of_any_size_are_fitted_or_refused_in_words(
        rows in prop::collection::vec((-12.0..12.0_f64, -12.0..12.0_f64), 1..12),
        weights in prop::sample::select(vec![Weights::Log, Weights::Relative, Weights::Linear]),
    ) {
        static FACTS: std::sync::LazyLock<Facts> = std::sync::LazyLock::new(|| levigate_facts::shipped().unwrap());
        let mut text = String::from("shear rate [1/s],stress [Pa]\n");
        for (rate, stress) in &rows {
            text.push_str(&format!("{:e},{:e}\n", 10_f64.powf(*rate), 10_f64.powf(*stress)));
        }
        match flow_fit(&FACTS, "-", text.as_bytes(), &Asked { weights, ..Asked::default() }) {
            Err(problems) => prop_assert!(!problems[0].what_now.is_empty()),
            Ok(fit) => {
                for curve in &fit.curves {
                    prop_assert!(!curve.models.is_empty() || !curve.without.is_empty() || curve.trouble.is_some());
                    for parameter in curve.models.iter().flat_map(|model| &model.parameters) {
                        prop_assert!(parameter.estimate.value.is_some_and(f64::is_finite), "{parameter:?}");
                    }
                }
                prop_assert!(serde_json::to_string(&fit).is_ok());
            }
        }
    }

    #[test]
    fn a_damaged_workbook_is_read_or_refused(at in 0.0..1.0_f64, by in any::<u8>()) {
        let mut bytes = workbook(&[("Sheet1", SHEET)]);
        let at = (at * (bytes.len() - 1) as f64) as usize;
        bytes[at] = by;
        let _ = read("-", &bytes, &Choices::default(), None);
    }
}

#[test]
fn nothing_is_lost_without_a_word() {
    let text = "shear rate [1/s],stress [Pa]\n0,1\n-1,2\n1,nan\n2,\n3,abc\n4,5 Pa\n5,<0.1\n6,=A1\n7,#DIV/0!\n8,1e99\n9,\"1,234.5\"\n10,11\n12,13\n";
    let table = understood(text.as_bytes());
    close(&only(&table), &[(10.0, 11.0), (12.0, 13.0)]);
    assert_eq!(table.left_out.count, 11);
    let lines: Vec<usize> = table.left_out.first.iter().map(|left| left.line).collect();
    assert_eq!(lines, (2..=12).collect::<Vec<_>>());
    let why = |line: usize| table.left_out.first.iter().find(|left| left.line == line).unwrap().why.clone();
    assert!(why(2).contains("logarithm") && why(3).contains("direction"));
    assert!(why(4).contains("no number") && why(5).contains("empty") && why(9).contains("formula"));
    assert!(why(12).contains("never guessed"), "{}", why(12));
}

#[test]
fn files_that_are_no_table_say_what_they_are() {
    for (bytes, code, words) in [
        (&b""[..], "empty-file", "nothing"),
        (b"\xEF\xBB\xBF \n\n", "empty-file", "nothing"),
        (b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", "not-a-table", "old workbook"),
        (b"%PDF-1.7", "not-a-table", "PDF"),
        (b"PK\x03\x04 and nothing", "broken-workbook", "cannot be read"),
        (b"\x00\x01\x02\x03\x04\x05\x06\x07\x08\x0e\x0f", "not-a-table", "not text"),
        (b"words and words\nand no numbers", "no-points", "two numbers"),
        (b"1,2\n3,4\n", "no-flow-curve", "\"#1\", \"#2\""),
        (b"a,b\n1,2\n3,4\n", "no-flow-curve", "\"a\", \"b\""),
        (b"shear rate [1/s],viscosity [Pa]\n1,2\n3,4\n", "unit-does-not-fit", "not a unit of viscosity"),
        (b"shear rate [1/s],stress [Pa]\n0,1\n0,2\n", "no-points", "2 times"),
        (b"rpm,dial viscosity [cP]\n10,100\n20,90\n", "spindle-not-said", "spindle"),
    ] {
        let problem = refused(bytes);
        assert_eq!(problem.code, code, "{}", problem);
        assert!(problem.what.contains(words), "{}", problem);
    }
}

#[test]
fn units_that_are_not_written_are_to_be_confirmed_or_follow_from_the_others() {
    let table = understood(b"shear rate,viscosity\n1,1000\n10,500\n");
    assert_eq!(table.to_confirm.len(), 2, "{:?}", table.to_confirm);
    let all_three = understood(b"shear rate [1/s],stress [Pa],viscosity\n1,1,1000\n10,5,500\n100,20,200\n");
    let viscosity = &all_three.understood[2];
    assert!(viscosity.sure && viscosity.unit == "mPa s", "{viscosity:?}");
    let apart =
        understood(b"shear rate [1/s],stress [Pa],viscosity [Pa s]\n1,1,1000\n10,5,500\n100,20,200\n");
    assert!(apart.to_confirm.iter().any(|text| text.contains("0.001")), "{:?}", apart.to_confirm);
}

#[test]
fn a_person_can_say_otherwise() {
    let text = b"p,q\n1,1000\n10,5000\n";
    let table = with(text, &said(&["p=shear-rate:1/s", "q=viscosity:mPa.s"]));
    close(&only(&table), &[(1.0, 1.0), (10.0, 50.0)]);
    assert!(table.understood.iter().all(|column| column.sure));
    close(
        &only(&with(b"1,1000\n10,5000\n", &said(&["#1=shear-rate:1/s", "#2=stress:mPa"]))),
        &[(1.0, 1.0), (10.0, 5.0)],
    );
    let problem = read("-", text, &said(&["p=shear-rate", "r=stress"]), None).unwrap_err();
    assert!(problem[0].what.contains("\"r\"") || problem[0].code == "no-flow-curve", "{}", problem[0]);
    assert!(ColumnChoice::read("a=viscosity:Pa").is_err() && ColumnChoice::read("a").is_err());
}

#[test]
fn columns_beside_one_another_are_curves_or_repeats() {
    let repeats = understood(b"shear rate [1/s],stress [Pa],stress [Pa]\n1,2,2\n3,4,4\n");
    assert_eq!(only(&repeats), [(1.0, 2.0), (3.0, 4.0)]);
    assert!(repeats.understood[2].why.contains("same as column 2"));
    let three = understood(b"shear rate [1/s],stress A [Pa],stress B [Pa]\n1,2,5\n3,4,6\n");
    assert_eq!(points(&three).len(), 2);
    assert!(!three.to_confirm.is_empty());
    let pairs = understood(b"T1,,T2,\nshear rate [1/s],stress [Pa],shear rate [1/s],stress [Pa]\n1,2,10,20\n3,4,30,40\n,,50,60\n");
    let found = points(&pairs);
    assert_eq!(found["T1"], [(1.0, 2.0), (3.0, 4.0)]);
    assert_eq!(found["T2"], [(10.0, 20.0), (30.0, 40.0), (50.0, 60.0)]);
    let lost = refused(b"shear rate [1/s],shear rate [1/s],stress [Pa]\n1,2,5\n3,4,6\n");
    assert_eq!(lost.code, "duplicate-column");
}

#[test]
fn sweeps_temperatures_and_tables_become_curves() {
    let up: Vec<String> = (0..8).map(|k| format!("{},{}", 2_f64.powi(k), 3_f64.powi(k))).collect();
    let down: Vec<String> = up.iter().rev().skip(1).cloned().collect();
    let text = format!("shear rate [1/s],stress [Pa]\n{}\n{}\n", up.join("\n"), down.join("\n"));
    let table = understood(text.as_bytes());
    let directions: Vec<_> = table.curves.iter().map(|curve| (curve.direction, curve.points.len())).collect();
    assert_eq!(directions, [(Some(Direction::Up), 8), (Some(Direction::Down), 7)]);
    assert!(table.to_confirm[0].contains("sweeps"));
    let together = with(text.as_bytes(), &Choices { split_sweeps: false, ..Choices::default() });
    assert_eq!(only(&together).len(), 15);

    let warm = "shear rate [1/s];stress [Pa];Temp. [K]\n1;2;293,1\n2;3;293,2\n4;5;293,15\n1;1;303,1\n2;2;303,2\n4;4;303,15\n";
    let table = understood(warm.as_bytes());
    let degrees: Vec<_> = table.curves.iter().map(|curve| curve.temperature_c.unwrap().round()).collect();
    assert_eq!(degrees, [20.0, 30.0]);

    let two = "Sample: T7\nTemperature: 25 °C\nShear Rate\tViscosity\n[1/s]\t[mPa·s]\n1\t1000\n2\t900\n\nSample: T8\nShear Rate\tViscosity\n[1/s]\t[mPa·s]\n1\t500\n2\t400\n3\t300\n";
    let table = understood(two.as_bytes());
    let names: Vec<_> = table.curves.iter().map(|curve| (curve.name.as_str(), curve.points.len())).collect();
    assert_eq!(names, [("T7", 2), ("T8", 3)]);
    assert_eq!(table.curves[0].temperature_c, Some(25.0));
    assert_eq!(table.left_out.count, 0, "{:?}", table.left_out);
}

#[test]
fn a_torque_floor_is_set_by_the_person_alone() {
    let text = b"shear rate [1/s],stress [Pa],torque [uN.m]\n0.1,1,0.2\n1,2,0.6\n10,3,20\n";
    assert_eq!(only(&understood(text)).len(), 3);
    let floor = Some(TorqueFloor { value: 0.5, unit: "uN.m".to_owned() });
    let table = with(text, &Choices { torque_floor: floor.clone(), ..Choices::default() });
    assert_eq!((only(&table).len(), table.left_out.count), (2, 1));
    let no_torque = b"shear rate [1/s],stress [Pa]\n1,2\n2,3\n";
    let choices = Choices { torque_floor: floor, ..Choices::default() };
    assert_eq!(read("-", no_torque, &choices, None).unwrap_err()[0].code, "no-torque");
}

const SHEET: &str = r#"<row r="1"><c r="A1" t="inlineStr"><is><t>Shear rate [1/s]</t></is></c><c r="B1" t="inlineStr"><is><t>Viscosity [cP]</t></is></c></row>
<row r="2"><c r="A2"><v>0.1</v></c><c r="B2"><v>12500</v></c></row>
<row r="3"><c r="A3"><v>1</v></c><c r="B3"><f>B2/4</f><v>3125</v></c></row>
<row r="4"><c r="A4"><v>10</v></c><c r="B4" t="e"><v>#DIV/0!</v></c></row>
<row r="9"><c r="A9"><v>100</v></c><c r="B9"><v>195.3125</v></c></row>"#;

/// A small workbook, written part by part as the standard (ECMA-376) has it.
fn workbook(sheets: &[(&str, &str)]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let mut part = |name: &str, text: &str| {
        let how =
            zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
        archive.start_file(name, how).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    };
    const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";
    part(
        "[Content_Types].xml",
        &format!(
            "<Types xmlns=\"{PACKAGE}/content-types\"><Default Extension=\"xml\" ContentType=\"application/xml\"/>\
             <Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/></Types>"
        ),
    );
    part(
        "_rels/.rels",
        &format!(
            "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"rId1\" Type=\"{OFFICE}/officeDocument\" \
             Target=\"xl/workbook.xml\"/></Relationships>"
        ),
    );
    let (mut list, mut links) = (String::new(), String::new());
    for (number, (name, rows)) in sheets.iter().enumerate() {
        let number = number + 1;
        list.push_str(&format!("<sheet name=\"{name}\" sheetId=\"{number}\" r:id=\"rId{number}\"/>"));
        links.push_str(&format!(
            "<Relationship Id=\"rId{number}\" Type=\"{OFFICE}/worksheet\" Target=\"worksheets/sheet{number}.xml\"/>"
        ));
        part(
            &format!("xl/worksheets/sheet{number}.xml"),
            &format!("<worksheet xmlns=\"{MAIN}\"><sheetData>{rows}</sheetData></worksheet>"),
        );
    }
    part(
        "xl/workbook.xml",
        &format!("<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets>{list}</sheets></workbook>"),
    );
    part(
        "xl/_rels/workbook.xml.rels",
        &format!("<Relationships xmlns=\"{PACKAGE}/relationships\">{links}</Relationships>"),
    );
    archive.finish().unwrap().into_inner()
}

#[test]
fn a_workbook_is_read_with_its_formulas_as_computed_last() {
    let notes = "<row r=\"1\"><c r=\"A1\" t=\"inlineStr\"><is><t>notes</t></is></c></row>";
    let table = understood(&workbook(&[("Notes", notes), ("Run 1", SHEET)]));
    close(&only(&table), &[(0.1, 1.25), (1.0, 3.125), (100.0, 19.531_25)]);
    assert_eq!(table.form.sheets, ["Run 1"]);
    assert!(table.remarks.iter().any(|text| text.contains("formulas")), "{:?}", table.remarks);
    assert_eq!((table.left_out.count, table.left_out.first[0].line), (1, 4));
    let choices = Choices { sheet: "Run 2".to_owned(), ..Choices::default() };
    let problem = read("-", &workbook(&[("Run 1", SHEET)]), &choices, None).unwrap_err();
    assert!(problem[0].what_now.contains("Run 1"));
}

#[test]
fn a_workbook_that_unpacks_without_end_is_refused() {
    let endless = workbook(&[("Sheet1", &" ".repeat(201_000_000))]);
    assert!(endless.len() < 2_000_000);
    let problem = refused(&endless);
    assert_eq!(problem.code, "too-large", "{problem}");
}

#[test]
fn a_cell_at_the_far_corner_of_a_sheet_takes_no_room() {
    let far = "<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row>";
    let problem = refused(&workbook(&[("Sheet1", far)]));
    assert!(
        problem.code == "no-flow-curve" || problem.code == "no-points" || problem.code == "too-many-columns",
        "{problem}"
    );
}

#[test]
fn a_million_rows_are_read_and_more_are_refused() {
    let mut text = String::from("shear rate [1/s],stress [Pa]\n");
    for row in 1..=1_000_000_u32 {
        text.push_str(&format!("{row},{}\n", f64::from(row) * 0.5));
    }
    assert_eq!(only(&understood(text.as_bytes())).len(), 1_000_000);
    text.push_str(&"1,1\n".repeat(60_000));
    assert_eq!(refused(text.as_bytes()).code, "too-many-rows");
}

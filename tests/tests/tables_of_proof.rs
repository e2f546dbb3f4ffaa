//! A table of readings or of counts says what the file with the same numbers says, as text and as a workbook.
#![allow(clippy::unwrap_used)]

use levigate_facts::Facts;
use levigate_project::workbench::proof::arrhenius::arrhenius;
use levigate_project::workbench::proof::challenge::challenge;
use levigate_project::workbench::proof::shelf_life::shelf_life;
use rust_xlsxwriter::Workbook;

const BATCHES: [(&str, [(u32, f64); 4]); 2] = [
    ("QL-1", [(0, 101.3), (8, 99.6), (16, 97.9), (24, 96.1)]),
    ("QL-2", [(0, 100.8), (8, 99.4), (16, 97.6), (24, 95.6)]),
];
const COUNTS: &str = "Organism;Kind;Initial;Day 7;Day 14;Day 28\n\
    Pseudomonas aeruginosa;bacteria;4.7e5;240 260;<10;< 10\n\
    Candida albicans;yeast;6,1e4;1.2e4;420;<10\n";
const COUNTS_FILE: &str = "[neutraliser]\nrecovered_percent = 82\nalone_percent = 95\n\
    [[organism]]\nname = \"Pseudomonas aeruginosa\"\nkind = \"bacteria\"\ninitial = 4.7e5\ncounts = [[7, 240], [7, 260]]\nbelow = [[14, 10], [28, 10]]\n\
    [[organism]]\nname = \"Candida albicans\"\nkind = \"yeast\"\ninitial = 6.1e4\ncounts = [[7, 1.2e4], [14, 420]]\nbelow = [[28, 10]]\n";

fn facts() -> Facts {
    levigate_facts::shipped().unwrap()
}

fn with(options: &[&str]) -> Vec<String> {
    options.iter().map(|option| (*option).to_owned()).collect()
}

fn workbook(rows: &[Vec<String>]) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (row, cells) in (0..).zip(rows) {
        for (column, text) in (0..).zip(cells) {
            match text.parse::<f64>() {
                Ok(number) => sheet.write_number(row, column, number).unwrap(),
                Err(_) => sheet.write_string(row, column, text).unwrap(),
            };
        }
    }
    book.save_to_buffer().unwrap()
}

fn rows(text: &str) -> Vec<Vec<String>> {
    text.lines().map(|line| line.split(';').map(str::to_owned).collect()).collect()
}

#[test]
fn readings_over_time_say_the_same_in_a_file_a_table_and_a_workbook() {
    let mut file =
        "attribute = \"assay\"\nunit = \"% of label\"\ntime_unit = \"weeks\"\nlower = 90\n".to_owned();
    let mut long = "batch;weeks;assay (% of label)\n".to_owned();
    for (name, readings) in BATCHES {
        let pairs: Vec<String> = readings.iter().map(|(at, value)| format!("[{at}, {value}]")).collect();
        file.push_str(&format!("[[batch]]\nname = \"{name}\"\nreadings = [{}]\n", pairs.join(", ")));
        for (at, value) in readings {
            long.push_str(&format!("{name};{at};{value}\n"));
        }
    }
    let wide = format!(
        "Time (weeks);QL-1;QL-2\n{}",
        (0..4)
            .map(|at| format!("{};{};{}\n", BATCHES[0].1[at].0, BATCHES[0].1[at].1, BATCHES[1].1[at].1))
            .collect::<String>()
    );
    let facts = facts();
    let told = shelf_life(&facts, ("a.toml", file.as_bytes()), &[]).unwrap();
    let lower = with(&["lower=90"]);
    assert_eq!(told, shelf_life(&facts, ("a.csv", long.as_bytes()), &lower).unwrap());
    let book = workbook(&rows(&long));
    assert_eq!(told, shelf_life(&facts, ("a.xlsx", &book), &lower).unwrap());
    // Where every batch is a column, what was read has no head of its own.
    let named = with(&["lower=90", "attribute=assay", "unit=% of label"]);
    assert_eq!(told, shelf_life(&facts, ("b.csv", wide.as_bytes()), &named).unwrap());
    let refused = shelf_life(&facts, ("a.toml", file.as_bytes()), &lower).unwrap_err();
    assert!(refused[0].what.contains("says by itself"), "{refused:?}");
    let refused = shelf_life(&facts, ("a.csv", long.as_bytes()), &with(&["lower 90"])).unwrap_err();
    assert_eq!(refused[0].code, "not-an-option");
    let one_time = "batch;weeks;pH\nA;0;5.4\nA;0;5.5\nA;0;5.4\n";
    let refused = shelf_life(&facts, ("c.csv", one_time.as_bytes()), &with(&["lower=5"])).unwrap_err();
    assert!(refused[0].what.contains("(A)"), "{refused:?}");
}

#[test]
fn losses_at_temperatures_say_the_same_in_a_file_and_a_table() {
    let file = "attribute = \"assay\"\nunit = \"%\"\ntime_unit = \"weeks\"\nlower = 90\nstore_c = [5, 25]\n\
        [[condition]]\ntemperature_c = 25\nreadings = [[0, 101], [12, 100.1], [24, 98.9]]\n\
        [[condition]]\ntemperature_c = 40\nreadings = [[4, 97.8], [8, 94.9], [12, 91.6]]\n";
    let table = "condition;weeks;assay (%)\n25 \u{b0}C, 60 % r.h.;0;101\n25 \u{b0}C, 60 % r.h.;12;100,1\n25 \u{b0}C, 60 % r.h.;24;98,9\n\
        40/75;4;97,8\n40/75;8;94,9\n40/75;12;91,6\n";
    let options = with(&["lower=90", "store_c=[5, 25]"]);
    let told = arrhenius(("a.toml", file.as_bytes()), &[]).unwrap();
    assert_eq!(told, arrhenius(("a.csv", table.as_bytes()), &options).unwrap());
    let light = format!("{table}window;4;99\n");
    let refused = arrhenius(("a.csv", light.as_bytes()), &options).unwrap_err();
    assert_eq!((refused[0].line, refused[0].code.as_str()), (8, "not-a-temperature"));
    let bare = arrhenius(("a.csv", b"weeks;assay\n0;100\n4;99\n"), &options).unwrap_err();
    assert_eq!(bare[0].code, "not-a-temperature");
}

#[test]
fn counts_say_the_same_in_a_file_a_table_and_a_workbook() {
    let facts = facts();
    let told = challenge(&facts, ("a.toml", COUNTS_FILE.as_bytes()), &[]).unwrap();
    let shown = with(&["neutraliser.recovered_percent=82", "neutraliser.alone_percent=95"]);
    assert_eq!(told, challenge(&facts, ("a.csv", COUNTS.as_bytes()), &shown).unwrap());
    let book = workbook(&rows(&COUNTS.replace("6,1e4", "61000")));
    assert_eq!(told, challenge(&facts, ("a.xlsx", &book), &shown).unwrap());
    let slips = COUNTS.replace("yeast", "fungus").replace(";420;", ";many;");
    let refused = challenge(&facts, ("a.csv", slips.as_bytes()), &shown).unwrap_err();
    let told: Vec<(usize, &str)> = refused.iter().map(|one| (one.line, one.field.as_str())).collect();
    assert_eq!(told, [(3, "Candida albicans, kind"), (3, "Candida albicans, day 14")]);
}

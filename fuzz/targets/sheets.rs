//! A sheet filled by hand and typed back as a table. The first line holds day, offset and code, the rest the rows.
#![no_main]

#[expect(dead_code, reason = "the doors of the page are another target's")]
mod house;

use house::House;
use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::workbench::batch::{TypedSheet, rows_of_table, type_back};
use levigate_project::workbench::keeping::KeepError;
use libfuzzer_sys::fuzz_target;
use std::cell::RefCell;
use std::sync::LazyLock;

const FRESH_AFTER: usize = 300;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

thread_local! {
    static HOUSE: RefCell<Option<House>> = const { RefCell::new(None) };
}

fuzz_target!(|input: &str| {
    let (head, text) = input.split_once('\n').unwrap_or(("", input));
    let rows = match rows_of_table("sheet.csv", text) {
        Ok(rows) => rows,
        Err(problems) => {
            assert!(!problems.is_empty());
            assert!(problems.iter().all(|problem| !problem.what.is_empty() && !problem.what_now.is_empty()));
            return;
        }
    };
    let mut parts = head.split('|').map(|part| part.trim().to_owned());
    let mut next = || parts.next().unwrap_or_default();
    let sheet = TypedSheet { day: next(), utc_offset: next(), code: next(), rows, sure: next() == "sure" };
    HOUSE.with_borrow_mut(|house| {
        if house.as_ref().is_none_or(|house| house.worn(FRESH_AFTER)) {
            *house = Some(House::new());
        }
        let Some(house) = house.as_mut() else { return };
        house.count();
        let day = (&*"Ines", date(2026, 11, 27));
        let kept = type_back(&house.workspace, &FACTS, day, &house.batch, &sheet);
        match house.runtime.block_on(kept) {
            Ok(kept) => {
                assert_eq!(kept.len(), sheet.rows.len());
                // The same sheet typed back twice is kept once.
                let again = type_back(&house.workspace, &FACTS, day, &house.batch, &sheet);
                let again = house.runtime.block_on(again).expect("what was kept once is there");
                assert!(again.iter().all(|row| row.already));
            }
            Err(KeepError::Typed(faults)) => {
                assert!(!faults.is_empty());
                assert!(faults.iter().all(|fault| !fault.what.is_empty() && !fault.what_now.is_empty()));
            }
            Err(error) => panic!("the workspace refused: {error}"),
        }
    });
});

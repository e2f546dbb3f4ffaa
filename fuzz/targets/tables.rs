//! A table that is brought in, as bytes: a workbook, text in any encoding, or neither. The first byte names what it holds.
#![no_main]

use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::bringing::{Asked, OnFile, What, look};
use levigate_project::formula_file;
use libfuzzer_sys::fuzz_target;
use std::collections::BTreeMap;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

fuzz_target!(|input: &[u8]| {
    let Some((what, bytes)) = input.split_first() else { return };
    let what = match what {
        b'f' => What::Formula,
        b'm' => What::Material,
        b'l' => What::Lot,
        _ => return,
    };
    let (statuses, prices) = (BTreeMap::new(), BTreeMap::new());
    let on_file = OnFile {
        facts: &FACTS,
        day: date(2026, 11, 27),
        lots: &[],
        statuses: &statuses,
        formulas: &[],
        prices: &prices,
        decides: true,
    };
    match look(&on_file, "x", bytes, &Asked { what, leave_out_rest: true, ..Asked::default() }) {
        Ok(preview) => {
            assert_eq!(preview.ready, preview.missing.is_empty());
            if let Some(formula) = preview.formula {
                assert!(formula_file::read("x", &formula.text).is_ok());
            }
        }
        Err(problems) => assert!(problems.iter().all(|one| !one.what.is_empty() && !one.what_now.is_empty())),
    }
});

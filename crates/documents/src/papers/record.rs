//! The batch record as it was filled: nothing left out, what was struck still readable, what is open said.

mod entered;

use super::{SPACE, capitalised, grouped, moment, signed};
use crate::document::{Block, Cell, Column, Document, Row, Section, Table};
use levigate_project::paper_code;
use levigate_project::records::{Did, StepKind};
use levigate_project::workbench::batch::{
    BatchRecord, BatchState, LineState, SignOffState, Standing, StepState, day_of,
};
use rust_decimal::Decimal;

/// The record of a batch as it stands.
#[must_use]
pub fn filled_record(record: &BatchRecord) -> Document {
    let (plan, state) = (&record.plan, &record.state);
    let day = day_of(record.as_of);
    let mut sections = vec![
        Section { name: "To look at first".to_owned(), blocks: first(record) },
        Section { name: "Lines".to_owned(), blocks: lines(record) },
        Section { name: "Lots".to_owned(), blocks: lots(record) },
        Section { name: "Water and yield".to_owned(), blocks: balance(state) },
        Section { name: "Steps".to_owned(), blocks: steps(state) },
        Section { name: "Against the brief".to_owned(), blocks: brief(record) },
        Section { name: "What went otherwise".to_owned(), blocks: deviations(state) },
        Section { name: "Samples kept".to_owned(), blocks: samples(state) },
        Section { name: "Signed off".to_owned(), blocks: signatures(record) },
        Section { name: "Everything that was entered".to_owned(), blocks: entered::entries(state) },
        Section { name: "What holds this record".to_owned(), blocks: seal(record) },
    ];
    sections.retain(|section| !section.blocks.is_empty());
    let mut particulars = vec![
        ("Batch".to_owned(), state.code.clone()),
        ("Stands".to_owned(), standing(state).to_owned()),
        ("Made to".to_owned(), format!("{}{SPACE}g of {}{SPACE}g planned", state.size, plan.size_g)),
        ("Version".to_owned(), format!("{} ({})", state.version, plan.version_code)),
        ("Trial".to_owned(), state.trial_number.to_string()),
        ("Begun by".to_owned(), format!("{}, {} UTC", state.who, moment(state.when))),
        ("Last record".to_owned(), format!("{} UTC", moment(record.as_of))),
    ];
    if !state.note.is_empty() {
        particulars.push(("Remark".to_owned(), state.note.clone()));
    }
    Document {
        kind: "Batch record".to_owned(),
        title: plan.product.clone(),
        date: day.to_string(),
        running: format!("{}, batch {}, as of {day}", plan.product, state.code),
        code: paper_code::of_batch("record", &state.code, &plan.version_code),
        particulars,
        sections,
    }
}

fn standing(state: &BatchState) -> &'static str {
    match state.standing {
        Standing::Started => "begun, nothing entered",
        Standing::Making => "being made",
        Standing::Made => "made, not signed off",
        Standing::SignedOff => "signed off",
    }
}

fn counted(number: usize, one: &str, many: &str) -> String {
    if number == 1 { format!("One {one}") } else { format!("{number} {many}") }
}

/// What a reviewer would ask about, gravest first.
fn first(record: &BatchRecord) -> Vec<Block> {
    let state = &record.state;
    let mut said = Vec::new();
    if !record.seal.broken.is_empty() || record.seal.signatures.contains(&false) {
        said.push("This record no longer is what was written. See what holds it, at the end.".to_owned());
    }
    for signed in state.sign_offs.iter().filter(|signed| signed.entries_after + signed.others_after > 0) {
        said.push(format!(
            "{} after it was signed as {} on {} UTC.",
            counted(signed.entries_after + signed.others_after, "record was kept", "records were kept"),
            signed.signed_as,
            moment(signed.when)
        ));
    }
    for line in &state.lines {
        match line.verdict {
            "over" => {
                said.push(format!("Line {}, {}: more than its tolerance allows.", line.number, line.name))
            }
            "short" => {
                said.push(format!("Line {}, {}: less than its tolerance allows.", line.number, line.name))
            }
            "open" => said.push(format!("Line {}, {}: nothing was weighed.", line.number, line.name)),
            _ => {}
        }
        if !line.slip.is_empty() {
            said.push(format!("Line {}, {}: {}", line.number, line.name, line.slip));
        }
    }
    if let Some(balanced) = state.balanced.as_ref().filter(|balanced| !balanced.remark.is_empty()) {
        said.push(balanced.remark.clone());
    }
    if !state.deviations.is_empty() {
        said.push(format!(
            "{} written down.",
            counted(state.deviations.len(), "deviation was", "deviations were")
        ));
    }
    let struck = state.entries.iter().filter(|entry| entry.struck.is_some()).count();
    if struck > 0 {
        said.push(format!(
            "{} out; what was typed stays readable.",
            counted(struck, "entry was struck", "entries were struck")
        ));
    }
    let paper = state.entries.iter().filter(|entry| entry.from_paper().is_some()).count();
    if paper > 0 {
        said.push(format!("{} typed back from paper.", counted(paper, "entry was", "entries were")));
    }
    let open = state.steps.iter().filter(|step| matches!(step.stands, "open" | "started")).count();
    if open > 0 {
        said.push(format!("{} neither done nor left out.", counted(open, "step is", "steps are")));
    }
    if state.sign_offs.is_empty() {
        said.push("Nobody has signed it off.".to_owned());
    } else if !state.seen_by_another {
        said.push(state.seen_by.clone());
    }
    if said.is_empty() {
        return vec![Block::words(
            "Nothing stands out: every line within its tolerance, nothing struck, nothing otherwise than planned.",
        )];
    }
    said.into_iter().map(Block::words).collect()
}

fn lines(record: &BatchRecord) -> Vec<Block> {
    let columns = vec![
        Column::numbers("No.", 10.0),
        Column::words("Raw material", None),
        Column::words("Lot", 28.0),
        Column::numbers("Target, g", 20.0),
        Column::numbers("Weighed, g", 22.0),
        Column::numbers("Off, g", 17.0),
        Column::numbers("Off, %", 15.0),
        Column::words("Stands", 21.0),
    ];
    let mut rows: Vec<Row> = record.state.lines.iter().map(|line| line_row(record, line)).collect();
    for added in &record.state.added {
        let name = record.name_of(&added.material);
        let mut row = vec![Cell::words("+"), Cell::words(name), Cell::default(), Cell::default()];
        row.extend([
            Cell::number(added.actual),
            Cell::default(),
            Cell::default(),
            Cell::words("put in besides"),
        ]);
        rows.push(Row::of(row));
    }
    let charged: Decimal = record.state.lines.iter().filter_map(|line| line.actual).sum();
    let target: Decimal = record.state.lines.iter().map(|line| line.target).sum();
    let mut total = vec![Cell::default(), Cell::words("All lines").strongly(), Cell::default()];
    total.extend([Cell::number(target).strongly(), Cell::number(charged).strongly()]);
    total.extend([Cell::default(), Cell::default(), Cell::default()]);
    rows.push(Row::of(total));
    vec![Block::Table(Table { columns, rows })]
}

fn line_row(record: &BatchRecord, line: &LineState) -> Row {
    let taken: Vec<&str> = record
        .lots
        .iter()
        .filter(|lot| lot.lines.contains(&line.number))
        .map(|lot| lot.code.as_str())
        .collect();
    let difference = line.actual.map(|actual| actual - line.target);
    let off = difference.map(|off| Cell { text: signed(off), ..Cell::number(off) }).unwrap_or_default();
    let percent = difference
        .and_then(|off| (off * Decimal::ONE_HUNDRED).checked_div(line.target))
        .map(with_two_decimals)
        .map(|percent| Cell { text: signed(percent), ..Cell::number(percent) });
    let stands = match line.verdict {
        "open" => Cell::words("not weighed").strongly(),
        "short" => Cell::words("too little").strongly(),
        "over" => Cell::words("too much").strongly(),
        _ if line.to_ph.is_some() => Cell::words("by the meter"),
        _ => Cell::words("within"),
    };
    let mut below = Vec::new();
    if line.target != planned(record, line.number) {
        below.push(format!(
            "Planned {} g; the target moved with the lot or by what was decided.",
            planned(record, line.number)
        ));
    }
    Row {
        cells: vec![
            Cell { number: Some(Decimal::from(line.number)), ..Cell::words(line.number.to_string()) },
            Cell::words(&line.name),
            Cell::words(if taken.is_empty() { "none".to_owned() } else { taken.join(", ") }),
            Cell::number(line.target),
            Cell::maybe(line.actual).strongly(),
            off,
            percent.unwrap_or_default(),
            stands,
        ],
        struck: false,
        heed: line.remarks.clone(),
        below,
    }
}

fn with_two_decimals(number: Decimal) -> Decimal {
    let mut shown = number.round_dp(2);
    shown.rescale(2);
    shown
}

/// Grams of a line as planned; its portions together where it goes in by several.
fn planned(record: &BatchRecord, number: usize) -> Decimal {
    let lines = record.plan.steps.iter().filter_map(|step| step.line.as_ref());
    lines.filter(|line| line.number == number).map(|line| line.grams).sum()
}

fn lots(record: &BatchRecord) -> Vec<Block> {
    if record.lots.is_empty() {
        return vec![Block::heed("No lot was written down: this batch cannot be traced back.")];
    }
    let columns = vec![
        Column::words("Raw material", None),
        Column::words("Lot", 34.0),
        Column::words("Supplier", 36.0),
        Column::words("Assay", 18.0),
        Column::words("Use by", 24.0),
        Column::words("Lines", 16.0),
    ];
    let row = |lot: &levigate_project::workbench::batch::LotInRecord| {
        let until = match (lot.expiry, lot.retest) {
            (Some(expiry), _) => expiry.to_string(),
            (None, Some(retest)) => format!("test again {retest}"),
            (None, None) => "not noted".to_owned(),
        };
        let numbers = lot.lines.iter().map(usize::to_string).collect::<Vec<_>>().join(", ");
        let assay = if lot.assay.is_empty() { String::new() } else { format!("{}{SPACE}%", lot.assay) };
        let mut heed = Vec::new();
        if !lot.on_file {
            heed.push("Not on file: supplier and dates are not known here.".to_owned());
        }
        Row {
            cells: vec![
                Cell::words(&lot.name),
                Cell::words(&lot.code),
                Cell::words(&lot.supplier),
                Cell::words(assay),
                Cell::words(if lot.on_file { until } else { String::new() }),
                Cell::words(numbers),
            ],
            heed,
            ..Row::default()
        }
    };
    let mut blocks = vec![Block::Table(Table { columns, rows: record.lots.iter().map(row).collect() })];
    let without: Vec<String> = record
        .state
        .lines
        .iter()
        .filter(|line| {
            line.actual.is_some() && !record.lots.iter().any(|lot| lot.lines.contains(&line.number))
        })
        .map(|line| line.number.to_string())
        .collect();
    if !without.is_empty() {
        blocks.push(Block::words(format!("No lot was written down for line {}.", without.join(", "))));
    }
    blocks
}

fn balance(state: &BatchState) -> Vec<Block> {
    let grams = |value: Option<Decimal>| value.map(|value| format!("{value}{SPACE}g"));
    let water = &state.water;
    let mut pairs: Vec<(String, String)> = [
        ("Empty vessel", grams(water.vessel)),
        ("Went off", grams(water.went_off)),
        ("Given back", grams(Some(water.given_back).filter(|_| water.went_off.is_some()))),
        ("Still to give back", grams(water.to_give_back)),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name.to_owned(), value?)))
    .collect();
    let mut blocks = Vec::new();
    match &state.balanced {
        Some(balanced) => {
            let share = |value: Option<Decimal>| value.map(|value| format!("{}{SPACE}%", value.round_dp(1)));
            let rows = [
                ("Charged", grams(Some(balanced.charged))),
                ("Good product", grams(Some(balanced.good))),
                ("Samples", grams(Some(balanced.samples))),
                ("Known losses", grams(Some(balanced.lost))),
                ("Not accounted for", grams(Some(balanced.unexplained))),
                ("Yield", share(balanced.r#yield)),
                ("Accounted for", share(balanced.accounted)),
            ];
            pairs.extend(rows.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))));
            blocks.push(Block::Pairs { pairs });
            if !balanced.remark.is_empty() {
                blocks.push(Block::heed(&balanced.remark));
            }
        }
        None => {
            blocks.push(Block::Pairs { pairs });
            blocks.push(Block::words("The good product was not weighed out: there is no yield."));
        }
    }
    if !water.needs.is_empty() {
        blocks.push(Block::words(format!("What went off is not known. {}", water.needs)));
    }
    blocks
}

fn steps(state: &BatchState) -> Vec<Block> {
    let columns = vec![
        Column::numbers("No.", 10.0),
        Column::words("What was to be done", None),
        Column::words("As planned", 27.0),
        Column::words("Stands", 19.0),
        Column::words("From, UTC", 34.0),
        Column::words("To, UTC", 34.0),
    ];
    let shown = |step: &&StepState| step.kind != StepKind::Weigh || step.stands == "skipped";
    let rows = state.steps.iter().filter(shown).map(|step| step_row(state, step)).collect();
    vec![Block::words("Weighings stand under lines."), Block::Table(Table { columns, rows })]
}

fn step_row(state: &BatchState, step: &StepState) -> Row {
    let planned = [
        step.temperature_c.map(|celsius| format!("{}{SPACE}\u{00B0}C", celsius.normalize())),
        step.speed_rpm.map(|speed| format!("{}{SPACE}rpm", speed.normalize())),
        step.hold_min.map(|minutes| format!("{}{SPACE}min", minutes.normalize())),
    ];
    let read =
        state.entries.iter().filter(|entry| entry.struck.is_none() && entry.entry.step == Some(step.number));
    let read: Vec<String> = read
        .filter_map(|entry| match &entry.entry.did {
            Did::Temperature { value } => Some(format!("{}{SPACE}\u{00B0}C", value.typed)),
            Did::Speed { value } => Some(format!("{}{SPACE}rpm", value.typed)),
            _ => None,
        })
        .collect();
    let word = match step.stands {
        "open" => "not done",
        "started" => "begun",
        "skipped" => "left out",
        other => other,
    };
    let mut text = step.text.clone();
    if !read.is_empty() {
        text.push_str(&format!(" (read: {})", read.join(", ")));
    }
    if !step.skipped.is_empty() {
        text.push_str(&format!(" (left out: {})", step.skipped));
    }
    let stands = Cell::words(word);
    Row::of(vec![
        Cell { number: Some(Decimal::from(step.number)), ..Cell::words(step.number.to_string()) },
        Cell::words(text),
        Cell::words(planned.into_iter().flatten().collect::<Vec<_>>().join(", ")),
        if step.stands == "done" { stands } else { stands.strongly() },
        Cell::words(step.started.map(moment).unwrap_or_default()),
        Cell::words(step.finished.map(moment).unwrap_or_default()),
    ])
}

fn brief(record: &BatchRecord) -> Vec<Block> {
    let mut blocks = Vec::new();
    if record.brief.is_empty() {
        blocks.push(Block::words("The formula sets no window for pH, viscosity or clarity."));
    } else {
        blocks.push(Block::words(format!("Asked for: {}.", record.brief.join("; "))));
    }
    let looked: Vec<Row> = record
        .state
        .entries
        .iter()
        .filter(|entry| !entry.entry.withdrawn)
        .filter_map(|entry| match &entry.entry.did {
            Did::Checked { what, found } => Some(Row {
                cells: vec![
                    Cell::words(capitalised(what)),
                    Cell::words(found).strongly(),
                    Cell::words(&entry.who),
                    Cell::words(moment(entry.entry.device_time)),
                ],
                struck: entry.struck.is_some(),
                ..Row::default()
            }),
            _ => None,
        })
        .collect();
    if !looked.is_empty() {
        let columns = vec![
            Column::words("Looked at", 44.0),
            Column::words("Found", None),
            Column::words("By", 36.0),
            Column::words("When, UTC", 34.0),
        ];
        blocks.push(Block::Table(Table { columns, rows: looked }));
    }
    if record.readings.is_empty() {
        blocks.push(Block::words("Nothing was read on its trial yet: no pH, no viscosity."));
        return blocks;
    }
    let columns = vec![
        Column::words("Read", 24.0),
        Column::words("Value", 26.0),
        Column::words("How", None),
        Column::words("Against the brief", 44.0),
        Column::words("By, when (UTC)", 34.0),
    ];
    let rows = record.readings.iter().map(|reading| Row {
        cells: vec![
            Cell::words(&reading.name),
            Cell::words(&reading.value).strongly(),
            Cell::words([reading.conditions.as_str(), reading.instrument.as_str()].join(" ").trim()),
            Cell::words(&reading.stands),
            Cell::words(format!("{}, {}", reading.who, moment(reading.when))),
        ],
        struck: reading.struck.is_some(),
        heed: Vec::new(),
        below: reading
            .struck
            .iter()
            .map(|struck| format!("Struck out by {}: {}", struck.who, struck.reason))
            .collect(),
    });
    blocks.push(Block::Table(Table { columns, rows: rows.collect() }));
    blocks
}

fn deviations(state: &BatchState) -> Vec<Block> {
    let columns = vec![
        Column::numbers("Entry", 13.0),
        Column::words("What", None),
        Column::words("Why", 46.0),
        Column::words("What was decided", 46.0),
    ];
    let rows: Vec<Row> = state
        .entries
        .iter()
        .filter(|entry| !entry.entry.withdrawn)
        .filter_map(|entry| match &entry.entry.did {
            Did::Deviation { text, reason, decision } => Some(Row {
                cells: vec![
                    Cell {
                        number: Some(Decimal::from(entry.number)),
                        ..Cell::words(entry.number.to_string())
                    },
                    Cell::words(text),
                    Cell::words(reason),
                    Cell::words(if decision.is_empty() { "nothing written" } else { decision }),
                ],
                struck: entry.struck.is_some(),
                ..Row::default()
            }),
            _ => None,
        })
        .collect();
    if rows.is_empty() {
        return vec![Block::words("Nothing was written down as otherwise than planned.")];
    }
    vec![Block::Table(Table { columns, rows })]
}

fn samples(state: &BatchState) -> Vec<Block> {
    if state.samples.is_empty() {
        return vec![Block::words("No sample was kept.")];
    }
    let columns = vec![
        Column::words("Label", None),
        Column::words("Amount", 24.0),
        Column::words("In", 30.0),
        Column::words("Stands", 40.0),
        Column::words("Until", 24.0),
    ];
    let rows = state.samples.iter().map(|kept| {
        let sample = &kept.sample;
        let amount = sample.mass.as_ref().and_then(|mass| Some((mass.net.as_ref()?, &mass.unit)));
        Row {
            cells: vec![
                Cell::words(&sample.label),
                Cell::words(
                    amount.map(|(net, unit)| format!("{}{SPACE}{unit}", net.typed)).unwrap_or_default(),
                ),
                Cell::words(&sample.container),
                Cell::words(&sample.location),
                Cell::words(sample.until.map_or_else(|| "not said".to_owned(), |day| day.to_string())),
            ],
            struck: kept.struck.is_some(),
            heed: Vec::new(),
            below: kept
                .struck
                .iter()
                .map(|struck| format!("Struck out by {}: {}", struck.who, struck.reason))
                .collect(),
        }
    });
    vec![Block::Table(Table { columns, rows: rows.collect() })]
}

fn signatures(record: &BatchRecord) -> Vec<Block> {
    let signed = &record.state.sign_offs;
    if signed.is_empty() {
        return vec![Block::words("Not signed off.")];
    }
    let columns = vec![
        Column::words("For having", 24.0),
        Column::words("Name", None),
        Column::words("When, UTC", 34.0),
        Column::words("How the name is known", 62.0),
    ];
    let rows = signed.iter().zip(&record.seal.signatures).map(|(signed, holds)| signature(signed, *holds));
    vec![Block::words(&record.state.seen_by), Block::Table(Table { columns, rows: rows.collect() })]
}

fn signature(signed: &SignOffState, holds: bool) -> Row {
    let (mut heed, mut below) = (Vec::new(), Vec::new());
    if !holds {
        heed.push("What it covers no longer is what was signed.".to_owned());
    }
    below.push(format!(
        "Covers {} records; SHA-256 {}; program {}, facts {}",
        signed.records,
        grouped(&signed.content_sha256),
        signed.made_with[0],
        signed.made_with[1]
    ));
    if !signed.alone.is_empty() {
        heed.push(format!("Signed by whoever made it; why nobody else did: {}", signed.alone));
    }
    if !signed.note.is_empty() {
        below.push(format!("Remark: {}", signed.note));
    }
    let after = signed.entries_after + signed.others_after;
    if after > 0 {
        heed.push(format!("{} after it.", counted(after, "record was kept", "records were kept")));
    }
    Row {
        cells: vec![
            Cell::words(signed.signed_as),
            Cell::words(&signed.who).strongly(),
            Cell::words(moment(signed.when)),
            Cell::words(&signed.known_by),
        ],
        struck: false,
        heed,
        below,
    }
}

fn seal(record: &BatchRecord) -> Vec<Block> {
    let seal = &record.seal;
    let mut blocks = Vec::new();
    if seal.broken.is_empty() {
        blocks.push(Block::words(format!(
            "{} of this batch were hashed anew for this paper: each is what was written.",
            counted(seal.records, "record", "records")
        )));
    } else {
        let places = seal.broken.iter().map(u64::to_string).collect::<Vec<_>>().join(", ");
        blocks.push(Block::heed(format!(
            "The content of the record in place {places} of the log no longer is what was written."
        )));
    }
    if seal.signatures.contains(&false) {
        blocks.push(Block::heed("What a signature covers no longer is what was signed."));
    }
    let [program, facts] = &record.state.made_with;
    blocks.push(Block::Pairs {
        pairs: vec![
            ("Place of the last record".to_owned(), format!("{} of the log", seal.place)),
            ("Link of the chain there".to_owned(), grouped(&seal.link)),
            ("Planned with".to_owned(), format!("program {program}, facts {facts}")),
        ],
    });
    blocks.push(Block::words(
        "Every record holds the hash of the one before it; the whole chain is proved by the verb records check.",
    ));
    blocks
}

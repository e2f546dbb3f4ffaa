//! `instruments`: what the balances, meters and thermometers of this machine show, to see whether they are joined as they should be.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, JoinedInstruments};
use crate::input::Input;
use crate::paper::{Lean, Look, Paper};
use levigate_instruments::{Listener, ports};
use levigate_project::instrument::{self, Instrument, Instruments as _, Line};
use serde::Serialize;
use std::thread;
use std::time::Duration;

/// What one line or one instrument says.
#[derive(Serialize)]
struct Shown {
    instrument: String,
    /// The line that was asked about.
    #[serde(skip_serializing_if = "Option::is_none")]
    asked: Option<String>,
    #[serde(flatten)]
    line: Option<Line>,
    trouble: Option<String>,
}

#[derive(Serialize)]
struct Written {
    shown: Vec<Shown>,
    ports: Vec<String>,
}

/// Listens, or reads the lines given.
pub(super) fn instruments(common: &Common, asked: &JoinedInstruments, look: Look) -> Result<Answer, Failure> {
    let input = Input::read(&asked.file)?;
    let (name, text) = input.pair();
    let joined = instrument::read(name, text).map_err(|problems| input.refused(problems))?;
    let shown = if asked.line.is_empty() {
        listened(joined, asked.listen)?
    } else {
        asked.line.iter().flat_map(|line| joined.iter().map(|one| understood(one, line))).collect()
    };
    let written = Written { shown, ports: ports() };
    if common.json {
        return Answer::json(&written);
    }
    let mut paper = Paper::new(look);
    let heads = [("Instrument", Lean::Left), ("Shows", Lean::Right), ("", Lean::Left), ("", Lean::Left)];
    let row = |one: &Shown| {
        let digits = one.line.as_ref().map_or("-", |line| line.digits.as_str()).to_owned();
        let unit = one.line.as_ref().map_or("", |line| line.unit).to_owned();
        vec![one.instrument.clone(), digits, unit, remark(one.line.as_ref())]
    };
    paper.columns(&heads, &written.shown.iter().map(row).collect::<Vec<_>>());
    for one in &written.shown {
        if let Some(trouble) = &one.trouble {
            paper.hanging(2, &format!("{}:", one.instrument), trouble);
        }
    }
    if asked.line.is_empty() {
        let ports = if written.ports.is_empty() { "none found".to_owned() } else { written.ports.join(", ") };
        paper.heading("", &format!("serial ports of this machine: {ports}"));
    }
    Ok(Answer::text(paper.finish()))
}

fn remark(line: Option<&Line>) -> String {
    let Some(line) = line else { return String::new() };
    let settled = match line.settled {
        Some(true) => "settled",
        Some(false) => "not settled",
        None => "",
    };
    let warm = line.temperature.as_ref().map(|celsius| format!("at {celsius} \u{B0}C"));
    [Some(settled.to_owned()), warm]
        .into_iter()
        .flatten()
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(", ")
}

fn listened(joined: Vec<Instrument>, seconds: u16) -> Result<Vec<Shown>, Failure> {
    let listener = Listener::begin(joined).map_err(|error| {
        Failure::could_not("no-threads", error.to_string(), "close other programs and try again")
    })?;
    thread::sleep(Duration::from_secs(seconds.into()));
    let silent = |count: u64| {
        (count == 0)
            .then(|| format!("nothing was written in {seconds} s; print or send a reading on the instrument"))
    };
    let shown = listener.shown().into_iter();
    Ok(shown
        .map(|one| Shown {
            trouble: one.trouble.or_else(|| silent(one.count)),
            instrument: one.name,
            asked: None,
            line: one.line,
        })
        .collect())
}

fn understood(instrument: &Instrument, line: &str) -> Shown {
    let read = instrument.pattern.read(line);
    Shown {
        instrument: instrument.name.clone(),
        asked: Some(line.to_owned()),
        trouble: read.as_ref().err().map(|unread| format!("{unread}; {}", unread.hint())),
        line: read.ok(),
    }
}

//! The file of the instruments of a machine.
//!
//! ```toml
//! [[instrument]]
//! name = "balance 1"
//! reads = "mass"                        # mass, ph, temperature
//! port = "/dev/ttyUSB0"                 # COM3
//! baud = 9600
//! data_bits = 8
//! parity = "none"                       # none, even, odd
//! stop_bits = 1
//! writes = "always"                     # always, on key
//! line = "{mark} {any} {number} {unit}" # left out: a line with one number in it
//! settled = ["ok"]                      # marks that say it
//! unit = "g"                            # of lines that name none
//! ```

use super::{Instrument, LinePattern, Parity, Reads, SerialLine, Writes};
use crate::diagnostic::Diagnostic;
use crate::toml_reader::{Reader, parsed};
use rust_decimal::prelude::ToPrimitive;
use std::ops::Range;
use toml::de::DeTable;

/// `levigate schema instruments`.
pub const SCHEMA: &str = include_str!("instruments.schema.json");

const FIELDS: [&str; 11] = [
    "name",
    "reads",
    "writes",
    "port",
    "baud",
    "data_bits",
    "parity",
    "stop_bits",
    "line",
    "settled",
    "unit",
];
/// Speeds a serial line may have, bits per second.
const BAUD: [u32; 2] = [110, 4_000_000];
/// Most instruments of a machine.
const MOST: usize = 16;

/// Reads the file.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Vec<Instrument>, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &["instrument"]);
    let tables = reader.tables(top, "", "instrument");
    if tables.is_empty() && !top.contains_key("instrument") {
        reader.missing(&(0..0), "", "instrument", "write each instrument under [[instrument]]");
    }
    if tables.len() > MOST {
        reader.wrong(
            top,
            "",
            "instrument",
            format!("there are {} instruments", tables.len()),
            &format!("at most {MOST} are read"),
        );
    }
    let mut instruments: Vec<Instrument> = Vec::new();
    for (at, (table, span)) in tables.iter().take(MOST).enumerate() {
        let path = format!("instrument {}", at + 1);
        let Some(one) = instrument(&mut reader, table, span, &path) else { continue };
        if instruments.iter().any(|other| other.name.eq_ignore_ascii_case(&one.name)) {
            reader.wrong(
                table,
                &path,
                "name",
                format!("another one is called \"{}\" too", one.name),
                "give each its own name",
            );
        } else if instruments.iter().any(|other| other.serial.port == one.serial.port) {
            reader.wrong(
                table,
                &path,
                "port",
                format!("another one is on {} too", one.serial.port),
                "one port has one instrument",
            );
        }
        instruments.push(one);
    }
    let problems = reader.finish();
    if problems.is_empty() { Ok(instruments) } else { Err(problems) }
}

fn instrument(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    path: &str,
) -> Option<Instrument> {
    reader.known_fields(table, path, &FIELDS);
    let name = reader.required_string(table, path, "name", span, "call it as the bench calls it");
    let reads = reader.choice(table, path, "reads", &Reads::WORDS);
    if !table.contains_key("reads") {
        reader.missing(span, path, "reads", &format!("write one of {}", Reads::WORDS.join(", ")));
    }
    let writes = reader.choice(table, path, "writes", &Writes::WORDS);
    let port =
        reader.required_string(table, path, "port", span, "name the port, such as COM3 or /dev/ttyUSB0");
    let serial = serial(reader, table, path, port);
    let pieces = reader.string(table, path, "line");
    let settled = reader.strings(table, path, "settled");
    let reads = reads.as_deref().and_then(Reads::of)?;
    let unit = unit(reader, table, path, reads);
    let pattern = match LinePattern::new(reads, pieces.as_deref(), &settled, unit) {
        Ok(pattern) => pattern,
        Err(error) => {
            reader.wrong(table, path, "line", error.to_string(), error.hint());
            return None;
        }
    };
    let writes = if writes.as_deref() == Some(Writes::WORDS[1]) { Writes::OnKey } else { Writes::Always };
    Some(Instrument { name: name?.trim().to_owned(), reads, writes, serial: serial?, pattern })
}

/// The unit of lines that name none.
fn unit(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, reads: Reads) -> Option<&'static str> {
    let known: &[&'static str] = match reads {
        Reads::Mass => &["g", "mg", "kg"],
        Reads::Ph => &["pH"],
        Reads::Temperature => &["C"],
    };
    let unit = reader.choice(table, path, "unit", known)?;
    known.iter().copied().find(|known| *known == unit)
}

fn serial(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    port: Option<String>,
) -> Option<SerialLine> {
    let [slowest, fastest] = BAUD;
    let baud = whole(reader, table, path, "baud", [slowest, fastest]).unwrap_or(9600);
    let data_bits = whole(reader, table, path, "data_bits", [7, 8]).unwrap_or(8);
    let stop_bits = whole(reader, table, path, "stop_bits", [1, 2]).unwrap_or(1);
    let parity = match reader.choice(table, path, "parity", &Parity::WORDS).as_deref() {
        Some("even") => Parity::Even,
        Some("odd") => Parity::Odd,
        _ => Parity::None,
    };
    Some(SerialLine {
        port: port?.trim().to_owned(),
        baud,
        data_bits: u8::try_from(data_bits).ok()?,
        parity,
        stop_bits: u8::try_from(stop_bits).ok()?,
    })
}

/// A whole number between two ends.
fn whole(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    [low, high]: [u32; 2],
) -> Option<u32> {
    let number = reader.decimal(table, path, key)?;
    let fits = number.to_u32().filter(|whole| number.fract().is_zero() && (low..=high).contains(whole));
    if fits.is_none() {
        reader.wrong(
            table,
            path,
            key,
            format!("{number} does not fit"),
            &format!("use a whole number from {low} to {high}"),
        );
    }
    fits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_balance_and_a_meter_are_read() {
        let text = "[[instrument]]\nname = \"balance 1\"\nreads = \"mass\"\nport = \"COM3\"\nbaud = 4800\ndata_bits = 7\nparity = \"even\"\n\
                    stop_bits = 2\nwrites = \"on key\"\nline = \"{mark} {number} {unit}\"\nsettled = [\"ok\"]\n\
                    [[instrument]]\nname = \"meter\"\nreads = \"ph\"\nport = \"COM4\"\n";
        let read = read("i.toml", text).expect("instruments");
        let serial = SerialLine {
            port: "COM3".to_owned(),
            baud: 4800,
            data_bits: 7,
            parity: Parity::Even,
            stop_bits: 2,
        };
        assert_eq!((read[0].serial.clone(), read[0].writes), (serial, Writes::OnKey));
        assert_eq!(read[0].pattern.read("ok 1.25 g").map(|line| line.settled), Ok(Some(true)));
        let serial = SerialLine {
            port: "COM4".to_owned(),
            baud: 9600,
            data_bits: 8,
            parity: Parity::None,
            stop_bits: 1,
        };
        assert_eq!(
            (read[1].serial.clone(), read[1].writes, read[1].reads),
            (serial, Writes::Always, Reads::Ph)
        );
    }

    #[test]
    fn everything_wrong_is_told_with_its_line() {
        let text = "[[instrument]]\nname = \"\"\nreads = \"colour\"\nport = 3\nbaud = 12.5\n[[instrument]]\nname = \"b\"\nreads = \"mass\"\nport = \"COM3\"\n\
                    line = \"{unit}\"\nunit = \"lb\"\n[[instrument]]\nname = \"c\"\nreads = \"mass\"\nport = \"COM3\"\nspeed = 9600\n\
                    [[instrument]]\nname = \"C\"\nreads = \"mass\"\nport = \"COM3\"\n";
        let told = read("i.toml", text).unwrap_err();
        let places: Vec<(usize, &str)> = told.iter().map(|one| (one.line, one.field.as_str())).collect();
        assert_eq!(
            places,
            [
                (2, "instrument 1, name"),
                (3, "instrument 1, reads"),
                (4, "instrument 1, port"),
                (5, "instrument 1, baud"),
                (11, "instrument 2, unit"),
                (10, "instrument 2, line"),
                (16, "instrument 3, speed"),
                (18, "instrument 4, name"),
            ]
        );
        assert_eq!(read("i.toml", "").unwrap_err()[0].field, "instrument");
    }
}

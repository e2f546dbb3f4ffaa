//! A vessel in the file of a question: one of the facts by its key, or sizes of the own one.
//!
//! ```toml
//! vessel = "beaker-250-ml"             # or
//! [vessel]
//! like = "vessel-1200-l"               # what is left out below is as there
//! diameter_mm = 1180
//! height_mm = 1500
//! bottom = { shape = "dished", depth_mm = 250 }
//! baffles = { count = 4, width_mm = 110 }          # count = 0 for none
//! jacket = { bottom = true, to_mm = 1100 }
//! wall = { material = "stainless-steel", thickness_mm = 5 }
//! impeller = { kind = "anchor", diameter_mm = 1120, clearance_mm = 500 }
//! ```

use crate::diagnostic::at;
use crate::flow_file::number;
use crate::toml_reader::{Reader, join};
use levigate_facts::Mixing;
use levigate_process::vessel::{
    BaffleSize, BottomShape, BottomSize, ImpellerSize, JacketSize, Vessel, VesselError, VesselSize, WallSize,
};
use std::ops::Range;
use toml::de::DeTable;

/// Sizes that can be typed, mm; what can be meant is looked at when the vessel is made.
const SIZES: [f64; 2] = [1e-3, 1e5];
const SHAPES: [(&str, BottomShape); 3] =
    [("flat", BottomShape::Flat), ("dished", BottomShape::Dished), ("cone", BottomShape::Cone)];
const FIELDS: [&str; 9] =
    ["like", "name", "diameter_mm", "height_mm", "bottom", "baffles", "jacket", "wall", "impeller"];

/// Reads the vessel under a key of a table. Complaints say what is wrong; nothing then.
pub(crate) fn read_vessel(
    reader: &mut Reader<'_>,
    (table, path): (&DeTable<'_>, &str),
    text: (&str, &str),
    facts: &Mixing,
) -> Option<Vessel> {
    let Some(value) = table.get("vessel") else {
        let keys: Vec<&str> = facts.vessels.keys().map(String::as_str).collect();
        let what_now = format!("name one of {}, or write its sizes under [vessel]", keys.join(", "));
        reader.missing(&(0..0), path, "vessel", &what_now);
        return None;
    };
    let span = value.span();
    let path = join(path, "vessel");
    let size = if value.get_ref().as_str().is_some() {
        known(reader, table, &path, "vessel", facts)?
    } else {
        let parent = path.rsplit_once(", ").map_or("", |(parent, _)| parent).to_owned();
        let (sizes, span) = reader.table(table, &parent, "vessel")?;
        sized(reader, (sizes, &path, &span), facts)?
    };
    match facts.made(&size) {
        Ok(vessel) => Some(vessel),
        Err(error) => {
            say(reader, text, &span, &path, &error);
            None
        }
    }
}

/// Says what is wrong with a vessel or a batch in it.
pub(crate) fn say(
    reader: &mut Reader<'_>,
    text: (&str, &str),
    span: &Range<usize>,
    path: &str,
    error: &VesselError,
) {
    let field = error.field().map_or_else(|| path.to_owned(), |field| join(path, field));
    reader.say(at(text, span, "no-vessel", field, error.to_string(), error.hint()));
}

fn known(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    facts: &Mixing,
) -> Option<VesselSize> {
    let keys: Vec<&str> = facts.vessels.keys().map(String::as_str).collect();
    let parent = path.rsplit_once(", ").map_or("", |(parent, _)| parent);
    let word = reader.choice(table, parent, key, &keys)?;
    facts.vessels.get(&word).cloned()
}

fn sized(
    reader: &mut Reader<'_>,
    (table, path, span): (&DeTable<'_>, &str, &Range<usize>),
    facts: &Mixing,
) -> Option<VesselSize> {
    reader.known_fields(table, path, &FIELDS);
    let base = if table.contains_key("like") { known(reader, table, path, "like", facts) } else { None };
    let name = reader.string(table, path, "name");
    let needed = |reader: &mut Reader<'_>, key: &str, usual: Option<f64>| {
        let typed = number(reader, table, path, key, SIZES);
        if typed.is_none() && usual.is_none() && !table.contains_key(key) {
            reader.missing(span, path, key, "measure inside the vessel, in mm; or name one with like");
        }
        typed.or(usual)
    };
    let diameter = needed(reader, "diameter_mm", base.as_ref().map(|base| base.diameter_mm));
    let height = needed(reader, "height_mm", base.as_ref().map(|base| base.height_mm));
    let flat = BottomSize { shape: BottomShape::Flat, depth_mm: 0.0 };
    let bottom = bottom(reader, table, path).or(base.as_ref().map(|base| base.bottom)).unwrap_or(flat);
    let baffles = match baffles(reader, table, path) {
        Some(typed) => typed,
        None => base.as_ref().and_then(|base| base.baffles),
    };
    let jacket = jacket(reader, table, path).or(base.as_ref().and_then(|base| base.jacket));
    let wall = wall(reader, table, path, facts).or(base.as_ref().and_then(|base| base.wall.clone()));
    let impeller = impeller(reader, table, path, base.as_ref().and_then(|base| base.impeller.clone()), facts);
    let words = name
        .or_else(|| base.as_ref().map(|base| format!("{}, with sizes as typed", base.words)))
        .unwrap_or_else(|| "own vessel".to_owned());
    Some(VesselSize {
        key: "own".to_owned(),
        words,
        nominal_l: base.as_ref().map_or(1.0, |base| base.nominal_l),
        diameter_mm: diameter?,
        height_mm: height?,
        bottom,
        baffles,
        jacket,
        wall,
        impeller,
        reason: None,
        source: "as-typed".to_owned(),
    })
}

fn bottom(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Option<BottomSize> {
    let (inner, _) = reader.table(table, path, "bottom")?;
    let path = join(path, "bottom");
    reader.known_fields(inner, &path, &["shape", "depth_mm"]);
    let words = SHAPES.map(|shape| shape.0);
    let word = reader.choice(inner, &path, "shape", &words)?;
    let shape = SHAPES.into_iter().find(|shape| shape.0 == word)?.1;
    let depth = number(reader, inner, &path, "depth_mm", SIZES);
    Some(BottomSize { shape, depth_mm: depth.unwrap_or(0.0) })
}

/// Baffles as typed; `Some(None)` where they are taken out.
fn baffles(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Option<Option<BaffleSize>> {
    let (inner, span) = reader.table(table, path, "baffles")?;
    let path = join(path, "baffles");
    reader.known_fields(inner, &path, &["count", "width_mm"]);
    let count = whole(reader, inner, &path, "count", [0.0, 12.0])?;
    if count == 0 {
        return Some(None);
    }
    let width = number(reader, inner, &path, "width_mm", SIZES);
    if width.is_none() && !inner.contains_key("width_mm") {
        reader.missing(&span, &path, "width_mm", "a tenth of the diameter is usual");
    }
    width.map(|width_mm| Some(BaffleSize { count, width_mm }))
}

fn jacket(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Option<JacketSize> {
    let (inner, span) = reader.table(table, path, "jacket")?;
    let path = join(path, "jacket");
    reader.known_fields(inner, &path, &["bottom", "to_mm"]);
    let round_bottom = reader.bool(inner, &path, "bottom").unwrap_or(true);
    let to = number(reader, inner, &path, "to_mm", SIZES);
    if to.is_none() && !inner.contains_key("to_mm") {
        reader.missing(&span, &path, "to_mm", "the height it reaches to, from the lowest point");
    }
    to.map(|to_mm| JacketSize { bottom: round_bottom, to_mm })
}

fn wall(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, facts: &Mixing) -> Option<WallSize> {
    let (inner, span) = reader.table(table, path, "wall")?;
    let path = join(path, "wall");
    reader.known_fields(inner, &path, &["material", "thickness_mm"]);
    let keys: Vec<&str> = facts.wall_materials.keys().map(String::as_str).collect();
    let material = reader.choice(inner, &path, "material", &keys)?;
    let thickness = number(reader, inner, &path, "thickness_mm", SIZES);
    if thickness.is_none() && !inner.contains_key("thickness_mm") {
        reader.missing(&span, &path, "thickness_mm", "give the thickness of the wall in mm");
    }
    thickness.map(|thickness_mm| WallSize { material, thickness_mm })
}

fn impeller(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    base: Option<ImpellerSize>,
    facts: &Mixing,
) -> Option<ImpellerSize> {
    let Some((inner, span)) = reader.table(table, path, "impeller") else { return base };
    let path = join(path, "impeller");
    let fields = [
        "kind",
        "diameter_mm",
        "blade_mm",
        "blades",
        "angle_deg",
        "clearance_mm",
        "count",
        "off_centre",
        "power_number",
    ];
    reader.known_fields(inner, &path, &fields);
    let keys: Vec<&str> = facts.impellers.keys().map(String::as_str).collect();
    let kind = reader.choice(inner, &path, "kind", &keys);
    // Blades of another kind are not those of the usual one.
    let base = match (&kind, base) {
        (Some(kind), Some(base)) if *kind != base.kind => {
            Some(ImpellerSize { blade_mm: None, blades: None, angle_deg: None, power_number: None, ..base })
        }
        (_, base) => base,
    };
    let usual = base.as_ref();
    let kind = kind.or(usual.map(|usual| usual.kind.clone()));
    if kind.is_none() && !inner.contains_key("kind") {
        reader.missing(&span, &path, "kind", &format!("use one of {}", keys.join(", ")));
    }
    let diameter =
        number(reader, inner, &path, "diameter_mm", SIZES).or(usual.map(|usual| usual.diameter_mm));
    if diameter.is_none() && !inner.contains_key("diameter_mm") {
        reader.missing(&span, &path, "diameter_mm", "measure it from tip to tip, in mm");
    }
    let of = |typed: Option<f64>, usual: Option<f64>| typed.or(usual);
    let blade = number(reader, inner, &path, "blade_mm", SIZES);
    let blades = whole(reader, inner, &path, "blades", [1.0, 24.0]);
    let angle = number(reader, inner, &path, "angle_deg", [5.0, 90.0]);
    let clearance = number(reader, inner, &path, "clearance_mm", SIZES);
    let count = whole(reader, inner, &path, "count", [1.0, 6.0]);
    let off_centre = reader.bool(inner, &path, "off_centre");
    let power_number = number(reader, inner, &path, "power_number", [0.02, 30.0]);
    Some(ImpellerSize {
        kind: kind?,
        diameter_mm: diameter?,
        blade_mm: of(blade, usual.and_then(|usual| usual.blade_mm)),
        blades: blades.or(usual.and_then(|usual| usual.blades)),
        angle_deg: of(angle, usual.and_then(|usual| usual.angle_deg)),
        clearance_mm: of(clearance, usual.and_then(|usual| usual.clearance_mm)),
        count: count.or(usual.map(|usual| usual.count)).unwrap_or(1),
        off_centre: off_centre.or(usual.map(|usual| usual.off_centre)).unwrap_or(false),
        power_number: of(power_number, usual.and_then(|usual| usual.power_number)),
    })
}

/// A whole number within limits.
fn whole(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    limits: [f64; 2],
) -> Option<u32> {
    let value = number(reader, table, path, key, limits)?;
    if value.fract() == 0.0 {
        return Some(value as u32);
    }
    reader.wrong(table, path, key, format!("{key} is {value}"), "write a whole number");
    None
}

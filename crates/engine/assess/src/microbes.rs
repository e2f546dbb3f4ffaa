//! Microbes of the finished product: counts held against a limit, organisms that must not be there, what water and raw materials bring, and
//! the list of low-risk properties. "Cannot say" is an answer; that a product is safe is none.

use levigate_formula::preservation::HurdleReading;
use levigate_measure::{Grade, Note, Outcome};
use levigate_rules::book::Status;
use levigate_rules::microbial::MicrobialClass;
use levigate_rules::plates::{COVERAGE, Plate, PlateError, Plating, Worth, plate_count};
use serde::Serialize;

/// The printed and the computed cases of counts on plates.
const PROOF: &str = "tests/cross/plates.toml";
/// Least of the product in which an organism is looked for, g.
const LOOKED_FOR_IN_G: f64 = 1.0;

/// What was counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Counting<'a> {
    /// Which plates count.
    pub plating: &'a Plating,
    /// Volume on a plate, mL.
    pub plated_ml: f64,
    /// Plates.
    pub plates: Vec<Plate>,
}

/// An organism that was looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Looked {
    /// Name.
    pub organism: String,
    /// Whether it was found.
    pub found: bool,
    /// In how much product, g.
    pub in_g: f64,
}

/// What brings microbes in.
#[derive(Clone, Debug, PartialEq)]
pub struct Brings {
    /// Water or raw material.
    pub name: String,
    /// Share of the product, % w/w.
    pub percent: f64,
    /// Its count, CFU/g; water is taken as 1 g/mL.
    pub cfu_per_g: f64,
    /// The count lies below this.
    pub below: bool,
}

/// A question.
#[derive(Clone, Debug, PartialEq)]
pub struct Microbes<'a> {
    /// What it is about, in words.
    pub title: String,
    /// Class of the product.
    pub class: &'a MicrobialClass,
    /// Counts; bacteria and fungi make the total.
    pub counts: Vec<Counting<'a>>,
    /// Organisms looked for.
    pub looked: Vec<Looked>,
    /// What brings microbes in.
    pub brings: Vec<Brings>,
    /// The list of low-risk properties, read; `None` where nobody asked.
    pub low_risk: Option<Vec<HurdleReading>>,
}

/// What an answer says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stands {
    /// Within the limit.
    Within,
    /// Above the limit, but not above what a count may be off by.
    WithinTolerance,
    /// Something that decides is not known.
    CannotSay,
    /// Out of limit.
    Out,
}

/// A count, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CountReading {
    /// What was counted.
    pub of: String,
    /// What the count is worth.
    pub worth: Worth,
    /// As it is written: `1.7e3`, `< 10`, `at least 3e4`.
    pub written: String,
    /// CFU/g.
    pub count: Outcome,
}

/// An organism, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OrganismReading {
    /// Organism.
    pub organism: String,
    /// What it says.
    pub says: Stands,
    /// In words.
    pub words: String,
}

/// What is brought in, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BringsReading {
    /// By each.
    pub parts: Vec<(String, Outcome)>,
    /// Together: from what was found to what the floors allow.
    pub total: Outcome,
    /// The most of it over the limit, %.
    pub of_the_limit: Outcome,
}

/// The list of low-risk properties, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LowRiskReading {
    /// In words.
    pub verdict: String,
    /// The properties that decide.
    pub decided_by: Vec<String>,
    /// All of the list.
    pub items: Vec<HurdleReading>,
}

/// A question, answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MicrobesReading {
    /// What it is about.
    pub title: String,
    /// Class of the product.
    pub class: String,
    /// Limit of the total.
    pub limit: Outcome,
    /// Counts.
    pub counts: Vec<CountReading>,
    /// Bacteria and fungi together.
    pub total: Outcome,
    /// What the total says.
    pub total_says: Stands,
    /// The same in words.
    pub total_words: String,
    /// Organisms.
    pub organisms: Vec<OrganismReading>,
    /// Total and organisms together.
    pub says: Stands,
    /// The same in words.
    pub verdict: String,
    /// What water and raw materials bring.
    pub brings: Option<BringsReading>,
    /// Low-risk properties.
    pub low_risk: Option<LowRiskReading>,
    /// What must be known.
    pub notes: Vec<Note>,
}

/// Answers a question.
///
/// # Errors
/// A count has no plates, or plates that hold nothing.
pub fn microbes(asked: &Microbes<'_>) -> Result<MicrobesReading, PlateError> {
    let class = asked.class;
    let mut counts = Vec::new();
    let (mut low, mut high) = (0.0, Some(0.0));
    for counting in &asked.counts {
        let count = plate_count(&counting.plates, counting.plated_ml, counting.plating.countable)?;
        match count.worth {
            Worth::Counted | Worth::Estimated => {
                low += count.cfu_per_g;
                high = high.map(|high| high + count.cfu_per_g);
            }
            Worth::Below => high = high.map(|high| high + count.cfu_per_g),
            Worth::AtLeast => {
                low += count.cfu_per_g;
                high = None;
            }
        }
        counts.push(counted(counting, &count));
    }
    let whole = asked.counts.len() >= 2;
    let (total_says, total_words) = against(class, (low, high.filter(|_| whole)), whole);
    let organisms: Vec<OrganismReading> =
        class.absent.iter().map(|organism| absent(organism, &asked.looked)).collect();
    let says = organisms.iter().map(|one| one.says).fold(total_says, Stands::max);
    let verdict = match says {
        Stands::Within => format!("within the limits for {} by these data", class.words),
        Stands::WithinTolerance => format!(
            "above the limit for {}, within what a count may be off by: count again before it leaves",
            class.words
        ),
        Stands::CannotSay => {
            "cannot say: something that decides was not counted or not looked for".to_owned()
        }
        Stands::Out => format!("out of the limits for {}", class.words),
    };
    let mut notes = vec![Note::new(
        "one-sample",
        "Counts speak of this sample on this day. They say nothing about what happens in use, and nothing about preservation.",
    )];
    let recalled = class.status == Status::FromMemory
        || asked.counts.iter().any(|counting| counting.plating.status == Status::FromMemory);
    if recalled {
        notes.push(Note::new(
            "from-memory",
            "The limits and the range of countable plates are recalled, not read: check them in the standards before use.",
        ));
    }
    Ok(MicrobesReading {
        title: asked.title.clone(),
        class: class.words.clone(),
        limit: Outcome::new(class.most_cfu_per_g, "CFU/g", Grade::Correlated, "limit for finished products")
            .source(class.source.clone())
            .input("out of limit only above", class.out_above_cfu_per_g, "CFU/g", Some(&class.source))
            .note("total", "aerobic mesophilic bacteria, yeast and mould together"),
        counts,
        total: together((low, high), whole),
        total_says,
        total_words,
        organisms,
        says,
        verdict,
        brings: (!asked.brings.is_empty()).then(|| brought(&asked.brings, class)),
        low_risk: asked.low_risk.clone().map(low_risk),
        notes,
    })
}

fn counted(counting: &Counting<'_>, count: &levigate_rules::plates::PlateCount) -> CountReading {
    let mut outcome =
        Outcome::new(count.cfu_per_g, "CFU/g", Grade::Measured, "colonies over the product on the plates")
            .by("n = C / (V sum d)")
            .proved_by(PROOF)
            .source(counting.plating.source.clone())
            .input("colonies", f64::from(count.colonies), "", None)
            .input("plates", number(count.plates), "", None)
            .input("on a plate", counting.plated_ml, "mL", None);
    let digits = two_digits(count.cfu_per_g);
    let written = match count.worth {
        Worth::Counted => digits.clone(),
        Worth::Estimated => format!("about {digits}"),
        Worth::Below => format!("< {digits}"),
        Worth::AtLeast => format!("at least {digits}"),
    };
    match count.worth {
        Worth::Counted => {}
        Worth::Estimated => {
            outcome = outcome.note("estimate", "fewer colonies than a plate that counts holds: an estimate");
        }
        Worth::Below => {
            outcome.value = None;
            outcome.refused = Some(format!("no colony was found: it lies below {digits} CFU/g"));
            outcome.high = Some(count.cfu_per_g);
        }
        Worth::AtLeast => {
            outcome.low = Some(count.cfu_per_g);
            outcome =
                outcome.note("at-least", "every plate holds more than can be counted: plate more dilute");
        }
    }
    if let Some((low, high)) = count.within {
        outcome = outcome.within(low, high, Some(COVERAGE));
    }
    if count.scattered {
        outcome = outcome.note(
            "scattered",
            "the plates differ more than chance: look at dilution, clumps and the plates themselves",
        );
    }
    CountReading { of: counting.plating.words.clone(), worth: count.worth, written, count: outcome }
}

/// A count as laboratories write it: two digits.
fn two_digits(count: f64) -> String {
    let text = format!("{count:.1e}");
    match text.parse::<f64>() {
        Ok(rounded) if rounded < 10_000.0 => format!("{rounded}"),
        _ => text,
    }
}

fn together((low, high): (f64, Option<f64>), whole: bool) -> Outcome {
    let method = "bacteria and fungi together, counts below their floor from nothing to it";
    if !whole {
        return Outcome::refuse(
            "CFU/g",
            method,
            "bacteria and fungi make the total: one of them was not counted",
        );
    }
    match high {
        Some(high) if high > low => {
            let mut outcome = Outcome::new(high, "CFU/g", Grade::Measured, method)
                .note("at-most", "it is this at most: a count below its floor is taken as the floor");
            (outcome.low, outcome.high) = (Some(low), Some(high));
            outcome
        }
        Some(high) => Outcome::new(high, "CFU/g", Grade::Measured, method),
        None => {
            let mut outcome = Outcome::new(low, "CFU/g", Grade::Measured, method)
                .note("at-least", "it is this at least: a plate holds more than can be counted");
            outcome.low = Some(low);
            outcome
        }
    }
}

fn against(class: &MicrobialClass, (low, high): (f64, Option<f64>), whole: bool) -> (Stands, String) {
    let (most, out) = (class.most_cfu_per_g, class.out_above_cfu_per_g);
    if low > out {
        return (Stands::Out, format!("above {out} CFU/g, where a count is out of a limit of {most}"));
    }
    let Some(high) = high else {
        let why = if whole {
            "a plate held more than can be counted"
        } else {
            "bacteria and fungi make the total, and one of them was not counted"
        };
        return (Stands::CannotSay, why.to_owned());
    };
    if high <= most {
        (Stands::Within, format!("at most {most} CFU/g is asked"))
    } else if high <= out {
        (
            Stands::WithinTolerance,
            format!(
                "above {most} CFU/g, yet out of limit only above {out}: a count may be off by a factor of two"
            ),
        )
    } else {
        (
            Stands::CannotSay,
            format!("a floor of its counts lies above {out} CFU/g: plate more of the product"),
        )
    }
}

fn absent(organism: &str, looked: &[Looked]) -> OrganismReading {
    let (says, words) = match looked.iter().find(|one| one.organism == organism) {
        None => (Stands::CannotSay, "was not looked for".to_owned()),
        Some(one) if one.found => (Stands::Out, format!("was found in {} g", one.in_g)),
        Some(one) if one.in_g < LOOKED_FOR_IN_G => {
            (Stands::CannotSay, format!("was not found in {} g, but {LOOKED_FOR_IN_G} g is asked", one.in_g))
        }
        Some(one) => (Stands::Within, format!("was not found in {} g", one.in_g)),
    };
    OrganismReading { organism: organism.to_owned(), says, words }
}

fn brought(brings: &[Brings], class: &MicrobialClass) -> BringsReading {
    let method = "count of what comes in times its share";
    let (mut low, mut high) = (0.0, 0.0);
    let mut parts = Vec::new();
    for one in brings {
        let most = one.cfu_per_g * one.percent / 100.0;
        high += most;
        let mut outcome = Outcome::new(most, "CFU/g", Grade::Computed, method)
            .by("n = c w / 100")
            .proved_by("tests/cross/scenarios.toml")
            .input("its count", one.cfu_per_g, "CFU/g", None)
            .input("its share", one.percent, "% w/w", None);
        if one.below {
            (outcome.low, outcome.high) = (Some(0.0), Some(most));
            outcome = outcome.note("at-most", "its count lies below a floor: so much at most");
        } else {
            low += most;
        }
        parts.push((one.name.clone(), outcome));
    }
    let mut total = Outcome::new(high, "CFU/g", Grade::Computed, "sum of what comes in")
        .proved_by("tests/cross/scenarios.toml")
        .note("before-anything", "before anything dies or grows: heat, preservatives and hands change it");
    (total.low, total.high) = (Some(low), Some(high));
    let of_the_limit = Outcome::new(
        100.0 * high / class.most_cfu_per_g,
        "%",
        Grade::Computed,
        "what comes in over the limit",
    )
    .proved_by("exact arithmetic")
    .source(class.source.clone());
    BringsReading { parts, total, of_the_limit }
}

fn low_risk(items: Vec<HurdleReading>) -> LowRiskReading {
    let named = |met: Option<bool>| -> Vec<String> {
        items.iter().filter(|item| item.met == met).map(|item| item.text.clone()).collect()
    };
    let (has, open) = (named(Some(true)), named(None));
    let (verdict, decided_by) = if !has.is_empty() {
        (
            "low risk by one property of the list alone: the list asks for no challenge test, and forbids none".to_owned(),
            has,
        )
    } else if open.is_empty() {
        (
            "no property of the list carries it: a challenge test is needed, or a written assessment of the milder hurdles together".to_owned(),
            Vec::new(),
        )
    } else {
        ("cannot say: none of the known properties carries it, and some are not known".to_owned(), open)
    };
    LowRiskReading { verdict, decided_by, items }
}

fn number(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a handful of plates")]
    let value = count as f64;
    value
}

//! What a pack lets in and out: oxygen that reaches the product, and water that leaves it.
//!
//! ```text
//! n = x (p - phi p_w(T)) V / (R T)                    oxygen in a volume of room air
//! n_d = k(T) x p m_w,   k(T) = k_25 exp( 1500 K (1/T - 1/298.15 K) )    oxygen dissolved in the water of the fill
//! n_i = V_i t p / (R 296.15 K)                        oxygen through wall and closure, V_i as volume a day at 23 C and one atmosphere
//! loss = r n M                                        of what takes oxygen up, r mol per mol of it
//! J(s) = J(t) (a_w - phi_s) p_w(T_s) / ((a_w - phi_t) p_w(T_t)) exp( -E/R (1/T_s - 1/T_t) )      water, where it stands from where it was tested
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | n, n_d, n_i | oxygen enclosed or let in, dissolved, let through | mol |
//! | x, p, p_w, phi | share of oxygen in dry air, pressure, vapour pressure of water, relative humidity | -, Pa, Pa, - |
//! | k_25 | solubility of oxygen in water at 25 C, 1.2e-3 to 1.3e-3 | mol/(kg bar) |
//! | J, E | water lost a day, energy of permeation of the wall | g/day, J/mol |
//!
//! It says how much oxygen there is to be taken up, not how fast, and nothing of routes that need none. Numbers are taken as ranges and their ends
//! carried through. Range: 0 to 60 C. Sources: share of oxygen in air from memory; solubility R. Sander, Atmos. Chem. Phys. 15 (2015)
//! 4399, from memory. Cases: `tests/published/pack.toml`.

use crate::properties::water;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// Share of oxygen in dry air.
const OXYGEN_SHARE: f64 = 0.2095;
const ATMOSPHERE_PA: f64 = 101_325.0;
const GAS_J_MOL_K: f64 = 8.314_462_618;
/// Solubility of oxygen in water at 25 C, mol/(kg bar), from and to.
const SOLUBLE: [f64; 2] = [1.2e-3, 1.3e-3];
/// Its temperature, K.
const SOLUBLE_K: f64 = 1500.0;
/// Temperature at which what passes a wall is told as a volume, C.
const TOLD_AT_C: f64 = 23.0;
const DAYS_OF_A_MONTH: f64 = 30.4375;
const PROOF: &str = "tests/published/pack.toml";
const SOURCE: &str = "sander-2015";

/// From and to.
pub type Range = [f64; 2];

/// How much more water a wall lets through when it is warmer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Permeation {
    /// Energy of permeation, J/mol, from and to.
    pub j_mol: Range,
    /// Somebody said it; otherwise it is the usual range.
    pub stated: bool,
}

/// A question about a pack.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Title.
    pub title: String,
    /// Temperature at which it is filled and used, C.
    pub temperature_c: f64,
    /// Relative humidity of the room, 0 to 1.
    pub humidity: f64,
    /// Fill, g.
    pub fill_g: f64,
    /// Water in it, %.
    pub water_percent: Option<f64>,
    /// What lets oxygen in.
    pub oxygen: Option<OxygenAsked>,
    /// What takes it up.
    pub takes_up: Vec<TakesUp>,
    /// What lets water out.
    pub water: Option<WaterAsked>,
}

/// What lets oxygen in.
#[derive(Clone, Debug, PartialEq)]
pub struct OxygenAsked {
    /// Air over the fill, mL.
    pub headspace_ml: Range,
    /// Doses taken out of it.
    pub doses: f64,
    /// Air that each lets in, mL.
    pub air_per_dose_ml: Range,
    /// Oxygen through wall and closure, microlitres a day at 23 C and one atmosphere.
    pub ingress_ul_day: Range,
    /// How long it stands, months.
    pub months: f64,
}

/// What takes oxygen up.
#[derive(Clone, Debug, PartialEq)]
pub struct TakesUp {
    /// Name.
    pub name: String,
    /// In the product, % w/w.
    pub percent: f64,
    /// Molar mass, g/mol.
    pub molar_mass_g_mol: f64,
    /// Mol of it for each mol of oxygen.
    pub per_oxygen: Range,
}

/// A place: temperature and humidity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Relative humidity, 0 to 1.
    pub humidity: f64,
}

/// What lets water out.
#[derive(Clone, Debug, PartialEq)]
pub struct WaterAsked {
    /// Weight a filled pack lost, g.
    pub loss_g: Range,
    /// In how many days.
    pub over_days: f64,
    /// Where it was tested.
    pub tested: Place,
    /// Where it will stand.
    pub stored: Place,
    /// Water activity of the fill.
    pub water_activity: f64,
    /// How a warmer wall lets more through.
    pub permeation: Permeation,
    /// Most that may be lost, % of the fill.
    pub limit_percent: Option<f64>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PackReading {
    /// Title.
    pub title: String,
    /// Oxygen by its way in; empty where none is asked about.
    pub oxygen: Vec<Way>,
    /// All of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub oxygen_together: Option<Outcome>,
    /// What it can take of each.
    pub taken: Vec<Taken>,
    /// Water.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water: Option<WaterReading>,
    /// What is to be known.
    pub notes: Vec<Note>,
}

/// One way in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Way {
    /// In words.
    pub way: &'static str,
    /// Oxygen, mmol.
    pub oxygen: Outcome,
}

/// What oxygen can take of a substance.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Taken {
    /// Name.
    pub name: String,
    /// In the pack, mg.
    pub content: Outcome,
    /// Most that all the oxygen can take, mg.
    pub mass: Outcome,
    /// The same as a share of the content, %.
    pub share: Outcome,
}

/// Water that leaves.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WaterReading {
    /// Lost where it was tested, % of the fill a month.
    pub tested: Outcome,
    /// Lost where it will stand, % of the fill a month.
    pub stored: Outcome,
    /// Months until the limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<Outcome>,
}

/// Oxygen in a volume of room air, mol.
#[must_use]
pub fn oxygen_in_air_mol(volume_ml: f64, place: &Place) -> f64 {
    let dry = ATMOSPHERE_PA - place.humidity * water::vapour_pressure_pa(place.temperature_c);
    OXYGEN_SHARE * dry * volume_ml * 1e-6 / (GAS_J_MOL_K * (place.temperature_c + water::ZERO_C))
}

/// Oxygen dissolved in water that stood open to the air, mol per kg, from and to.
#[must_use]
pub fn oxygen_dissolved_mol_kg(temperature_c: f64) -> Range {
    let kelvin = temperature_c + water::ZERO_C;
    let warm = (SOLUBLE_K * (1.0 / kelvin - 1.0 / 298.15)).exp_e();
    let bar = OXYGEN_SHARE * (ATMOSPHERE_PA - water::vapour_pressure_pa(temperature_c)) / 1e5;
    SOLUBLE.map(|soluble| soluble * warm * bar)
}

/// How many times as much water a pack loses at one place as at another, from and to; not above zero where it would take up water.
#[must_use]
pub fn water_factor(tested: &Place, stored: &Place, water_activity: f64, permeation_j_mol: Range) -> Range {
    let drive =
        |place: &Place| (water_activity - place.humidity) * water::vapour_pressure_pa(place.temperature_c);
    let [at_test, at_store] = [tested, stored].map(|place| 1.0 / (place.temperature_c + water::ZERO_C));
    let by =
        |energy: f64| drive(stored) / drive(tested) * (-energy / GAS_J_MOL_K * (at_store - at_test)).exp_e();
    let ends = permeation_j_mol.map(by);
    [ends[0].min(ends[1]), ends[0].max(ends[1])]
}

fn outcome([low, high]: Range, unit: &'static str, method: &'static str) -> Outcome {
    Outcome::new(0.5 * (low + high), unit, Grade::Computed, method).within(low, high, None).proved_by(PROOF)
}

fn times([low, high]: Range, by: f64) -> Range {
    [low * by, high * by]
}

/// Answers.
#[must_use]
pub fn pack(asked: &Asked) -> PackReading {
    let (oxygen, all) = asked.oxygen.as_ref().map(|of| ways(asked, of)).unwrap_or_default();
    let taken = if oxygen.is_empty() {
        Vec::new()
    } else {
        asked.takes_up.iter().map(|one| taken(asked.fill_g, one, all)).collect()
    };
    let mut notes = Vec::new();
    if !oxygen.is_empty() {
        notes.push(Note::new(
            "not-how-fast",
            "This is the oxygen there is, not how fast it is taken up; what is lost without oxygen is lost besides. No pack stops that.",
        ));
        if asked.takes_up.len() > 1 {
            notes.push(Note::new(
                "each-alone",
                "Each substance is told as if all the oxygen went to it alone.",
            ));
        }
        notes.push(Note::new(
            "after-opening",
            "How long it may be used after opening is not a matter of oxygen alone: opened packs in use, their microbial counts and a challenge test tell.",
        ));
    }
    let water = asked.water.as_ref().map(|of| water_of(asked.fill_g, of, &mut notes));
    PackReading {
        title: asked.title.clone(),
        oxygen_together: (!oxygen.is_empty()).then(|| outcome(all, "mmol", "sum of the ways in")),
        oxygen,
        taken,
        water,
        notes,
    }
}

/// The ways in, and their sum, mmol.
fn ways(asked: &Asked, of: &OxygenAsked) -> (Vec<Way>, Range) {
    let room = Place { temperature_c: asked.temperature_c, humidity: asked.humidity };
    let of_air = |ml: f64| 1000.0 * oxygen_in_air_mol(ml, &room);
    let mut found =
        vec![("air over the fill", of.headspace_ml.map(of_air), "oxygen in the volume of room air")];
    if let Some(percent) = asked.water_percent {
        let dissolved = times(oxygen_dissolved_mol_kg(asked.temperature_c), percent / 100.0 * asked.fill_g);
        found.push(("dissolved in the fill", dissolved, "water that stood open to the air"));
    }
    if of.doses > 0.0 {
        let per_dose = of.air_per_dose_ml.map(of_air);
        found.push(("with the doses", times(per_dose, of.doses), "doses times the air that each lets in"));
    }
    if of.ingress_ul_day[1] > 0.0 && of.months > 0.0 {
        let mol_ul = 1e-9 * ATMOSPHERE_PA / (GAS_J_MOL_K * (TOLD_AT_C + water::ZERO_C));
        let days = of.months * DAYS_OF_A_MONTH;
        let through = times(of.ingress_ul_day, 1000.0 * mol_ul * days);
        found.push(("through wall and closure", through, "what passes a day times the days"));
    }
    let all = found.iter().fold([0.0, 0.0], |[low, high], (_, [from, to], _)| [low + from, high + to]);
    let ways = found
        .into_iter()
        .map(|(way, range, method)| {
            let told = outcome(range, "mmol", method);
            Way { way, oxygen: if way == "dissolved in the fill" { told.source(SOURCE) } else { told } }
        })
        .collect();
    (ways, all)
}

fn taken(fill_g: f64, of: &TakesUp, [low, high]: Range) -> Taken {
    let content = 10.0 * fill_g * of.percent;
    let [least, most] = of.per_oxygen;
    let all = [low * least * of.molar_mass_g_mol, high * most * of.molar_mass_g_mol];
    let mass = all.map(|mass| mass.min(content));
    let share = times(mass, 100.0 / content);
    let mut told = outcome(share, "%", "most that all the oxygen can take, of the content");
    if all[1] > content {
        told = told.note("more-than-there-is", "there is oxygen for more than all of it");
    }
    Taken {
        name: of.name.clone(),
        content: Outcome::new(content, "mg", Grade::Computed, "fill times content").proved_by(PROOF),
        mass: outcome(mass, "mg", "most that all the oxygen can take")
            .input("least mol per mol of oxygen", least, "", None)
            .input("most mol per mol of oxygen", most, "", None),
        share: told,
    }
}

fn water_of(fill_g: f64, of: &WaterAsked, notes: &mut Vec<Note>) -> WaterReading {
    let tested = times(of.loss_g, DAYS_OF_A_MONTH / of.over_days / fill_g * 100.0);
    let energies = of.permeation.j_mol;
    let [slow, fast] = water_factor(&of.tested, &of.stored, of.water_activity, energies);
    let stored = [tested[0] * slow, tested[1] * fast];
    if !of.permeation.stated && of.tested.temperature_c != of.stored.temperature_c {
        notes.push(Note::new(
            "permeation",
            format!(
                "How a wall lets more water through when warm is not said: {} to {} kJ/mol is taken, as published for packs of plastic. A second pack tested where it will stand tells.",
                energies[0] / 1000.0,
                energies[1] / 1000.0
            ),
        ));
    }
    notes.push(Note::new(
        "closure",
        "Much of what is lost may pass the closure, which differs from pack to pack: weigh several.",
    ));
    let named = |range, method| outcome(range, "% per month", method);
    let at_store = if stored[1] > 0.0 {
        named(stored, "driven by the difference of water vapour, the wall as warm as it is there")
    } else {
        Outcome::refuse(
            "% per month",
            "driven by the difference of water vapour",
            "the air there is as moist as the product: it loses no water",
        )
    };
    let until = of.limit_percent.map(|limit| {
        if stored[1] > 0.0 {
            let months = [limit / stored[1], limit / stored[0].max(1e-9)];
            outcome(months, "months", "limit over what is lost a month")
                .note("steady", "as if the loss stayed what it is")
        } else {
            Outcome::refuse("months", "limit over what is lost a month", "it loses no water there")
        }
    });
    WaterReading { tested: named(tested, "weight lost over the days, of the fill"), stored: at_store, until }
}

//! What the model says and what the readings teach: where the edges of the window lie on the scale of the balance.
//!
//! ```text
//! reading i:    Q(R_i; g_i) = - sum_p q_ip x_p + beta_i (o + e_i)          x_p, o, e_i normal, mean 0
//! edge:         A(pH)       = g + (Q(pH; g) + sum_p q_p x_p) / b           grams of the adjuster that bring the batch to the pH
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | R_i, e_i | reading, what it scatters by |
//! | o | what the electrode is off by as a whole |
//! | x_p | doubts in their standard uncertainties |
//! | b | base that one gram of the adjuster brings, mol/g |
//!
//! All is normal and straight, so that Bayes' rule is exact: what stands for the readings, for the two edges, for the acid nobody knows of and
//! for the electrode is one belief ([`levigate_measure::belief`]), learned reading by reading.

use super::beaker::{Beaker, Place, Stand};
use super::{Meter, Trouble};
use levigate_measure::belief::{Belief, Measurement};

/// A reading that is used.
#[derive(Clone, Debug)]
pub(super) struct Heard {
    pub(super) ph: f64,
    /// What it scatters by, standard deviation, pH.
    pub(super) scatter: f64,
    pub(super) system: usize,
    pub(super) diluted: bool,
    /// Grams of every adjuster in the beaker then, and how sure that is of the present one.
    pub(super) grams: Vec<f64>,
    pub(super) grams_uncertainty: f64,
}

/// Grams of the present adjuster in all that bring the batch to a pH.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Amount {
    pub(super) grams: f64,
    pub(super) deviation: f64,
}

impl Amount {
    /// How many standard deviations some grams, which are themselves only so sure, lie above the amount.
    pub(super) fn deviations(&self, grams: f64, grams_uncertainty: f64) -> f64 {
        use levigate_measure::elementary::Elementary as _;
        (grams - self.grams) / self.deviation.root_sum_square(grams_uncertainty).max(1e-300)
    }

    /// Probability that the amount lies below some grams.
    pub(super) fn below(&self, grams: f64, grams_uncertainty: f64) -> f64 {
        use levigate_measure::elementary::Elementary as _;
        self.deviations(grams, grams_uncertainty).normal_below()
    }
}

/// What is believed after the readings.
#[derive(Clone, Debug)]
pub(super) struct Learned {
    /// Amounts at the lower and at the upper edge.
    pub(super) edges: [Amount; 2],
    /// The same before any reading.
    pub(super) before: [Amount; 2],
    /// Mean and deviation of the shift of the base needed at the two edges against the model, mol.
    pub(super) shifts: [[f64; 2]; 2],
    /// Base that one gram of the adjuster brings, mol/g; below zero for an acid.
    pub(super) base_per_gram: f64,
    /// Base, mol, between the edges: mean and deviation.
    pub(super) between_mol: [f64; 2],
    /// What the electrode is off by as a whole: mean and deviation, pH.
    pub(super) electrode: [f64; 2],
    /// Surprise of every reading against the model and the readings before it, in standard deviations.
    pub(super) surprises: Vec<f64>,
    /// Contributions to the doubt about the far edge before any reading, grams, in the order of the doubts.
    pub(super) contributions: Vec<f64>,
    /// How many times wider than stated the doubts had to be taken.
    pub(super) widened: f64,
}

/// One edge of the window by the model.
struct Edge {
    grams: f64,
    base_per_gram: f64,
    stand: Stand,
}

/// Turns of the search for an edge.
const TURNS: usize = 8;

/// Grams of the present adjuster by the model, with so much more base needed than it says, mol.
fn edge(beaker: &mut Beaker, place: &Place<'_>, ph: f64, shift: f64) -> Result<Edge, Trouble> {
    let mut grams = place.grams.to_vec();
    let most = 4.0 * beaker.mass_g;
    let needed = |beaker: &mut Beaker, grams: &[f64]| {
        beaker.needed(&Place { grams, ..*place }, ph).map(|base| base + shift)
    };
    let mut at = grams[0].clamp(0.0, most);
    grams[0] = at;
    let mut base = needed(beaker, &grams)?;
    // A first step to see what a gram does.
    let mut step = (1e-3 * beaker.mass_g).max(1e-6);
    let mut per_gram = 0.0;
    for _ in 0..TURNS {
        let next = (at + step).clamp(0.0, most);
        if next == at {
            break;
        }
        grams[0] = next;
        let there = needed(beaker, &grams)?;
        per_gram = -(there - base) / (next - at);
        (at, base) = (next, there);
        if per_gram == 0.0 || !per_gram.is_finite() {
            return Err(Trouble::NoEffect);
        }
        step = base / per_gram;
        if step.abs() <= 1e-7 * beaker.mass_g.max(at) {
            break;
        }
    }
    if per_gram == 0.0 {
        return Err(Trouble::NoEffect);
    }
    grams[0] = at;
    let stand = beaker.stand(&Place { grams: &grams, ..*place }, ph)?;
    Ok(Edge { grams: at + (stand.base_mol + shift) / per_gram, base_per_gram: per_gram, stand })
}

/// Learns from the readings where the edges of the window lie. `place` is where the adjuster stands now and how the target is read.
pub(super) fn learn(
    beaker: &mut Beaker,
    heard: &[Heard],
    window: [f64; 2],
    place: &Place<'_>,
    meter: &Meter,
    contradicts: f64,
) -> Result<Learned, Trouble> {
    let stands: Vec<Stand> = heard
        .iter()
        .map(|one| {
            let place = Place { system: one.system, diluted: one.diluted, grams: &one.grams };
            beaker.stand(&place, one.ph)
        })
        .collect::<Result<_, _>>()?;
    let first = [edge(beaker, place, window[0], 0.0)?, edge(beaker, place, window[1], 0.0)?];
    let learned = conclude(heard, &stands, &first, meter, contradicts, &first)?;
    // The doubts are straightened where the edges turned out to lie, once.
    let moved =
        (0..2).any(|at| (learned.edges[at].grams - first[at].grams).abs() > 0.05 * first[at].grams.abs());
    if heard.is_empty() || !moved {
        return Ok(learned);
    }
    let again = [
        edge(beaker, place, window[0], learned.shifts[0][0])?,
        edge(beaker, place, window[1], learned.shifts[1][0])?,
    ];
    let again = [0, 1].map(|at| Edge {
        // Back to what the model alone says, with the slopes of the place found.
        grams: again[at].grams - learned.shifts[at][0] / again[at].base_per_gram,
        base_per_gram: again[at].base_per_gram,
        stand: again[at].stand.clone(),
    });
    conclude(heard, &stands, &again, meter, contradicts, &first)
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

fn conclude(
    heard: &[Heard],
    stands: &[Stand],
    edges: &[Edge; 2],
    meter: &Meter,
    contradicts: f64,
    first: &[Edge; 2],
) -> Result<Learned, Trouble> {
    let count = heard.len();
    // In the order: readings, lower edge, upper edge, electrode.
    let size = count + 3;
    let rows: Vec<(f64, &[f64], f64)> = stands
        .iter()
        .map(|stand| (-1.0, stand.pulls.as_slice(), stand.capacity_mol))
        .chain(edges.iter().map(|edge| (1.0, edge.stand.pulls.as_slice(), 0.0)))
        .collect();
    let own = meter.offset_uncertainty.powi(2);
    let covariance = |widened: f64| -> Vec<f64> {
        let mut covariance = vec![0.0; size * size];
        for (i, (sign, pulls, capacity)) in rows.iter().enumerate() {
            for (j, (other, others, at)) in rows.iter().enumerate().take(i + 1) {
                let value = widened * widened * sign * other * dot(pulls, others) + capacity * at * own;
                covariance[i * size + j] = value;
                covariance[j * size + i] = value;
            }
            covariance[i * size + size - 1] = capacity * own;
            covariance[(size - 1) * size + i] = capacity * own;
        }
        covariance[size * size - 1] = own;
        covariance
    };
    let measured: Vec<Measurement> = heard
        .iter()
        .zip(stands)
        .map(|(one, stand)| {
            let weighed = one.grams_uncertainty * edges[0].base_per_gram;
            let scatter = stand.capacity_mol * one.scatter;
            Measurement {
                value: stand.base_mol,
                deviation: (scatter * scatter + weighed * weighed).sqrt().max(1e-15),
            }
        })
        .collect();
    let sequence = |widened: f64| -> Result<(Belief, Vec<f64>), Trouble> {
        let mut belief = Belief::new(vec![0.0; size], covariance(widened))?;
        let mut surprises = Vec::with_capacity(count);
        for (at, one) in measured.iter().enumerate() {
            let learned = belief.learn_about(&[at], &[*one], |numbers, predicted| {
                predicted[0] = numbers[0];
                true
            })?;
            surprises.extend(learned.lessons.iter().map(|lesson| lesson.surprise));
            belief = learned.belief;
        }
        Ok((belief, surprises))
    };
    let (mut belief, surprises) = sequence(1.0)?;
    let worst = surprises.iter().fold(0.0_f64, |most, one| most.max(one.abs()));
    let mut widened = 1.0;
    if worst > contradicts {
        // So wide that the reading is no surprise: what the model says then hardly counts any more, the readings do.
        widened = worst;
        belief = sequence(widened)?.0;
    }
    let amount = |belief: &Belief, at: usize| Amount {
        grams: edges[at].grams + belief.mean()[count + at] / edges[at].base_per_gram,
        deviation: belief.deviation(count + at) / edges[at].base_per_gram.abs(),
    };
    let mut across = vec![0.0; size];
    (across[count], across[count + 1]) = (-1.0, 1.0);
    let per_gram = 0.5 * (edges[0].base_per_gram + edges[1].base_per_gram);
    let shift = |at: usize| [belief.mean()[count + at], belief.deviation(count + at)];
    let far = usize::from(per_gram > 0.0);
    Ok(Learned {
        edges: [amount(&belief, 0), amount(&belief, 1)],
        before: [0, 1].map(|at| Amount {
            grams: first[at].grams,
            deviation: dot(&first[at].stand.pulls, &first[at].stand.pulls).sqrt()
                / first[at].base_per_gram.abs(),
        }),
        shifts: [shift(0), shift(1)],
        base_per_gram: per_gram,
        between_mol: [
            edges[1].grams * edges[1].base_per_gram - edges[0].grams * edges[0].base_per_gram
                + belief.mean()[count + 1]
                - belief.mean()[count],
            belief.deviation_of(&across),
        ],
        electrode: [belief.mean()[size - 1], belief.deviation(size - 1)],
        surprises,
        contributions: first[far]
            .stand
            .pulls
            .iter()
            .map(|pull| pull / first[far].base_per_gram.abs())
            .collect(),
        widened,
    })
}

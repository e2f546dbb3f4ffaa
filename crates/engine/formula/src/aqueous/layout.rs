//! How the species of a system hang together, without their constants: laid out once, shared by every copy of the system.
//!
//! Species made of the same components (and any number of protons) stand side by side as a *group*: `Ca(Edta)-2` and `CaH(Edta)-`.
//!
//! Unknown 0 is H+. Of the others, those that share no species with each other (ligands that meet metals only, metals that meet ligands
//! only) come last: in the matrix of the solver they meet H+ and the first few unknowns only, so they are eliminated one by one and
//! what is left is small.

use super::linear::Arrow;
use core::ops::Range;

/// How many of a component other than H+ a species holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Term {
    /// Unknown.
    pub(crate) slot: usize,
    pub(crate) times: i32,
}

impl Term {
    pub(crate) fn count(self) -> f64 {
        f64::from(self.times)
    }
}

/// A species on its way into the layout.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plan {
    pub(crate) terms: Vec<Term>,
    /// Protons it holds; with a held gas, those that the component of the gas stands for are taken off.
    pub(crate) protons: i32,
    /// Molecules of water in its law of mass action.
    pub(crate) water: i32,
    pub(crate) charge: i32,
    /// Coefficient of a neutral species as a multiple of the conventional one.
    pub(crate) salting_out: f64,
    /// Formation constant, with the pressure of the gas where it holds the gas's component.
    pub(crate) constant: f64,
}

/// A species by its numbers, as the inner loop wants them.
///
/// Two components besides H+ are the rule: they stand here, and where there are fewer, one of unit activity (the unknown after the last)
/// takes the free place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Member {
    pub(crate) constant: f64,
    pub(crate) protons: f64,
    /// z^2.
    pub(crate) squared: f64,
    /// The first two components, once each, and where they meet in the matrix.
    pub(crate) pair: [u32; 2],
    pub(crate) place: u32,
    /// Its protons, water and coefficient, among the bonds.
    pub(crate) bond: u32,
    /// Coefficient of a neutral species as a multiple of the conventional one; zero for ions.
    pub(crate) salting_out: f64,
}

/// What a species holds beyond two components.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct More {
    pub(crate) species: usize,
    /// Terms with what is left of their numbers.
    pub(crate) terms: Vec<Term>,
    /// Places of the matrix and how often the amount of a species counts there beyond the plain sums.
    pub(crate) couplings: Vec<(usize, f64)>,
}

/// What some species share: protons, water and activity coefficient.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Bond {
    pub(crate) protons: i32,
    pub(crate) water: i32,
    /// Place of the coefficient: the size of the charge, or for neutral species what follows the largest charge.
    pub(crate) coefficient: usize,
}

/// Whole powers from the least to the most that occur.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Powers {
    least: i32,
    most: i32,
}

impl Powers {
    fn of(exponents: impl Iterator<Item = i32>) -> Self {
        exponents.fold(Self::default(), |powers, exponent| Self {
            least: powers.least.min(exponent),
            most: powers.most.max(exponent),
        })
    }

    /// Powers of a number, from the least; up and down from the zeroth.
    pub(crate) fn fill(self, number: f64, values: &mut Vec<f64>) {
        values.clear();
        let inverse = 1.0 / number;
        let mut value = 1.0;
        for _ in self.least..0 {
            value *= inverse;
            values.push(value);
        }
        values.reverse();
        values.push(1.0);
        value = 1.0;
        for _ in 0..self.most {
            value *= number;
            values.push(value);
        }
    }

    /// Place of an exponent among the values.
    #[inline(always)]
    pub(crate) fn place(self, exponent: i32) -> usize {
        usize::try_from(exponent - self.least).unwrap_or(0)
    }
}

/// Two unknowns and the species made of one of each.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pair {
    pub(crate) first: usize,
    pub(crate) second: usize,
    pub(crate) species: Range<usize>,
    /// Unknown that the protons of the pair are counted with.
    pub(crate) owner: usize,
}

/// The structure of a system.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Layout {
    pub(crate) arrow: Arrow,
    terms: Vec<Term>,
    /// Where the terms of every species stand.
    held: Vec<Range<usize>>,
    /// Species of every group.
    pub(crate) groups: Vec<Range<usize>>,
    /// Number of species, the first ones, that hold one component at most.
    pub(crate) singles: usize,
    pub(crate) more: Vec<More>,
    pub(crate) bonds: Vec<Bond>,
    pub(crate) proton_powers: Powers,
    pub(crate) water_powers: Powers,
    /// Largest charge number of a species.
    pub(crate) most_charge: u32,
    /// z^2 of the species.
    pub(crate) squared: Vec<f64>,
    /// Coefficients of neutral species as multiples of the conventional one, as they occur.
    pub(crate) salting_out: Vec<f64>,
    /// Species that hold water.
    pub(crate) watery: Vec<usize>,
    /// Species without charge.
    pub(crate) neutral: Vec<usize>,
    /// Unknown that the protons of a species are counted with, 0 for none.
    pub(crate) owner: Vec<usize>,
    /// Pairs of unknowns with one-to-one complexes.
    pub(crate) pairs: Vec<Pair>,
}

impl Layout {
    /// Lays out species that stand in the order of their groups, fewest components first; returned with them by their numbers.
    /// `slot_charges` are those of the unknowns, the first `dense` of which make the dense block.
    pub(crate) fn new(plans: &[Plan], slot_charges: &[i32], dense: usize) -> (Self, Vec<Member>) {
        let of = |what: fn(&Plan) -> i32| Powers::of(plans.iter().map(what));
        let mut layout = Self {
            arrow: Arrow { slots: slot_charges.len(), dense },
            terms: Vec::new(),
            held: Vec::with_capacity(plans.len()),
            groups: Vec::new(),
            singles: plans.iter().filter(|plan| plan.terms.len() < 2).count(),
            more: Vec::new(),
            bonds: Vec::new(),
            proton_powers: of(|plan| plan.protons),
            water_powers: of(|plan| plan.water),
            most_charge: plans.iter().map(|plan| plan.charge.unsigned_abs()).max().unwrap_or(0),
            squared: plans.iter().map(|plan| f64::from(plan.charge * plan.charge)).collect(),
            salting_out: Vec::new(),
            watery: Vec::new(),
            neutral: Vec::new(),
            owner: Vec::with_capacity(plans.len()),
            pairs: Vec::new(),
        };
        let mut members: Vec<Member> = Vec::with_capacity(plans.len());
        let mut like = None;
        for (index, plan) in plans.iter().enumerate() {
            if index > 0 && plans[index - 1].terms != plan.terms {
                like = None;
            }
            let (member, more) = like.get_or_insert_with(|| layout.open_group(index, &plan.terms));
            if !more.terms.is_empty() {
                layout.more.push(More { species: index, ..more.clone() });
            }
            members.push(layout.add_species(index, plan, *member, slot_charges));
        }
        layout.find_pairs();
        (layout, members)
    }

    /// Begins a group; returned is what its members share.
    fn open_group(&mut self, index: usize, terms: &[Term]) -> (Member, More) {
        self.terms.extend_from_slice(terms);
        self.groups.push(index..index);
        let mut pair = [self.arrow.slots; 2];
        let mut more = More::default();
        for (place, term) in terms.iter().enumerate() {
            let mut left = term.times;
            if let Some(slot) = pair.get_mut(place) {
                *slot = term.slot;
                left -= 1;
            }
            if left > 0 {
                more.terms.push(Term { slot: term.slot, times: left });
            }
            let twice = term.count() * term.count() - term.count();
            more.couple(self.arrow.place(term.slot, term.slot), twice);
            for (before, other) in terms[..place].iter().enumerate() {
                // The two of the pair meet once in any case.
                let once = if place == 1 && before == 0 { 1.0 } else { 0.0 };
                more.couple(self.arrow.place(term.slot, other.slot), term.count() * other.count() - once);
            }
        }
        let small = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        let place = if terms.len() < 2 { self.arrow.len() } else { self.arrow.place(pair[0], pair[1]) };
        let pair = pair.map(small);
        (
            Member {
                constant: 1.0,
                protons: 0.0,
                squared: 0.0,
                pair,
                place: small(place),
                bond: 0,
                salting_out: 0.0,
            },
            more,
        )
    }

    fn add_species(&mut self, index: usize, plan: &Plan, like: Member, slot_charges: &[i32]) -> Member {
        if let Some(group) = self.groups.last_mut() {
            group.end = index + 1;
        }
        self.held.push(self.terms.len() - plan.terms.len()..self.terms.len());
        if plan.water != 0 {
            self.watery.push(index);
        }
        if plan.charge == 0 {
            self.neutral.push(index);
        }
        // Protons belong to the ligand, hydroxide to the metal.
        let wants_metal = plan.protons < 0;
        let owner = plan
            .terms
            .iter()
            .find(|term| (slot_charges[term.slot] > 0) == wants_metal)
            .or_else(|| plan.terms.first());
        self.owner.push(owner.map_or(0, |term| term.slot));
        let bond = Bond { protons: plan.protons, water: plan.water, coefficient: self.coefficient(plan) };
        let place = self.bonds.iter().position(|other| *other == bond).unwrap_or_else(|| {
            self.bonds.push(bond);
            self.bonds.len() - 1
        });
        Member {
            constant: plan.constant,
            protons: f64::from(plan.protons),
            squared: f64::from(plan.charge * plan.charge),
            bond: u32::try_from(place).unwrap_or(0),
            salting_out: if plan.charge == 0 { plan.salting_out } else { 0.0 },
            ..like
        }
    }

    fn coefficient(&mut self, plan: &Plan) -> usize {
        if plan.charge != 0 {
            return plan.charge.unsigned_abs() as usize;
        }
        let place = self.salting_out.iter().position(|multiple| *multiple == plan.salting_out);
        let place = place.unwrap_or_else(|| {
            self.salting_out.push(plan.salting_out);
            self.salting_out.len() - 1
        });
        self.most_charge as usize + 1 + place
    }

    fn find_pairs(&mut self) {
        let mut pairs = Vec::new();
        for species in &self.groups {
            if let [first, second] = *self.terms_of(species.start)
                && first.times == 1
                && second.times == 1
            {
                let pair = Pair {
                    first: first.slot,
                    second: second.slot,
                    species: species.clone(),
                    owner: self.owner[species.start],
                };
                pairs.push(pair);
            }
        }
        self.pairs = pairs;
    }

    /// Terms of a species.
    pub(crate) fn terms_of(&self, species: usize) -> &[Term] {
        &self.terms[self.held[species].clone()]
    }
}

impl More {
    fn couple(&mut self, place: usize, factor: f64) {
        if factor != 0.0 {
            self.couplings.push((place, factor));
        }
    }
}

/// Orders unknowns 1 and up so that those which share no species with each other come last; returns the order and how many unknowns
/// (with H+) come before them. `together` tells which unknowns meet in a species.
pub(crate) fn order_of_elimination(together: &[Vec<bool>]) -> (Vec<usize>, usize) {
    let degree = |slot: usize| together[slot].iter().skip(1).filter(|&&meets| meets).count();
    let mut candidates: Vec<usize> = (1..together.len()).collect();
    candidates.sort_by_key(|&slot| (degree(slot), slot));
    let mut last: Vec<usize> = Vec::new();
    let mut first = vec![0];
    for slot in candidates {
        let apart = last.iter().all(|&other| !together[slot][other]);
        if apart { &mut last } else { &mut first }.push(slot);
    }
    first.sort_unstable();
    last.sort_unstable();
    let dense = first.len();
    first.extend(last);
    (first, dense)
}

//! The system as it would be if its constants and coefficients stood elsewhere within their doubt: for drawing them at random.
//!
//! ```text
//! log10 K_i'  =  log10 K_i + d_i + s w_i - z_i^2 c        charged species
//!             =  log10 K_i + d_i + s w_i - n              neutral species
//! pk'         =  pk + p + s a                              polyacids
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | d_i | departure of the constant | log10 |
//! | c, n | departure of the coefficient of a single charge, of a neutral species | log10 |
//! | s, w_i | share of the shift that the mixed solvent gives the constant, that shift | -, log10 |
//! | p, a | departure of the apparent pKa, shift of an acid per charge made | pH |
//!
//! Only numbers move: the layout stays, so a workspace goes on warm. Law: the pH moves as [`super::Sensitivities`] say (below).

use super::interval::SolventShift;
use super::system::System;
use core::f64::consts::LN_10;
use levigate_measure::fast_exp::exp;

/// How far the constants and coefficients of a system stand from their best values.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Departure {
    /// log10 of the constant, for every species of [`System::species`]; those beyond its end stay.
    pub constants: Vec<f64>,
    /// pH units, for every polyacid.
    pub polyacids: Vec<f64>,
    /// log10 of the coefficient of a single charge.
    pub charged: f64,
    /// log10 of the coefficient of a neutral species.
    pub neutral: f64,
    /// Share of the shift that the mixed solvent gives, by the rule of [`SolventShift`].
    pub solvent: f64,
}

impl System {
    /// Shift of log10 of every constant in a mixed solvent, in the order of [`System::species`], and that of the apparent pKa of polyacids.
    #[must_use]
    pub fn solvent_shifts(&self, solvent: SolventShift) -> (Vec<f64>, f64) {
        (self.facts.iter().map(|fact| solvent.of_constant(fact)).collect(), solvent.acid)
    }

    /// Polyacids in it.
    #[must_use]
    pub fn polyacids(&self) -> usize {
        self.chains.len()
    }

    /// Name of the component of a polyacid, and the standard uncertainty of its apparent pKa at an ionic strength.
    #[must_use]
    pub fn polyacid_doubt(&self, chain: usize, ln_ionic_strength: f64) -> Option<(&str, f64)> {
        let model = self.chains.get(chain)?;
        Some((self.names[self.chain_component[chain]].as_str(), model.uncertainty(ln_ionic_strength)))
    }

    /// Puts the constants where they stand in `best`, moved by a departure. `best` is the system this one is a copy of; `shifts` are its
    /// [`System::solvent_shifts`].
    pub fn depart(&mut self, best: &Self, departure: &Departure, (shifts, acid): &(Vec<f64>, f64)) {
        for (place, (member, own)) in self.members.iter_mut().zip(&best.members).enumerate() {
            let mut moved = departure.constants.get(place).copied().unwrap_or(0.0)
                + departure.solvent * shifts.get(place).copied().unwrap_or(0.0);
            moved -= if own.squared == 0.0 { departure.neutral } else { own.squared * departure.charged };
            member.constant = if moved == 0.0 { own.constant } else { own.constant * exp(LN_10 * moved) };
        }
        for (place, (chain, own)) in self.chains.iter_mut().zip(&best.chains).enumerate() {
            chain.shift =
                own.shift + departure.polyacids.get(place).copied().unwrap_or(0.0) + departure.solvent * acid;
        }
    }
}

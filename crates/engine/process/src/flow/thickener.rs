//! What a thickener adds to the stress of a liquid: laws over dose, shear rate and surroundings, with their parameters as a vector.
//!
//! ```text
//! coil      eta_p0 = eta_s G(x) F,  x = [eta] c              G = (1 + x/8)^8 - 1  or  x + k x^2 + k^2 x^3/2 + k^3 x^4/6
//!                                                            or  x^1.5 (1 + (c/c_D)^2)
//!           F = (c/c_r)^d exp(E/R (1/T - 1/T_r)) (I/I_r)^-s
//!           tau_c  = t c^q,  g_c = tau_c / eta_p0
//! rod       tau_c  = t (c/c_r)^d exp(E/R (1/T - 1/T_r)) (I/I_r)^-s
//!           g_c    = g (c/c_r)^q eta_w/eta_s
//! both      tau_p  = (tau_c / g_c) r / (1 + (r/g_c)^m)
//! microgel  tau_y  = t (c/c_r)^d exp(E/R (1/T - 1/T_r)) N(a) / (1 + I_s/I_h)
//!           g_c    = g (c/c_r)^q eta_w/eta_s
//!           tau_p  = tau_y (1 + (r/g_c)^n)
//!           N(a)   = 1 / (1 + (0.12/a)^3)
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | c, c_r | polymer in the water phase, and the dose the parameters are for | g/dL |
//! | `[eta]` | intrinsic viscosity | dL/g |
//! | k | constant of the series (Huggins constant) | - |
//! | c_D | dose from which charged chains crowd each other | g/dL |
//! | eta_s, eta_w | viscosity of the solvent, of water at the same temperature | Pa s |
//! | tau_c, g_c | stress and shear rate at which thinning sets in; microgel: where the viscous stress equals the yield stress | Pa, 1/s |
//! | tau_y | yield stress | Pa |
//! | r | shear rate | 1/s |
//! | m, n | 1 - flow index; flow index | - |
//! | E, T, T_r | heat of activation beyond that of the solvent; temperature, 298.15 | J/mol, K |
//! | I, I_r, s | ionic strength, held between 0.003 and 0.1; that of the evidence; exponent | mol/kg |
//! | I_s, I_h | ionic strength of what is not counter-ion of the gel; that which halves the yield stress | mol/kg |
//! | a | dissociated share of the polyacid | - |
//!
//! Why these forms: the eighth power is the rule makers grade cellulose ethers by (Philippoff 1936, from memory), and its expansion has a
//! Huggins constant of 7/16, so it also serves other coils; the series is the one of Cowman and Matsuoka (2005, from memory) for
//! hyaluronan; charged chains in little salt rise with the power 1.5 and above a dose that hardly depends on their length with 3.5 (Lopez and
//! others on carboxymethylcellulose, abstract read; Dobrynin and others 1995, from memory): the eighth power misses them by a factor of three.
//! A stress of onset proportional to the dose is what entangled and unentangled chains show (Graessley, Adv. Polym. Sci. 16 (1974) 1, from
//! memory), so the solvent acts on the plateau and little on the thinned branch. For rods and gels the stress is the thing measured and the
//! plateau a guess, so the stress carries the strength. The gel in a thicker liquid flows at the same stress at a lower shear rate: the
//! rate scales with the viscosity of the solvent (Cloitre and others, Phys. Rev. Lett. 90 (2003) 068303, from memory). `N(a)` and
//! the halving by salt are rules of thumb drawn from "plateau from pH 6 to 7, viscous from 5 to 9" and "half a percent in 1 % sodium chloride
//! loses more than 90 %". Cases: `tests/published/flow_prediction.toml`.

use levigate_measure::elementary::Elementary as _;
use serde::{Deserialize, Serialize};

/// Parameters of every law.
pub const PARAMETERS: usize = 7;
/// A parameter vector, in the order of [`Law::symbols`].
pub type Theta = [f64; PARAMETERS];

const GAS_CONSTANT: f64 = 8.314_462_618e-3;
const REFERENCE_K: f64 = 298.15;
/// Ionic strengths between which an exponent acts, mol/kg: below, the counter-ions of the chain stand in; above, the charge is screened.
const SALT_ACTS: [f64; 2] = [0.003, 0.1];

/// How the plateau of a coil grows with the overlap `x = [eta] c`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "form", deny_unknown_fields)]
pub enum Growth {
    /// `(1 + x/8)^8 - 1`.
    EighthRoot,
    /// `x + k x^2 + k^2 x^3/2 + k^3 x^4/6`.
    Series {
        /// Constant of the series.
        k: f64,
    },
    /// `x^1.5 (1 + (c/c_D)^2)`.
    Polyelectrolyte {
        /// Dose from which charged chains crowd each other, g/dL.
        crossover_g_dl: f64,
    },
}

impl Growth {
    /// Specific viscosity of the plateau at an overlap and its dose, g/dL.
    #[must_use]
    pub fn specific(self, overlap: f64, dose_g_dl: f64) -> f64 {
        match self {
            Self::EighthRoot => {
                let square = |x: f64| x * x;
                // Expanded where one would be lost beside it.
                if overlap < 1e-3 {
                    overlap * (1.0 + 0.4375 * overlap)
                } else {
                    square(square(square(1.0 + overlap / 8.0))) - 1.0
                }
            }
            Self::Series { k } => {
                let kx = k * overlap;
                overlap * (1.0 + kx * (1.0 + kx * (0.5 + kx / 6.0)))
            }
            Self::Polyelectrolyte { crossover_g_dl } => {
                let crowding = dose_g_dl / crossover_g_dl;
                overlap * overlap.sqrt() * (1.0 + crowding * crowding)
            }
        }
    }
}

/// The law of a thickener.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Law {
    /// Disordered chain.
    Coil {
        /// Growth of the plateau.
        growth: Growth,
    },
    /// Stiff chain or weak gel.
    Rod,
    /// Swollen particles.
    Microgel,
}

impl Law {
    /// Symbol and meaning of each parameter.
    #[must_use]
    pub fn symbols(self) -> [(&'static str, &'static str); PARAMETERS] {
        match self {
            Self::Coil { .. } => [
                ("ln [eta]", "intrinsic viscosity"),
                ("d", "exponent of the dose"),
                ("ln t", "stress at which thinning sets in"),
                ("q", "exponent of the dose in that stress"),
                ("m", "flow index"),
                ("E", "heat of activation"),
                ("s", "exponent of the salt"),
            ],
            Self::Rod => [
                ("ln t", "stress at which thinning sets in"),
                ("d", "exponent of the dose"),
                ("ln g", "shear rate of the plateau at rest"),
                ("q", "exponent of the dose in that shear rate"),
                ("m", "flow index"),
                ("E", "heat of activation"),
                ("s", "exponent of the salt"),
            ],
            Self::Microgel => [
                ("ln t", "yield stress"),
                ("d", "exponent of the dose"),
                ("ln g", "shear rate that doubles the yield stress"),
                ("q", "exponent of the dose in that shear rate"),
                ("n", "flow index"),
                ("E", "heat of activation"),
                ("ln I_h", "salt that halves the yield stress"),
            ],
        }
    }
}

impl Law {
    /// Unit of each parameter (of the value itself where the symbol is a logarithm), in the order of [`Law::symbols`].
    #[must_use]
    pub fn units(self) -> [&'static str; PARAMETERS] {
        match self {
            Self::Coil { .. } => ["dL/g", "", "Pa", "", "", "kJ/mol", ""],
            Self::Rod => ["Pa", "", "1/s", "", "", "kJ/mol", ""],
            Self::Microgel => ["Pa", "", "1/s", "", "", "kJ/mol", "mol/kg"],
        }
    }
}

/// What a thickener finds around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Temperature, C.
    pub temperature_c: f64,
    /// Viscosity of the solvent, Pa s.
    pub solvent_pa_s: f64,
    /// Viscosity of water at the same temperature, Pa s.
    pub water_pa_s: f64,
    /// Ionic strength, mol/kg water.
    pub ionic_strength: f64,
    /// Ionic strength of what is not counter-ion of a gel, mol/kg water.
    pub added_salt: f64,
    /// Dissociated share of a polyacid, 0 to 1.
    pub dissociated: f64,
}

/// What the parameters are for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reference {
    /// Dose, g/dL of water phase.
    pub dose_g_dl: f64,
    /// Ionic strength, mol/kg.
    pub ionic_strength: f64,
}

/// A law with what it is for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thickening {
    /// Law.
    pub law: Law,
    /// What the parameters are for.
    pub reference: Reference,
}

/// What a polymer adds, over shear rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Response {
    /// Plateau and thinning.
    Thinning {
        /// Viscosity added at rest, Pa s.
        at_rest: f64,
        /// Shear rate at which thinning sets in, 1/s.
        critical_rate: f64,
        /// One less the flow index.
        exponent: f64,
    },
    /// Yield stress and power law.
    Yielding {
        /// Yield stress, Pa.
        yield_pa: f64,
        /// Shear rate that doubles the stress, 1/s.
        critical_rate: f64,
        /// Flow index.
        index: f64,
    },
}

impl Response {
    /// Stress added at a shear rate, Pa.
    #[must_use]
    pub fn stress(self, rate: f64) -> f64 {
        match self {
            Self::Thinning { at_rest, critical_rate, exponent } => {
                at_rest * rate / (1.0 + (rate / critical_rate).to_the(exponent))
            }
            Self::Yielding { yield_pa, critical_rate, index } => {
                yield_pa * (1.0 + (rate / critical_rate).to_the(index))
            }
        }
    }

    /// Yield stress, Pa; zero for a polymer without one.
    #[must_use]
    pub fn yield_stress(self) -> f64 {
        if let Self::Yielding { yield_pa, .. } = self { yield_pa } else { 0.0 }
    }

    /// Viscosity added at rest, Pa s; none where there is a yield stress.
    #[must_use]
    pub fn at_rest(self) -> Option<f64> {
        if let Self::Thinning { at_rest, .. } = self { Some(at_rest) } else { None }
    }
}

/// Share of the full strength of a microgel at a dissociated share of its acid groups.
#[must_use]
pub fn neutralised(share: f64) -> f64 {
    let ratio = 0.12 / share.max(1e-6);
    1.0 / (1.0 + ratio * ratio * ratio)
}

/// How ln of a response's three numbers (viscosity at rest or yield stress; critical shear rate; exponent, itself no logarithm) answers to the
/// parameters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slopes {
    /// Of viscosity at rest or yield stress.
    pub height: Theta,
    /// Of the critical shear rate.
    pub critical_rate: Theta,
    /// Of the exponent.
    pub exponent: Theta,
}

impl Response {
    /// Stress added at a shear rate (Pa), and d ln of it for each d of the three numbers of [`Slopes`].
    #[must_use]
    pub fn stress_and_slopes(self, rate: f64) -> (f64, [f64; 3]) {
        match self {
            Self::Thinning { at_rest, critical_rate, exponent } => {
                let ln_ratio = (rate / critical_rate).log_e();
                let rise = (exponent * ln_ratio).exp_e();
                let share = rise / (1.0 + rise);
                (at_rest * rate / (1.0 + rise), [1.0, exponent * share, -ln_ratio * share])
            }
            Self::Yielding { yield_pa, critical_rate, index } => {
                let ln_ratio = (rate / critical_rate).log_e();
                let rise = (index * ln_ratio).exp_e();
                let share = rise / (1.0 + rise);
                (yield_pa * (1.0 + rise), [1.0, -index * share, ln_ratio * share])
            }
        }
    }
}

impl Slopes {
    /// d ln stress / d theta, with the slopes of [`Response::stress_and_slopes`].
    #[must_use]
    pub fn of_stress(&self, [height, critical_rate, exponent]: [f64; 3]) -> Theta {
        std::array::from_fn(|place| {
            height * self.height[place]
                + critical_rate * self.critical_rate[place]
                + exponent * self.exponent[place]
        })
    }
}

/// Share of its strength that a microgel keeps beside added salt (mol/kg); `ln_half` is ln of the salt that halves it.
#[must_use]
pub fn salted(ln_half: f64, added_salt: f64) -> f64 {
    1.0 / (1.0 + added_salt * (-ln_half).exp_e())
}

impl Thickening {
    /// What a dose (g/dL of water phase, above zero) adds.
    #[must_use]
    pub fn response(&self, theta: &Theta, dose_g_dl: f64, around: &Surroundings) -> Response {
        let [strength, dose_exponent, critical, critical_exponent, thinning, heat, salt] = *theta;
        let ln_dose = dose_g_dl.log_e();
        let ln_relative = ln_dose - self.reference.dose_g_dl.log_e();
        let kelvin = around.temperature_c + 273.15;
        let mut ln_factor =
            dose_exponent * ln_relative + heat / GAS_CONSTANT * (1.0 / kelvin - 1.0 / REFERENCE_K);
        let [least, most] = SALT_ACTS;
        if !matches!(self.law, Law::Microgel) && salt != 0.0 {
            let here = around.ionic_strength.clamp(least, most);
            let there = self.reference.ionic_strength.clamp(least, most);
            ln_factor -= salt * (here / there).log_e();
        }
        match self.law {
            Law::Coil { growth } => {
                let specific = growth.specific((strength + ln_dose).exp_e(), dose_g_dl);
                let at_rest = around.solvent_pa_s * specific * ln_factor.exp_e();
                let stress = (critical + critical_exponent * ln_dose).exp_e();
                Response::Thinning {
                    at_rest,
                    critical_rate: stress / at_rest,
                    exponent: thinning.clamp(0.0, 0.97),
                }
            }
            Law::Rod => {
                let stress = (strength + ln_factor).exp_e();
                let critical_rate = (critical + critical_exponent * ln_relative).exp_e() * around.water_pa_s
                    / around.solvent_pa_s;
                Response::Thinning {
                    at_rest: stress / critical_rate,
                    critical_rate,
                    exponent: thinning.clamp(0.0, 0.97),
                }
            }
            Law::Microgel => Response::Yielding {
                yield_pa: (strength + ln_factor).exp_e()
                    * neutralised(around.dissociated)
                    * salted(salt, around.added_salt),
                critical_rate: (critical + critical_exponent * ln_relative).exp_e() * around.water_pa_s
                    / around.solvent_pa_s,
                index: thinning.clamp(0.03, 1.0),
            },
        }
    }

    /// The response with its slopes.
    #[must_use]
    pub fn response_and_slopes(
        &self,
        theta: &Theta,
        dose_g_dl: f64,
        around: &Surroundings,
    ) -> (Response, Slopes) {
        let ln_dose = dose_g_dl.log_e();
        let ln_relative = ln_dose - self.reference.dose_g_dl.log_e();
        let heat = (1.0 / (around.temperature_c + 273.15) - 1.0 / REFERENCE_K) / GAS_CONSTANT;
        let [least, most] = SALT_ACTS;
        let held = |strength: f64| strength.clamp(least, most);
        let salt = -(held(around.ionic_strength) / held(self.reference.ionic_strength)).log_e();
        let slopes = match self.law {
            Law::Coil { growth } => {
                const NEARBY: f64 = 1e-4;
                let overlap = (theta[0] + ln_dose).exp_e();
                let rise = growth.specific(overlap * (1.0 + NEARBY), dose_g_dl)
                    / growth.specific(overlap, dose_g_dl);
                let growth = rise.log_e() / NEARBY.log_e_1p();
                let height = [growth, ln_relative, 0.0, 0.0, 0.0, heat, salt];
                let critical_rate = std::array::from_fn(|place| {
                    [0.0, 0.0, 1.0, ln_dose, 0.0, 0.0, 0.0][place] - height[place]
                });
                Slopes { height, critical_rate, exponent: [0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0] }
            }
            Law::Rod => Slopes {
                height: [1.0, ln_relative, -1.0, -ln_relative, 0.0, heat, salt],
                critical_rate: [0.0, 0.0, 1.0, ln_relative, 0.0, 0.0, 0.0],
                exponent: [0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
            },
            Law::Microgel => {
                let load = around.added_salt * (-theta[6]).exp_e();
                Slopes {
                    height: [1.0, ln_relative, 0.0, 0.0, 0.0, heat, load / (1.0 + load)],
                    critical_rate: [0.0, 0.0, 1.0, ln_relative, 0.0, 0.0, 0.0],
                    exponent: [0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
                }
            }
        };
        (self.response(theta, dose_g_dl, around), slopes)
    }
}

//! An equation somebody typed, with exact derivatives: `y = b1*(1 - exp(-b2*x))`.
//!
//! ```text
//! equation = side "=" sum                     power = atom [("^" | "**") factor]
//! sum      = product {("+" | "-") product}    atom  = number | name | name "(" sum ")" | "(" sum ")"
//! product  = factor {("*" | "/") factor}      factor = ("-" | "+") factor | power
//! ```
//!
//! A sign before a power belongs to the whole power, `-x^2 = -(x^2)`, and powers are taken from the right. What is observed stands alone to the
//! left, or in functions of itself (`ln(y) = ...`). Names are columns of the data, parameters, or `pi`. An equation has at most 4000 characters
//! and 100 brackets within each other. It is read once into a list of steps, each on the results of earlier ones; going through them backwards gives the
//! derivatives to all parameters at once, exact to rounding (reverse accumulation: Linnainmaa 1970, from memory).
//!
//! Cases: `tests/tests/equation.rs`, the reference sets of NIST in the words of their models.

mod fit;
mod reading;

pub use fit::{Found, MOST_PARAMETERS, Refused, fit, profile};
pub use reading::{EquationError, What};

use crate::elementary::Elementary as _;

/// A function of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Function {
    /// `exp`
    Exponential,
    /// `ln`, `log`
    Logarithm,
    /// `log10`
    DecimalLogarithm,
    /// `sqrt`
    Root,
    /// `sin`
    Sine,
    /// `cos`
    Cosine,
    /// `tan`
    Tangent,
    /// `asin`, `arcsin`
    ArcSine,
    /// `acos`, `arccos`
    ArcCosine,
    /// `atan`, `arctan`
    ArcTangent,
    /// `sinh`
    HyperbolicSine,
    /// `cosh`
    HyperbolicCosine,
    /// `tanh`
    HyperbolicTangent,
    /// `abs`
    Absolute,
}

/// Functions by their names.
const FUNCTIONS: [(&str, Function); 18] = [
    ("exp", Function::Exponential),
    ("ln", Function::Logarithm),
    ("log", Function::Logarithm),
    ("log10", Function::DecimalLogarithm),
    ("sqrt", Function::Root),
    ("sin", Function::Sine),
    ("cos", Function::Cosine),
    ("tan", Function::Tangent),
    ("asin", Function::ArcSine),
    ("arcsin", Function::ArcSine),
    ("acos", Function::ArcCosine),
    ("arccos", Function::ArcCosine),
    ("atan", Function::ArcTangent),
    ("arctan", Function::ArcTangent),
    ("sinh", Function::HyperbolicSine),
    ("cosh", Function::HyperbolicCosine),
    ("tanh", Function::HyperbolicTangent),
    ("abs", Function::Absolute),
];

impl Function {
    fn of(self, x: f64) -> f64 {
        match self {
            Self::Exponential => x.exp_e(),
            Self::Logarithm => x.log_e(),
            Self::DecimalLogarithm => x.log_10(),
            Self::Root => x.sqrt(),
            Self::Sine => x.sine(),
            Self::Cosine => libm::cos(x),
            Self::Tangent => libm::tan(x),
            Self::ArcSine => libm::asin(x),
            Self::ArcCosine => libm::acos(x),
            Self::ArcTangent => libm::atan(x),
            Self::HyperbolicSine => libm::sinh(x),
            Self::HyperbolicCosine => libm::cosh(x),
            Self::HyperbolicTangent => libm::tanh(x),
            Self::Absolute => x.abs(),
        }
    }

    /// Derivative at `x`, where the function is `value`.
    fn slope(self, x: f64, value: f64) -> f64 {
        match self {
            Self::Exponential => value,
            Self::Logarithm => 1.0 / x,
            Self::DecimalLogarithm => core::f64::consts::LOG10_E / x,
            Self::Root => 0.5 / value,
            Self::Sine => libm::cos(x),
            Self::Cosine => -x.sine(),
            Self::Tangent => 1.0 + value * value,
            Self::ArcSine => 1.0 / (1.0 - x * x).sqrt(),
            Self::ArcCosine => -1.0 / (1.0 - x * x).sqrt(),
            Self::ArcTangent => 1.0 / (1.0 + x * x),
            Self::HyperbolicSine => libm::cosh(x),
            Self::HyperbolicCosine => libm::sinh(x),
            Self::HyperbolicTangent => 1.0 - value * value,
            Self::Absolute => {
                if x == 0.0 {
                    0.0
                } else {
                    x.signum()
                }
            }
        }
    }
}

/// One step; places are those of earlier steps.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    Number(f64),
    Column(usize),
    Parameter(usize),
    Negated(usize),
    Sum(usize, usize),
    Difference(usize, usize),
    Product(usize, usize),
    Quotient(usize, usize),
    Power(usize, usize),
    Call(Function, usize),
}

/// How a step hangs on the parameters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Depends {
    No,
    Linearly,
    Otherwise,
}

/// One side of an equation, ready to be worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Expression {
    steps: Vec<Step>,
    depends: Vec<Depends>,
}

/// Room to work in, kept from row to row.
#[derive(Clone, Debug, Default)]
pub struct Worked {
    values: Vec<f64>,
    shares: Vec<f64>,
}

impl Expression {
    fn of(steps: Vec<Step>) -> Self {
        let mut depends: Vec<Depends> = Vec::with_capacity(steps.len());
        for step in &steps {
            let found = match *step {
                Step::Number(_) | Step::Column(_) => Depends::No,
                Step::Parameter(_) => Depends::Linearly,
                Step::Negated(a) => depends[a],
                Step::Sum(a, b) | Step::Difference(a, b) => depends[a].max(depends[b]),
                Step::Product(a, b) => match (depends[a], depends[b]) {
                    (Depends::No, other) | (other, Depends::No) => other,
                    _ => Depends::Otherwise,
                },
                Step::Quotient(a, b) if depends[b] == Depends::No => depends[a],
                Step::Power(a, b) if depends[a].max(depends[b]) == Depends::No => Depends::No,
                Step::Call(_, a) if depends[a] == Depends::No => Depends::No,
                _ => Depends::Otherwise,
            };
            depends.push(found);
        }
        Self { steps, depends }
    }

    /// Whether it is a sum of parameters times numbers that do not hang on them.
    #[must_use]
    pub fn is_linear(&self) -> bool {
        self.depends.last().is_none_or(|last| *last != Depends::Otherwise)
    }

    /// Its value for a row of the data.
    #[must_use]
    pub fn value(&self, row: &[f64], parameters: &[f64], room: &mut Worked) -> f64 {
        room.values.clear();
        for step in &self.steps {
            let v = &room.values;
            let value = match *step {
                Step::Number(number) => number,
                Step::Column(at) => row[at],
                Step::Parameter(at) => parameters[at],
                Step::Negated(a) => -v[a],
                Step::Sum(a, b) => v[a] + v[b],
                Step::Difference(a, b) => v[a] - v[b],
                Step::Product(a, b) => v[a] * v[b],
                Step::Quotient(a, b) => v[a] / v[b],
                Step::Power(a, b) => v[a].to_the(v[b]),
                Step::Call(function, a) => function.of(v[a]),
            };
            room.values.push(value);
        }
        room.values.last().copied().unwrap_or(f64::NAN)
    }

    /// Its value for a row, and its derivatives to the parameters.
    pub fn slopes(&self, row: &[f64], parameters: &[f64], slopes: &mut [f64], room: &mut Worked) -> f64 {
        let value = self.value(row, parameters, room);
        slopes.fill(0.0);
        let Worked { values: v, shares } = room;
        shares.clear();
        shares.resize(self.steps.len(), 0.0);
        if let Some(last) = shares.last_mut() {
            *last = 1.0;
        }
        for place in (0..self.steps.len()).rev() {
            let share = shares[place];
            if share == 0.0 || self.depends[place] == Depends::No {
                continue;
            }
            // What does not hang on the parameters takes no share: its derivative may not even be a number.
            let mut give = |to: usize, slope: f64| {
                if self.depends[to] != Depends::No {
                    shares[to] += share * slope;
                }
            };
            match self.steps[place] {
                Step::Number(_) | Step::Column(_) => {}
                Step::Parameter(at) => slopes[at] += share,
                Step::Negated(a) => give(a, -1.0),
                Step::Sum(a, b) => {
                    give(a, 1.0);
                    give(b, 1.0);
                }
                Step::Difference(a, b) => {
                    give(a, 1.0);
                    give(b, -1.0);
                }
                Step::Product(a, b) => {
                    give(a, v[b]);
                    give(b, v[a]);
                }
                Step::Quotient(a, b) => {
                    give(a, 1.0 / v[b]);
                    give(b, -v[place] / v[b]);
                }
                Step::Power(a, b) => {
                    let (base, power) = (v[a], v[b]);
                    give(a, if power == 0.0 { 0.0 } else { power * base.to_the(power - 1.0) });
                    // Of nothing raised to a power above zero nothing is left to grow.
                    give(b, if base == 0.0 && power > 0.0 { 0.0 } else { v[place] * base.log_e() });
                }
                Step::Call(function, a) => give(a, function.slope(v[a], v[place])),
            }
        }
        value
    }
}

/// An equation between what is observed and what is said of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Equation {
    /// The observed side: columns alone.
    pub observed: Expression,
    /// The other: columns and parameters.
    pub model: Expression,
    /// Columns that it reads, as places among those given.
    pub columns: Vec<usize>,
    /// The column to the left.
    pub response: usize,
    /// Whether `log` stands in it, which is read as the natural logarithm.
    pub plain_log: bool,
}

impl Equation {
    /// Reads an equation over columns and parameters of these names.
    ///
    /// # Errors
    /// What is wrong, with the characters it is about.
    pub fn read(text: &str, columns: &[String], parameters: &[String]) -> Result<Self, EquationError> {
        reading::read(text, columns, parameters)
    }
}

/// The names to the right that are neither a column nor `pi` nor a function, in the order they stand: what must be parameters.
///
/// # Errors
/// What is wrong with the text itself.
pub fn unknown_names(text: &str, columns: &[String]) -> Result<Vec<String>, EquationError> {
    reading::unknown(text, columns)
}

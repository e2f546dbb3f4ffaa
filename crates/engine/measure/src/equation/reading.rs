//! Text into steps.

use super::{Equation, Expression, FUNCTIONS, Step};
use core::ops::Range;
use thiserror::Error;

/// Most characters of an equation.
const LONGEST: usize = 4000;
/// Most brackets, signs and powers within each other.
const DEEPEST: usize = 100;
/// The name `pi`.
const CIRCLE: f64 = core::f64::consts::PI;

/// What is wrong with an equation, and where.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{what}")]
pub struct EquationError {
    /// Bytes of the text it is about.
    pub at: Range<usize>,
    /// What.
    pub what: What,
}

/// What is wrong with an equation.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum What {
    /// Too long.
    #[error("the equation has more than {LONGEST} characters")]
    TooLong,
    /// Too deep.
    #[error("more than {DEEPEST} brackets, signs and powers stand within each other here")]
    TooDeep,
    /// A character that means nothing here.
    #[error("`{0}` means nothing in an equation")]
    Character(char),
    /// A number that is not one.
    #[error("`{0}` is not a number")]
    Number(String),
    /// Something is missing.
    #[error("{0} is missing here")]
    Missing(&'static str),
    /// Two things beside each other.
    #[error("{0} follows without a sign between")]
    NoSign(String),
    /// A second sign of equality.
    #[error("there is a second =")]
    SecondEquality,
    /// A name nobody knows.
    #[error("`{0}` is neither a column of the data nor given a start")]
    Unknown(String),
    /// A function nobody knows.
    #[error("there is no function `{0}`")]
    NoFunction(String),
    /// A function without its argument.
    #[error("the function `{0}` wants its number in brackets")]
    NoArgument(String),
    /// The observed side.
    #[error("to the left stands what was observed, one column, alone or in functions of itself")]
    Observed,
    /// A parameter nothing hangs on.
    #[error("the parameter `{0}` has a start, but does not stand in the equation")]
    Unused(String),
    /// A parameter with the name of a column.
    #[error("`{0}` is a column of the data and a parameter too")]
    Twice(String),
}

impl What {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooLong => "write it shorter",
            Self::TooDeep => "write it with fewer brackets",
            Self::Character(_) => "write numbers, names, + - * / ^ and brackets",
            Self::Number(_) => "write it like 0.5 or 2.5e-3",
            Self::Missing(_) => "write y = b1*(1 - exp(-b2*x))",
            Self::NoSign(_) => "write * for a product: 2*x",
            Self::SecondEquality => "write one equation",
            Self::Unknown(_) => "give it a start, or name a column as the head of the data does",
            Self::NoFunction(_) => {
                "exp, ln, log10, sqrt, sin, cos, tan, asin, acos, atan, sinh, cosh, tanh and abs are known"
            }
            Self::NoArgument(_) => "write exp(x)",
            Self::Observed => "write y = ... or ln(y) = ..., y being the head of the column",
            Self::Unused(_) => "take it away, or put it into the equation",
            Self::Twice(_) => "call the parameter something else",
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
enum Token<'t> {
    Number(f64),
    Name(&'t str),
    Sign(char),
    Power,
    Open,
    Close,
    Equals,
}

fn tokens(text: &str) -> Result<Vec<(Token<'_>, Range<usize>)>, EquationError> {
    if text.chars().count() > LONGEST {
        return Err(EquationError { at: 0..text.len(), what: What::TooLong });
    }
    let mut found = Vec::new();
    let bytes = text.as_bytes();
    let mut at = 0;
    let run = |from: usize, keep: &dyn Fn(char) -> bool| {
        text[from..].find(|c: char| !keep(c)).map_or(text.len(), |length| from + length)
    };
    while let Some(next) = text[at..].chars().next() {
        let from = at;
        at += next.len_utf8();
        let token = match next {
            _ if next.is_whitespace() => continue,
            '0'..='9' | '.' => {
                at = run(from, &|c| c.is_ascii_digit() || c == '.');
                if matches!(bytes.get(at), Some(b'e' | b'E')) {
                    let signed = matches!(bytes.get(at + 1), Some(b'+' | b'-'));
                    let digits = at + 1 + usize::from(signed);
                    if bytes.get(digits).is_some_and(u8::is_ascii_digit) {
                        at = run(digits, &|c| c.is_ascii_digit());
                    }
                }
                let word = &text[from..at];
                match word.parse::<f64>() {
                    Ok(number) if number.is_finite() => Token::Number(number),
                    _ => {
                        return Err(EquationError { at: from..at, what: What::Number(word.to_owned()) });
                    }
                }
            }
            _ if next.is_alphabetic() || next == '_' => {
                at = run(from, &|c| c.is_alphanumeric() || c == '_');
                Token::Name(&text[from..at])
            }
            '*' if bytes.get(at) == Some(&b'*') => {
                at += 1;
                Token::Power
            }
            '^' => Token::Power,
            '+' | '-' | '*' | '/' => Token::Sign(next),
            '\u{2212}' => Token::Sign('-'),
            '\u{d7}' | '\u{b7}' => Token::Sign('*'),
            '(' | '[' => Token::Open,
            ')' | ']' => Token::Close,
            '=' => Token::Equals,
            _ => return Err(EquationError { at: from..at, what: What::Character(next) }),
        };
        found.push((token, from..at));
    }
    Ok(found)
}

/// A name where it stands: place of its step, bytes.
struct Named<'t> {
    step: usize,
    name: &'t str,
    at: Range<usize>,
}

struct Reading<'t> {
    tokens: Vec<(Token<'t>, Range<usize>)>,
    next: usize,
    end: usize,
    steps: Vec<Step>,
    names: Vec<Named<'t>>,
    plain_log: bool,
}

impl<'t> Reading<'t> {
    fn peek(&self) -> Option<&Token<'t>> {
        self.tokens.get(self.next).map(|(token, _)| token)
    }

    fn place(&self) -> Range<usize> {
        self.tokens.get(self.next).map_or(self.end..self.end, |(_, at)| at.clone())
    }

    fn wrong<T>(&self, what: What) -> Result<T, EquationError> {
        Err(EquationError { at: self.place(), what })
    }

    fn take(&mut self, wanted: &Token<'_>) -> bool {
        let taken = self.peek() == Some(wanted);
        self.next += usize::from(taken);
        taken
    }

    fn add(&mut self, step: Step) -> usize {
        self.steps.push(step);
        self.steps.len() - 1
    }

    fn sum(&mut self, depth: usize) -> Result<usize, EquationError> {
        let mut left = self.product(depth)?;
        loop {
            if self.take(&Token::Sign('+')) {
                let right = self.product(depth)?;
                left = self.add(Step::Sum(left, right));
            } else if self.take(&Token::Sign('-')) {
                let right = self.product(depth)?;
                left = self.add(Step::Difference(left, right));
            } else {
                return Ok(left);
            }
        }
    }

    fn product(&mut self, depth: usize) -> Result<usize, EquationError> {
        let mut left = self.factor(depth)?;
        loop {
            if self.take(&Token::Sign('*')) {
                let right = self.factor(depth)?;
                left = self.add(Step::Product(left, right));
            } else if self.take(&Token::Sign('/')) {
                let right = self.factor(depth)?;
                left = self.add(Step::Quotient(left, right));
            } else {
                return Ok(left);
            }
        }
    }

    fn factor(&mut self, depth: usize) -> Result<usize, EquationError> {
        if depth >= DEEPEST {
            return self.wrong(What::TooDeep);
        }
        if self.take(&Token::Sign('-')) {
            let of = self.factor(depth + 1)?;
            return Ok(self.add(Step::Negated(of)));
        }
        if self.take(&Token::Sign('+')) {
            return self.factor(depth + 1);
        }
        let base = self.atom(depth)?;
        if self.take(&Token::Power) {
            let power = self.factor(depth + 1)?;
            return Ok(self.add(Step::Power(base, power)));
        }
        Ok(base)
    }

    fn atom(&mut self, depth: usize) -> Result<usize, EquationError> {
        let at = self.place();
        match self.peek().cloned() {
            Some(Token::Number(number)) => {
                self.next += 1;
                Ok(self.add(Step::Number(number)))
            }
            Some(Token::Open) => {
                self.next += 1;
                self.bracket(depth)
            }
            Some(Token::Name(name)) => {
                self.next += 1;
                let function = FUNCTIONS.iter().find(|(known, _)| name.eq_ignore_ascii_case(known));
                let opens = self.peek() == Some(&Token::Open);
                match (function, opens) {
                    (Some((word, function)), true) => {
                        self.plain_log |= *word == "log";
                        self.next += 1;
                        let of = self.bracket(depth)?;
                        Ok(self.add(Step::Call(*function, of)))
                    }
                    (None, true) => Err(EquationError { at, what: What::NoFunction(name.to_owned()) }),
                    _ => {
                        let step = self.add(Step::Number(f64::NAN));
                        self.names.push(Named { step, name, at });
                        Ok(step)
                    }
                }
            }
            _ => self.wrong(What::Missing("a number, a name or a bracket")),
        }
    }

    /// What stands in a bracket that was opened, and its end.
    fn bracket(&mut self, depth: usize) -> Result<usize, EquationError> {
        let inner = self.sum(depth + 1)?;
        if self.take(&Token::Close) { Ok(inner) } else { self.wrong_end("the end of a bracket") }
    }

    /// Something else stands where an end is expected.
    fn wrong_end<T>(&self, missing: &'static str) -> Result<T, EquationError> {
        let before = self.next.checked_sub(1).and_then(|before| self.tokens.get(before));
        if let Some((Token::Name(name), at)) = before
            && is_function(name)
            && matches!(self.peek(), Some(Token::Number(_) | Token::Name(_)))
        {
            return Err(EquationError { at: at.clone(), what: What::NoArgument((*name).to_owned()) });
        }
        match self.peek() {
            Some(Token::Number(_) | Token::Name(_) | Token::Open) => {
                let what = match self.peek() {
                    Some(Token::Name(name)) => format!("`{name}`"),
                    Some(Token::Number(number)) => format!("`{number}`"),
                    _ => "a bracket".to_owned(),
                };
                self.wrong(What::NoSign(what))
            }
            Some(Token::Equals) if missing != "=" => self.wrong(What::SecondEquality),
            _ => self.wrong(What::Missing(missing)),
        }
    }
}

/// Steps and names of one side.
type Side<'t> = (Vec<Step>, Vec<Named<'t>>);

fn sides(text: &str) -> Result<(Side<'_>, Side<'_>, bool), EquationError> {
    let mut reading = Reading {
        tokens: tokens(text)?,
        next: 0,
        end: text.len(),
        steps: Vec::new(),
        names: Vec::new(),
        plain_log: false,
    };
    reading.sum(0)?;
    let left = (core::mem::take(&mut reading.steps), core::mem::take(&mut reading.names));
    if !reading.take(&Token::Equals) {
        return reading.wrong_end("=");
    }
    reading.sum(0)?;
    if reading.next < reading.tokens.len() {
        return reading.wrong_end("the beginning of this bracket");
    }
    Ok((left, (reading.steps, reading.names), reading.plain_log))
}

fn is_function(name: &str) -> bool {
    FUNCTIONS.iter().any(|(known, _)| name.eq_ignore_ascii_case(known))
}

/// A name that is neither, but known all the same.
fn constant(name: &str) -> Option<f64> {
    (name.eq_ignore_ascii_case("pi") || name == "\u{3c0}").then_some(CIRCLE)
}

pub(super) fn unknown(text: &str, columns: &[String]) -> Result<Vec<String>, EquationError> {
    let (_, (_, names), _) = sides(text)?;
    let mut found: Vec<String> = Vec::new();
    for Named { name, .. } in names {
        if !columns.iter().any(|column| column == name)
            && constant(name).is_none()
            && !found.iter().any(|own| own == name)
        {
            found.push(name.to_owned());
        }
    }
    Ok(found)
}

pub(super) fn read(text: &str, columns: &[String], parameters: &[String]) -> Result<Equation, EquationError> {
    let whole = 0..text.len();
    if let Some(twice) = parameters.iter().find(|name| columns.contains(name)) {
        return Err(EquationError { at: whole, what: What::Twice(twice.clone()) });
    }
    let ((mut left, left_names), (mut right, right_names), plain_log) = sides(text)?;
    let mut used = Vec::new();
    let mut response = None;
    for Named { step, name, at } in left_names {
        let column = columns.iter().position(|column| column == name);
        match (column, constant(name)) {
            (Some(column), _) if response.is_none_or(|one| one == column) => {
                response = Some(column);
                left[step] = Step::Column(column);
                used.push(column);
            }
            (None, Some(number)) => left[step] = Step::Number(number),
            (None, None) if !parameters.iter().any(|own| own == name) => {
                return Err(EquationError { at, what: What::Unknown(name.to_owned()) });
            }
            _ => return Err(EquationError { at, what: What::Observed }),
        }
    }
    let Some(response) = response else {
        return Err(EquationError { at: 0..text.find('=').unwrap_or(0), what: What::Observed });
    };
    let mut held = vec![false; parameters.len()];
    for Named { step, name, at } in right_names {
        if let Some(column) = columns.iter().position(|column| column == name) {
            if column == response {
                return Err(EquationError { at, what: What::Observed });
            }
            right[step] = Step::Column(column);
            used.push(column);
        } else if let Some(parameter) = parameters.iter().position(|own| own == name) {
            right[step] = Step::Parameter(parameter);
            held[parameter] = true;
        } else if let Some(number) = constant(name) {
            right[step] = Step::Number(number);
        } else if is_function(name) {
            return Err(EquationError { at, what: What::NoArgument(name.to_owned()) });
        } else {
            return Err(EquationError { at, what: What::Unknown(name.to_owned()) });
        }
    }
    if let Some(unused) = held.iter().position(|held| !held) {
        return Err(EquationError { at: whole, what: What::Unused(parameters[unused].clone()) });
    }
    used.sort_unstable();
    used.dedup();
    Ok(Equation {
        observed: Expression::of(left),
        model: Expression::of(right),
        columns: used,
        response,
        plain_log,
    })
}

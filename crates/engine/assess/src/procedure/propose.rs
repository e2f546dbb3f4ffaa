//! From an order of marks to steps: what is dispersed, what swells, where the batch is warmed and cooled, which lines go in together.

use super::Work;
use super::constraint::{Demand, Event, Mark};
use super::handling::{SwellingHow, When};
use super::lines::LineFacts;
use super::order::Places;
use super::plan::Planned;
use levigate_formula::sheet::StepKind;

/// Ways to stir that the proposal names; the facts give their words and speeds.
const BRISK: &str = "brisk";
const GENTLE: &str = "gentle";
const FOLD: &str = "fold";

struct Making<'w, 'a> {
    work: &'w Work<'a>,
    steps: Vec<Planned>,
    /// The batch as it is, C.
    here_c: [f64; 2],
    /// Warmer than this it may not become any more, C.
    ceiling_c: f64,
    /// Whether something swollen is in it.
    thick: bool,
    /// Whether the step before may take more lines.
    open: bool,
}

/// The steps of an order.
pub(super) fn steps(work: &Work<'_>, places: &Places) -> Vec<Planned> {
    let mut making = Making {
        work,
        steps: Vec::new(),
        here_c: work.usual.room_c,
        ceiling_c: f64::INFINITY,
        thick: false,
        open: false,
    };
    for (at, place) in places.iter().enumerate() {
        making.place(place, places.get(at + 1..).unwrap_or_default());
    }
    making.push(Planned::new(StepKind::Check));
    making.steps
}

impl<'a> Making<'_, 'a> {
    fn push(&mut self, mut step: Planned) {
        step.checks.extend(
            self.work
                .asked
                .handling
                .checks
                .values()
                .filter(|check| {
                    check.does == step.does
                        && check.when.iter().all(|when| self.work.batch.when.contains(when))
                })
                .map(|check| check.text.clone()),
        );
        self.steps.push(step);
    }

    fn line(&self, line: usize) -> Option<&LineFacts<'a>> {
        self.work.batch.lines.iter().find(|one| one.line == line)
    }

    /// What the demands on these marks ask of the temperature: at least, at most.
    fn asked_of(&self, marks: &[Mark]) -> (f64, f64) {
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        for one in &self.work.held.constraints {
            match one.demand {
                Demand::AtLeast(mark, celsius) if marks.contains(&mark) => least = least.max(celsius),
                Demand::KeepBelow(mark, celsius) if marks.contains(&mark) => most = most.min(celsius),
                _ => {}
            }
        }
        (least, most)
    }

    fn place(&mut self, place: &[Mark], later: &[Vec<Mark>]) {
        let (least, most) = self.asked_of(place);
        self.ceiling_c = self.ceiling_c.min(most);
        if least > self.here_c[0] {
            let top = (least + self.work.usual.spread_c).min(self.ceiling_c);
            self.turn(StepKind::Heat, [least, top]);
        } else if self.here_c[1] > self.ceiling_c {
            let hot_later = later.iter().any(|marks| self.asked_of(marks).0 > self.work.usual.cool_down_c);
            let room = self.work.usual.room_c;
            let target =
                if hot_later { self.ceiling_c } else { self.ceiling_c.min(self.work.usual.cool_down_c) };
            let to = if target < self.work.usual.cool_down_c {
                [room[0].min(target), room[1].min(target)]
            } else {
                [target - self.work.usual.spread_c, target]
            };
            self.turn(StepKind::Cool, to);
        }
        let events = place.iter().filter_map(|mark| match mark {
            Mark::Event(event) => Some(*event),
            _ => None,
        });
        match events.min() {
            Some(event) => self.event(event, place),
            None => self.addition(place),
        }
    }

    fn turn(&mut self, does: StepKind, to: [f64; 2]) {
        self.here_c = to;
        self.open = false;
        let stirring = if self.thick { FOLD } else { GENTLE };
        self.push(Planned {
            temperature_c: Some(to),
            stirring: Some(stirring.to_owned()),
            ..Planned::new(does)
        });
    }

    fn parts(&self, place: &[Mark]) -> Vec<(usize, f64)> {
        place.iter().filter_map(|mark| Some((mark.line()?, self.work.held.share(*mark)))).collect()
    }

    fn event(&mut self, event: Event, place: &[Mark]) {
        self.open = false;
        let parts = self.parts(place);
        let (does, minutes, stirring) = match event {
            Event::Hold => (StepKind::Hold, Some(self.work.usual.hold_minutes), Some(GENTLE)),
            Event::MakeUp => (StepKind::MakeUp, None, Some(if self.thick { FOLD } else { BRISK })),
            Event::DeAir => {
                let standing = self.work.batch.lines.iter().filter_map(|one| one.swelling);
                let mut minutes =
                    standing.filter(|record| record.gels_with_base).map(|record| record.minutes);
                let minutes = minutes.next();
                (StepKind::DeAir, minutes, None)
            }
            Event::AdjustPh => {
                let gels = self.thick || self.work.batch.when.contains(&When::GelsWithBase);
                (StepKind::AdjustPh, None, Some(if gels { FOLD } else { BRISK }))
            }
        };
        self.push(Planned {
            parts,
            minutes,
            temperature_c: Some(self.here_c),
            stirring: stirring.map(str::to_owned),
            ..Planned::new(does)
        });
        if event == Event::AdjustPh && self.work.batch.when.contains(&When::GelsWithBase) {
            self.thick = true;
        }
    }

    fn addition(&mut self, place: &[Mark]) {
        let parts = self.parts(place);
        if parts.is_empty() {
            return;
        }
        let swells = parts.iter().find_map(|(line, _)| self.line(*line)?.swelling);
        let premix = (place.len() > 1).then(|| self.premix(&parts));
        let (own, premixes) = match premix {
            Some(premix) => {
                // Made before the open step, which then takes it.
                let at = if self.open && swells.is_none() { self.steps.len() - 1 } else { self.steps.len() };
                self.insert(at, premix);
                (Vec::new(), vec![at])
            }
            None => (parts.clone(), Vec::new()),
        };
        match swells {
            Some(record) => {
                let how = record.how;
                self.open = false;
                self.push(Planned {
                    parts: own,
                    premixes,
                    temperature_c: Some(self.here_c),
                    stirring: Some(record.disperse_stirring.clone()),
                    ..Planned::new(StepKind::Disperse)
                });
                if how == SwellingHow::HotThenCold {
                    return;
                }
                self.swell(record.hydrate_stirring.clone(), record.minutes, &record.check);
                self.thick |= !record.gels_with_base;
            }
            None => self.add(place, own, premixes),
        }
    }

    fn swell(&mut self, stirring: String, minutes: [f64; 2], check: &str) {
        self.push(Planned {
            temperature_c: Some(self.here_c),
            stirring: Some(stirring),
            minutes: Some(minutes),
            checks: (!check.is_empty()).then(|| check.to_owned()).into_iter().collect(),
            ..Planned::new(StepKind::Hydrate)
        });
    }

    /// Puts a premix in, so that later steps keep pointing where they did.
    fn insert(&mut self, at: usize, step: Planned) {
        for other in &mut self.steps {
            for premix in &mut other.premixes {
                if *premix >= at {
                    *premix += 1;
                }
            }
        }
        self.steps.insert(at, step);
    }

    fn premix(&self, parts: &[(usize, f64)]) -> Planned {
        let carried = self.work.held.premixes.iter().find(|premix| {
            parts.iter().any(|(line, _)| premix.what.contains(line))
                && parts.iter().any(|(line, _)| *line == premix.carrier)
        });
        let word = carried.map_or("Premix", |premix| premix.word.as_str());
        let main = parts
            .iter()
            .filter(|(line, _)| carried.is_none_or(|premix| premix.carrier != *line))
            .find_map(|(line, _)| self.line(*line));
        let name = main.map_or_else(|| word.to_owned(), |main| format!("{word} of {}", main.called()));
        let taken =
            self.steps.iter().filter(|step| step.name.as_deref().is_some_and(|own| own.starts_with(&name)));
        let name = match taken.count() {
            0 => name,
            many => format!("{name}, {}", many + 1),
        };
        let mut parts = parts.to_vec();
        // The carrier is in the vessel first.
        parts.sort_by_key(|(line, _)| carried.is_none_or(|premix| premix.carrier != *line));
        let (least, most) =
            self.asked_of(&parts.iter().map(|(line, _)| Mark::Line(*line)).collect::<Vec<_>>());
        let temperature = if least.is_finite() {
            [least, (least + self.work.usual.spread_c).min(most)]
        } else {
            let room = self.work.usual.room_c;
            [room[0].min(most), room[1].min(most)]
        };
        Planned {
            name: Some(name),
            parts,
            temperature_c: Some(temperature),
            stirring: Some(GENTLE.to_owned()),
            ..Planned::new(StepKind::Premix)
        }
    }

    /// Whether this must come after a premix of the last step: in a step the lines come first.
    fn follows_a_premix(&self, place: &[Mark]) -> bool {
        let Some(last) = self.steps.last() else { return false };
        let premixed = |mark: Mark| {
            last.premixes
                .iter()
                .filter_map(|at| self.steps.get(*at))
                .any(|premix| premix.parts.iter().any(|(line, _)| Some(*line) == mark.line()))
        };
        self.work.held.constraints.iter().any(|one| {
            matches!(one.demand, Demand::Before(first, then) if place.contains(&then) && premixed(first))
        })
    }

    fn add(&mut self, place: &[Mark], own: Vec<(usize, f64)>, premixes: Vec<usize>) {
        let alone = own.iter().any(|(line, _)| self.line(*line).is_some_and(LineFacts::is_dangerous));
        let stirring = if self.thick { FOLD } else { BRISK };
        // The cold rest of water that was heated in part brings the batch down, and the powder in it swells.
        let cold_rest = place.iter().any(|mark| matches!(mark, Mark::Portion(_, super::rules::COLD_REST)));
        if cold_rest {
            let room = self.work.usual.room_c;
            self.here_c = [room[0], self.work.usual.cool_down_c.min(self.ceiling_c)];
        }
        let joins = self.open && !alone && !cold_rest && !self.follows_a_premix(place);
        match self.steps.last_mut().filter(|_| joins) {
            Some(last) => {
                last.parts.extend(own);
                last.premixes.extend(premixes);
            }
            None => self.push(Planned {
                parts: own,
                premixes,
                temperature_c: Some(self.here_c),
                stirring: Some(stirring.to_owned()),
                ..Planned::new(StepKind::Add)
            }),
        }
        self.open = !alone && !cold_rest;
        if cold_rest {
            let swelling = self.work.batch.lines.iter().filter_map(|one| one.swelling);
            let mut found = swelling.filter(|record| record.how == SwellingHow::HotThenCold);
            if let Some(record) = found.next() {
                self.swell(record.hydrate_stirring.clone(), record.minutes, &record.check);
                self.thick = true;
            }
        }
    }
}

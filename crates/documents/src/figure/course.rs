//! The temperature of a batch over time: as planned as a dashed line with the window asked for behind it, dotted where nobody knows how long it
//! takes; as logged as a full line; as typed as rings. Speeds of the stirrer stand as marks with their numbers on the axis.

use super::axis::{Axis, figure, rounded, tabled};
use super::canvas::{Hold, Ink, Lettering, Shape, Stroke};
use super::places::{Area, Places};
use super::plot::{Frame, Plot};
use super::{Rendition, Span, Table};

/// A stage of the planned course.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseStage {
    /// What it is called.
    pub name: String,
    /// Time (min) and temperature (C) along it, times ascending.
    pub points: Vec<(f64, f64)>,
    /// How long it takes is known.
    pub known: bool,
    /// Temperature asked for at its end, C.
    pub window_c: Span,
}

/// A reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoursePoint {
    /// Time, min.
    pub minute: f64,
    /// Temperature, C, or speed, rpm.
    pub value: f64,
    /// Number of its entry.
    pub entry: u32,
}

/// The figure.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseFigure {
    /// Name that is unique on the page.
    pub id: String,
    /// What it shows.
    pub title: String,
    /// As planned.
    pub planned: Vec<CourseStage>,
    /// As logged: time (min) and temperature (C), times ascending.
    pub logged: Vec<(f64, f64)>,
    /// As typed.
    pub typed: Vec<CoursePoint>,
    /// The stirrer as set.
    pub speeds: Vec<CoursePoint>,
}

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 440.0;
const FRAME: Frame = Frame { left: 82.0, top: 52.0, right: 738.0, bottom: 376.0 };
const PLANNED: &str = "9 5";
const UNKNOWN: &str = "2 5";

impl CourseFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, rendition: Rendition) -> String {
        let x = Axis::linear("Time", "min", Axis::around(self.minutes()));
        let y = Axis::linear("Temperature", "\u{b0}C", Axis::around(self.temperatures()));
        let mut plot = Plot::new(&self.id, (WIDTH, HEIGHT), FRAME, x, y, rendition);
        let mut places =
            Places::new(Area { left: FRAME.left, top: FRAME.top, right: FRAME.right, bottom: FRAME.bottom });
        self.windows(&mut plot);
        plot.axes();
        for stage in &self.planned {
            let dash = Some(if stage.known { PLANNED } else { UNKNOWN });
            plot.curve(&stage.points, &[], Stroke { dash, ..Stroke::plain(Ink::Soft, 2.25) });
            occupy(&plot, &mut places, &stage.points);
        }
        plot.curve(&self.logged, &[], Stroke::plain(Ink::Pen, 2.5));
        occupy(&plot, &mut places, &self.logged);
        for point in self.seen() {
            let at = plot.at(point.minute, point.value);
            if inside(at) {
                plot.canvas.shape(at, Shape::Ring, Ink::Main);
                places.take(Area::around(at, 7.0));
            }
        }
        self.set_speeds(&mut plot, &mut places);
        self.name_lines(&mut plot, &mut places);
        plot.finish(&self.title, &self.description())
    }

    /// The windows asked for, each over the time of its stage where it is held.
    fn windows(&self, plot: &mut Plot) {
        for stage in self.planned.iter().filter(|stage| stage.window_c.low < stage.window_c.high) {
            let (Some(first), Some(last)) = (stage.points.first(), stage.points.last()) else { continue };
            // A ramp has reached it only at its end.
            let from = if first.1 == last.1 { first.0 } else { last.0 };
            let (left, top) = plot.at(from, stage.window_c.high);
            let (right, bottom) = plot.at(last.0, stage.window_c.low);
            if right > left {
                plot.canvas.rect((left, top), (right - left, bottom - top), Ink::Target);
            }
        }
    }

    fn set_speeds(&self, plot: &mut Plot, places: &mut Places) {
        for speed in self.speeds.iter().filter(|speed| speed.minute.is_finite()) {
            let x = plot.at_x(speed.minute);
            if !(FRAME.left - 0.5..=FRAME.right + 0.5).contains(&x) {
                continue;
            }
            let at = (x, FRAME.bottom - 8.0);
            plot.canvas.shape(at, Shape::Triangle, Ink::Soft);
            let text = format!("{} rpm", rounded(speed.value, 3));
            if let Some(at) = places.beside(&text, 0.0, &[Area::around(at, 9.0)]) {
                plot.canvas.text_over(at, &text, Lettering::soft(Hold::Start));
            }
        }
    }

    /// What is what, written beside the line itself.
    fn name_lines(&self, plot: &mut Plot, places: &mut Places) {
        let planned: Vec<(f64, f64)> = self.planned.iter().flat_map(|stage| &stage.points).copied().collect();
        let typed: Vec<(f64, f64)> = self.seen().map(|point| (point.minute, point.value)).collect();
        for (words, line) in [("as logged", &self.logged), ("as typed", &typed), ("as planned", &planned)] {
            let shown: Vec<(f64, f64)> =
                line.iter().map(|(x, y)| plot.at(*x, *y)).filter(|at| inside(*at)).collect();
            let anchors: Vec<Area> = [0.5, 0.25, 0.75, 0.05, 0.95]
                .into_iter()
                .filter_map(|share| shown.get((share * shown.len() as f64) as usize))
                .map(|at| Area::around(*at, 9.0))
                .collect();
            if let Some(at) = places.beside(words, 0.0, &anchors) {
                plot.canvas.text_over(at, words, Lettering::strong(Hold::Start));
            }
        }
    }

    fn seen(&self) -> impl Iterator<Item = &CoursePoint> {
        self.typed.iter().filter(|point| point.minute.is_finite() && point.value.is_finite())
    }

    fn minutes(&self) -> impl Iterator<Item = f64> {
        let planned = self.planned.iter().flat_map(|stage| &stage.points).map(|point| point.0);
        let logged = self.logged.iter().map(|point| point.0);
        let set = self.speeds.iter().map(|point| point.minute);
        let all = planned.chain(logged).chain(self.seen().map(|point| point.minute)).chain(set).chain([0.0]);
        // A moment before the beginning is the beginning.
        all.map(|minute| if (-0.5..0.0).contains(&minute) { 0.0 } else { minute })
    }

    fn temperatures(&self) -> impl Iterator<Item = f64> {
        let planned = self.planned.iter().flat_map(|stage| &stage.points).map(|point| point.1);
        let windows = self.planned.iter().flat_map(|stage| [stage.window_c.low, stage.window_c.high]);
        let logged = self.logged.iter().map(|point| point.1);
        planned.chain(windows).chain(logged).chain(self.seen().map(|point| point.value)).chain([20.0])
    }

    /// The same in words, for those who hear it.
    #[must_use]
    pub fn description(&self) -> String {
        let mut words = String::new();
        for stage in &self.planned {
            let (Some(first), Some(last)) = (stage.points.first(), stage.points.last()) else { continue };
            let time = if stage.known {
                format!("{} min", figure(last.0 - first.0, 0))
            } else {
                "a time not known".to_owned()
            };
            words.push_str(&format!(
                "Planned: {}, from {} to {} \u{b0}C in {time}. ",
                stage.name,
                figure(first.1, 0),
                figure(last.1, 0)
            ));
        }
        let hottest = |all: &mut dyn Iterator<Item = f64>| all.fold(f64::NEG_INFINITY, f64::max);
        if !self.logged.is_empty() {
            let most = hottest(&mut self.logged.iter().map(|point| point.1));
            words.push_str(&format!(
                "{} points logged, at most {} \u{b0}C. ",
                self.logged.len(),
                figure(most, 1)
            ));
        }
        let count = self.seen().count();
        if count > 0 {
            let most = hottest(&mut self.seen().map(|point| point.value));
            words.push_str(&format!("{count} readings typed, at most {} \u{b0}C. ", figure(most, 1)));
        }
        for speed in &self.speeds {
            words.push_str(&format!(
                "Stirrer at {} rpm from {} min. ",
                rounded(speed.value, 3),
                figure(speed.minute, 0)
            ));
        }
        words.trim_end().to_owned()
    }

    /// The numbers, times ascending.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::new(
            &self.title,
            &["Time, min", "planned, \u{b0}C", "typed, \u{b0}C", "logged, \u{b0}C", "stirrer, rpm", "entry"],
        );
        let mut rows: Vec<(f64, [String; 5])> = Vec::new();
        let mut put = |minute: f64, column: usize, value: f64, entry: Option<u32>| {
            let mut cells: [String; 5] = Default::default();
            cells[column] = tabled(value);
            cells[4] = entry.map(|entry| entry.to_string()).unwrap_or_default();
            rows.push((minute, cells));
        };
        for (minute, celsius) in self.planned.iter().flat_map(|stage| &stage.points) {
            put(*minute, 0, *celsius, None);
        }
        for point in self.seen() {
            put(point.minute, 1, point.value, Some(point.entry));
        }
        for (minute, celsius) in &self.logged {
            put(*minute, 2, *celsius, None);
        }
        for point in &self.speeds {
            put(point.minute, 3, point.value, Some(point.entry));
        }
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        rows.dedup();
        for (minute, cells) in rows {
            table.rows.push(std::iter::once(tabled(minute)).chain(cells).collect());
        }
        table
    }
}

fn occupy(plot: &Plot, places: &mut Places, line: &[(f64, f64)]) {
    for pair in line.windows(2) {
        for part in 0..=8 {
            let share = f64::from(part) / 8.0;
            let mix = |a: f64, b: f64| a + share * (b - a);
            let at = plot.at(mix(pair[0].0, pair[1].0), mix(pair[0].1, pair[1].1));
            if inside(at) {
                places.take(Area::around(at, 5.0));
            }
        }
    }
}

fn inside((x, y): (f64, f64)) -> bool {
    (FRAME.left - 0.5..=FRAME.right + 0.5).contains(&x) && (FRAME.top - 0.5..=FRAME.bottom + 0.5).contains(&y)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course() -> CourseFigure {
        let stage = |name: &str, points: &[(f64, f64)], known: bool| CourseStage {
            name: name.to_owned(),
            points: points.to_vec(),
            known,
            window_c: Span::new(70.0, 75.0),
        };
        CourseFigure {
            id: "course".to_owned(),
            title: "Temperature of B-1".to_owned(),
            planned: vec![
                stage("Warm to 70 to 75 \u{b0}C", &[(0.0, 22.0), (20.0, 70.0)], false),
                stage("Hold", &[(20.0, 70.0), (40.0, 70.0)], true),
            ],
            logged: vec![(0.0, 22.5), (25.0, 71.0), (50.0, 72.0)],
            typed: vec![CoursePoint { minute: 26.0, value: 71.2, entry: 9 }],
            speeds: vec![CoursePoint { minute: 5.0, value: 300.0, entry: 4 }],
        }
    }

    #[test]
    fn what_is_not_known_is_dotted_and_everything_is_said() {
        let figure = course();
        let svg = figure.svg(Rendition::Screen);
        assert!(svg.contains("stroke-dasharray=\"2 5\"") && svg.contains("stroke-dasharray=\"9 5\""));
        for words in ["as logged", "as planned", "300 rpm"] {
            assert!(svg.contains(words), "{words}");
        }
        let words = figure.description();
        assert!(
            words.contains("in a time not known") && words.contains("from 70 to 70 \u{b0}C in 20 min"),
            "{words}"
        );
        assert!(words.contains("3 points logged, at most 72.0 \u{b0}C"), "{words}");
        let table = figure.table();
        assert_eq!(table.rows.len(), 8);
        assert!(table.rows.iter().any(|row| row[2] == "71.2" && row[5] == "9"), "{:?}", table.rows);
    }

    #[test]
    fn an_empty_course_still_has_axes() {
        let empty = CourseFigure {
            planned: Vec::new(),
            logged: vec![(f64::NAN, 20.0)],
            typed: Vec::new(),
            speeds: Vec::new(),
            ..course()
        };
        assert!(empty.svg(Rendition::Print).starts_with("<svg"));
    }
}

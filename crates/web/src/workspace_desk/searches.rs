//! Searches under way. Each runs on a thread of its own beside those that answer; how many run at once, how long one may take and how long
//! one runs that nobody asks after is bounded, so that pages that were closed and requests of no good will hold nothing up.

use super::held;
use crate::better::{SearchFound, SearchView};
use crate::desk::Answer;
use crate::people::sessions::random_token;
use crate::trouble::{Kind, Trouble};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Searches at once: each takes all cores it is given.
const MOST_RUNNING: usize = 2;
/// Answers that wait to be asked for.
const MOST_KEPT: usize = 16;
/// Longest search; the best so far is then its answer.
const LONGEST: Duration = Duration::from_secs(60);
/// A search that nobody has asked after for so long is ended.
const FORGOTTEN: Duration = Duration::from_secs(15);
/// An answer that nobody has asked for is dropped after so long.
const STALE: Duration = Duration::from_secs(10 * 60);

/// Searches by their names.
#[derive(Default)]
pub(super) struct Searches(Mutex<BTreeMap<String, Arc<Search>>>);

/// One search.
pub(super) struct Search {
    began: Instant,
    read: AtomicUsize,
    ended: AtomicBool,
    state: Mutex<State>,
}

struct State {
    asked: Instant,
    best: Option<f64>,
    /// How long it took and what came of it, once it is through.
    through: Option<(Duration, Answer<SearchFound>)>,
}

impl Search {
    fn runs(&self) -> bool {
        held(&self.state).through.is_none()
    }

    /// What the search is told after every round; it ends where this is false.
    pub(super) fn goes_on(&self, read: usize, best: Option<f64>) -> bool {
        self.read.store(read, Ordering::Relaxed);
        let mut state = held(&self.state);
        state.best = best;
        !self.ended.load(Ordering::Relaxed)
            && self.began.elapsed() < LONGEST
            && state.asked.elapsed() < FORGOTTEN
    }

    /// It is through.
    pub(super) fn through(&self, found: Answer<SearchFound>) {
        held(&self.state).through = Some((self.began.elapsed(), found));
    }

    fn view(&self) -> Answer<SearchView> {
        let mut state = held(&self.state);
        state.asked = Instant::now();
        let (took, found) = match &state.through {
            None => (self.began.elapsed(), None),
            Some((took, found)) => (*took, Some(found.clone()?)),
        };
        Ok(SearchView {
            running: found.is_none(),
            read: self.read.load(Ordering::Relaxed),
            best: state.best,
            seconds: took.as_secs_f64(),
            found,
        })
    }
}

impl Searches {
    /// A place for a search, where there is one.
    pub(super) fn begin(&self) -> Answer<(String, Arc<Search>)> {
        let mut all = held(&self.0);
        all.retain(|_, one| one.runs() || held(&one.state).asked.elapsed() < STALE);
        if all.values().filter(|one| one.runs()).count() >= MOST_RUNNING {
            return Err(Trouble::new(
                Kind::Busy,
                "searches-under-way",
                format!("{MOST_RUNNING} searches are under way."),
                "Each takes all the cores there are, so no more run at once.",
                "Wait until one is through, or end it on its page.",
            )
            .in_field("search"));
        }
        while all.len() >= MOST_KEPT {
            let Some(oldest) = all
                .iter()
                .filter(|(_, one)| !one.runs())
                .min_by_key(|(_, one)| one.began)
                .map(|(name, _)| name.clone())
            else {
                break;
            };
            all.remove(&oldest);
        }
        let name = random_token().map_err(|_| Trouble::broken())?;
        let search = Arc::new(Search {
            began: Instant::now(),
            read: AtomicUsize::new(0),
            ended: AtomicBool::new(false),
            state: Mutex::new(State { asked: Instant::now(), best: None, through: None }),
        });
        all.insert(name.clone(), Arc::clone(&search));
        Ok((name, search))
    }

    /// How a search stands.
    pub(super) fn view(&self, name: &str) -> Answer<SearchView> {
        self.of(name)?.view()
    }

    /// Ends a search.
    pub(super) fn end(&self, name: &str) -> Answer<SearchView> {
        let search = self.of(name)?;
        search.ended.store(true, Ordering::Relaxed);
        search.view()
    }

    fn of(&self, name: &str) -> Answer<Arc<Search>> {
        held(&self.0)
            .get(name)
            .cloned()
            .ok_or_else(|| Trouble::not_found("There is no such search any more.").in_field("search"))
    }
}

#[cfg(test)]
mod tests {
    use super::{MOST_RUNNING, Searches};
    use crate::trouble::{Kind, Trouble};

    #[test]
    fn no_more_run_than_there_is_room_for_and_one_that_is_through_makes_room() {
        let searches = Searches::default();
        let begun: Vec<_> = (0..MOST_RUNNING).map(|_| searches.begin().unwrap()).collect();
        assert_eq!(searches.begin().err().unwrap().kind, Kind::Busy);
        begun[0].1.through(Err(Trouble::broken()));
        assert!(searches.begin().is_ok());
        assert_eq!(searches.view(&begun[0].0).err().unwrap().kind, Kind::Failed);
    }

    #[test]
    fn an_ended_one_is_told_to_stop_and_still_gives_what_it_has() {
        let searches = Searches::default();
        let (name, search) = searches.begin().unwrap();
        assert!(search.goes_on(10, Some(1.5)));
        assert!(searches.end(&name).unwrap().running);
        assert!(!search.goes_on(11, Some(1.5)));
        let view = searches.view(&name).unwrap();
        assert_eq!((view.read, view.best), (11, Some(1.5)));
        assert_eq!(searches.view("none").err().unwrap().kind, Kind::NotFound);
    }
}

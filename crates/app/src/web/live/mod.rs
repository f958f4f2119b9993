//! A sitting at the copper block: one source, read on by the server whoever looks, and the
//! heatings that were made with it. There is one at a time.

mod about;
mod cooling;
mod course;
mod heating;
mod interrupted;
mod notes;
mod read;
mod recordings;
mod words;

use std::collections::BTreeSet;
use std::fs::File;
use std::io::BufWriter;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use acquisition::practice::PracticeFlame;
use acquisition::{Event, Live};
use jiff::{SignedDuration, Timestamp};
use reading::FaultKind;
use tokio::sync::Notify;
use trial::number::{DeterminationNumber, PersonName};

use super::answer::Refused;
use super::site::{Person, Site};
use crate::book::{OpenBook, moment_now};
use crate::problem::Problem;

pub(super) use about::About;
pub(super) use cooling::Body;
pub(super) use course::{Asked, Course, cold};
pub(super) use heating::Ended;
pub(super) use interrupted::{said, settled};
pub(super) use notes::Instruments;
pub(super) use words::till;

use notes::{Note, Noted};
use read::{cooled, recorded, tried};

/// A sitting holds the sessions of those at it for so long.
const HOLDS: SignedDuration = SignedDuration::from_hours(12);

/// So many sentences of what was wrong are kept.
const TROUBLES_MOST: usize = 20;

/// Where a recording of a sitting goes.
pub(super) type Paper = BufWriter<File>;

/// The place of the one sitting.
#[derive(Clone, Default)]
pub(super) struct Seat(Arc<Mutex<Option<Sitting>>>, Arc<AtomicU32>);

/// A sitting.
pub(super) struct Sitting {
    /// What it is about.
    pub(super) about: About,
    /// How the block goes.
    pub(super) course: Course,
    /// What was wrong with the source, the last of it last.
    pub(super) troubles: Vec<String>,
    /// The heatings that have ended.
    pub(super) heatings: Vec<Heated>,
    /// Heatings that are being read and recorded.
    pub(super) recording: bool,
    /// What the heatings came to, after the last one.
    pub(super) said: Option<String>,
    /// Whether the source has come to its end.
    pub(super) over: bool,
    /// When it was begun.
    begun: Timestamp,
    /// The sessions that came to it while they held, by what is kept of their secrets.
    sessions: BTreeSet<String>,
    flame: Option<PracticeFlame>,
    stop: Arc<Notify>,
}

/// A heating that has ended.
#[derive(Clone)]
pub(super) struct Heated {
    /// Its number in the record, where it is there.
    pub(super) number: Option<DeterminationNumber>,
    /// What was read, or why it is void.
    pub(super) told: String,
    /// Whether it is void.
    pub(super) void: bool,
    /// The rise time in seconds, with its expanded uncertainty (k = 2).
    pub(super) rise_s: Option<(f64, f64)>,
    /// When the flame was put on, on the source's clock.
    pub(super) on: metrology::Duration,
    /// Its trace, where it could be read, and the rise.
    pub(super) trace: Option<(reading::Trace, Option<reading::RiseTime>)>,
}

impl Seat {
    /// The sitting, if there is one.
    pub(super) fn take(&self) -> MutexGuard<'_, Option<Sitting>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The number of the next sitting.
    pub(super) fn next(&self) -> u32 {
        self.1.fetch_add(1, Ordering::Relaxed) + 1
    }

    /// Begins a sitting over a source at work, and follows it.
    ///
    /// # Errors
    ///
    /// Where there is one already.
    pub(super) fn begin(
        &self,
        site: &Site,
        about: About,
        course: Course,
        (live, flame): (Live<Paper>, Option<PracticeFlame>),
    ) -> Result<(), Problem> {
        let mut seat = self.take();
        if let Some(there) = seat.as_ref() {
            return Err(taken(there));
        }
        let begun = crate::clock::now()?;
        let (stop, number) = (Arc::new(Notify::new()), about.number);
        *seat = Some(Sitting::new((about, course), begun, flame, Arc::clone(&stop)));
        tokio::spawn(follow(site.clone(), (self.clone(), number), live, stop));
        Ok(())
    }

    /// A session that holds came to the sitting.
    pub(super) fn came(&self, session: String) {
        if let Some(sitting) = self.take().as_mut() {
            sitting.sessions.insert(session);
        }
    }

    /// Whether a session may watch and act at the block although its time is over: it came while
    /// it held, the source is still read, and the sitting is not older than a session may be.
    pub(super) fn holds(&self, session: &str, now: Timestamp) -> bool {
        self.take().as_ref().is_some_and(|sitting| {
            !sitting.over
                && sitting.sessions.contains(session)
                && now.duration_since(sitting.begun) < HOLDS
        })
    }

    /// Notes on the disk how the sitting stands, so that a killed program knows of it.
    pub(super) async fn noted(&self, site: &Site) {
        let note = self.take().as_ref().and_then(Note::of);
        let folder = site.folder().to_owned();
        let written = site.aside(move || notes::write(&folder, note.map(Noted::Sitting).as_ref()));
        if let Err(refused) = written.await
            && let Some(sitting) = self.take().as_mut()
        {
            let why = super::answer::sentence(&refused.problem().text);
            sitting.wrong(format!("{why} Should the program end now, this is not known after."));
        }
    }

    /// The flame is put to the block, by this person.
    ///
    /// # Errors
    ///
    /// Where there is no sitting, no reading, a heating already, or the block is too warm.
    pub(super) fn heat(&self, by: PersonName) -> Result<(), Problem> {
        let mut seat = self.take();
        let sitting = seat.as_mut().ok_or_else(nobody)?;
        if sitting.over || sitting.recording || sitting.course.heating().is_some() {
            let what = if sitting.over { "the source has ended" } else { "a heating is at work" };
            return Err(Problem::conflict(what).hint("The page of the sitting shows it."));
        }
        let Some(last) = sitting.course.last() else {
            return Err(Problem::conflict("the block cannot be read")
                .hint("See that the source sends and the wire is whole."));
        };
        if let Some(unlike) = sitting.course.unlike() {
            let text = unlike.trim_end_matches('.').to_owned();
            return Err(Problem::conflict(text).hint(FaultKind::WrongType.hint()));
        }
        if !sitting.course.cool() {
            let text = format!("the block is at {:.1}", last.temperature);
            let limit = sitting.course.start();
            return Err(
                Problem::conflict(text).hint(format!("Let the block cool to below {limit:.0}."))
            );
        }
        sitting.said = None;
        sitting.course.heat(by, moment_now()?);
        if let Some(flame) = &sitting.flame {
            flame.put_on();
        }
        Ok(())
    }

    /// Ends the heating at work by hand: it is void, for this reason.
    ///
    /// # Errors
    ///
    /// Where there is none.
    pub(super) async fn end_heating(&self, site: &Site, reason: String) -> Result<(), Problem> {
        let ended = {
            let mut seat = self.take();
            let sitting = seat.as_mut().ok_or_else(nobody)?;
            let ended = sitting.course.end_heating(Some(reason));
            ended.inspect(|_| sitting.away()).ok_or_else(|| {
                Problem::conflict("no heating is at work").hint("The page of the sitting shows it.")
            })?
        };
        self.keep(site, ended).await;
        Ok(())
    }

    /// Ends the sitting. A heating at work is void then.
    ///
    /// # Errors
    ///
    /// Where there is none.
    pub(super) async fn end(&self, site: &Site) -> Result<(), Problem> {
        let ended = {
            let mut seat = self.take();
            let sitting = seat.as_mut().ok_or_else(nobody)?;
            sitting.stop.notify_one();
            let why = "the sitting was ended during the heating".to_owned();
            let ended = sitting.course.end_heating(Some(why));
            sitting.course.end_cooling();
            ended
        };
        if let Some(ended) = ended {
            self.keep(site, ended).await;
        }
        self.keep_cooling(site).await;
        *self.take() = None;
        self.noted(site).await;
        Ok(())
    }

    /// Takes what the source of the sitting with this number tells.
    fn hear(&self, number: u32, event: &Event) -> Option<Ended> {
        let mut seat = self.take();
        let sitting = seat.as_mut().filter(|sitting| sitting.about.number == number)?;
        match event {
            Event::Trouble { trouble, .. } => {
                sitting.wrong(format!("{trouble} {}", trouble.hint()));
            }
            Event::Returned { after, .. } => {
                sitting.wrong(format!("Readings are back after {after:.1}."));
            }
            Event::Readings(_) => {}
        }
        let ended = sitting.course.take(event);
        ended.inspect(|_| sitting.away())
    }

    /// Reads a heating, and records it where the sitting's are.
    async fn keep(&self, site: &Site, ended: Ended) {
        let Some(about) = self.take().as_ref().map(|sitting| sitting.about.clone()) else { return };
        let by = Person(ended.by.clone());
        let recording = about.recording.clone();
        let done = if about.records {
            site.act(by, move |book, output| recorded(book, &about, ended, output)).await
        } else {
            site.read(move |book| tried(book, &about, &ended)).await
        };
        self.ended(done, &recording);
        self.noted(site).await;
    }

    /// Records the cooling that has ended, if one has, with the heating before it.
    async fn keep_cooling(&self, site: &Site) {
        let (about, bytes, number) = {
            let mut seat = self.take();
            let Some(sitting) = seat.as_mut() else { return };
            let Some(cooled) = sitting.course.take_cooled() else { return };
            let own = sitting.heatings.iter().rev().find(|it| it.on == cooled.on && !it.void);
            (sitting.about.clone(), cooled.bytes, own.and_then(|heated| heated.number))
        };
        let Some(number) = number.filter(|_| about.records) else { return };
        let by = Person(about.by.clone());
        let done = site.act(by, move |book, output| cooled(book, &about, (number, bytes), output));
        if let Err(refused) = done.await
            && let Some(sitting) = self.take().as_mut()
        {
            let why = super::answer::sentence(&refused.problem().text);
            sitting.wrong(format!("The cooling is not in the book. {why}"));
        }
    }

    /// A heating is in the book, or it is said why it is not.
    fn ended(&self, done: Result<(Heated, String), Refused>, recording: &str) {
        let mut seat = self.take();
        let Some(sitting) = seat.as_mut() else { return };
        sitting.recording = false;
        match done {
            Ok((heated, said)) => {
                sitting.heatings.push(heated);
                sitting.said = Some(said);
            }
            Err(refused) => {
                let why = super::answer::sentence(&refused.problem().text);
                sitting.said = Some(format!("The heating is not in the book. {why}"));
                sitting
                    .wrong(format!("{why} All readings are in {recording} of the book's folder."));
            }
        }
    }
}

impl Sitting {
    /// One that begins.
    fn new(
        (about, course): (About, Course),
        begun: Timestamp,
        flame: Option<PracticeFlame>,
        stop: Arc<Notify>,
    ) -> Self {
        Self {
            about,
            course,
            troubles: Vec::new(),
            heatings: Vec::new(),
            recording: false,
            said: None,
            over: false,
            begun,
            sessions: BTreeSet::new(),
            flame,
            stop,
        }
    }

    /// The flame is taken from the block: the heating is read and recorded.
    fn away(&mut self) {
        self.recording = true;
        if let Some(flame) = &self.flame {
            flame.take_away();
        }
    }

    fn wrong(&mut self, sentence: String) {
        self.troubles.push(sentence);
        let more = self.troubles.len().saturating_sub(TROUBLES_MOST);
        self.troubles.drain(..more);
    }
}

fn nobody() -> Problem {
    Problem::conflict("nobody sits at the block").hint("Begin at /flame/run.")
}

/// Why no second sitting is begun.
pub(super) fn taken(there: &Sitting) -> Problem {
    let (by, source) = (&there.about.by, &there.about.source);
    Problem::conflict(format!("{by} sits at the block already, with {source}"))
        .hint("Its page is /flame/run. End that sitting before another is begun.")
}

/// Begins the file that all that a source tells goes into.
///
/// # Errors
///
/// As the disk says.
pub(super) fn paper(book: &OpenBook) -> Result<(String, Paper), Problem> {
    recordings::begin(book.book().own_folder(), moment_now()?)
}

/// Follows the source, to its end or to that of the sitting. Whether anybody looks is nothing to it.
async fn follow(site: Site, (seat, number): (Seat, u32), mut live: Live<Paper>, stop: Arc<Notify>) {
    loop {
        let event = tokio::select! {
            event = live.next() => event,
            () = stop.notified() => {
                drop(live.stop().await);
                return;
            }
        };
        let Some(event) = event else { break };
        if let Some(ended) = seat.hear(number, &event) {
            seat.keep(&site, ended).await;
        }
        seat.keep_cooling(&site).await;
    }
    let unfinished = {
        let mut there = seat.take();
        let own = there.as_mut().filter(|sitting| sitting.about.number == number);
        own.and_then(|sitting| {
            let ended = sitting.course.end_heating(None);
            sitting.course.end_cooling();
            ended
        })
    };
    if let Some(ended) = unfinished {
        seat.keep(&site, ended).await;
    }
    seat.keep_cooling(&site).await;
    let unkept = live.stop().await.err();
    if let Some(sitting) = seat.take().as_mut().filter(|it| it.about.number == number) {
        sitting.over = true;
        sitting.wrong(match unkept {
            None => "The source has come to its end.".to_owned(),
            Some(error) => format!("The source has ended, and {error}."),
        });
    }
    seat.noted(&site).await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use metrology::Temperature;
    use metrology::decision::Limit;
    use reading::Window;
    use trial::number::PlanNumber;

    #[test]
    fn a_sitting_holds_the_sessions_that_came_to_it_and_not_for_ever() {
        let celsius = Temperature::from_celsius;
        let window = Window::new(celsius(100.0), celsius(700.0)).unwrap();
        let start = Limit::LessThan(celsius(50.0));
        let room = reading::rise_time::Beginnings::built_in().room_of(None);
        let asked = Asked { window, start, resting_at: None, room, body: None };
        let begun: Timestamp = "2026-11-26T08:00:00Z".parse().unwrap();
        let about = About {
            number: 1,
            plan: PlanNumber(1),
            by: "Ana Ruiz".into(),
            source: "a source".to_owned(),
            made_up: None,
            records: true,
            read_as: Vec::new(),
            terminals: None,
            flame_height: None,
            recording: "recordings/a.csv".to_owned(),
        };
        let seat = Seat::default();
        assert!(!seat.holds("one", begun), "nobody sits there");
        let course = Course::new(asked, vec!["Block".to_owned()], 0);
        let stop = Arc::new(Notify::new());
        *seat.take() = Some(Sitting::new((about, course), begun, None, stop));
        seat.came("one".to_owned());
        let after = |minutes| begun + SignedDuration::from_mins(minutes);
        assert!(seat.holds("one", after(719)) && !seat.holds("one", after(720)));
        assert!(!seat.holds("two", after(1)), "it never came while it held");
        if let Some(sitting) = seat.take().as_mut() {
            sitting.over = true;
        }
        assert!(!seat.holds("one", after(1)), "its source has ended");
    }
}

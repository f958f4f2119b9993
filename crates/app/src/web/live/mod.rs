//! A sitting at the copper block: one source, read on by the server whoever looks, and the
//! heatings that were made with it. There is one at a time.

mod course;
mod recordings;

use std::fs::File;
use std::io::BufWriter;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use acquisition::practice::PracticeFlame;
use acquisition::{Event, Live};
use metrology::Length;
use tokio::sync::Notify;
use trial::method::EachOrMean;
use trial::moment::Moment;
use trial::number::{DeterminationNumber, PersonName, PlanNumber};

use super::site::{Person, Site};
use crate::book::{OpenBook, moment_now};
use crate::problem::{Exit, Problem};
use crate::step::confirm::{self, Heating, Witnessed};

pub(super) use course::{Asked, Course, Ended};

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
    flame: Option<PracticeFlame>,
    stop: Arc<Notify>,
}

/// What a sitting is about.
#[derive(Clone)]
pub(super) struct About {
    /// Its number in this run of the program.
    pub(super) number: u32,
    /// The plan for which the flame is confirmed.
    pub(super) plan: PlanNumber,
    /// Who began it.
    pub(super) by: PersonName,
    /// The source, in words.
    pub(super) source: String,
    /// Why what it gives is no measurement, where it is none.
    pub(super) made_up: Option<String>,
    /// Whether its heatings are recorded in the book.
    pub(super) records: bool,
    /// What is stated to read its recordings.
    pub(super) read_as: Vec<String>,
    /// The visible height of the flame, where it was measured.
    pub(super) flame_height: Option<Length>,
    /// The file of all that the source tells.
    pub(super) recording: String,
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
        let (stop, number) = (Arc::new(Notify::new()), about.number);
        *seat = Some(Sitting {
            about,
            course,
            troubles: Vec::new(),
            heatings: Vec::new(),
            recording: false,
            said: None,
            over: false,
            flame,
            stop: Arc::clone(&stop),
        });
        tokio::spawn(follow(site.clone(), (self.clone(), number), live, stop));
        Ok(())
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
            sitting.course.end_heating(Some(why))
        };
        if let Some(ended) = ended {
            self.keep(site, ended).await;
        }
        *self.take() = None;
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
    recordings::begin(book.book().folder(), moment_now()?)
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
    }
    let unfinished = {
        let mut there = seat.take();
        let own = there.as_mut().filter(|sitting| sitting.about.number == number);
        own.and_then(|sitting| sitting.course.end_heating(None))
    };
    if let Some(ended) = unfinished {
        seat.keep(&site, ended).await;
    }
    let unkept = live.stop().await.err();
    if let Some(sitting) = seat.take().as_mut().filter(|it| it.about.number == number) {
        sitting.over = true;
        sitting.wrong(match unkept {
            None => "The source has come to its end.".to_owned(),
            Some(error) => format!("The source has ended, and {error}."),
        });
    }
}

/// Records a heating, and holds all that there are against the band.
fn recorded(
    book: &mut OpenBook,
    about: &About,
    ended: Ended,
    output: &crate::output::Output,
) -> Result<(Heated, String), Problem> {
    let heating = about.heating();
    let name = about.file_name(ended.moment);
    let remark = about.made_up.clone();
    let witnessed = Witnessed { at: ended.moment, start: ended.start, void: ended.void, remark };
    let number = confirm::witnessed(book, &heating, (&name, &ended.bytes), witnessed, output)?;
    let read = confirm::read(book, &heating, &name, ended.bytes.as_slice()).ok();
    let made = book.history().determinations().iter().find(|made| made.number == number);
    let heated = Heated {
        number: Some(number),
        told: made.map(confirm::told).unwrap_or_default(),
        void: made.is_some_and(|made| made.void.is_some()),
        rise_s: made.and_then(|made| made.rise_time).map(both),
        trace: read.map(|read| (read.trace, read.found.ok())),
    };
    let said = match confirm::flame(book, about.plan, output) {
        Ok(Some(number)) => {
            format!("{} {number}: the flame is confirmed.{}", within(book, about.plan), ends(book))
        }
        Ok(None) => not_yet(book, about.plan),
        Err(problem) if problem.exit == Exit::Finding => {
            let found = problem.findings.iter();
            let found: Vec<String> = found
                .map(|it| format!("{} {}", super::answer::sentence(&it.text), it.hint))
                .collect();
            format!("The flame is not confirmed. {}", found.join(" "))
        }
        Err(problem) => return Err(problem),
    };
    Ok((heated, said))
}

/// Reads a heating of the practice bench in a book of real tests, where nothing of it is recorded.
fn tried(book: &OpenBook, about: &About, ended: &Ended) -> Result<(Heated, String), Problem> {
    let name = about.file_name(ended.moment);
    let read = confirm::read(book, &about.heating(), &name, ended.bytes.as_slice())?;
    let (told, void) = match (&ended.void, &read.found) {
        (Some(why), _) => (format!("void: {why}"), true),
        (None, Ok(rise)) => (confirm::value(&rise.value), false),
        (None, Err(error)) => (format!("void: {error}"), true),
    };
    let rise_s = read.found.as_ref().ok().map(|rise| both(rise.value));
    let trace = Some((read.trace, read.found.ok()));
    let heated = Heated { number: None, told, void, rise_s, trace };
    Ok((heated, "This was practice: nothing of it is in the book.".to_owned()))
}

fn both(rise: metrology::Measurement<metrology::Duration>) -> (f64, f64) {
    (rise.value.seconds(), confirm::expanded_s(&rise))
}

/// That the determinations lie within the band, as the rules ask it.
fn within(book: &OpenBook, plan: PlanNumber) -> String {
    let asked = book.plan(plan).map(|it| &it.requirement().asked.confirmation);
    asked.map_or_else(
        |_| String::new(),
        |asked| {
            let band = asked.rise_time.value;
            let which = match asked.rule.value {
                EachOrMean::Each => format!("All {} lie", asked.determinations.value.number()),
                EachOrMean::Mean => "Their mean lies".to_owned(),
            };
            format!("{which} within {:.1} to {:.1}.", band.low, band.high)
        },
    )
}

/// Till when the last confirmation holds.
fn ends(book: &OpenBook) -> String {
    let Some(last) = book.history().last_confirmation() else { return String::new() };
    let longest = book.plan(last.plan).ok().and_then(|plan| plan.draft().confirmation_age_max);
    let till = longest.and_then(|age| till(last.at, age));
    till.map_or_else(String::new, |till| {
        format!(" It holds till {till}, or until the gas is changed.")
    })
}

/// The moment so long after another, as it is read.
pub(super) fn till(at: Moment, by: metrology::Duration) -> Option<String> {
    #[expect(clippy::cast_possible_truncation, reason = "an age of days, in microseconds")]
    let by = (by.seconds() * 1e6) as i64;
    let later = at.unix_microseconds().checked_add(by)?;
    Moment::from_unix_microseconds(later).ok().map(super::page::when)
}

/// How many determinations count so far.
fn not_yet(book: &OpenBook, plan: PlanNumber) -> String {
    let open = book.history().open_determinations();
    let counting = open.iter().filter(|made| made.void.is_none()).count();
    let asked = book.plan(plan).map(|it| &it.requirement().asked.confirmation.determinations);
    let needed = asked.map_or(String::new(), |it| format!(" of {}", it.value.number()));
    format!("{counting}{needed} determinations count. Let the block cool, and make the next one.")
}

impl About {
    fn heating(&self) -> Heating<'_> {
        Heating { plan: self.plan, read_as: &self.read_as, flame_height: self.flame_height }
    }

    /// What the recording of a heating is called as evidence.
    fn file_name(&self, at: Moment) -> String {
        format!("heating {}.csv", at.to_string().replace(':', "-"))
    }
}

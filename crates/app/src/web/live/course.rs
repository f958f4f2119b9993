//! The course of the block, reading by reading: how warm, how fast, whether it may be heated, and
//! when a heating has come to its end. No rule of a fault lives here: `reading` finds them.

use std::collections::VecDeque;

use acquisition::{Event, Recorder, Value};
use metrology::decision::Limit;
use metrology::fit::{LinePoint, Weighting, fit_line};
use metrology::statistics::mean;
use metrology::{Duration, Measurement, Temperature, TemperatureDifference};
use reading::{Circumstances, FaultKind, Point, SensorUncertainty, Trace, Window, rise_time};
use trial::moment::Moment;
use trial::number::PersonName;

use super::cooling::{Body, Cooled, Cooling};
use super::heating::{Ended, Heating, take};

/// The slope is that of the readings this long back.
const RECENT: Duration = Duration::from_seconds(1.5);

/// A recording of a heating begins this long before the flame was put on.
pub(super) const BEFORE: Duration = Duration::from_seconds(5.0);

/// A trace is looked at this often.
const LOOKED: Duration = Duration::from_seconds(0.2);

/// So many events are kept from before a flame.
const EVENTS_MOST: usize = 20_000;

/// A block found cool is too warm again once it reads this much above the limit.
const WARMED: TemperatureDifference = TemperatureDifference::from_kelvin(1.0);

/// The slopes by which a time of cooling is summed up.
const STEPS: u32 = 64;

/// What is asked of a heating.
#[derive(Clone, Debug)]
pub(in crate::web) struct Asked {
    /// The window that is timed.
    pub(in crate::web) window: Window,
    /// How cool the block must be before the flame.
    pub(in crate::web) start: Limit<Temperature>,
    /// The temperature of the instrument's terminals, where the block rests at it at first.
    pub(in crate::web) resting_at: Option<Temperature>,
    /// The temperature of the room, towards which the block cools.
    pub(in crate::web) room: Measurement<Temperature>,
    /// What is known of the block's cooling.
    pub(in crate::web) body: Option<Body>,
}

/// The block so far.
pub(in crate::web) struct Course {
    asked: Asked,
    channels: Vec<String>,
    block: usize,
    recent: VecDeque<LinePoint>,
    /// Whether the block was found cool and has not warmed since.
    cool: bool,
    /// The last reading; none while the wire is open.
    last: Option<Point>,
    /// The time of the last event.
    at: Duration,
    /// The events of the last seconds.
    before: VecDeque<Event>,
    heating: Option<Heating>,
    /// The heating at work or the one before, with the cooling after it.
    cooling: Option<Cooling>,
    /// The recording of a cooling that has ended.
    cooled: Option<Cooled>,
    /// Whether the block was heated since the sitting began.
    heated: bool,
    /// How it reads otherwise than the terminals at which it rests.
    unlike: Option<String>,
}

/// Below this a block may be heated again.
pub(in crate::web) const fn cold(start: Limit<Temperature>) -> Temperature {
    match start {
        Limit::AtMost(limit)
        | Limit::LessThan(limit)
        | Limit::AtLeast(limit)
        | Limit::MoreThan(limit) => limit,
        Limit::Between { high, .. } => high,
    }
}

impl Course {
    /// The course of one channel of a source.
    pub(in crate::web) const fn new(asked: Asked, channels: Vec<String>, block: usize) -> Self {
        Self {
            asked,
            channels,
            block,
            recent: VecDeque::new(),
            cool: false,
            last: None,
            at: Duration::ZERO,
            before: VecDeque::new(),
            heating: None,
            cooling: None,
            cooled: None,
            heated: false,
            unlike: None,
        }
    }

    /// The last reading of the block.
    pub(in crate::web) const fn last(&self) -> Option<Point> {
        self.last
    }

    /// The heating at work.
    pub(in crate::web) const fn heating(&self) -> Option<&Heating> {
        self.heating.as_ref()
    }

    /// How the block reads otherwise than the terminals at which it rests: a sentence (R89). It is
    /// known before the first heating alone; afterwards the block rests no more.
    pub(in crate::web) fn unlike(&self) -> Option<&str> {
        self.unlike.as_deref()
    }

    /// The window that is timed.
    pub(in crate::web) const fn window(&self) -> Window {
        self.asked.window
    }

    /// The limit at the start.
    pub(in crate::web) const fn start(&self) -> Temperature {
        cold(self.asked.start)
    }

    /// Whether the block is cool enough: its readings of late all were, and it has not warmed
    /// since.
    pub(in crate::web) fn cool(&self) -> bool {
        self.cool && self.asked.start.is_kept_by(self.of_late())
    }

    /// The mean of the readings of late.
    fn of_late(&self) -> Temperature {
        let late = self.recent.iter().map(|reading| Temperature::from_celsius(reading.y));
        mean(&late.collect::<Vec<_>>()).unwrap_or(self.asked.room.value)
    }

    /// The slope of the last readings, in kelvin per second.
    pub(in crate::web) fn slope_kelvin_per_second(&self) -> Option<f64> {
        let points: Vec<LinePoint> = self.recent.iter().copied().collect();
        fit_line(&points, Weighting::Equal).ok().map(|line| line.slope)
    }

    /// About how long until the block is cool enough, where it cools: its distance to the room
    /// shrinks by the same share in the same time.
    pub(in crate::web) fn cools_in(&self) -> Option<Duration> {
        let (now, slope) = (self.last?.temperature, self.slope_kelvin_per_second()?);
        let room = self.asked.room.value;
        let (away, goal) = ((now - room).kelvin(), (self.start() - room).kelvin());
        let falls = -slope;
        if falls <= 0.0 || goal <= 0.0 || away <= goal {
            return None;
        }
        // The sum of dT / (slope at T), slope by slope.
        let step = (away - goal) / f64::from(STEPS);
        let times = (0..STEPS).map(|at| step / (goal + step * (f64::from(at) + 0.5)));
        Some(Duration::from_seconds(times.sum::<f64>() * away / falls))
    }

    /// How long until the block is cool enough, foretold from its heating and how it cools.
    pub(in crate::web) fn foretold(&self) -> Option<Measurement<Duration>> {
        self.cooling.as_ref()?.left(self.at)
    }

    /// The recording of a cooling that has ended, once.
    pub(in crate::web) const fn take_cooled(&mut self) -> Option<Cooled> {
        self.cooled.take()
    }

    /// The cooling is followed no longer.
    pub(in crate::web) fn end_cooling(&mut self) {
        if let Some(cooled) = self.cooling.take().and_then(Cooling::finish) {
            self.cooled = Some(cooled);
        }
    }

    /// The flame is put to the block now.
    pub(in crate::web) fn heat(&mut self, by: PersonName, moment: Moment) {
        let Ok(mut recorder) = Recorder::new(Vec::new(), self.channels.clone()) else { return };
        self.end_cooling();
        let first = !self.heated;
        (self.heated, self.unlike) = (true, None);
        let mut heating_points = Vec::new();
        let mut missing = Vec::new();
        for event in &self.before {
            // Writing to memory cannot go wrong.
            drop(recorder.keep(event));
            take(event, self.block, &mut heating_points, &mut missing);
        }
        self.cooling = Cooling::begin(self.channels.clone(), &heating_points, self.at);
        if let Some(cooling) = &mut self.cooling {
            self.before.iter().for_each(|event| cooling.record(event));
        }
        self.heating = Some(Heating {
            on: self.at,
            moment,
            by,
            first,
            points: heating_points,
            missing,
            recorder,
            start: self.of_late(),
            looked: self.at,
            suspected: None,
            topped: None,
        });
    }

    /// Ends the heating by hand, for this reason.
    pub(in crate::web) fn end_heating(&mut self, void: Option<String>) -> Option<Ended> {
        let Heating { by, moment, first, on, start, recorder, .. } = self.heating.take()?;
        if let Some(cooling) = &mut self.cooling {
            cooling.away(self.at);
        }
        let bytes = recorder.finish().map(|kept| kept.out).unwrap_or_default();
        Some(Ended { by, moment, first, on, start, bytes, void })
    }

    /// Takes what the source tells; a heating may end with it.
    pub(in crate::web) fn take(&mut self, event: &Event) -> Option<Ended> {
        self.at = event.at();
        self.see(event);
        if self.asked.resting_at.is_some() && !self.heated {
            self.unlike = self.compare();
        }
        self.before.push_back(event.clone());
        while self.before.len() > EVENTS_MOST
            || self.before.front().is_some_and(|first| self.at - first.at() > BEFORE)
        {
            self.before.pop_front();
        }
        self.follow_cooling(event);
        let (at, block, window) = (self.at, self.block, self.asked.window);
        let heating = self.heating.as_mut()?;
        drop(heating.recorder.keep(event));
        take(event, block, &mut heating.points, &mut heating.missing);
        if heating.topped.is_none()
            && self
                .last
                .is_some_and(|last| last.at > heating.on && last.temperature >= window.top())
        {
            heating.topped = Some(at);
        }
        if at - heating.looked < LOOKED {
            return None;
        }
        heating.looked = at;
        let start = self.start();
        let void = self.heating.as_mut()?.look(at, window, start)?;
        self.end_heating(void)
    }

    /// Lets the cooling go on, until the block is cool or it has lasted too long.
    fn follow_cooling(&mut self, event: &Event) {
        let (at, to) = (self.at, (self.start(), self.asked.room));
        let Some(cooling) = &mut self.cooling else { return };
        cooling.record(event);
        if let Some(last) = self.last {
            cooling.see(last);
        }
        if let Some(body) = &self.asked.body {
            cooling.look(at, to, body);
        }
        if self.heating.is_none() && (self.cool || cooling.over(at)) {
            self.end_cooling();
        }
    }

    /// How the readings of late differ from the terminals, by the rule of `reading`.
    fn compare(&self) -> Option<String> {
        if self.recent.len() < 3 {
            return None;
        }
        let temperature = self.of_late();
        let at = |it: &LinePoint| Point { at: Duration::from_seconds(it.x), temperature };
        let trace = Trace::new(self.recent.iter().map(at)).ok()?;
        let known = Circumstances { resting_at: self.asked.resting_at, ..Circumstances::default() };
        let error = rise_time(&trace, self.asked.window, SensorUncertainty::NONE, &known).err()?;
        let unlike = error.faults.into_iter().find(|fault| fault.kind == FaultKind::WrongType);
        unlike.map(|fault| fault.text)
    }

    fn see(&mut self, event: &Event) {
        let Event::Readings(batch) = event else { return };
        for reading in batch.readings.iter().filter(|reading| reading.channel == self.block) {
            let Value::Temperature(temperature) = reading.value else {
                (self.last, self.cool) = (None, false);
                self.recent.clear();
                continue;
            };
            let at = reading.at;
            self.last = Some(Point { at, temperature });
            self.recent.push_back(LinePoint { x: at.seconds(), y: temperature.celsius() });
            while self.recent.len() > 3
                && self.recent.front().is_some_and(|it| at.seconds() - it.x > RECENT.seconds())
            {
                self.recent.pop_front();
            }
            let kept =
                |it: &LinePoint| self.asked.start.is_kept_by(Temperature::from_celsius(it.y));
            if self.recent.len() >= 3 && self.recent.iter().all(kept) {
                self.cool = true;
            } else if temperature - self.start() > WARMED {
                self.cool = false;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use acquisition::{Batch, Reading};
    use reading::MissingCause;

    fn celsius(celsius: f64) -> Temperature {
        Temperature::from_celsius(celsius)
    }

    fn course() -> Course {
        let window = Window::new(celsius(100.0), celsius(700.0)).unwrap();
        let start = Limit::LessThan(celsius(50.0));
        let room = reading::rise_time::Beginnings::built_in().room_of(None);
        let asked = Asked { window, start, resting_at: None, room, body: None };
        Course::new(asked, vec!["Block".to_owned()], 0)
    }

    fn reading(seconds: f64, value: Value) -> Event {
        let at = Duration::from_seconds(seconds);
        let readings = vec![Reading { channel: 0, at, value }];
        Event::Readings(Batch { at, readings, raw: String::new() })
    }

    fn shown(seconds: f64, shown: f64) -> Event {
        reading(seconds, Value::Temperature(celsius(shown)))
    }

    /// A block at rest for ten seconds, then in the flame, what is shown of it being told by
    /// `shows`; until the heating ends, or a minute has passed.
    fn heated(shows: impl Fn(f64, f64) -> Value) -> (f64, Option<Ended>) {
        let mut course = course();
        for tenth in 0..100 {
            assert!(course.take(&shown(f64::from(tenth) / 10.0, 23.0)).is_none());
        }
        assert!(course.cool() && course.cools_in().is_none());
        course.heat("Ana Ruiz".into(), Moment::from_unix_microseconds(0).unwrap());
        for tenth in 100..700 {
            let since = f64::from(tenth - 100) / 10.0;
            // A steady climb of 25.5 K each second: 23.53 s from 100 °C to 700 °C.
            if let Some(ended) =
                course.take(&reading(since + 10.0, shows(since, 23.0 + 25.5 * since)))
            {
                return (since, Some(ended));
            }
        }
        (60.0, course.end_heating(None))
    }

    #[test]
    fn a_heating_ends_by_itself_once_its_crossings_are_placed() {
        let (since, ended) = heated(|_, true_celsius| Value::Temperature(celsius(true_celsius)));
        let ended = ended.unwrap();
        assert!((27.2..28.2).contains(&since), "{since}");
        assert_eq!(ended.void, None);
        let text = String::from_utf8(ended.bytes).unwrap();
        assert!(text.starts_with("time (s),Block (°C),raw\n4.900000,23,"), "{}", &text[..60]);
    }

    /// When a fault is found, in seconds after the flame, and what is said.
    fn check(within: (f64, f64), said: &str, shows: impl Fn(f64, f64) -> Value) {
        let (since, ended) = heated(shows);
        let void = ended.unwrap().void.unwrap_or_default();
        assert!(void.contains(said), "`{void}` does not say `{said}`");
        assert!((within.0..=within.1).contains(&since), "{since} s for `{said}`");
    }

    #[test]
    fn faults_are_found_in_time() {
        let value = |shown: f64| Value::Temperature(celsius(shown));
        check((8.0, 8.5), "wire is open", |since, it| {
            if since < 8.0 { value(it) } else { Value::Missing(MissingCause::OpenCircuit) }
        });
        check((3.0, 4.0), "No rise", |_, _| value(23.0));
        check((3.0, 4.0), "plus and minus are swapped", |since, _| value(23.0 - 3.0 * since));
        check((6.0, 7.1), "stuck", |since, it| {
            value(if (6.0..9.0).contains(&since) { 23.0 + 25.5 * 6.0 } else { it })
        });
    }

    #[test]
    fn three_spikes_are_left_out_and_four_void() {
        let spiky = |most: usize| {
            move |since: f64, it: f64| {
                let spikes = [5.0, 9.0, 13.0, 17.0];
                let spike = spikes.iter().take(most).any(|at| (since - at).abs() < 0.01);
                Value::Temperature(celsius(if spike { it + 60.0 } else { it }))
            }
        };
        assert_eq!(heated(spiky(3)).1.unwrap().void, None);
        check((17.0, 18.2), "4 spikes", spiky(4));
    }

    #[test]
    fn a_block_that_does_not_read_what_the_terminals_have_is_told_before_its_first_heating() {
        for (terminals, said) in [(24.0, None), (15.0, Some("another thermocouple type"))] {
            let mut course = course();
            course.asked.resting_at = Some(celsius(terminals));
            for tenth in 0..10 {
                course.take(&shown(f64::from(tenth) / 10.0, 23.0));
            }
            assert_eq!(course.unlike().is_some(), said.is_some(), "{terminals}");
            assert!(course.unlike().unwrap_or_default().contains(said.unwrap_or_default()));
            course.heat("Ana Ruiz".into(), Moment::from_unix_microseconds(0).unwrap());
            course.take(&shown(1.0, 23.0));
            assert_eq!(course.unlike(), None);
        }
    }

    #[test]
    fn cooling_is_told_with_its_time() {
        let mut course = course();
        let mut away = 200.0;
        for second in 0..30 {
            course.take(&shown(f64::from(second) / 2.0, 23.0 + away));
            away *= 1.0 - 0.5 / 120.0;
        }
        assert!(!course.cool());
        // ln(200/27) of 120 s, less the 14.5 s that have passed.
        let left = course.cools_in().unwrap().seconds();
        assert!((left - 225.8).abs() < 5.0, "{left}");
    }
}

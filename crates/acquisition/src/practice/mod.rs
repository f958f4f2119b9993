//! The practice bench: a made-up thermocouple in a made-up copper block.
//!
//! The block runs as [`reading::copper_block`] says, the noise comes from a seed: the same
//! settings give the same readings on every machine. Nothing it gives is a measurement.

mod data;
mod fault;

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use metrology::draw::Normal;
use metrology::{Duration, Temperature};
use rand::SeedableRng as _;
use rand_pcg::Pcg64;
use reading::copper_block::{Curve, Heat, heating};

use crate::clock::{Clock, whole_microseconds};
use crate::pace::Pacer;
use crate::settings::{Flame, PracticeBench};
use crate::source::{Batch, Event, Pace, Reading, Source, Value};
use crate::watch::OpenWires;

use data::Data;
use fault::Liar;

/// The one channel.
const CHANNEL: &str = "Block";

/// The practice bench at work.
#[derive(Debug)]
pub struct Practice {
    settings: PracticeBench,
    data: Data,
    /// When it began, on the clock handed in.
    begun: Duration,
    /// Readings so far.
    count: u64,
    flame: PracticeFlame,
    burning: bool,
    /// The block's course since the flame was moved, and when that was.
    course: Curve,
    since: Duration,
    /// When the flame was put to the block last.
    lit: Option<Duration>,
    liar: Liar,
    random: Pcg64,
    pacer: Pacer,
    wires: OpenWires,
    told: VecDeque<Event>,
}

/// The flame of the practice bench, moved by whoever practises.
#[derive(Clone, Debug, Default)]
pub struct PracticeFlame(Arc<AtomicBool>);

impl PracticeFlame {
    /// Puts the flame to the block.
    pub fn put_on(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Takes it away.
    pub fn take_away(&self) {
        self.0.store(false, Ordering::Relaxed);
    }
}

/// The course is solved for this long at a time.
const AHEAD: Duration = Duration::from_seconds(30.0);

impl Practice {
    /// The bench as set, its time beginning with what the clock shows now.
    #[must_use]
    pub fn new(settings: PracticeBench, clock: &Clock) -> Self {
        let data = Data::built_in();
        let course = heating(&data.block, Heat::None, data.surroundings, (data.room(), AHEAD));
        Self {
            begun: clock.now(),
            count: 0,
            flame: PracticeFlame::default(),
            burning: false,
            course,
            since: Duration::ZERO,
            lit: None,
            liar: Liar::new(settings.fault, data.room()),
            random: Pcg64::seed_from_u64(settings.seed),
            pacer: Pacer::new(settings.speed),
            wires: OpenWires::new(&[CHANNEL.to_owned()]),
            told: VecDeque::new(),
            data,
            settings,
        }
    }

    /// The flame, to be moved by hand.
    #[must_use]
    pub fn flame(&self) -> PracticeFlame {
        self.flame.clone()
    }

    /// The block's temperature at a time since the beginning, the flame having been moved.
    fn temperature(&mut self, time: Duration) -> Temperature {
        while time - self.since > AHEAD {
            let until = self.since + AHEAD;
            self.solve_from(until);
        }
        let now = self.course_at(time);
        let burning = match self.settings.flame {
            Flame::ByHand => self.flame.0.load(Ordering::Relaxed),
            Flame::ByItself => self.data.by_itself(time, now, self.burning),
        };
        if burning != self.burning {
            self.burning = burning;
            self.lit = burning.then_some(time);
            self.solve_from(time);
        }
        now
    }

    /// The course at a time; where copper's table ends, its last temperature.
    fn course_at(&self, time: Duration) -> Temperature {
        let passed = time - self.since;
        let last = self.course.lasts();
        let within = if passed < last { passed } else { last };
        self.course.at(within).unwrap_or_else(|| self.data.room())
    }

    fn solve_from(&mut self, time: Duration) {
        let start = self.course_at(time);
        let heat = if self.burning { Heat::Flame(self.data.flame) } else { Heat::None };
        self.course = heating(&self.data.block, heat, self.data.surroundings, (start, AHEAD));
        self.since = time;
    }

    /// What the instrument shows next, and when, or nothing when the bench has ended.
    fn read(&mut self) -> Option<(Duration, Option<Value>)> {
        #[expect(clippy::cast_precision_loss, reason = "2^53 readings are never reached")]
        let time = Duration::from_seconds(self.count as f64 / self.settings.readings_per_second);
        if self.settings.lasting_seconds.is_some_and(|lasting| time.seconds() > lasting) {
            return None;
        }
        self.count += 1;
        let heated = self.temperature(time);
        let noise = self.settings.noise_kelvin * Normal::default().draw(&mut self.random);
        let lit = self.lit.map(|lit| time - lit);
        let shown = self.liar.show(heated, lit, noise).map(|value| match value {
            Value::Temperature(found) => Value::Temperature(self.data.shown(found)),
            Value::Missing(_) => value,
        });
        Some((time, shown))
    }
}

impl Source for Practice {
    fn channels(&self) -> Vec<String> {
        vec![CHANNEL.to_owned()]
    }

    fn pace(&self) -> Pace {
        Pace::Waits
    }

    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.told.pop_front() {
                return Some(event);
            }
            let (time, shown) = self.read()?;
            self.pacer.until(time).await;
            let Some(value) = shown else { continue };
            let at = whole_microseconds(self.begun + time);
            let readings = vec![Reading { channel: 0, at, value }];
            self.told.extend(self.wires.see(&readings));
            self.told.push_back(Event::Readings(Batch { at, readings, raw: String::new() }));
        }
    }
}

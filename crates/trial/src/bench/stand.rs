//! The state that presses come to. Every press stays in the log; here is what it means.

use super::{Act, Press, State};
use crate::moment::{Elapsed, Moment};
use crate::run::{Application, Ending, MarkKind};
use metrology::Duration;

/// A second press that would change something, sooner than this after the last, is a bounce.
const TOO_SOON_MICROSECONDS: i64 = 300_000;

/// "Flame removed" is open from here on after "flame on specimen".
const REMOVAL_OPEN_MICROSECONDS: i64 = 1_000_000;

/// Flames and glow both out this soon after removal: perhaps there were none.
const QUICK_END_MICROSECONDS: i64 = 2_000_000;

/// What the presses come to. Times count from the first "flame on specimen" that stands; presses
/// are told by their place in the list, from 0 on.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// The state.
    pub state: State,
    /// The first "flame on specimen" on the clock of the presses.
    pub zero: Option<Elapsed>,
    /// The same by the device's calendar.
    pub began: Option<Moment>,
    /// The applications so far.
    pub applications: Vec<Begun>,
    /// How the flames ended after the last removal; none as long as nobody said.
    pub flames: Option<Ending>,
    /// How the glow ended.
    pub glow: Option<Ending>,
    /// How the layer below ended, if it caught fire.
    pub layer: Option<Ending>,
    /// What fell or caught.
    pub marks: Vec<Seen>,
    /// The presses that were withdrawn.
    pub withdrawn: Vec<usize>,
    /// The presses that changed nothing: too soon, or not offered in their state.
    pub ignored: Vec<usize>,
    /// Where the time is doubtful.
    pub doubts: Vec<Doubt>,
    /// Whether it is to be asked if there was any flame or glow: both were out at once.
    pub asks_about_flame_and_glow: bool,
    /// How far a time across a take-over may be off, either way; 0 s where one sitting timed all.
    pub across: Duration,
}

/// An application, perhaps not yet ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Begun {
    /// Flame on specimen.
    pub on: Elapsed,
    /// Flame removed.
    pub removed: Option<Elapsed>,
}

/// Something that was seen, perhaps without a name yet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The press that marked it.
    pub press: usize,
    /// When.
    pub at: Elapsed,
    /// What; none for a mark that is named later, in the light.
    pub kind: Option<MarkKind>,
}

/// That the device doubted its time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// The press that says so.
    pub press: usize,
    /// Why, as the device told it.
    pub note: Option<String>,
    /// Whether someone acknowledged it.
    pub acknowledged: bool,
}

impl Doubt {
    /// What makes durations doubtful, as the device told it; none of a step of its calendar, by
    /// which no duration is counted: then it tells no ±.
    #[must_use]
    pub fn of_durations(&self) -> Option<String> {
        match &self.note {
            Some(note) => note.contains('±').then(|| note.clone()),
            None => Some("the device doubted its time and did not say why".to_owned()),
        }
    }
}

/// The part of [`crate::run::Observed`] that the presses decide; the rest is said in the light.
#[derive(Clone, Debug, PartialEq)]
pub struct Timing {
    /// When the first flame touched the specimen, by the device's calendar.
    pub began: Moment,
    /// Each application in order.
    pub applications: Vec<Application>,
    /// How the specimen's flames ended.
    pub flames: Ending,
    /// How its glowing ended.
    pub glow: Ending,
    /// How the layer's burning ended.
    pub surroundings: Ending,
    /// What was seen, in part without a name.
    pub marks: Vec<Seen>,
    /// How far a time across a take-over may be off, either way; 0 s where one sitting timed all.
    pub across: Duration,
}

/// What these presses come to, for a plan with this many applications.
///
/// Presses that a state does not offer, or that bounce, change nothing, whatever the device took
/// them for: device and record come to the same.
#[must_use]
pub fn stand(applications: usize, presses: &[Press]) -> Standing {
    let mut sitting = Sitting { presses, now: Now::begin(applications), ..Sitting::default() };
    for place in 0..presses.len() {
        sitting.press(place);
    }
    sitting.standing()
}

impl Standing {
    /// What a finished run's presses decide; none as long as it is not finished.
    #[must_use]
    pub fn timing(&self) -> Option<Timing> {
        if self.state != State::Finished {
            return None;
        }
        let ended = |begun: &Begun| Some(Application { on: begun.on, removed: begun.removed? });
        Some(Timing {
            began: self.began?,
            applications: self.applications.iter().map(ended).collect::<Option<_>>()?,
            flames: self.flames?,
            glow: self.glow?,
            surroundings: self.layer.unwrap_or(Ending::None),
            marks: self.marks.clone(),
            across: self.across,
        })
    }
}

/// The fold over the presses.
#[derive(Default)]
struct Sitting<'p> {
    presses: &'p [Press],
    now: Now,
    /// The presses that stand and made [`Sitting::now`].
    stands: Vec<usize>,
    last_step: Option<Elapsed>,
    withdrawn: Vec<usize>,
    ignored: Vec<usize>,
    doubts: Vec<Doubt>,
}

/// What a press does where it comes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Does {
    /// Nothing.
    Nothing,
    /// It notes something and changes no state.
    Notes,
    /// It moves on, or says how something ended; it can be withdrawn.
    Steps,
    /// It withdraws the last step.
    Withdraws,
    /// It says something of the time, not of the specimen.
    Remarks,
}

impl Sitting<'_> {
    fn press(&mut self, place: usize) {
        let Press { act, at, .. } = self.presses[place];
        let does = match self.now.does(act, at) {
            Does::Withdraws if !self.any_step() => Does::Nothing,
            Does::Steps | Does::Withdraws if self.bounces(at) => Does::Nothing,
            does
            @ (Does::Nothing | Does::Notes | Does::Steps | Does::Withdraws | Does::Remarks) => does,
        };
        match does {
            Does::Nothing => self.ignored.push(place),
            Does::Remarks => self.remark(place),
            Does::Notes => self.stands.push(place),
            Does::Steps => {
                self.stands.push(place);
                self.last_step = Some(at);
            }
            Does::Withdraws => {
                self.withdraw();
                self.last_step = Some(at);
            }
        }
        if matches!(does, Does::Notes | Does::Steps) {
            self.now.take(place, act, at);
        }
    }

    fn bounces(&self, at: Elapsed) -> bool {
        let since = |last: Elapsed| at.microseconds().saturating_sub(last.microseconds());
        self.last_step.is_some_and(|last| since(last) < TOO_SOON_MICROSECONDS)
    }

    fn any_step(&self) -> bool {
        self.stands.iter().any(|place| self.presses[*place].act.steps())
    }

    /// Takes the last step out, and goes through what stands once more.
    fn withdraw(&mut self) {
        let last = self.stands.iter().rposition(|place| self.presses[*place].act.steps());
        if let Some(last) = last {
            let place = self.stands.remove(last);
            self.withdrawn.push(place);
        }
        self.now = Now::begin(self.now.planned);
        let stood = std::mem::take(&mut self.stands);
        for place in stood {
            let Press { act, at, .. } = self.presses[place];
            if act == Act::Acknowledged && self.now.state != State::Finished {
                continue; // the question it answered is open again
            }
            // A mark under a flame that was not on falls with it.
            if self.now.does(act, at) == Does::Nothing {
                self.withdrawn.push(place);
            } else {
                self.now.take(place, act, at);
                self.stands.push(place);
            }
        }
    }

    /// A doubt of the time; or that one is acknowledged, or else the question answered with yes.
    fn remark(&mut self, place: usize) {
        let Press { act, at, ref note, .. } = self.presses[place];
        if act == Act::TimeDoubtful {
            self.doubts.push(Doubt { press: place, note: note.clone(), acknowledged: false });
        } else if let Some(open) = self.doubts.iter_mut().find(|doubt| !doubt.acknowledged) {
            open.acknowledged = true;
        } else if self.now.state == State::Finished {
            self.now.take(place, act, at);
            self.stands.push(place);
        }
    }

    fn standing(mut self) -> Standing {
        self.withdrawn.sort_unstable();
        let first = self.now.first;
        let zero = first.map(|first| self.presses[first].at);
        let from_zero = |at: Elapsed| {
            let zero = zero.map_or(0, Elapsed::microseconds);
            Elapsed::from_microseconds(at.microseconds().saturating_sub(zero))
        };
        let ended = |ending: Ending| match ending {
            Ending::None => Ending::None,
            Ending::Out(at) => Ending::Out(from_zero(at)),
            Ending::PutOutByHand(at) => Ending::PutOutByHand(from_zero(at)),
        };
        let begun = |begun: &Begun| Begun {
            on: from_zero(begun.on),
            removed: begun.removed.map(from_zero),
        };
        Standing {
            state: self.now.state,
            zero,
            began: first.map(|first| self.presses[first].wall),
            asks_about_flame_and_glow: self.now.asks(),
            applications: self.now.applications.iter().map(begun).collect(),
            flames: self.now.flames.map(ended),
            glow: self.now.glow.map(ended),
            layer: self.now.layer.map(ended),
            marks: self
                .now
                .marks
                .iter()
                .map(|seen| Seen { at: from_zero(seen.at), ..*seen })
                .collect(),
            withdrawn: self.withdrawn,
            ignored: self.ignored,
            doubts: self.doubts,
            across: Duration::ZERO,
        }
    }
}

/// Where the presses have led. Times are on the clock of the presses.
struct Now {
    planned: usize,
    state: State,
    first: Option<usize>,
    applications: Vec<Begun>,
    flames: Option<Ending>,
    glow: Option<Ending>,
    layer: Option<Ending>,
    layer_caught: bool,
    answered: bool,
    marks: Vec<Seen>,
}

impl Default for Now {
    fn default() -> Self {
        Self::begin(1)
    }
}

impl Now {
    const fn begin(planned: usize) -> Self {
        Self {
            planned,
            state: State::Ready,
            first: None,
            applications: Vec::new(),
            flames: None,
            glow: None,
            layer: None,
            layer_caught: false,
            answered: false,
            marks: Vec::new(),
        }
    }

    /// What a press does in this state.
    fn does(&self, act: Act, at: Elapsed) -> Does {
        use State::{Between, Burning, Finished, Glow, Layer, OnSpecimen, Ready, Spoilt};
        let flame = matches!(self.state, OnSpecimen | Between | Burning | Glow | Layer);
        let steps = match act {
            Act::Ignored => false,
            Act::TimeDoubtful | Act::Acknowledged => return Does::Remarks,
            Act::LastPressWrong => return Does::Withdraws,
            Act::NotSpoilt if self.state == Spoilt => return Does::Withdraws,
            Act::NotSpoilt => false,
            Act::Mark | Act::Drop | Act::BurningDrop | Act::LayerCaught if flame => {
                return Does::Notes;
            }
            Act::Mark | Act::Drop | Act::BurningDrop | Act::LayerCaught => false,
            Act::FlameOn => matches!(self.state, Ready | Between),
            Act::FlameRemoved => self.state == OnSpecimen && self.removal_open(at),
            Act::FlamesOut => self.state == Burning,
            Act::NoFlame => matches!(self.state, Burning | Finished),
            Act::GlowOut | Act::BurningAgain => self.state == Glow,
            Act::NoGlow => matches!(self.state, Glow | Finished),
            Act::LayerOut => flame && self.layer_burns(),
            Act::PutOutByHand => matches!(self.state, Burning | Glow | Layer),
            Act::SpecimenSpoilt => self.state != Spoilt,
        };
        if steps { Does::Steps } else { Does::Nothing }
    }

    /// Lets a press do what [`Now::does`] said.
    fn take(&mut self, place: usize, act: Act, at: Elapsed) {
        match act {
            Act::FlameOn => {
                self.first.get_or_insert(place);
                self.applications.push(Begun { on: at, removed: None });
                self.state = State::OnSpecimen;
            }
            Act::FlameRemoved => {
                if let Some(last) = self.applications.last_mut() {
                    last.removed = Some(at);
                }
                let further = self.applications.len() < self.planned;
                self.state = if further { State::Between } else { State::Burning };
            }
            Act::FlamesOut => self.flames_ended(Ending::Out(at)),
            Act::NoFlame => self.flames_ended(Ending::None),
            Act::GlowOut => self.glow_ended(Ending::Out(at)),
            Act::NoGlow => self.glow_ended(Ending::None),
            Act::BurningAgain => {
                self.flames = None;
                self.state = State::Burning;
            }
            Act::LayerOut => self.layer_ended(Ending::Out(at)),
            Act::PutOutByHand => match self.state {
                State::Burning => self.flames_ended(Ending::PutOutByHand(at)),
                State::Glow => self.glow_ended(Ending::PutOutByHand(at)),
                State::Ready
                | State::OnSpecimen
                | State::Between
                | State::Layer
                | State::Finished
                | State::Spoilt => self.layer_ended(Ending::PutOutByHand(at)),
            },
            Act::Mark => self.mark(place, at, None),
            Act::Drop => self.mark(place, at, Some(MarkKind::Drop)),
            Act::BurningDrop => self.mark(place, at, Some(MarkKind::BurningDrop)),
            Act::LayerCaught => {
                self.mark(place, at, Some(MarkKind::LayerCaught));
                self.layer_caught = true;
                self.layer = None;
            }
            Act::SpecimenSpoilt => self.state = State::Spoilt,
            Act::Acknowledged => self.answered = true,
            Act::LastPressWrong | Act::NotSpoilt | Act::Ignored | Act::TimeDoubtful => {}
        }
    }

    fn removal_open(&self, at: Elapsed) -> bool {
        let on = self.applications.last().map_or(0, |last| last.on.microseconds());
        at.microseconds().saturating_sub(on) >= REMOVAL_OPEN_MICROSECONDS
    }

    const fn layer_burns(&self) -> bool {
        self.layer_caught && self.layer.is_none()
    }

    fn mark(&mut self, press: usize, at: Elapsed, kind: Option<MarkKind>) {
        self.marks.push(Seen { press, at, kind });
    }

    fn flames_ended(&mut self, ending: Ending) {
        self.flames = Some(ending);
        if self.state == State::Burning {
            self.state = State::Glow;
        }
    }

    fn glow_ended(&mut self, ending: Ending) {
        self.glow = Some(ending);
        if self.state == State::Glow {
            self.state = if self.layer_burns() { State::Layer } else { State::Finished };
        }
    }

    fn layer_ended(&mut self, ending: Ending) {
        self.layer = Some(ending);
        if self.state == State::Layer {
            self.state = State::Finished;
        }
    }

    fn asks(&self) -> bool {
        let removed = self.applications.last().and_then(|last| last.removed);
        let (Some(removed), Some(Ending::Out(_)), Some(Ending::Out(glow))) =
            (removed, self.flames, self.glow)
        else {
            return false;
        };
        let quick = glow.microseconds().saturating_sub(removed.microseconds());
        self.state == State::Finished && !self.answered && quick <= QUICK_END_MICROSECONDS
    }
}

impl Act {
    /// Whether a press of this kind moves on, where it does anything.
    const fn steps(self) -> bool {
        match self {
            Self::FlameOn
            | Self::FlameRemoved
            | Self::FlamesOut
            | Self::NoFlame
            | Self::GlowOut
            | Self::NoGlow
            | Self::BurningAgain
            | Self::LayerOut
            | Self::PutOutByHand
            | Self::SpecimenSpoilt => true,
            Self::Mark
            | Self::Drop
            | Self::BurningDrop
            | Self::LayerCaught
            | Self::LastPressWrong
            | Self::NotSpoilt
            | Self::Ignored
            | Self::TimeDoubtful
            | Self::Acknowledged => false,
        }
    }
}

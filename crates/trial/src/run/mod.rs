//! One specimen in the flame: what was seen, and the times that follow from it.

mod change;
mod check;

use crate::confirmation::Confirmed;
use crate::fact::Evidence;
use crate::finding::{Finding, words};
use crate::method::Counting;
use crate::moment::{Elapsed, Moment};
use crate::number::{PersonName, PlanNumber, SpecimenNumber};
use crate::plan::Plan;
use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Ratio, Temperature};

pub use change::{Change, changes};

/// Records one specimen's run under a confirmed flame.
///
/// A flame removed too early or too late does not stop the record: such a run is kept and not
/// judged ([`Run::departures`]).
///
/// # Errors
///
/// All findings: a specimen that is not of the plan or was used, times in an order no run can
/// have, a wrong number of applications, something the requirement asks for that was not noted.
pub fn record(confirmed: &Confirmed, observed: Observed) -> Result<Run, Vec<Finding>> {
    let plan = confirmed.ready().plan();
    let mut findings = check::unfit_specimen(confirmed, observed.specimen);
    findings.extend(check::flame_too_old(confirmed, &observed));
    findings.extend(check::wrong_order(&observed));
    findings.extend(check::not_noted(plan, &observed));
    if findings.is_empty() { Ok(Run::restored(plan, observed)) } else { Err(findings) }
}

/// The run of a specimen by what holds instead of what was recorded.
///
/// # Errors
///
/// As [`record`]; that the specimen was used is no fault here.
pub fn amend(plan: &Plan, observed: Observed) -> Result<Run, Vec<Finding>> {
    let mut findings = check::wrong_order(&observed);
    findings.extend(check::not_noted(plan, &observed));
    if findings.is_empty() { Ok(Run::restored(plan, observed)) } else { Err(findings) }
}

/// What was seen of one specimen. All instants are on one device's clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    /// Which specimen.
    pub specimen: SpecimenNumber,
    /// When the first flame touched it.
    pub began: Moment,
    /// The air of the test.
    pub air: Air,
    /// Each application in order.
    pub applications: Vec<Application>,
    /// How the specimen's flames ended after the last removal.
    pub flames: Ending,
    /// How its glowing ended.
    pub glow: Ending,
    /// How flames or glowing of layer and surroundings ended. Like the glow, it may have ended
    /// before the last removal; it then counts as nothing.
    pub surroundings: Ending,
    /// What became of the layer.
    pub layer: LayerOutcome,
    /// How much of the specimen burnt.
    pub burnt: Burnt,
    /// The burnt or damaged length, where it was measured.
    pub damaged_length: Option<Measurement<Length>>,
    /// What happened when.
    pub marks: Vec<Mark>,
    /// Why the specimen is spoilt, if it is: it is then replaced, not judged.
    pub spoilt: Option<String>,
    /// Who watched.
    pub observer: PersonName,
    /// The standard uncertainty of a time between two presses.
    pub timing_uncertainty: Duration,
    /// How far the device's clock may be off the laboratory's, either way.
    pub clock_offset: Duration,
    /// Photos and films.
    pub evidence: Vec<Evidence>,
    /// Anything unusual.
    pub note: String,
}

/// The air of the test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Its temperature.
    pub temperature: Temperature,
    /// Its relative humidity.
    pub humidity: Ratio,
}

/// One application of the flame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Application {
    /// Flame on specimen.
    pub on: Elapsed,
    /// Flame removed.
    pub removed: Elapsed,
}

/// How flames or glowing ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// There were none after the last removal.
    None,
    /// They went out by themselves.
    Out(Elapsed),
    /// They were put out by hand.
    PutOutByHand(Elapsed),
}

impl Ending {
    /// When, if there were any.
    #[must_use]
    pub const fn at(self) -> Option<Elapsed> {
        match self {
            Self::None => None,
            Self::Out(at) | Self::PutOutByHand(at) => Some(at),
        }
    }
}

words! {
    /// What became of the layer below.
    LayerOutcome {
        /// Unchanged.
        Unchanged = "unchanged",
        /// The board is scorched; nothing glowed or flamed.
        Scorched = "scorched",
        /// It glowed: it was ignited.
        Glowed = "glowed",
        /// It flamed: it was ignited.
        Flamed = "flamed",
        /// None was used.
        NotUsed = "not-used",
    }
}

words! {
    /// How much of the specimen burnt.
    Burnt {
        /// Not all of it.
        Partly = "partly",
        /// All of it.
        Completely = "completely",
    }
}

words! {
    /// What a mark says.
    MarkKind {
        /// The specimen caught fire.
        Ignited = "ignited",
        /// A drop fell.
        Drop = "drop",
        /// A burning drop fell.
        BurningDrop = "burning-drop",
        /// The layer caught fire.
        LayerCaught = "layer-caught",
        /// Anything else.
        Other = "other",
    }
}

/// Something that happened, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// When.
    pub at: Elapsed,
    /// What.
    pub kind: MarkKind,
    /// In words.
    pub words: String,
}

/// A recorded run. Only [`record`] and the replay of the record make one.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    plan: PlanNumber,
    observed: Observed,
    durations_of_application: Vec<Duration>,
    pauses: Vec<Duration>,
    afterflame: Timed,
    afterglow: Timed,
    duration_of_burning: Timed,
    departures: Vec<Finding>,
}

/// A time with its uncertainty, and whether it was cut short.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timed {
    /// The time; without any burning 0 s, exactly.
    pub time: Measurement<Duration>,
    /// Whether it ended by itself.
    pub end: TimedEnd,
}

/// How a timed burning ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimedEnd {
    /// By itself, or there was none.
    ByItself,
    /// By hand: it would have lasted at least as long.
    ByHand,
}

impl Run {
    /// The plan it belongs to.
    #[must_use]
    pub const fn plan(&self) -> PlanNumber {
        self.plan
    }

    /// What was seen.
    #[must_use]
    pub const fn observed(&self) -> &Observed {
        &self.observed
    }

    /// Which specimen.
    #[must_use]
    pub const fn specimen(&self) -> SpecimenNumber {
        self.observed.specimen
    }

    /// ta of each application.
    #[must_use]
    pub fn durations_of_application(&self) -> &[Duration] {
        &self.durations_of_application
    }

    /// The pauses between the applications.
    #[must_use]
    pub fn pauses(&self) -> &[Duration] {
        &self.pauses
    }

    /// From the last removal until the specimen's flames were out.
    #[must_use]
    pub const fn afterflame(&self) -> Timed {
        self.afterflame
    }

    /// From the end of its flames, or the last removal if nothing flamed after it, until its
    /// glowing was no longer visible.
    #[must_use]
    pub const fn afterglow(&self) -> Timed {
        self.afterglow
    }

    /// tb, by the counting of the plan's requirement.
    #[must_use]
    pub const fn duration_of_burning(&self) -> Timed {
        self.duration_of_burning
    }

    /// Why this run is not valid as to the method, if so: it is kept, and not judged.
    #[must_use]
    pub fn departures(&self) -> &[Finding] {
        &self.departures
    }

    /// A run that the record holds: its times follow from what was seen.
    pub(crate) fn restored(plan: &Plan, observed: Observed) -> Self {
        let removed = observed.applications.last().map_or(Elapsed::ZERO, |last| last.removed);
        let flames_out = observed.flames.at().map_or(removed, |out| out.max(removed));
        let uncertainty = observed.timing_uncertainty;
        let counted: &[Ending] = match plan.requirement().asked.counting.value {
            Counting::FlamesAndGlow => &[observed.flames, observed.glow, observed.surroundings],
            Counting::FlamesOnly if observed.layer == LayerOutcome::Flamed => {
                &[observed.flames, observed.surroundings]
            }
            Counting::FlamesOnly => &[observed.flames],
        };
        Self {
            plan: plan.number(),
            durations_of_application: observed
                .applications
                .iter()
                .map(|application| application.removed.since(application.on))
                .collect(),
            pauses: observed
                .applications
                .windows(2)
                .map(|pair| pair[1].on.since(pair[0].removed))
                .collect(),
            afterflame: timed(removed, &[observed.flames], uncertainty),
            afterglow: timed(flames_out, &[observed.glow], uncertainty),
            duration_of_burning: timed(removed, counted, uncertainty),
            departures: check::departures(plan, &observed),
            observed,
        }
    }
}

/// From an instant to the last of these endings. What ended before it counts as nothing.
fn timed(from: Elapsed, endings: &[Ending], uncertainty: Duration) -> Timed {
    let counted = || endings.iter().filter(|ending| ending.at() >= Some(from));
    let by_hand = counted().any(|ending| matches!(ending, Ending::PutOutByHand(_)));
    let (value, uncertainty) = match counted().filter_map(|ending| ending.at()).max() {
        Some(at) => (at.since(from), uncertainty),
        None => (Duration::ZERO, Duration::ZERO),
    };
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Timed {
        time: Measurement { value, uncertainty, degrees_of_freedom },
        end: if by_hand { TimedEnd::ByHand } else { TimedEnd::ByItself },
    }
}

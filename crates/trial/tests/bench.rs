//! A made-up laboratory to test in: a library, a draft, and a book that grows.

use metrology::decision::DecisionRule;
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio, Temperature};
use std::sync::LazyLock;
use trial::confirmation::{Confirmed, Determination, DeterminationSource, confirm};
use trial::fact::{
    BookKind, Calibration, CalibrationNeed, Conditioned, Conditioning, Equipment, EquipmentKind,
    Evidence, EvidenceHash, EvidenceKind, Fact, Laboratory, Lot, LotKind, Recorded,
};
use trial::finding::{Finding, FindingKind};
use trial::history::{History, HistoryError};
use trial::moment::{Elapsed, Moment};
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, PersonName, PlanNumber, SpecimenNumber,
};
use trial::plan::{Customer, Draft, LayerChosen, Part, Plan, draw_up};
use trial::readiness::{Ready, check};
use trial::requirement::{Choice, Ordered};
use trial::rules::{Library, Range};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Observed};

/// The day of all tests; calibrations end in its year.
pub(crate) const NOW: &str = "2026-03-02T09:00:00Z";
pub(crate) const PLAN: PlanNumber = PlanNumber(1);

/// The built-in rules. The hash here only has to tell files apart.
pub(crate) fn library() -> Library {
    static LIBRARY: LazyLock<Library> = LazyLock::new(|| Library::built_in(hash).unwrap());
    LIBRARY.clone()
}

pub(crate) fn hash(bytes: &[u8]) -> [u8; 32] {
    let mut sum = 0xcbf2_9ce4_8422_2325_u64;
    for byte in bytes {
        sum = (sum ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
    }
    let mut hash = [0; 32];
    hash[..8].copy_from_slice(&sum.to_le_bytes());
    hash
}

pub(crate) fn seconds(value: f64) -> Duration {
    Duration::from_seconds(value)
}

/// `12.3 s` to whole microseconds.
pub(crate) fn microseconds(text: &str) -> i64 {
    let number = text.strip_suffix(" s").unwrap_or_else(|| panic!("`{text}` is not in s"));
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    format!("{whole}{part:0<6}").parse().unwrap()
}

pub(crate) fn method_alone(duration: &str) -> Ordered {
    Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: None,
        variant: None,
        choices: vec![chosen("application.duration", duration)],
    }
}

pub(crate) fn chosen(key: &str, value: &str) -> Choice {
    Choice { key: key.into(), value: value.to_owned(), reason: "made-up case".to_owned() }
}

/// A draft that lacks nothing.
pub(crate) fn draft(ordered: Ordered) -> Draft {
    Draft {
        number: PLAN,
        parent: None,
        job: "J-1".to_owned(),
        customer: Customer { name: "made-up customer".into(), address: "made-up street 1".into() },
        part: Part {
            description: "made-up terminal block, 2 mm".into(),
            identification: "TB-1".into(),
            received: None,
            condition: "new".into(),
        },
        ordered,
        specimens: (1..=12).map(SpecimenNumber).collect(),
        points: vec!["lower edge, middle".into()],
        position: "as in use".into(),
        layer: LayerChosen::Specified,
        equipment: ["B-1", "CB-1", "TC-1", "T-1"].map(Into::into).to_vec(),
        decision_rule: DecisionRule::SimpleAcceptance,
        confirmation_rule: DecisionRule::SimpleAcceptance,
        confirmation_age_max: None,
        sampling: String::new(),
        deviations: vec![],
    }
}

pub(crate) fn person() -> PersonName {
    "A. Made-Up".into()
}

pub(crate) fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

/// `hours` after the beginning of the test day.
pub(crate) fn hours(hours: i64) -> Moment {
    let microseconds = moment(NOW).unix_microseconds() + hours * 3_600_000_000;
    Moment::from_unix_microseconds(microseconds).unwrap()
}

/// A book that grows entry by entry.
#[derive(Clone, Default)]
pub(crate) struct Book {
    pub(crate) entries: Vec<Recorded>,
}

impl Book {
    /// Appends a fact, at its time.
    pub(crate) fn at(mut self, at: Moment, fact: Fact) -> Self {
        let entry = EntryNumber(u64::try_from(self.entries.len()).unwrap() + 1);
        self.entries.push(Recorded { entry, at, who: person(), fact });
        self
    }

    pub(crate) fn add(self, fact: Fact) -> Self {
        self.at(moment(NOW), fact)
    }

    pub(crate) fn replay(&self) -> Result<History, HistoryError> {
        History::replay(&library(), self.entries.clone())
    }

    pub(crate) fn history(&self) -> History {
        self.replay().unwrap()
    }
}

pub(crate) fn equipment(number: &str, kind: EquipmentKind) -> Fact {
    Fact::EquipmentRegistered(Equipment {
        number: number.into(),
        kind,
        description: "made-up".into(),
        calibration: if kind == EquipmentKind::Burner {
            CalibrationNeed::NotNeeded
        } else {
            CalibrationNeed::Needed
        },
    })
}

pub(crate) fn calibration(number: &str, on: &str, due: &str) -> Fact {
    Fact::CalibrationRecorded(Calibration {
        equipment: number.into(),
        certificate: "made-up".into(),
        by: "made-up".into(),
        on: on.parse().unwrap(),
        due: due.parse().unwrap(),
        result: "within its class".into(),
        evidence: None,
    })
}

pub(crate) fn gas(number: &str) -> Fact {
    Fact::LotOpened(Lot {
        number: number.into(),
        kind: LotKind::Gas,
        description: "butane, 95 %".into(),
    })
}

pub(crate) fn conditioning(what: Conditioned, hours_long: i64) -> Fact {
    Fact::ConditioningRecorded(Conditioning {
        plan: PLAN,
        what,
        from: hours(-hours_long),
        until: hours(0),
        temperature: Range {
            from: Temperature::from_celsius(21.0),
            to: Temperature::from_celsius(24.0),
        },
        humidity: Range { from: Ratio::from_percent(48.0), to: Ratio::from_percent(55.0) },
    })
}

/// A book with everything before the plan.
pub(crate) fn opened() -> Book {
    let laboratory = Laboratory {
        name: "made-up laboratory".into(),
        address: "made-up street 2".into(),
        place: "same".into(),
    };
    Book::default()
        .add(Fact::BookOpened { laboratory, kind: BookKind::MadeUp })
        .add(Fact::PersonAdmitted { person: person(), authorisations: vec![] })
        .add(equipment("B-1", EquipmentKind::Burner))
        .add(equipment("CB-1", EquipmentKind::CopperBlock))
        .add(equipment("TC-1", EquipmentKind::Thermocouple))
        .add(equipment("T-1", EquipmentKind::Timer))
        .add(calibration("CB-1", "2025-10-01", "2026-10-01"))
        .add(calibration("TC-1", "2025-10-01", "2026-10-01"))
        .add(calibration("T-1", "2025-10-01", "2026-10-01"))
        .add(gas("G-1"))
}

pub(crate) fn drawn_up(draft: &Draft) -> Fact {
    let plan = plan(draft.clone());
    let rules = plan.requirement().rules.clone();
    Fact::PlanDrawnUp { draft: Box::new(draft.clone()), rules }
}

/// A book in which the plan of this draft may begin.
pub(crate) fn prepared(draft: &Draft) -> Book {
    opened()
        .add(drawn_up(draft))
        .add(conditioning(Conditioned::Specimens(draft.specimens.clone()), 48))
        .add(conditioning(Conditioned::Layer, 48))
        .add(Fact::CautionsAcknowledged { plan: PLAN })
}

pub(crate) fn plan(draft: Draft) -> Plan {
    draw_up(draft, &library()).unwrap()
}

pub(crate) fn ready(draft: &Draft) -> Ready {
    let plan = plan(draft.clone());
    check(&plan, &prepared(draft).history(), &person(), hours(0)).unwrap()
}

/// A determination with the value that is common practice to show, from a logger's file.
pub(crate) fn determination(number: u32) -> Determination {
    Determination {
        number: DeterminationNumber(number),
        at: hours(0),
        rise_time: Some(rise_time(23.5)),
        start: Temperature::from_celsius(24.0),
        source: DeterminationSource::Trace { evidence: evidence(), read_as: Vec::new() },
        remarks: vec![],
        block: "CB-1".into(),
        thermocouple: "TC-1".into(),
        gas: "G-1".into(),
        flame_height: None,
        void: None,
    }
}

pub(crate) fn evidence() -> Evidence {
    Evidence {
        name: "made-up.csv".into(),
        hash: EvidenceHash([7; 32]),
        bytes: 1,
        kind: EvidenceKind::Trace,
    }
}

pub(crate) fn rise_time(value: f64) -> Measurement<Duration> {
    Measurement {
        value: seconds(value),
        uncertainty: seconds(0.1),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    }
}

pub(crate) fn determinations() -> Vec<Determination> {
    (1..=3).map(determination).collect()
}

pub(crate) fn confirmed(draft: &Draft) -> Confirmed {
    confirm(&ready(draft), ConfirmationNumber(1), &determinations()).unwrap()
}

/// A run in which nothing burnt.
pub(crate) fn observed(specimen: u32, plan: &Plan) -> Observed {
    let ta = &plan.requirement().duration_of_application.text;
    let removed = Elapsed::from_microseconds(microseconds(ta));
    Observed {
        specimen: SpecimenNumber(specimen),
        began: hours(1),
        air: Air {
            temperature: Temperature::from_celsius(22.0),
            humidity: Ratio::from_percent(50.0),
        },
        applications: vec![Application { on: Elapsed::ZERO, removed }],
        flames: Ending::None,
        glow: Ending::None,
        surroundings: Ending::None,
        layer: LayerOutcome::Unchanged,
        burnt: Burnt::Partly,
        damaged_length: None,
        marks: vec![],
        spoilt: None,
        observer: person(),
        timing_uncertainty: seconds(0.1),
        clock_offset: Duration::ZERO,
        evidence: vec![],
        note: String::new(),
    }
}

pub(crate) fn kinds(findings: &[Finding]) -> Vec<FindingKind> {
    findings.iter().map(|finding| finding.kind).collect()
}

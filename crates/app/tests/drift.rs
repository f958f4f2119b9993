//! A made-up laboratory whose flame gets slower: the fixed series of the flame chart's tests.
//!
//! Sixty confirmations, one a day from 4 October 2026 on. Thirty are in control about 23.5 s with a
//! sigma of 0.15 s; from 3 November on each is 0.1 sigma slower than the one before. A program made
//! them, and nobody measured them.
#![expect(clippy::disallowed_methods, reason = "writes files for the program")]

use std::path::Path;

use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use ledger::Book;
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio, Temperature};
use tempfile::TempDir;
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{
    Calibration, CalibrationNeed, Conditioned, Conditioning, Equipment, EquipmentKind,
    EvidenceKind, Fact, IssuedReport, Language, Lot, LotKind,
};
use trial::history::History;
use trial::moment::{Elapsed, Moment};
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::rules::{Library, Range};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Observed};

use crate::served::{PERSON, Served, program};

/// The means in seconds.
pub(crate) const MEANS: [f64; 60] = [
    23.32, 23.64, 23.51, 23.79, 23.48, 23.48, 23.47, 23.36, 23.72, 23.55, 23.53, 23.65, 23.44,
    23.71, 23.49, 23.53, 23.41, 23.45, 23.29, 23.50, 23.69, 23.62, 23.40, 23.65, 23.49, 23.40,
    23.52, 23.68, 23.61, 23.33, 23.60, 23.57, 23.35, 23.51, 23.70, 23.65, 23.84, 23.72, 23.46,
    23.30, 23.63, 23.84, 23.90, 23.72, 23.79, 23.96, 23.65, 23.63, 23.70, 23.87, 23.78, 24.03,
    23.76, 24.12, 23.91, 23.94, 23.94, 23.69, 24.05, 23.85,
];

/// The plans: how many specimens each has, under which confirmation they are tested, and whether a
/// report is issued.
const PLANS: [(u32, u32, bool); 6] =
    [(3, 12, true), (4, 35, true), (4, 44, true), (4, 52, true), (2, 58, false), (2, NEVER, false)];

/// The last plan waits.
const NEVER: u32 = u32::MAX;

/// The day after the last confirmation.
pub(crate) const AFTER: &str = "2026-12-03T09:00:00Z";

/// The day of a confirmation, from 1 on.
fn day(nth: u32) -> Date {
    date(2026, 10, 3).saturating_add(i64::from(nth).days())
}

fn at(day: Date, time: &str) -> Moment {
    Moment::parse(&format!("{day}T{time}:00Z")).unwrap()
}

/// A book that is told fact by fact.
struct Story {
    book: Book,
    history: History,
    library: Library,
}

impl Story {
    fn open(folder: &Path) -> Self {
        let book = Book::open(folder).unwrap();
        Self { history: book.history().unwrap(), book, library: ledger::library().unwrap() }
    }

    fn say(&mut self, at: Moment, fact: &Fact) {
        let recorded = self.book.append(at, &PERSON.into(), fact).unwrap();
        self.history.follow(&self.library, recorded).unwrap();
    }
}

/// The book with the first `confirmations` of the series.
pub(crate) fn book(confirmations: u32) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let asked = ["--laboratory", "Made-up laboratory", "--address", "Nowhere", "--person", PERSON];
    done(
        program().env("CINDERBOOK_CLOCK", "2026-10-01T08:00:00Z").arg("new").arg(&book).args(asked),
    );
    let mut story = Story::open(&book);
    for fact in equipped() {
        story.say(at(date(2026, 10, 1), "09:00"), &fact);
    }
    drop(story);
    planned(folder.path(), &book);
    let mut story = Story::open(&book);
    for (plan, (specimens, ..)) in (1..).zip(PLANS) {
        prepared(&mut story, PlanNumber(plan), specimens);
    }
    for nth in 1..=confirmations {
        if nth == 31 {
            story.say(at(day(nth), "07:00"), &gas("G-2"));
        }
        confirmed(&mut story, nth);
        for (plan, (specimens, under, reported)) in (1..).zip(PLANS) {
            if under == nth {
                tested(&mut story, PlanNumber(plan), (specimens, nth));
                if reported {
                    issued(&mut story, PlanNumber(plan), nth);
                }
            }
        }
    }
    drop(story);
    folder
}

/// Confirms the flame once more, on the day after the thermocouple's calibration is over.
pub(crate) fn confirmed_on_9_december(folder: &Path) {
    confirmed(&mut Story::open(&folder.join("book")), 67);
}

/// The same, served on the day after, its person signed in.
pub(crate) fn served(confirmations: u32) -> Served {
    let mut served = Served::start(book(confirmations), &[], AFTER);
    served.come_in();
    served
}

fn done(command: &mut std::process::Command) {
    let done = command.output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

fn equipped() -> Vec<Fact> {
    let pieces = [
        ("NB-1", EquipmentKind::Burner, CalibrationNeed::NotNeeded),
        ("CB-2", EquipmentKind::CopperBlock, CalibrationNeed::NotNeeded),
        ("TC-4", EquipmentKind::Thermocouple, CalibrationNeed::Needed),
        ("SW-3", EquipmentKind::Timer, CalibrationNeed::NotNeeded),
    ];
    let mut facts: Vec<Fact> = pieces
        .into_iter()
        .map(|(number, kind, calibration)| {
            let description = "made up".to_owned();
            Fact::EquipmentRegistered(Equipment {
                number: number.into(),
                kind,
                description,
                calibration,
            })
        })
        .collect();
    facts.push(Fact::CalibrationRecorded(Calibration {
        equipment: "TC-4".into(),
        certificate: "MADE-UP-TC-4".to_owned(),
        by: "made up".to_owned(),
        on: date(2026, 1, 8),
        due: date(2026, 12, 8),
        result: "within class 1".to_owned(),
        evidence: None,
    }));
    facts.push(gas("G-1"));
    facts
}

fn gas(number: &str) -> Fact {
    let description = "butane, 95 %, made up".to_owned();
    Fact::LotOpened(Lot { number: number.into(), kind: LotKind::Gas, description })
}

/// Draws the plans up, as the program does.
fn planned(folder: &Path, book: &Path) {
    for (nth, (specimens, ..)) in (1..).zip(PLANS) {
        let text = crate::house::text("crates/app/src/demo/plan.toml");
        let named: Vec<String> = (1..=specimens).map(|it| it.to_string()).collect();
        let text = text
            .replace("\"EQUIPMENT\"", "\"NB-1\", \"CB-2\", \"TC-4\", \"SW-3\"")
            .replace("specimens = [1]", &format!("specimens = [{}]", named.join(", ")))
            .replace("Job 2026-014", &format!("Job 2026-0{}", 20 + nth));
        let file = folder.join("plan.toml");
        std::fs::write(&file, text).unwrap();
        let clock = "2026-10-02T08:00:00Z";
        let command = &mut program();
        command.env("CINDERBOOK_CLOCK", clock).arg("--book").arg(book).args(["plan", "new"]);
        done(command.arg(&file));
    }
}

/// All that makes a plan ready.
fn prepared(story: &mut Story, plan: PlanNumber, specimens: u32) {
    let at = at(date(2026, 10, 3), "12:00");
    let specimens = (1..=specimens).map(SpecimenNumber).collect();
    for what in [Conditioned::Specimens(specimens), Conditioned::Layer] {
        let celsius = Temperature::from_celsius;
        let conditioning = Conditioning {
            plan,
            what,
            from: self::at(date(2026, 10, 1), "10:00"),
            until: at,
            temperature: Range { from: celsius(22.0), to: celsius(24.0) },
            humidity: Range { from: Ratio::from_percent(48.0), to: Ratio::from_percent(52.0) },
        };
        story.say(at, &Fact::ConditioningRecorded(conditioning));
    }
    story.say(at, &Fact::CautionsAcknowledged { plan });
    story.say(at, &Fact::ReadinessFound { plan });
}

/// Three determinations about the mean of this day, and the confirmation.
fn confirmed(story: &mut Story, nth: u32) {
    let mean = MEANS[usize::try_from(nth - 1).unwrap() % MEANS.len()];
    let gas = if nth > 30 { "G-2" } else { "G-1" };
    let mut determinations = Vec::new();
    for (place, (time, off)) in (1..).zip([("07:30", -0.04), ("07:40", 0.0), ("07:50", 0.04)]) {
        let number = DeterminationNumber(3 * (nth - 1) + place);
        let at = at(day(nth), time);
        let determination = Determination {
            number,
            at,
            rise_time: Some(Measurement {
                value: Duration::from_seconds(mean + off),
                uncertainty: Duration::from_seconds(0.1),
                degrees_of_freedom: DegreesOfFreedom::Infinite,
            }),
            start: Temperature::from_celsius(24.0),
            source: DeterminationSource::Typed {
                by: PERSON.into(),
                seconded: Some("Made-up Second".into()),
            },
            remarks: Vec::new(),
            block: "CB-2".into(),
            thermocouple: "TC-4".into(),
            gas: gas.into(),
            flame_height: None,
            void: None,
        };
        story.say(at, &Fact::DeterminationRecorded(Box::new(determination)));
        determinations.push(number);
    }
    let number = ConfirmationNumber(nth);
    let plan = PlanNumber(1);
    let fact = Fact::FlameConfirmed { number, plan, determinations };
    story.say(at(day(nth), "08:00"), &fact);
}

/// All specimens of a plan in the flame, none of which burns.
fn tested(story: &mut Story, plan: PlanNumber, (specimens, nth): (u32, u32)) {
    for specimen in 1..=specimens {
        let observed = Observed {
            specimen: SpecimenNumber(specimen),
            began: at(day(nth), &format!("09:{:02}", 2 * specimen)),
            air: Air {
                temperature: Temperature::from_celsius(22.0),
                humidity: Ratio::from_percent(50.0),
            },
            applications: vec![Application {
                on: Elapsed::ZERO,
                removed: Elapsed::from_microseconds(30_000_000),
            }],
            flames: Ending::None,
            glow: Ending::None,
            surroundings: Ending::None,
            layer: LayerOutcome::Unchanged,
            burnt: Burnt::Partly,
            damaged_length: None,
            marks: Vec::new(),
            spoilt: None,
            observer: PERSON.into(),
            timing_uncertainty: Duration::from_seconds(0.1),
            clock_offset: Duration::ZERO,
            evidence: Vec::new(),
            note: String::new(),
        };
        let confirmation = ConfirmationNumber(nth);
        let fact = Fact::RunRecorded { plan, confirmation, observed: Box::new(observed) };
        story.say(at(day(nth), "10:00"), &fact);
    }
    let verdict = story.history.judge(plan).unwrap();
    let (standing, account) = (verdict.standing, verdict.account());
    story.say(at(day(nth), "10:30"), &Fact::VerdictReached { plan, standing, account });
}

fn issued(story: &mut Story, plan: PlanNumber, nth: u32) {
    let file = |name: &str| {
        let text = format!("made up: {name} of {plan}");
        story.book.file_evidence(name, EvidenceKind::Report, &mut text.as_bytes()).unwrap().hash
    };
    let (content, pdf) = (file("content.json"), file("report.pdf"));
    let head = story.book.head().unwrap();
    let head = (EntryNumber(head.number), trial::fact::EvidenceHash(head.hash.0));
    let number = ReportNumber(plan.0);
    let report = IssuedReport {
        number,
        plan,
        supersedes: None,
        content,
        pdf,
        head,
        language: Language::English,
    };
    story.say(at(day(nth), "11:00"), &Fact::ReportIssued(report));
}

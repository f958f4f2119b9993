//! A made-up laboratory's record that has every kind of entry at least once.
//!
//! People, firms, parts and values are invented.

use std::path::Path;

use ledger::key::begun;
use ledger::note::SecretKey;
use ledger::{Book, LedgerError};
use metrology::decision::DecisionRule;
use metrology::{
    Area, DegreesOfFreedom, Duration, Length, Mass, Measurement, Quantity, Ratio, Temperature,
};
use trial::base_line::{BaseLine, Restart, RestartCause};
use trial::bench::{Act, DeviceId, Input, Press, SittingId};
use trial::care::{Care, CareInterval, CareNeed, CareTask, DueItem, DueLet};
use trial::commissioning::{Commissioning, Found, PointFound};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{
    BookKind, Calibration, CalibrationNeed, Conditioned, Conditioning, Cooling, Equipment,
    EquipmentKind, Evidence, EvidenceHash, EvidenceKind, Fact, IssuedReport, Laboratory, Lot,
    LotKind, Recorded, Weighing,
};
use trial::film::{FilmRecorded, TonesHeard};
use trial::finding::{Finding, FindingKind, Stage};
use trial::machine::{FaultMet, Validation};
use trial::moment::{Elapsed, Moment};
use trial::number::{
    BaseLineNumber, ConfirmationNumber, DeterminationNumber, EntryNumber, LotNumber, PersonName,
    PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::plan::{Customer, Draft, LayerChosen, Part};
use trial::requirement::{Choice, Ordered};
use trial::rules::{Key, Range, RulesUsed};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};
use trial::signature::{Identified, Meaning, SamePerson, SentBack, Signature, Signed, SigningRule};

#[path = "story_people.rs"]
mod people;

pub(crate) use people::admitted;

const PLAN: PlanNumber = PlanNumber(1);

/// The instant of the n-th entry: one a minute, from a fixed morning on.
pub(crate) fn minute(n: u64) -> Moment {
    let n = i64::try_from(n).unwrap();
    Moment::from_unix_microseconds(1_772_438_400_123_456 + n * 60_000_000).unwrap()
}

/// The fact that opens a book.
pub(crate) fn opened() -> Fact {
    let laboratory = Laboratory {
        name: "Invented Fire Laboratory".to_owned(),
        address: "1 Example Road, Nowhere".to_owned(),
        place: "room \"Ember\"\nground floor".to_owned(),
    };
    Fact::BookOpened { laboratory, kind: BookKind::MadeUp }
}

/// Tells the whole story into a new book.
pub(crate) fn tell(folder: &Path) -> Book {
    tell_into(Book::create(folder).unwrap()).unwrap()
}

/// Tells the whole story into an empty book, up to the first refusal.
pub(crate) fn tell_into(book: Book) -> Result<Book, LedgerError> {
    let mut story = Story { book };
    story.registers()?;
    story.plan()?;
    story.flame()?;
    story.runs()?;
    story.aftermath()?;
    story.bench()?;
    story.films()?;
    story.upkeep()?;
    story.bench_known()?;
    story.keyed()?;
    story.signatures()?;
    story.machine()?;
    people::facts().into_iter().try_for_each(|fact| story.say(fact).map(drop))?;
    Ok(story.book)
}

struct Story {
    book: Book,
}

impl Story {
    fn say(&mut self, fact: Fact) -> Result<Recorded, LedgerError> {
        let number = self.book.head().map_or(1, |head| head.number + 1);
        self.book.append(minute(number), &PersonName::from("Ana Ruiz"), &fact)
    }

    fn file(&self, name: &str, kind: EvidenceKind, text: &str) -> Result<Evidence, LedgerError> {
        self.book.file_evidence(name, kind, &mut text.as_bytes())
    }

    fn registers(&mut self) -> Result<(), LedgerError> {
        self.say(opened())?;
        self.say(Fact::PersonAdmitted { person: "Ana Ruiz".into(), authorisations: Vec::new() })?;
        self.say(admitted(2))?;
        for (number, kind, calibration) in [
            ("B-1", EquipmentKind::Burner, CalibrationNeed::NotNeeded),
            ("CU-1", EquipmentKind::CopperBlock, CalibrationNeed::NotNeeded),
            ("TC-07", EquipmentKind::Thermocouple, CalibrationNeed::Needed),
            ("T-1", EquipmentKind::Timer, CalibrationNeed::NotNeeded),
        ] {
            let description = "invented".to_owned();
            self.say(Fact::EquipmentRegistered(Equipment {
                number: number.into(),
                kind,
                description,
                calibration,
            }))?;
        }
        let certificate = self.file("K-12.pdf", EvidenceKind::Certificate, "a certificate")?;
        self.say(Fact::CalibrationRecorded(Calibration {
            equipment: "TC-07".into(),
            certificate: "K-12".to_owned(),
            by: "Invented Calibrations".to_owned(),
            on: jiff::civil::date(2025, 11, 3),
            due: jiff::civil::date(2026, 11, 2),
            result: "within class 1".to_owned(),
            evidence: Some(certificate),
        }))?;
        let lot = |number: &str, kind, description: &str| {
            let (number, description) = (LotNumber::from(number), description.to_owned());
            Fact::LotOpened(Lot { number, kind, description })
        };
        self.say(lot("G-3", LotKind::Gas, "butane, 95 %"))?;
        self.say(lot("P-9", LotKind::Tissue, "12 g/m² to 30 g/m²"))?;
        Ok(())
    }

    fn plan(&mut self) -> Result<(), LedgerError> {
        let library = ledger::library()?;
        let ordered = Ordered {
            method: "iec-60695-11-5/2016".into(),
            profile: Some("iec-60335-1/5".into()),
            variant: Some("part".into()),
            choices: vec![Choice {
                key: Key("application.duration".to_owned()),
                value: "30 s".to_owned(),
                reason: "as the customer asks".to_owned(),
            }],
        };
        let ids = std::iter::once(&ordered.method).chain(&ordered.profile);
        let rules: Vec<RulesUsed> = ids.map(|id| library.current(id).unwrap().1.clone()).collect();
        for used in &rules {
            self.file(&used.id.to_string(), EvidenceKind::Rules, library.text(used).unwrap())?;
        }
        let draft = Box::new(draft(ordered));
        self.say(Fact::PlanDrawnUp { draft, rules })?;
        let stage = Stage::Readiness;
        let finding = Finding {
            stage,
            kind: FindingKind::Cautions,
            text: "nobody acknowledged the cautions for plan P-1".to_owned(),
            hint: "Read the cautions and acknowledge them.".to_owned(),
        };
        self.say(Fact::StageRefused { stage, plan: PLAN, findings: vec![finding] })?;
        for what in
            [Conditioned::Specimens(vec![SpecimenNumber(1), SpecimenNumber(2)]), Conditioned::Layer]
        {
            self.say(Fact::ConditioningRecorded(Conditioning {
                plan: PLAN,
                what,
                from: Moment::parse("2026-02-27T06:00:00Z").unwrap(),
                until: Moment::parse("2026-03-02T07:30:00.5Z").unwrap(),
                temperature: Range {
                    from: Temperature::from_celsius(22.4),
                    to: Temperature::from_celsius(23.9),
                },
                humidity: Range { from: Ratio::from_percent(48.0), to: Ratio::from_percent(52.5) },
            }))?;
        }
        self.say(Fact::CautionsAcknowledged { plan: PLAN })?;
        self.say(Fact::ReadinessFound { plan: PLAN })?;
        Ok(())
    }

    fn flame(&mut self) -> Result<(), LedgerError> {
        let curve = self.file("D-1.csv", EvidenceKind::Trace, "time;temperature\n0;23,1\n")?;
        let typed = |seconded: Option<&str>| DeterminationSource::Typed {
            by: "Ana Ruiz".into(),
            seconded: seconded.map(PersonName::from),
        };
        for (number, seconds, source) in [
            (
                1,
                23.4,
                DeterminationSource::Trace {
                    evidence: curve,
                    read_as: vec!["--channel=Block".into()],
                },
            ),
            (2, 31.0, typed(None)),
            (3, 23.55, typed(Some("person 2"))),
            (4, 23.499_999_999_999_996, typed(Some("person 2"))),
        ] {
            let rise_time = measured(Duration::from_seconds(seconds), Duration::from_seconds(0.11));
            self.say(Fact::DeterminationRecorded(Box::new(Determination {
                number: DeterminationNumber(number),
                at: Moment::parse("2026-03-02T08:20:00Z").unwrap(),
                rise_time: Some(rise_time),
                start: Temperature::from_celsius(31.5),
                source,
                remarks: vec!["one point is missing".to_owned()],
                block: "CU-1".into(),
                thermocouple: "TC-07".into(),
                gas: "G-3".into(),
                flame_height: Some(Length::from_millimetres(12.0)),
                void: None,
            })))?;
        }
        let reason = "the block touched the tube".to_owned();
        self.say(Fact::DeterminationVoided { number: DeterminationNumber(2), reason })?;
        let determinations = [1, 3, 4].map(DeterminationNumber).to_vec();
        let number = ConfirmationNumber(1);
        self.say(Fact::FlameConfirmed { number, plan: PLAN, determinations })?;
        Ok(())
    }

    fn runs(&mut self) -> Result<(), LedgerError> {
        let photo = self.file("after.jpg", EvidenceKind::Photo, "a photograph")?;
        self.run(1, 41_000_000, vec![photo])?;
        self.verdict()?;
        let (specimens, reason) =
            (vec![SpecimenNumber(3), SpecimenNumber(4)], "for two more".to_owned());
        self.say(Fact::SpecimensAdded { plan: PLAN, specimens, reason })?;
        self.run(2, 12_300_001, Vec::new())?;
        let (specimen, reason) = (SpecimenNumber(4), "it fell".to_owned());
        self.say(Fact::SpecimenSpoilt { plan: PLAN, specimen, reason })?;
        self.run(3, 29_999_999, Vec::new())?;
        self.verdict()?;
        Ok(())
    }

    fn run(
        &mut self,
        specimen: u32,
        burns: i64,
        evidence: Vec<Evidence>,
    ) -> Result<Recorded, LedgerError> {
        let removed = Elapsed::from_microseconds(30_000_000);
        let out = Elapsed::from_microseconds(30_000_000 + burns);
        let length = measured(Length::from_millimetres(17.5), Length::from_millimetres(0.3));
        let observed = Observed {
            specimen: SpecimenNumber(specimen),
            began: Moment::parse("2026-03-02T09:00:00Z").unwrap(),
            air: Air {
                temperature: Temperature::from_celsius(21.5),
                humidity: Ratio::from_percent(44.0),
            },
            applications: vec![Application { on: Elapsed::ZERO, removed }],
            flames: Ending::Out(out),
            glow: if specimen == 1 { Ending::PutOutByHand(out) } else { Ending::None },
            surroundings: Ending::None,
            layer: LayerOutcome::Unchanged,
            burnt: Burnt::Partly,
            damaged_length: Some(length),
            marks: vec![Mark { at: removed, kind: MarkKind::Drop, words: "a drop".to_owned() }],
            spoilt: None,
            observer: "Ana Ruiz".into(),
            timing_uncertainty: Duration::from_seconds(0.07),
            clock_offset: Duration::from_seconds(0.0),
            evidence,
            note: String::new(),
        };
        let (confirmation, observed) = (ConfirmationNumber(1), Box::new(observed));
        self.say(Fact::RunRecorded { plan: PLAN, confirmation, observed })
    }

    fn verdict(&mut self) -> Result<Recorded, LedgerError> {
        let verdict = self.book.history()?.judge(PLAN).unwrap();
        let (standing, account) = (verdict.standing, verdict.account());
        self.say(Fact::VerdictReached { plan: PLAN, standing, account })
    }

    fn aftermath(&mut self) -> Result<(), LedgerError> {
        let content = self.file("report.json", EvidenceKind::Report, "{\"made_up\":true}")?.hash;
        let pdf = self.file("report.pdf", EvidenceKind::Report, "%PDF made up")?.hash;
        let head = self.book.head().unwrap();
        let head = (EntryNumber(head.number), EvidenceHash(head.hash.0));
        let (number, supersedes) = (ReportNumber(1), None);
        self.say(Fact::ReportIssued(IssuedReport {
            number,
            plan: PLAN,
            supersedes,
            content,
            pdf,
            head,
            language: trial::fact::Language::English,
        }))?;
        self.say(Fact::NumberVerified {
            rules: "iec-60335-1/5".into(),
            key: Key("criteria.duration-of-burning".to_owned()),
            text: "≤ 30 s".to_owned(),
            copy: "the laboratory's own copy, bought in 2024".to_owned(),
        })?;
        let by = Some(Box::new(admitted(2)));
        self.say(Fact::Corrected { entry: EntryNumber(3), reason: "misspelt".to_owned(), by })?;
        let (equipment, reason) = ("T-1".into(), "it was dropped".to_owned());
        self.say(Fact::EquipmentWithdrawn { equipment, reason })?;
        Ok(())
    }

    /// Presses of a specimen, one of each act, and another tablet that takes over.
    fn bench(&mut self) -> Result<(), LedgerError> {
        let (plan, specimen) = (PLAN, SpecimenNumber(4));
        let wall = Moment::parse("2026-03-02T09:30:00.123Z").unwrap();
        let pressed = Act::ALL.iter().zip(Input::ALL.iter().cycle()).zip(1..);
        let presses = pressed.map(|((act, input), sequence)| Press {
            sequence,
            at: Elapsed::from_microseconds(i64::from(sequence) * 1_000_001),
            wall,
            act: *act,
            input: *input,
            note: (*act == Act::TimeDoubtful).then(|| "slept for 4.0 s".to_owned()),
        });
        let (device, sitting) = (DeviceId([0xd1; 16]), SittingId([0x51; 16]));
        let presses = presses.collect();
        self.say(Fact::PressesKept { plan, specimen, device, sitting, presses })?;
        let (device, sitting) = (DeviceId([0xd2; 16]), SittingId([0x52; 16]));
        let reason = "the first tablet went dark".to_owned();
        self.say(Fact::TimekeeperTaken { plan, specimen, device, sitting, reason })?;
        Ok(())
    }

    /// A film that the tablet recorded, and a phone's.
    fn films(&mut self) -> Result<(), LedgerError> {
        let (plan, specimen) = (PLAN, SpecimenNumber(4));
        let recorded = FilmRecorded {
            device: DeviceId([0xd1; 16]),
            sitting: SittingId([0x51; 16]),
            began: Elapsed::from_microseconds(-12_345),
            within: Duration::from_seconds(0.134),
        };
        let film = self.file("specimen 4.webm", EvidenceKind::Film, "a film")?;
        self.say(Fact::FilmKept { plan, specimen, film, recorded: Some(recorded) })?;
        let film = self.file("IMG_0007.MOV", EvidenceKind::Film, "a phone's film")?;
        let hash = film.hash;
        self.say(Fact::FilmKept { plan, specimen, film, recorded: None })?;
        let removed = Elapsed::from_microseconds(31_233_333);
        self.say(Fact::FilmPlaced { plan, specimen, film: hash, removed })?;
        let tones = TonesHeard {
            tones: 2,
            of: 2,
            likeness: Ratio::from_percent(83.0),
            best: Ratio::from_percent(83.0),
            second: Ratio::from_percent(12.0),
            apart: Some(Duration::from_seconds(0.004)),
        };
        let removed = Elapsed::from_microseconds(31_200_000);
        self.say(Fact::FilmHeard { plan, specimen, film: hash, removed, tones })?;
        let photo = self.file("before.jpg", EvidenceKind::Photo, "a photograph")?;
        self.say(Fact::SpecimenPhotographed { plan, specimen, photo })?;
        let reason = "far from every limit".to_owned();
        self.say(Fact::TimesAccepted { plan, specimen, reason })?;
        Ok(())
    }

    /// The upkeep of bench and flame.
    fn upkeep(&mut self) -> Result<(), LedgerError> {
        let done = "tube cleaned, flow set anew".to_owned();
        self.say(Fact::FlameCallAnswered { confirmation: ConfirmationNumber(1), done })?;
        let task = CareTask::BurnerCleaned;
        let (equipment, note) = (Some("B-1".into()), "soot at the tip".to_owned());
        self.say(Fact::CareDone(Care { task, equipment, note }))?;
        let (days, specimens, need) = (Some(14), None, CareNeed::ForReady);
        self.say(Fact::CareIntervalSet(CareInterval { task, days, specimens, need }))?;
        for (item, reason) in [
            (DueItem::Calibration("TC-07".into()), "the certificate is on its way"),
            (DueItem::Care(task), "cleaned last night by hand"),
        ] {
            let reason = reason.to_owned();
            self.say(Fact::DueLetThrough(DueLet { plan: PLAN, item, reason }))?;
        }
        let draught = PointFound {
            key: "draught".to_owned(),
            says: "no draught".to_owned(),
            found: Found::InOrder,
            note: "0.05 m/s".to_owned(),
        };
        let (bench, points) = ("B-1 in the dark room".to_owned(), vec![draught]);
        self.say(Fact::BenchCommissioned(Commissioning { bench, points }))?;
        Ok(())
    }

    /// A base line, a cooling of its own, a block on the balance.
    fn bench_known(&mut self) -> Result<(), LedgerError> {
        let reason = "block CU-1 took the place of another".to_owned();
        self.say(Fact::BaseLineFrozen(Box::new(BaseLine {
            number: BaseLineNumber(1),
            confirmations: vec![ConfirmationNumber(1)],
            determinations: [1, 3, 4].map(DeterminationNumber).to_vec(),
            restart: Some(Restart { cause: RestartCause::Block, reason }),
        })))?;
        let evidence = self.file("cooling.csv", EvidenceKind::Trace, "a cooling")?;
        let (determination, read_as) = (DeterminationNumber(1), vec!["--channel=1".to_owned()]);
        self.say(Fact::CoolingKept(Cooling { determination, evidence, read_as }))?;
        self.say(Fact::BlockWeighed(Weighing {
            block: "CU-1".into(),
            mass: measured(Mass::from_grams(0.581), Mass::from_grams(0.0005)),
            area: Some(Area::from_square_millimetres(89.8)),
        }))?;
        Ok(())
    }

    /// A key begins.
    fn keyed(&mut self) -> Result<(), LedgerError> {
        let key = begun(&key(&self.book), None, "");
        self.say(Fact::KeyBegun(Box::new(key)))?;
        Ok(())
    }

    /// A rule, a review that was sent back, and one signature of each thing there is.
    fn signatures(&mut self) -> Result<(), LedgerError> {
        self.say(Fact::SigningRuled(SigningRule {
            asked: Meaning::ALL.to_vec(),
            same_person: SamePerson::Allowed,
            reason: "one person works here".to_owned(),
        }))?;
        let (plan, specimens) = (PLAN, vec![SpecimenNumber(1)]);
        let note = "the removal looks late".to_owned();
        self.say(Fact::SentBack(SentBack { plan, specimens, note }))?;
        let history = self.book.history()?;
        let listed = history.commissionings()[0].entry;
        let trail = Signed::Trail { from: EntryNumber(1), until: EntryNumber(9) };
        for what in [
            Signed::Specimen { plan, specimen: SpecimenNumber(1) },
            Signed::Plan(plan),
            Signed::Report(ReportNumber(1)),
            Signed::BaseLine(BaseLineNumber(1)),
            Signed::FlameCall(ConfirmationNumber(1)),
            Signed::Commissioning(listed),
            trail,
        ] {
            let covered = ledger::signed::content(&history, what).unwrap();
            let (content, last) = (covered.hash, *covered.entries.last().unwrap());
            let identified = if what == trail { Identified::Name } else { Identified::Password };
            let meaning = what.meanings()[0];
            self.say(Fact::Signed(Signature { what, meaning, content, last, identified }))?;
        }
        Ok(())
    }

    /// A fault that was met, and the program held against its reference cases.
    fn machine(&mut self) -> Result<(), LedgerError> {
        let told = ["the disk was full", "nothing", "films were moved"];
        let [what, lost, done] = told.map(str::to_owned);
        self.say(Fact::FaultMet(FaultMet { what, lost, done }))?;
        let sheet = self.file("validation.json", EvidenceKind::Other, "a certificate")?;
        let (version, machine) = ("0.1.0".to_owned(), "linux x86_64, 2 cores".to_owned());
        let (program, cases, off) = (EvidenceHash([0xa7; 32]), 270, 0);
        let validation = Validation { version, program, machine, cases, off, sheet };
        self.say(Fact::ProgramValidated(validation)).map(drop)
    }
}

/// The key of a told book: not a secret.
pub(crate) fn key(book: &Book) -> SecretKey {
    SecretKey::of(&book.origin().unwrap().unwrap(), &[7; 32]).unwrap()
}

fn measured<Q: Quantity>(value: Q, uncertainty: Q::Difference) -> Measurement<Q> {
    Measurement { value, uncertainty, degrees_of_freedom: DegreesOfFreedom::Of(11.5) }
}

fn draft(ordered: Ordered) -> Draft {
    let text = |text: &str| text.to_owned();
    Draft {
        number: PLAN,
        parent: None,
        job: text("job 26-031"),
        customer: Customer {
            name: text("Invented Pumps"),
            address: text("2 Example Road, Nowhere"),
        },
        part: Part {
            description: text("terminal block, PA 66, 2.0 mm"),
            identification: text("IP-7 — grün"),
            received: Some(jiff::civil::date(2026, 2, 20)),
            condition: text("as delivered"),
        },
        ordered,
        specimens: vec![SpecimenNumber(1), SpecimenNumber(2)],
        points: vec![text("the edge beside the screw")],
        position: text("as in use"),
        layer: LayerChosen::Specified,
        equipment: ["B-1", "CU-1", "TC-07", "T-1"].map(Into::into).to_vec(),
        decision_rule: DecisionRule::GuardBand { ratio: 0.83, coverage_factor: 2.0 },
        confirmation_rule: DecisionRule::SimpleAcceptance,
        confirmation_age_max: Some(Duration::from_seconds(28_800.0)),
        sampling: text("by the customer"),
        deviations: vec![text("none")],
    }
}

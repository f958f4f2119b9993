//! A report composed from a made-up record: one specimen fails, two further ones meet.

use metrology::decision::DecisionRule;
use metrology::{DegreesOfFreedom, Duration, Length, Measurement, Ratio, Temperature};
use report::content::{ComposeError, Content, Issue, Standing, Stood, Supersession, compose};
use report::pdf::{Attachments, render};
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{
    Authorisation, BookKind, Calibration, CalibrationNeed, Conditioned, Conditioning, Equipment,
    EquipmentKind, Evidence, EvidenceHash, EvidenceKind, Fact, Laboratory, Language, Lot, LotKind,
    Recorded,
};
use trial::finding::{Finding, FindingKind, Stage};
use trial::history::History;
use trial::moment::{Elapsed, Moment};
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::plan::{Customer, Draft, LayerChosen, Part};
use trial::requirement::Ordered;
use trial::rules::{Key, Library, Range};
use trial::run::{Air, Application, Burnt, Ending, LayerOutcome, Mark, MarkKind, Observed};

use crate::tools::{words, written};

pub(crate) const PLAN: PlanNumber = PlanNumber(1);

fn library() -> Library {
    Library::built_in(|_| [0x5a; 32]).unwrap()
}

/// The facts up to the confirmed flame.
pub(crate) fn before(rule: DecisionRule) -> Vec<Fact> {
    let mut facts = vec![
        Fact::BookOpened {
            laboratory: Laboratory {
                name: "Made-up laboratory".into(),
                address: "1 Invented Street".into(),
                place: "hall 2".into(),
            },
            kind: BookKind::MadeUp,
        },
        Fact::PersonAdmitted {
            person: "Ana Ruiz".into(),
            authorisations: vec![Authorisation::Issue],
        },
    ];
    for (number, kind) in [
        ("B-1", EquipmentKind::Burner),
        ("CB-1", EquipmentKind::CopperBlock),
        ("TC-1", EquipmentKind::Thermocouple),
    ] {
        facts.push(Fact::EquipmentRegistered(Equipment {
            number: number.into(),
            kind,
            description: "invented".into(),
            calibration: CalibrationNeed::NotNeeded,
        }));
    }
    facts.push(Fact::CalibrationRecorded(Calibration {
        equipment: "TC-1".into(),
        certificate: "K-12".into(),
        by: "invented".into(),
        on: jiff::civil::date(2025, 11, 3),
        due: jiff::civil::date(2026, 11, 2),
        result: "within class 1".into(),
        evidence: None,
    }));
    for (number, kind, description) in
        [("G-1", LotKind::Gas, "butane, 95 %"), ("WT-1", LotKind::Tissue, "20 g/m²")]
    {
        facts.push(Fact::LotOpened(Lot {
            number: number.into(),
            kind,
            description: description.into(),
        }));
    }
    facts.push(planned(rule));
    facts.push(Fact::StageRefused {
        stage: Stage::Readiness,
        plan: PLAN,
        findings: vec![Finding {
            stage: Stage::Readiness,
            kind: FindingKind::Cautions,
            text: "nobody acknowledged the cautions for plan P-1".into(),
            hint: "Read the cautions and acknowledge them.".into(),
        }],
    });
    facts.extend(flame());
    facts
}

fn planned(rule: DecisionRule) -> Fact {
    let library = library();
    let ordered = Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: Some("iec-60335-1/5".into()),
        variant: Some("part".into()),
        choices: vec![],
    };
    let ids = std::iter::once(&ordered.method).chain(&ordered.profile);
    let rules = ids.map(|id| library.current(id).unwrap().1.clone()).collect();
    let draft = Draft {
        number: PLAN,
        parent: None,
        job: "J-1".into(),
        customer: Customer { name: "Made-up customer".into(), address: "2 Invented Street".into() },
        part: Part {
            description: "invented terminal block".into(),
            identification: "TB-1".into(),
            received: Some(jiff::civil::date(2026, 2, 20)),
            condition: "new".into(),
        },
        ordered,
        specimens: (1..=4).map(SpecimenNumber).collect(),
        points: vec!["lower edge, middle".into()],
        position: "as in use".into(),
        layer: LayerChosen::Specified,
        equipment: vec!["B-1".into()],
        decision_rule: rule,
        confirmation_rule: DecisionRule::SimpleAcceptance,
        confirmation_age_max: None,
        sampling: String::new(),
        deviations: vec!["held by a clamp".into()],
    };
    Fact::PlanDrawnUp { draft: Box::new(draft), rules }
}

fn flame() -> Vec<Fact> {
    let mut facts: Vec<Fact> =
        [Conditioned::Specimens(vec![SpecimenNumber(1)]), Conditioned::Layer]
            .into_iter()
            .map(|what| {
                Fact::ConditioningRecorded(Conditioning {
                    plan: PLAN,
                    what,
                    from: moment(0),
                    until: moment(1),
                    temperature: Range {
                        from: Temperature::from_celsius(22.4),
                        to: Temperature::from_celsius(23.9),
                    },
                    humidity: Range {
                        from: Ratio::from_percent(48.0),
                        to: Ratio::from_percent(52.5),
                    },
                })
            })
            .collect();
    facts.push(Fact::CautionsAcknowledged { plan: PLAN });
    facts.push(Fact::ReadinessFound { plan: PLAN });
    for (number, rise) in [(1, 23.4), (2, 21.0), (3, 23.55), (4, 23.6)] {
        facts.push(Fact::DeterminationRecorded(Box::new(Determination {
            number: DeterminationNumber(number),
            at: moment(2),
            rise_time: Some(Measurement {
                degrees_of_freedom: DegreesOfFreedom::Of(10.7),
                ..measured(rise, 0.11)
            }),
            start: Temperature::from_celsius(31.5),
            source: DeterminationSource::Trace {
                evidence: Evidence {
                    name: format!("D-{number}.csv"),
                    hash: EvidenceHash([7; 32]),
                    bytes: 1,
                    kind: EvidenceKind::Trace,
                },
                read_as: Vec::new(),
            },
            remarks: vec![],
            block: "CB-1".into(),
            thermocouple: "TC-1".into(),
            gas: "G-1".into(),
            flame_height: Some(Length::from_millimetres(12.0)),
            void: None,
        })));
    }
    facts.push(Fact::DeterminationVoided {
        number: DeterminationNumber(2),
        reason: "the block touched the tube".into(),
    });
    facts.push(Fact::FlameConfirmed {
        number: ConfirmationNumber(1),
        plan: PLAN,
        determinations: [1, 3, 4].map(DeterminationNumber).to_vec(),
    });
    facts
}

/// A specimen that burns so many microseconds after the flame was removed.
pub(crate) fn ran(specimen: u32, burns: i64) -> Fact {
    let removed = Elapsed::from_microseconds(30_000_000);
    let out = Elapsed::from_microseconds(30_000_000 + burns);
    Fact::RunRecorded {
        plan: PLAN,
        confirmation: ConfirmationNumber(1),
        observed: Box::new(Observed {
            specimen: SpecimenNumber(specimen),
            began: moment(10),
            air: Air {
                temperature: Temperature::from_celsius(21.5),
                humidity: Ratio::from_percent(44.0),
            },
            applications: vec![Application { on: Elapsed::ZERO, removed }],
            flames: Ending::Out(out),
            glow: Ending::None,
            surroundings: Ending::None,
            layer: LayerOutcome::Unchanged,
            burnt: Burnt::Partly,
            damaged_length: None,
            marks: vec![Mark { at: removed, kind: MarkKind::Drop, words: String::new() }],
            spoilt: None,
            observer: "Ana Ruiz".into(),
            timing_uncertainty: Duration::from_seconds(0.1),
            clock_offset: Duration::ZERO,
            evidence: vec![],
            note: String::new(),
        }),
    }
}

fn moment(minute: u64) -> Moment {
    Moment::parse(&format!("2026-03-02T{:02}:{:02}:00Z", 8 + minute / 60, minute % 60)).unwrap()
}

fn measured(value: f64, uncertainty: f64) -> Measurement<Duration> {
    Measurement {
        value: Duration::from_seconds(value),
        uncertainty: Duration::from_seconds(uncertainty),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    }
}

pub(crate) fn history(facts: Vec<Fact>) -> History {
    let recorded = facts.into_iter().zip(1..).map(|(fact, entry)| Recorded {
        entry: EntryNumber(entry),
        at: moment(20 + entry),
        who: "Ana Ruiz".into(),
        fact,
    });
    History::replay(&library(), recorded).unwrap()
}

pub(crate) fn issue() -> Issue {
    Issue {
        number: ReportNumber(7),
        at: Moment::parse("2026-03-02T12:00:00.123456Z").unwrap(),
        by: "Ana Ruiz".into(),
        head: (EntryNumber(30), EvidenceHash([0xab; 32])),
        root: EvidenceHash([0xcd; 32]),
        made_by: "cinderbook 0.1.0".into(),
        language: Language::English,
        supersedes: None,
        read_again: vec![],
        photos: vec![],
    }
}

/// The report of a record in which the specimens burn so long, in order.
fn report(burns: &[i64], rule: DecisionRule) -> Content {
    let mut facts = before(rule);
    facts.extend(burns.iter().zip(1..).map(|(burns, specimen)| ran(specimen, *burns)));
    compose(&history(facts), PLAN, &issue()).unwrap()
}

#[test]
fn a_first_specimen_that_fails_and_two_further_ones_that_meet() {
    let content = report(&[41_000_000, 12_300_000, 29_960_000], DecisionRule::SimpleAcceptance);
    let conformity = &content.conformity;
    assert_eq!(conformity.standing, Standing::Meets);
    assert_eq!(conformity.criteria[0].stood, Stood::Kept, "the further specimens decide");
    assert!(conformity.criteria[0].decided_by.starts_with("no. 1: 41.0 s ± 0.2 s, not kept;"));
    assert!(conformity.decided_by.contains("lets 2 more decide, and all of them met"));
    assert_eq!(conformity.criteria[0].limit.as_deref(), Some("≤ 30 s"));
    assert!(conformity.criteria[0].clause.starts_with("IEC 60335-1 ed. 5, Annex E, on 11"));
    assert_eq!(conformity.criteria[0].number_stands, "seen in the edition");
    let burning: Vec<String> =
        content.specimens.iter().map(|it| it.burning.as_ref().unwrap().text()).collect();
    assert_eq!(burning, ["41.0 s ± 0.2 s", "12.3 s ± 0.2 s", "30.0 s ± 0.2 s"]);
    assert!(conformity.near_limit.as_ref().unwrap().contains("0.04 s away from its limit"));
    let counts: Vec<bool> =
        content.confirmations[0].determinations.iter().map(|it| it.counts).collect();
    assert_eq!(counts, [true, false, true, true]);
    let rise = content.confirmations[0].determinations[0].rise.as_ref().unwrap();
    let factor = rise.uncertainty.as_ref().unwrap().coverage_factor;
    assert!((factor - 2.28).abs() < 1e-9, "GUM table G.2, 95.45 %, 10 degrees of freedom: 2.28");
    assert_eq!(content.issued, "2026-03-02T12:00:00Z");
    assert!(content.made_up.is_some());
    let pdf = written("record.pdf", &render(&content, &Attachments::default()).unwrap());
    let said = words(&pdf);
    for words in [
        "Report number R-7",
        "Void: the block touched the tube",
        "Refused at readiness: nobody acknowledged the cautions for plan P-1.",
        "Ana Ruiz, authorised to issue reports",
        "not known to the laboratory",
        "held by a clamp",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

#[test]
fn a_value_just_over_its_limit_is_never_printed_as_the_limit() {
    let content = report(&[30_000_001], DecisionRule::SimpleAcceptance);
    assert_eq!(content.specimens[0].burning.as_ref().unwrap().shown, "30.000001");
    assert_eq!(content.conformity.standing, Standing::NotJudged);
    assert_eq!(content.conformity.decided_by, "2 further specimens are to be tested.");
}

#[test]
fn a_value_too_near_its_limit_for_a_guard_band_is_undecided() {
    let rule = DecisionRule::GuardBand { ratio: 1.0, coverage_factor: 2.0 };
    let content = report(&[29_900_000], rule);
    assert_eq!(content.conformity.standing, Standing::Undecided);
    assert!(content.conformity.risk.contains("w = 1 · U with k = 2"), "{:?}", content.conformity);
}

#[test]
fn a_number_verified_by_the_laboratory_says_so() {
    let mut facts = before(DecisionRule::SimpleAcceptance);
    facts.push(ran(1, 5_000_000));
    facts.push(Fact::NumberVerified {
        rules: "iec-60335-1/5".into(),
        key: Key("criteria.duration-of-burning".into()),
        text: "≤ 30 s".into(),
        copy: "the laboratory's own".into(),
    });
    let content = compose(&history(facts), PLAN, &issue()).unwrap();
    let stands = &content.conformity.criteria[0].number_stands;
    assert!(stands.starts_with("verified by this laboratory (Ana Ruiz, 2026-03-02)"), "{stands}");
    let shows = content.conformity.what_it_shows.unwrap();
    assert!(shows.contains("at least 5.0 %"), "1 of 1 at 95 %: 0.05^(1/1); found {shows}");
}

#[test]
fn a_new_issue_names_the_one_it_replaces() {
    let mut facts = before(DecisionRule::SimpleAcceptance);
    facts.push(ran(1, 5_000_000));
    let supersedes = Some(Supersession {
        replaces: ReportNumber(6),
        reason: "a slip".into(),
        changes: vec!["The customer's address.".into()],
    });
    let content = compose(&history(facts), PLAN, &Issue { supersedes, ..issue() }).unwrap();
    assert_eq!(content.amends.unwrap().replaces, "R-6");
}

#[test]
fn nothing_to_report_is_refused() {
    let nothing = compose(&history(before(DecisionRule::SimpleAcceptance)), PLAN, &issue());
    assert_eq!(nothing.unwrap_err(), ComposeError::NothingTested { plan: PLAN });
    let unknown =
        compose(&history(before(DecisionRule::SimpleAcceptance)), PlanNumber(9), &issue());
    assert_eq!(unknown.unwrap_err(), ComposeError::UnknownPlan { plan: PlanNumber(9) });
    assert_eq!(compose(&History::default(), PLAN, &issue()), Err(ComposeError::NotOpened));
}

//! The record's order: what may follow what.

use crate::bench::{
    Book, PLAN, conditioning, determination, draft, drawn_up, gas, hours, method_alone, moment,
    observed, opened, plan, prepared,
};
use crate::refusals::confirmed_book;
use trial::fact::{Conditioned, EvidenceHash, Fact, IssuedReport, Language};
use trial::history::HistoryProblem;
use trial::moment::Elapsed;
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EntryNumber, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::plan::Draft;
use trial::rules::RulesHash;
use trial::run::Ending;
use trial::verdict::{SpecimenStanding, VerdictStanding};

fn whole() -> Draft {
    draft(method_alone("30 s"))
}

fn run(specimen: u32) -> Fact {
    let observed = observed(specimen, &plan(whole()));
    let (plan, confirmation) = (PLAN, ConfirmationNumber(1));
    Fact::RunRecorded { plan, confirmation, observed: Box::new(observed) }
}

fn verdict(book: &Book) -> Fact {
    let verdict = book.history().judge(PLAN).unwrap();
    Fact::VerdictReached { plan: PLAN, standing: verdict.standing, account: verdict.account() }
}

pub(crate) fn report(number: u32) -> Fact {
    Fact::ReportIssued(IssuedReport {
        number: ReportNumber(number),
        plan: PLAN,
        supersedes: None,
        content: EvidenceHash([1; 32]),
        pdf: EvidenceHash([2; 32]),
        head: (EntryNumber(1), EvidenceHash([3; 32])),
        language: Language::English,
    })
}

pub(crate) fn whole_path() -> Book {
    let book =
        confirmed_book(&whole()).at(hours(1), run(1)).at(hours(1), run(2)).at(hours(1), run(3));
    let verdict = verdict(&book);
    book.at(hours(2), verdict).at(hours(2), report(1))
}

#[test]
fn the_whole_path_replays_and_answers() {
    let history = whole_path().history();
    assert!(history.made_up());
    assert_eq!(history.plan(PLAN).unwrap().draft(), &whole());
    assert_eq!(history.used_specimens(PLAN), [1, 2, 3].map(SpecimenNumber));
    assert_eq!(history.verdict(PLAN).unwrap().standing, VerdictStanding::Meets);
    assert_eq!(history.verdict(PLAN).unwrap().account, history.judge(PLAN).unwrap().account());
    assert_eq!(history.reports().len(), 1);
    assert_eq!(history.confirmed(PLAN, ConfirmationNumber(1)).unwrap().held().len(), 3);
}

#[test]
fn a_report_closes_a_plan_and_what_goes_on_with_a_specimen_opens_it_again() {
    let open = |book: &Book| book.history().open_plans().collect::<Vec<_>>();
    assert_eq!(open(&opened()), []);
    assert_eq!(open(&prepared(&whole())), [PLAN]);
    let reported = whole_path();
    assert_eq!(open(&reported), []);
    assert_eq!(reported.history().last_plan(), Some(PLAN));
    let later = reported.at(
        hours(3),
        Fact::SpecimenSpoilt {
            plan: PLAN,
            specimen: SpecimenNumber(3),
            reason: "a draught was found on the film".into(),
        },
    );
    assert_eq!(open(&later), [PLAN]);
    assert_eq!(open(&later.at(hours(4), report(2))), []);
}

#[test]
fn impossible_orders_are_refused() {
    let ready = || prepared(&whole()).add(Fact::ReadinessFound { plan: PLAN });
    let confirmed_by = |number| Fact::FlameConfirmed {
        number: ConfirmationNumber(1),
        plan: PLAN,
        determinations: vec![DeterminationNumber(number)],
    };
    let made = |number| Fact::DeterminationRecorded(Box::new(determination(number)));
    let void =
        || Fact::DeterminationVoided { number: DeterminationNumber(1), reason: "draught".into() };
    let spoilt = |specimen| Fact::SpecimenSpoilt {
        plan: PLAN,
        specimen: SpecimenNumber(specimen),
        reason: "draught".into(),
    };
    let rows = [
        ("a book is opened once", opened().add(opened().entries[0].fact.clone())),
        ("opened once, by its first", Book::default().add(gas("G-1"))),
        ("lot G-1 is in the record already", opened().add(gas("G-1"))),
        ("plan P-1 is not in the record", opened().add(Fact::ReadinessFound { plan: PLAN })),
        ("plan P-1 is in the record already", prepared(&whole()).add(drawn_up(&whole()))),
        ("the readiness of a plan comes first", prepared(&whole()).add(made(1))),
        ("D-1, not taken", ready().add(confirmed_by(1))),
        ("determination D-1 is in the record already", ready().add(made(1)).add(made(1))),
        ("void D-1", ready().add(made(1)).add(void()).add(confirmed_by(1))),
        ("since the gas changed", ready().add(made(1)).add(gas("G-2")).add(confirmed_by(1))),
        ("determination D-1 is not in the record", ready().add(void())),
        ("the readiness of plan P-1 comes first", prepared(&whole()).add(run(1))),
        ("confirmation C-1 comes first", ready().add(run(1))),
        (
            "a new confirmation, since gas lot G-2",
            confirmed_book(&whole()).add(gas("G-2")).add(run(1)),
        ),
        ("specimen 13 is not in the record", confirmed_book(&whole()).add(run(13))),
        ("a run of specimen 1 is in", confirmed_book(&whole()).add(run(1)).add(run(1))),
        ("a run of specimen 1 is in", confirmed_book(&whole()).add(spoilt(1)).add(run(1))),
        ("specimen 13 is not in the record", confirmed_book(&whole()).add(spoilt(13))),
        ("a run of plan P-1 comes first", ready().add(verdict(&ready()))),
        ("a verdict on plan P-1 comes first", confirmed_book(&whole()).add(run(1)).add(report(1))),
        ("report R-1 is in the record already", whole_path().at(hours(2), report(1))),
        ("before the entry before it", opened().at(moment("2026-03-01T09:00:00Z"), gas("G-2"))),
    ];
    for (text, book) in rows {
        let error = book.replay().unwrap_err();
        assert!(error.to_string().contains(text), "{text}: {error}");
        assert!(error.hint().ends_with('.'));
    }
}

#[test]
fn an_entry_out_of_number_is_refused() {
    let mut book = opened();
    book.entries.last_mut().unwrap().entry = EntryNumber(99);
    let error = book.replay().unwrap_err();
    assert!(matches!(error.problem, HistoryProblem::Number { last: 9 }), "{error}");
}

#[test]
fn a_parent_must_be_there_and_rules_must_be_at_hand() {
    let mut child = whole();
    child.parent = Some(PlanNumber(7));
    let error = opened().add(drawn_up(&child)).replay().unwrap_err();
    assert!(error.to_string().contains("plan P-7 is not in the record"), "{error}");
    let Fact::PlanDrawnUp { draft, mut rules } = drawn_up(&whole()) else {
        panic!("not a plan");
    };
    rules[0].hash = RulesHash([9; 32]);
    let error = opened().add(Fact::PlanDrawnUp { draft, rules }).replay().unwrap_err();
    assert!(matches!(error.problem, HistoryProblem::Rules { .. }), "{error}");
}

#[test]
fn a_spoilt_specimen_is_replaced_also_after_its_run() {
    let spoilt =
        Fact::SpecimenSpoilt { plan: PLAN, specimen: SpecimenNumber(2), reason: "draught".into() };
    let book = whole_path().at(hours(3), spoilt);
    let judged = book.history().judge(PLAN).unwrap();
    assert_eq!(judged.standing, VerdictStanding::NotYet { further: 1 });
    assert_eq!(judged.judged[1].standing, SpecimenStanding::NotJudged);
    let judged = book.at(hours(3), run(4)).history().judge(PLAN).unwrap();
    assert_eq!(judged.standing, VerdictStanding::Meets);
}

#[test]
fn further_specimens_are_added_with_a_reason() {
    let added = |number| Fact::SpecimensAdded {
        plan: PLAN,
        specimens: vec![SpecimenNumber(number)],
        reason: "one was spoilt".into(),
    };
    let book = confirmed_book(&whole()).add(added(13)).add(run(13));
    assert_eq!(book.history().used_specimens(PLAN), [SpecimenNumber(13)]);
    assert!(confirmed_book(&whole()).add(added(1)).replay().is_err());
}

#[test]
fn a_correction_holds_and_the_corrected_entry_stays() {
    let book = confirmed_book(&whole()).at(hours(1), run(1)).at(hours(1), run(2));
    let entry = EntryNumber(u64::try_from(book.entries.len()).unwrap());
    let mut right = observed(2, &plan(whole()));
    right.flames = Ending::Out(Elapsed::from_microseconds(70_000_000));
    let by = Fact::RunRecorded {
        plan: PLAN,
        confirmation: ConfirmationNumber(1),
        observed: Box::new(right),
    };
    let corrected = |by: Option<Fact>| Fact::Corrected {
        entry,
        reason: "the end was typed for another specimen".into(),
        by: by.map(Box::new),
    };
    let history = book.clone().at(hours(2), corrected(Some(by))).history();
    assert_eq!(history.judge(PLAN).unwrap().standing, VerdictStanding::DoesNotMeet);
    assert_eq!(history.entries()[history.entries().len() - 2].fact, run(2));
    assert_eq!(history.corrections(entry).len(), 1);
    let history = book.clone().at(hours(2), corrected(None)).history();
    assert_eq!(history.used_specimens(PLAN), [SpecimenNumber(1)]);
    let other_kind = corrected(Some(gas("G-9")));
    assert!(book.clone().at(hours(2), other_kind).replay().is_err());
    let opening = Fact::Corrected { entry: EntryNumber(1), reason: "x".into(), by: None };
    assert!(book.at(hours(2), opening).replay().is_err());
}

#[test]
fn a_correction_that_makes_the_order_impossible_changes_nothing() {
    let mut history = whole_path().history();
    let before = history.entries().len();
    let entry = history
        .entries()
        .iter()
        .find(|recorded| matches!(recorded.fact, Fact::ReadinessFound { .. }))
        .unwrap()
        .entry;
    let book = whole_path()
        .at(hours(3), Fact::Corrected { entry, reason: "not ready after all".into(), by: None });
    let next = book.entries.last().unwrap().clone();
    assert!(history.follow(&crate::bench::library(), next).is_err());
    assert_eq!(history.entries().len(), before);
    assert_eq!(history.judge(PLAN).unwrap().standing, VerdictStanding::Meets);
}

#[test]
fn a_verified_number_is_verified_with_its_value_only() {
    let fact = Fact::NumberVerified {
        rules: "iec-60695-11-5/2016".into(),
        key: "confirmation.rise-time".into(),
        text: "23.5 s ± 1.0 s".into(),
        copy: "the laboratory's copy 4".into(),
    };
    let history = opened().add(fact).add(gas("G-5")).history();
    let verified = |text| {
        history.verified(&"iec-60695-11-5/2016".into(), &"confirmation.rise-time".into(), text)
    };
    assert!(verified("23.5 s ± 1.0 s").is_some());
    assert!(verified("23.5 s ± 2.0 s").is_none());
}

#[test]
fn conditioning_belongs_to_a_plan() {
    let error = opened().add(conditioning(Conditioned::Layer, 24)).replay().unwrap_err();
    assert!(error.to_string().contains("plan P-1 is not in the record"), "{error}");
}

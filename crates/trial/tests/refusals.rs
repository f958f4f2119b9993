//! The table of refusals: one row a reason, in order of precedence. A stage gives all its findings
//! at once, so each row breaks one thing and finds exactly that.

use crate::bench::{
    Book, PLAN, calibration, conditioning, confirmed, determinations, draft, drawn_up, equipment,
    gas, hours, kinds, library, method_alone, observed, opened, person, plan, prepared, ready,
    seconds,
};
use metrology::decision::DecisionRule;
use metrology::{Length, Ratio, Temperature};
use trial::confirmation::{Determination, DeterminationSource, confirm, still_holds};
use trial::fact::{Authorisation, Conditioned, EquipmentKind, Fact};
use trial::finding::FindingKind::{self, *};
use trial::moment::Elapsed;
use trial::number::{ConfirmationNumber, PlanNumber, SpecimenNumber};
use trial::plan::{Draft, LayerChosen, draw_up};
use trial::readiness::check;
use trial::requirement::{Choice, Ordered};
use trial::run::{
    Application, Ending, LayerOutcome, Mark, MarkKind, Observed, Run, TimedEnd, record,
};
use trial::verdict::{VerdictStanding, judge};

type Change<T> = fn(&mut T);

fn whole() -> Draft {
    draft(method_alone("30 s"))
}

fn ordered(change: Change<Ordered>) -> Ordered {
    let mut ordered = method_alone("30 s");
    change(&mut ordered);
    ordered
}

#[test]
fn a_plan_is_refused_for_each_of_these() {
    let rows: &[(FindingKind, &str, Change<Draft>)] = &[
        (Missing, "job", |draft| draft.job.clear()),
        (Missing, "customer's name", |draft| draft.customer.name = " ".into()),
        (Missing, "customer's address", |draft| draft.customer.address.clear()),
        (Missing, "description of the part", |draft| draft.part.description.clear()),
        (Missing, "identification of the part", |draft| draft.part.identification.clear()),
        (Missing, "position of the specimen", |draft| draft.position.clear()),
        (Missing, "point of application", |draft| draft.points = vec![String::new()]),
        (Missing, "names no equipment", |draft| draft.equipment.clear()),
        (Missing, "without a word", |draft| draft.layer = LayerChosen::NotUsed(String::new())),
        (Choice, "its parent", |draft| draft.parent = Some(PLAN)),
        (Choice, "longest age", |draft| draft.confirmation_age_max = Some(seconds(0.0))),
        (Choice, "rule of the verdict", |draft| {
            draft.decision_rule = DecisionRule::GuardBand { ratio: -1.0, coverage_factor: 2.0 };
        }),
        (Choice, "rule of the confirmation", |draft| {
            draft.confirmation_rule = DecisionRule::GuardBand { ratio: 1.0, coverage_factor: 0.0 };
        }),
        (Specimen, "listed twice", |draft| draft.specimens.push(SpecimenNumber(1))),
        (Specimen, "2 specimens are listed", |draft| draft.specimens.truncate(2)),
        (Choice, "not at hand", |draft| draft.ordered.method = "iec-60695-11-5/1980".into()),
        (Choice, "not at hand", |draft| draft.ordered.profile = Some("iec-99999/1".into())),
        (Choice, "is a profile", |draft| draft.ordered.method = "iacs-e10/10".into()),
        (Choice, "belongs to no profile", |draft| draft.ordered.variant = Some("part".into())),
        (Choice, "goes with", |draft| {
            draft.ordered = Ordered {
                method: "iec-60695-11-5/2004".into(),
                profile: Some("iacs-e10/10".into()),
                variant: Some("once".into()),
                choices: vec![],
            };
        }),
        (Choice, "the plan names none", |draft| {
            draft.ordered.profile = Some("iec-60335-1/5".into());
        }),
        (Choice, "the plan names whole", |draft| {
            draft.ordered.profile = Some("iec-60335-1/5".into());
            draft.ordered.variant = Some("whole".into());
        }),
        (Choice, "has no variants", |draft| {
            draft.ordered.profile = Some("iec-60598-1/2020".into());
            draft.ordered.variant = Some("part".into());
        }),
        (Choice, "no duration of application", |draft| draft.ordered.choices.clear()),
        (Choice, "has no reason", |draft| {
            draft.ordered.choices[0].value = "25 s".into();
            draft.ordered.choices[0].reason.clear();
        }),
        (Choice, "is not known", |draft| {
            draft.ordered.choices.push(crate::bench::chosen("flame.colour", "12 mm"));
        }),
        (Choice, "has no unit", |draft| draft.ordered.choices[0].value = "30".into()),
        (Choice, "not one of", |draft| draft.ordered.choices[0].value = "30 mm".into()),
    ];
    for (kind, text, change) in rows {
        let mut changed = whole();
        change(&mut changed);
        let findings = draw_up(changed, &library()).unwrap_err();
        let said = findings.iter().any(|it| it.kind == *kind && it.text.contains(text));
        assert!(said, "{text}: {findings:?}");
        assert!(findings.iter().all(|finding| finding.hint.ends_with('.')), "{findings:?}");
    }
}

#[test]
fn a_preferred_duration_needs_no_reason_and_all_findings_come_at_once() {
    let mut free = whole();
    free.ordered.choices[0].reason.clear();
    assert!(draw_up(free, &library()).is_ok());
    let mut bad = whole();
    bad.job.clear();
    bad.specimens.truncate(1);
    bad.ordered = ordered(|ordered| {
        ordered.choices[0] = Choice {
            key: "application.duration".into(),
            value: "30 s".into(),
            reason: String::new(),
        }
    });
    assert_eq!(kinds(&draw_up(bad, &library()).unwrap_err()), [Missing, Specimen]);
}

#[test]
fn readiness_is_refused_for_each_of_these() {
    let specimens = || Conditioned::Specimens((1..=12).map(SpecimenNumber).collect());
    let with = |change: Change<Draft>| {
        let mut changed = whole();
        change(&mut changed);
        changed
    };
    let bare = || opened().add(drawn_up(&whole()));
    let stored = |book: Book, long: i64| {
        book.add(conditioning(specimens(), long)).add(conditioning(Conditioned::Layer, 48))
    };
    let cautions = || Fact::CautionsAcknowledged { plan: PLAN };
    let withdrawn = || Fact::EquipmentWithdrawn { equipment: "TC-1".into(), reason: "bent".into() };
    let not_to_test =
        Fact::PersonAdmitted { person: person(), authorisations: vec![Authorisation::Issue] };
    let no_block = with(|draft| draft.equipment.retain(|it| it.0 != "CB-1"));
    let unknown = with(|draft| draft.equipment.push("X-9".into()));
    let rows = [
        ("no block", prepared(&no_block), no_block, vec![Equipment]),
        ("unregistered", prepared(&unknown), unknown, vec![Equipment]),
        ("withdrawn", prepared(&whole()).add(withdrawn()), whole(), vec![Equipment]),
        ("not conditioned", bare().add(cautions()), whole(), vec![Conditioning; 13]),
        ("23 h", stored(bare(), 23).add(cautions()), whole(), vec![Conditioning; 12]),
        ("no cautions", stored(bare(), 24), whole(), vec![Cautions]),
        ("not authorised", prepared(&whole()).add(not_to_test), whole(), vec![Person]),
    ];
    for (what, book, draft, expected) in rows {
        let history = book.history();
        let findings = check(&plan(draft), &history, &person(), hours(0)).unwrap_err();
        assert_eq!(kinds(&findings), expected, "{what}: {findings:?}");
    }
    let history = prepared(&whole()).history();
    let stranger = check(&plan(whole()), &history, &"Nobody".into(), hours(0)).unwrap_err();
    assert_eq!(kinds(&stranger), [Person]);
}

#[test]
fn a_storage_outside_its_ranges_is_none() {
    let fact = |change: Change<trial::fact::Conditioning>| {
        let Fact::ConditioningRecorded(mut stored) = conditioning(Conditioned::Layer, 48) else {
            panic!("not a conditioning");
        };
        change(&mut stored);
        Fact::ConditioningRecorded(stored)
    };
    let rows: [(&str, Change<trial::fact::Conditioning>); 4] = [
        ("14.9 °C", |it| it.temperature.from = Temperature::from_celsius(14.9)),
        ("35.1 °C", |it| it.temperature.to = Temperature::from_celsius(35.1)),
        ("44 %", |it| it.humidity.from = Ratio::from_percent(44.0)),
        ("76 %", |it| it.humidity.to = Ratio::from_percent(76.0)),
    ];
    let base = opened()
        .add(drawn_up(&whole()))
        .add(conditioning(Conditioned::Specimens(whole().specimens), 24))
        .add(Fact::CautionsAcknowledged { plan: PLAN });
    for (what, change) in rows {
        let history = base.clone().add(fact(change)).history();
        let findings = check(&plan(whole()), &history, &person(), hours(0)).unwrap_err();
        assert_eq!(kinds(&findings), [Conditioning], "{what}");
        assert!(findings[0].text.contains(what.split(' ').next().unwrap()), "{findings:?}");
    }
    let history = base.add(fact(|_| ())).history();
    assert!(check(&plan(whole()), &history, &person(), hours(0)).is_ok());
}

#[test]
fn calibration_holds_on_its_last_day_and_not_after() {
    let base = || prepared(&whole()).add(equipment("L-1", EquipmentKind::Logger));
    let mut with_logger = whole();
    with_logger.equipment.push("L-1".into());
    let rows = [
        ("last day", Some(("2025-01-01", "2026-03-02")), vec![]),
        ("day after", Some(("2025-01-01", "2026-03-01")), vec![Calibration]),
        ("none", None, vec![Calibration]),
        ("only a later one", Some(("2026-03-03", "2027-03-03")), vec![Calibration]),
    ];
    for (what, dates, expected) in rows {
        let book = match dates {
            Some((on, due)) => base().add(calibration("L-1", on, due)),
            None => base(),
        };
        let found = check(&plan(with_logger.clone()), &book.history(), &person(), hours(0));
        assert_eq!(kinds(&found.err().unwrap_or_default()), expected, "{what}");
    }
}

#[test]
fn a_confirmation_is_refused_for_each_of_these() {
    let rows: &[(FindingKind, Change<Determination>)] = &[
        (BlockWarm, |it| it.start = Temperature::from_celsius(50.0)),
        (FlameHeight, |it| it.flame_height = Some(Length::from_millimetres(13.1))),
        (SecondPerson, |it| {
            it.source = DeterminationSource::Typed { by: person(), seconded: None };
        }),
        (SecondPerson, |it| {
            it.source = DeterminationSource::Typed { by: person(), seconded: Some(person()) };
        }),
        (Equipment, |it| it.block = "CB-2".into()),
        (Lapsed, |it| it.gas = "G-0".into()),
        (RiseTime, |it| it.rise_time.as_mut().unwrap().value = seconds(24.6)),
        (Determinations, |it| it.void = Some("draught".into())),
    ];
    let ready = ready(&whole());
    for (kind, change) in rows {
        let mut made = determinations();
        change(&mut made[1]);
        let findings = confirm(&ready, ConfirmationNumber(1), &made).unwrap_err();
        assert_eq!(kinds(&findings), [*kind]);
    }
    let mut typed = determinations();
    typed[0].source =
        DeterminationSource::Typed { by: person(), seconded: Some("B. Made-Up".into()) };
    typed[1].flame_height = Some(Length::from_millimetres(13.0));
    assert!(confirm(&ready, ConfirmationNumber(1), &typed).is_ok());
}

#[test]
fn a_confirmation_lapses_with_the_gas_and_with_its_age() {
    let mut aging = whole();
    aging.confirmation_age_max = Some(seconds(4.0 * 3600.0));
    let book = confirmed_book(&aging);
    let held = |book: &Book, at| {
        let history = book.history();
        still_holds(&history.ready(PLAN).unwrap(), &history, at)
    };
    assert!(held(&book, hours(4)).is_ok());
    assert_eq!(kinds(&held(&book, hours(5)).unwrap_err()), [Lapsed]);
    assert_eq!(kinds(&held(&book.clone().add(gas("G-2")), hours(1)).unwrap_err()), [Lapsed]);
    let voided =
        Fact::DeterminationVoided { number: determinations()[0].number, reason: "x".into() };
    assert_eq!(kinds(&held(&book.add(voided), hours(1)).unwrap_err()), [Lapsed]);
    let ready_only = prepared(&aging).add(Fact::ReadinessFound { plan: PLAN });
    assert_eq!(kinds(&held(&ready_only, hours(1)).unwrap_err()), [Lapsed]);
}

pub(crate) fn confirmed_book(draft: &Draft) -> Book {
    let mut book = prepared(draft).add(Fact::ReadinessFound { plan: PLAN });
    for determination in determinations() {
        book = book.add(Fact::DeterminationRecorded(Box::new(determination)));
    }
    book.add(Fact::FlameConfirmed {
        number: ConfirmationNumber(1),
        plan: PLAN,
        determinations: determinations().iter().map(|it| it.number).collect(),
    })
}

/// The layer caught fire this many microseconds after the flame came.
fn caught(seen: &mut Observed, at: i64) {
    let at = Elapsed::from_microseconds(at);
    seen.marks.push(Mark { at, kind: MarkKind::LayerCaught, words: String::new() });
    seen.layer = LayerOutcome::Flamed;
}

#[test]
fn a_run_is_refused_for_each_of_these() {
    let rows: &[(FindingKind, Change<Observed>)] = &[
        (Specimen, |seen| seen.specimen = SpecimenNumber(13)),
        (Order, |seen| seen.began = hours(-1)),
        (Lapsed, |seen| seen.began = hours(9)),
        (Order, |seen| seen.applications[0].removed = Elapsed::ZERO),
        (Order, |seen| seen.flames = Ending::Out(Elapsed::from_microseconds(29_999_999))),
        (Order, |seen| seen.glow = Ending::Out(Elapsed::from_microseconds(-1))),
        (Order, |seen| seen.surroundings = Ending::Out(Elapsed::from_microseconds(-1))),
        (Order, |seen| {
            caught(seen, 7_400_000);
            seen.surroundings = Ending::Out(Elapsed::from_microseconds(7_399_999));
        }),
        (Order, |seen| seen.timing_uncertainty = seconds(-0.1)),
        (Applications, |seen| {
            let on = Elapsed::from_microseconds(31_000_000);
            let removed = Elapsed::from_microseconds(61_000_000);
            seen.applications.push(Application { on, removed });
        }),
        (Applications, |seen| seen.applications.clear()),
        (Missing, |seen| seen.layer = LayerOutcome::NotUsed),
        (Missing, |seen| seen.layer = LayerOutcome::Flamed),
        (Contradiction, |seen| {
            caught(seen, 7_400_000);
            seen.layer = LayerOutcome::Unchanged;
        }),
    ];
    let mut aging = whole();
    aging.confirmation_age_max = Some(seconds(8.0 * 3600.0));
    let confirmed = confirmed(&aging);
    for (kind, change) in rows {
        let mut seen = observed(1, confirmed.ready().plan());
        change(&mut seen);
        assert_eq!(kinds(&record(&confirmed, seen).unwrap_err()), [*kind]);
    }
}

/// What happens in the same microsecond is in order.
#[test]
fn a_run_is_in_order_up_to_the_very_moment() {
    let twice = confirmed(&draft(ordered_twice()));
    let mut seen = observed(1, twice.ready().plan());
    let [on, removed] = [30_000_000, 60_000_000].map(Elapsed::from_microseconds);
    seen.applications.push(Application { on, removed });
    caught(&mut seen, 7_400_000);
    seen.flames = Ending::Out(removed);
    seen.glow = Ending::Out(Elapsed::ZERO);
    seen.surroundings = Ending::Out(Elapsed::from_microseconds(7_400_000));
    seen.timing_uncertainty = seconds(0.0);
    assert_eq!(record(&twice, seen).map(|run| run.pauses().to_vec()), Ok(vec![seconds(0.0)]));
}

/// The flame is removed at 30 s. In each row: how flames, glow and layer ended, in seconds; then
/// afterflame, afterglow and duration of burning.
#[test]
fn each_time_counts_from_its_own_beginning() {
    let rows: &[([Ending; 3], [f64; 3])] = &[
        ([out(41.7), out(44.0), Ending::None], [11.7, 2.3, 14.0]),
        ([Ending::None, out(31.5), Ending::None], [0.0, 1.5, 1.5]),
        ([out(41.7), Ending::None, Ending::None], [11.7, 0.0, 11.7]),
        // A glow that was over before the flames is none after them.
        ([out(41.7), out(35.0), Ending::None], [11.7, 0.0, 11.7]),
        // What went out under the flame counts as nothing.
        ([Ending::None, out(12.0), out(20.0)], [0.0, 0.0, 0.0]),
        ([out(33.0), Ending::None, out(20.0)], [3.0, 0.0, 3.0]),
        ([out(33.0), Ending::None, out(50.0)], [3.0, 0.0, 20.0]),
    ];
    let confirmed = confirmed(&whole());
    for ([flames, glow, surroundings], times) in rows {
        let mut seen = observed(1, confirmed.ready().plan());
        caught(&mut seen, 7_400_000);
        seen.flames = *flames;
        seen.glow = *glow;
        seen.surroundings = *surroundings;
        if *surroundings == Ending::None {
            seen.marks.clear();
            seen.layer = LayerOutcome::Unchanged;
        }
        let run = record(&confirmed, seen).unwrap();
        let found = [run.afterflame(), run.afterglow(), run.duration_of_burning()];
        assert_eq!(found.map(|timed| timed.time.value), times.map(seconds), "{flames:?} {glow:?}");
    }
}

fn out(seconds: f64) -> Ending {
    let text = format!("{seconds} s");
    Ending::Out(Elapsed::from_microseconds(crate::bench::microseconds(&text)))
}

#[test]
fn a_glow_put_out_by_hand_before_the_removal_cuts_nothing_short() {
    let confirmed = confirmed(&whole());
    let mut seen = observed(1, confirmed.ready().plan());
    seen.glow = Ending::PutOutByHand(Elapsed::from_microseconds(12_000_000));
    seen.flames = out(33.0);
    let run = record(&confirmed, seen.clone()).unwrap();
    assert_eq!(run.duration_of_burning().end, TimedEnd::ByItself);
    seen.glow = Ending::PutOutByHand(Elapsed::from_microseconds(36_000_000));
    let run = record(&confirmed, seen).unwrap();
    assert_eq!(run.duration_of_burning().end, TimedEnd::ByHand);
    assert_eq!(run.afterglow().end, TimedEnd::ByHand);
    assert_eq!(run.afterflame().end, TimedEnd::ByItself);
}

#[test]
fn a_run_without_a_demanded_length_or_with_overlapping_flames_is_refused() {
    let ordered = Ordered {
        method: "iec-60695-11-5/2016".into(),
        profile: Some("iacs-e10/10".into()),
        variant: Some("once".into()),
        choices: vec![],
    };
    let e10 = confirmed(&draft(ordered));
    let seen = observed(1, e10.ready().plan());
    assert_eq!(kinds(&record(&e10, seen).unwrap_err()), [Missing]);
    let twice = confirmed(&draft(ordered_twice()));
    let mut seen = observed(1, twice.ready().plan());
    let on = Elapsed::from_microseconds(29_000_000);
    let removed = Elapsed::from_microseconds(59_000_000);
    seen.applications.push(Application { on, removed });
    assert_eq!(kinds(&record(&twice, seen).unwrap_err()), [Order]);
}

fn ordered_twice() -> Ordered {
    ordered(|ordered| {
        ordered.choices.push(crate::bench::chosen("application.count", "2 applications"));
    })
}

#[test]
fn a_run_in_other_air_is_kept_and_not_judged() {
    let confirmed = confirmed(&whole());
    let plan = confirmed.ready().plan();
    let rows = [(35.0, 75.0, true), (35.1, 75.0, false), (14.9, 50.0, false), (20.0, 75.1, false)];
    for (celsius, percent, valid) in rows {
        let mut seen = observed(1, plan);
        seen.air.temperature = Temperature::from_celsius(celsius);
        seen.air.humidity = Ratio::from_percent(percent);
        let run = record(&confirmed, seen).unwrap();
        assert_eq!(run.departures().is_empty(), valid, "{celsius} °C, {percent} %");
    }
}

#[test]
fn runs_of_another_plan_are_not_judged() {
    let mut other = whole();
    other.number = PlanNumber(2);
    let other = plan(other);
    let confirmed = confirmed(&whole());
    let run: Run = record(&confirmed, observed(1, confirmed.ready().plan())).unwrap();
    let verdict = judge(&other, &[run]);
    assert_eq!(verdict.standing, VerdictStanding::NotJudged);
    assert_eq!(kinds(&verdict.findings), [OtherPlan]);
}

//! The base line of the flame: on what it may be frozen, and what of it the record keeps.

use crate::bench::{
    Book, PLAN, determination, draft, equipment, hours, method_alone, prepared, rise_time,
};
use metrology::{Area, DegreesOfFreedom, Mass, Measurement};
use trial::base_line::{BaseLine, FreezeFinding, Restart, RestartCause, freeze, proposed};
use trial::confirmation::Determination;
use trial::fact::{Cooling, EquipmentKind, Fact, Weighing};
use trial::number::{BaseLineNumber, ConfirmationNumber, DeterminationNumber, EntryNumber};

/// A book with so many confirmations, three determinations each; `change` alters what was made.
pub(crate) fn confirmed_often(number: u32, change: impl Fn(u32, &mut Determination)) -> Book {
    let mut book = prepared(&draft(method_alone("30 s"))).add(Fact::ReadinessFound { plan: PLAN });
    for confirmation in 1..=number {
        let determinations: Vec<u32> = (3 * confirmation - 2..=3 * confirmation).collect();
        for number in &determinations {
            let mut made = determination(*number);
            // 23.4 s, 23.5 s, 23.6 s and round again.
            made.rise_time = Some(rise_time(23.4 + f64::from(confirmation % 3) * 0.1));
            change(confirmation, &mut made);
            book = book.add(Fact::DeterminationRecorded(Box::new(made)));
        }
        book = book.add(Fact::FlameConfirmed {
            number: ConfirmationNumber(confirmation),
            plan: PLAN,
            determinations: determinations.into_iter().map(DeterminationNumber).collect(),
        });
    }
    book
}

fn all(number: u32) -> Vec<ConfirmationNumber> {
    (1..=number).map(ConfirmationNumber).collect()
}

fn texts(findings: &[FreezeFinding]) -> String {
    findings.iter().map(|it| format!("{it} {}\n", it.hint())).collect()
}

#[test]
fn twenty_confirmations_in_control_make_a_base_line_that_the_record_keeps() {
    let book = confirmed_often(20, |_, _| ());
    let history = book.history();
    assert_eq!(proposed(&history), all(20));
    let base_line = freeze(&history, &proposed(&history), None).unwrap();
    assert_eq!((base_line.number, base_line.determinations.len()), (BaseLineNumber(1), 60));
    let kept = book.at(hours(1), Fact::BaseLineFrozen(Box::new(base_line.clone()))).history();
    let holds = kept.base_line().unwrap();
    assert_eq!((&holds.base_line, holds.at), (&base_line, hours(1)));
    assert_eq!(holds.who, crate::bench::person());
    // Another one needs a reason, and keeps the earlier one.
    let again = freeze(&kept, &all(20), None).unwrap_err();
    assert!(texts(&again).contains("base line B-1 holds"), "{}", texts(&again));
    let restart = Restart { cause: RestartCause::Block, reason: "block CB-2".to_owned() };
    let next = freeze(&kept, &all(20), Some(restart.clone())).unwrap();
    assert_eq!((next.number, next.restart), (BaseLineNumber(2), Some(restart.clone())));
    let blank = Restart { reason: " ".to_owned(), ..restart };
    assert!(freeze(&kept, &all(20), Some(blank)).is_err());
}

#[test]
fn what_stands_against_a_base_line_is_said_all_at_once() {
    let book = confirmed_often(21, |confirmation, made| {
        if confirmation == 2 {
            made.thermocouple = "TC-0".into();
        }
        if confirmation == 9 {
            made.rise_time = Some(rise_time(24.9));
        }
    });
    let history = book.history();
    // Those after the change of the thermocouple.
    assert_eq!(proposed(&history), all(21)[2..]);
    let found = texts(&freeze(&history, &all(21), None).unwrap_err());
    assert!(found.contains("C-2 was made with TC-0, the ones after it with TC-1"), "{found}");
    assert!(found.contains("rise time of C-9 is 24.90 s; in control is 22."), "{found}");
    let found = texts(&freeze(&history, &all(22)[2..], None).unwrap_err());
    assert!(found.contains("confirmation C-22 is not in the record"), "{found}");
    assert!(found.contains("20 confirmations are needed, and there are 19"), "{found}");
    let reason = "a draught was found".to_owned();
    let void = book.add(Fact::DeterminationVoided { number: DeterminationNumber(15), reason });
    let found = texts(&freeze(&void.history(), &all(21), None).unwrap_err());
    assert!(found.contains("D-15, by which C-5 was confirmed, was found void since"), "{found}");
    assert!(!proposed(&void.history()).contains(&ConfirmationNumber(5)));
    assert_eq!(proposed(&prepared(&draft(method_alone("30 s"))).history()), []);
}

#[test]
fn a_base_line_on_what_is_not_in_the_record_cannot_follow() {
    let book = confirmed_often(1, |_, _| ());
    let frozen = |number, confirmations: &[u32], determinations: &[u32]| {
        Fact::BaseLineFrozen(Box::new(BaseLine {
            number: BaseLineNumber(number),
            confirmations: confirmations.iter().copied().map(ConfirmationNumber).collect(),
            determinations: determinations.iter().copied().map(DeterminationNumber).collect(),
            restart: None,
        }))
    };
    let cooling = |number| {
        let (determination, evidence) = (DeterminationNumber(number), crate::bench::evidence());
        Fact::CoolingKept(Cooling { determination, evidence, read_as: Vec::new() })
    };
    let weighed = |block: &str| {
        Fact::BlockWeighed(Weighing {
            block: block.into(),
            mass: Measurement {
                value: Mass::from_grams(0.581),
                uncertainty: Mass::from_grams(0.001),
                degrees_of_freedom: DegreesOfFreedom::Infinite,
            },
            area: Some(Area::from_square_millimetres(89.8)),
        })
    };
    for (fact, said) in [
        (frozen(1, &[], &[]), "a confirmation comes first"),
        (frozen(1, &[2], &[]), "confirmation C-2 is not in the record"),
        (frozen(1, &[1], &[4]), "D-4, counted by one of its confirmations, is not"),
        (cooling(9), "determination D-9 is not in the record"),
        (weighed("TC-1"), "copper block TC-1 is not in the record"),
    ] {
        let refused = book.clone().add(fact).replay().unwrap_err().to_string();
        assert!(refused.contains(said), "{refused}");
    }
    let twice = book.clone().add(frozen(1, &[1], &[1])).add(frozen(1, &[1], &[1]));
    assert!(twice.replay().unwrap_err().to_string().contains("base line B-1 is in the record"));
    let twice = book.clone().add(cooling(1)).add(cooling(1));
    assert!(twice.replay().unwrap_err().to_string().contains("a cooling of D-1 is in the"));
    // What was kept by mistake is withdrawn, and may be kept anew.
    let known = book.add(cooling(1)).add(weighed("CB-1")).add(frozen(1, &[1], &[1, 2, 3]));
    let history = known.history();
    assert!(history.cooling(DeterminationNumber(1)).is_some());
    assert_eq!(history.weighing(&"CB-1".into()).unwrap().mass.value, Mass::from_grams(0.581));
    let entry = EntryNumber(u64::try_from(known.entries.len()).unwrap());
    let reason = "frozen too early".to_owned();
    let withdrawn = known.add(Fact::Corrected { entry, reason, by: None }).history();
    assert_eq!(withdrawn.base_line(), None);
}

#[test]
fn another_burner_begins_another_row() {
    let (old, new) = ("B-1", "B-2");
    let book = confirmed_often(1, |_, _| ()).add(equipment(new, EquipmentKind::Burner));
    let mut second = draft(method_alone("30 s"));
    second.number = trial::number::PlanNumber(2);
    second.equipment.retain(|it| it.0 != old);
    second.equipment.push(new.into());
    let ready = Fact::ReadinessFound { plan: second.number };
    let mut book = book.add(crate::bench::drawn_up(&second)).add(ready);
    for number in 4..=6 {
        book = book.add(Fact::DeterminationRecorded(Box::new(determination(number))));
    }
    let determinations = (4..=6).map(DeterminationNumber).collect();
    let (number, plan) = (ConfirmationNumber(2), second.number);
    let history = book.add(Fact::FlameConfirmed { number, plan, determinations }).history();
    assert_eq!(proposed(&history), [number]);
    let found = texts(&freeze(&history, &all(2), None).unwrap_err());
    assert!(found.contains("C-1 was made with B-1, the ones after it with B-2"), "{found}");
}

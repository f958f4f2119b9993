//! Presses in the record: one timekeeper a specimen, nothing lost, take-overs on one clock.

use crate::bench::{Book, NOW, PLAN, draft, hours, library, method_alone, moment, prepared};
use trial::bench::{Act, DeviceId, Input, Press, SittingId, State};
use trial::fact::Fact;
use trial::history::History;
use trial::moment::{Elapsed, Moment};
use trial::number::{EntryNumber, PlanNumber, SpecimenNumber};
use trial::run::Ending;

const SPECIMEN: SpecimenNumber = SpecimenNumber(2);

/// A device and its sitting, both numbered alike.
#[derive(Clone, Copy)]
struct Tablet(u8);

impl Tablet {
    fn device(self) -> DeviceId {
        DeviceId([self.0; 16])
    }

    fn sitting(self) -> SittingId {
        SittingId([self.0; 16])
    }

    fn sends(self, presses: &[Press]) -> Fact {
        Fact::PressesKept {
            plan: PLAN,
            specimen: SPECIMEN,
            device: self.device(),
            sitting: self.sitting(),
            presses: presses.to_vec(),
        }
    }

    fn takes_over(self) -> Fact {
        Fact::TimekeeperTaken {
            plan: PLAN,
            specimen: SPECIMEN,
            device: self.device(),
            sitting: self.sitting(),
            reason: "the other tablet went dark".to_owned(),
        }
    }
}

const A: Tablet = Tablet(0xa);
const B: Tablet = Tablet(0xb);

/// A press `seconds` after its sitting was opened, which was `opened` s after the day began.
fn press(sequence: u32, opened: i64, seconds: i64, act: Act) -> Press {
    let wall = moment(NOW).unix_microseconds() + (opened + seconds) * 1_000_000;
    Press {
        sequence,
        at: Elapsed::from_microseconds(seconds * 1_000_000),
        wall: Moment::from_unix_microseconds(wall).unwrap(),
        act,
        input: Input::Switch,
        note: None,
    }
}

/// What tablet A was pressed: flame on after 5 s, removed after 35 s, out after 47 s.
fn of_a() -> Vec<Press> {
    vec![
        press(1, 0, 5, Act::FlameOn),
        press(2, 0, 35, Act::FlameRemoved),
        press(3, 0, 47, Act::FlamesOut),
        press(4, 0, 50, Act::GlowOut),
    ]
}

fn book() -> Book {
    prepared(&draft(method_alone("30 s")))
}

fn seconds(seconds: i64) -> Elapsed {
    Elapsed::from_microseconds(seconds * 1_000_000)
}

fn state(history: &History) -> State {
    history.standing(PLAN, SPECIMEN).unwrap().state
}

#[test]
fn batches_come_to_one_log_and_one_state() {
    let all = of_a();
    let book = book().add(A.sends(&all[..1])).add(A.sends(&all[1..3]));
    let history = book.history();
    assert_eq!(history.presses(PLAN, SPECIMEN), &all[..3]);
    assert_eq!(state(&history), State::Glow);
    let sitting = history.sitting(PLAN, SPECIMEN).unwrap();
    assert_eq!((sitting.device, sitting.log.kept_to()), (A.device(), 3));
    let history = book.add(A.sends(&all[3..])).history();
    let timing = history.standing(PLAN, SPECIMEN).unwrap().timing().unwrap();
    assert_eq!(timing.applications[0].removed, seconds(30));
    assert_eq!((timing.flames, timing.glow), (Ending::Out(seconds(42)), Ending::Out(seconds(45))));
    assert_eq!(history.presses(PLAN, SpecimenNumber(1)), []);
    assert_eq!(history.standing(PLAN, SpecimenNumber(1)).unwrap().state, State::Ready);
    assert_eq!(history.standing(PlanNumber(7), SPECIMEN), None);
}

#[test]
fn presses_that_cannot_follow_are_refused_and_change_nothing() {
    let all = of_a();
    let mut other = all[1].clone();
    other.act = Act::Mark;
    let elsewhere = Fact::PressesKept {
        plan: PLAN,
        specimen: SpecimenNumber(99),
        device: A.device(),
        sitting: A.sitting(),
        presses: all.clone(),
    };
    let another_device = Fact::PressesKept {
        plan: PLAN,
        specimen: SPECIMEN,
        device: B.device(),
        sitting: A.sitting(),
        presses: all[2..3].to_vec(),
    };
    let mut history = book().add(A.sends(&all[..2])).history();
    for (expected, fact) in [
        ("specimen 99 is not in the record", elsewhere),
        ("do not go on from press 2", A.sends(&all[3..])),
        ("do not go on from press 2", A.sends(&[])),
        ("do not go on from press 2", A.sends(&all[1..3])),
        ("press 2 is there already and says something else", A.sends(&[other])),
        ("of device 0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a is in the record", another_device),
        ("specimen 2 is timed by A. Made-Up on device 0a0a", B.sends(&all)),
        ("sitting 0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a as timekeeper", A.takes_over()),
    ] {
        let book = Book { entries: history.entries().to_vec() }.add(fact);
        let refused = history.follow(&library(), book.entries.last().unwrap().clone());
        let refused = refused.unwrap_err();
        assert!(refused.to_string().contains(expected), "{refused}");
        assert!(!refused.hint().is_empty());
        assert_eq!(history.presses(PLAN, SPECIMEN), &all[..2]);
        assert_eq!(history.sitting(PLAN, SPECIMEN).unwrap().log.kept_to(), 2);
    }
    let none = book().add(B.takes_over()).replay().unwrap_err();
    assert!(none.to_string().contains("a timekeeper of specimen 2 is not in the record"), "{none}");
}

/// Tablet A sends its first two presses and goes dark; B takes over, opened 30 s after A.
#[test]
fn a_take_over_goes_on_with_what_was_pressed_and_late_presses_are_kept() {
    let all = of_a();
    let on_b = [press(1, 30, 20, Act::FlamesOut), press(2, 30, 22, Act::NoGlow)];
    let book = book()
        .add(A.sends(&all[..2]))
        .at(hours(1), B.takes_over())
        .at(hours(1), B.sends(&on_b))
        .at(hours(2), A.sends(&all[2..]));
    let history = book.history();
    let sitting = history.sitting(PLAN, SPECIMEN).unwrap();
    assert_eq!((sitting.sitting, sitting.since), (B.sitting(), hours(1)));
    assert_eq!(sitting.taken_because.as_deref(), Some("the other tablet went dark"));
    let timing = history.standing(PLAN, SPECIMEN).unwrap().timing().unwrap();
    assert_eq!((timing.flames, timing.glow), (Ending::Out(seconds(45)), Ending::None));
    let of_a = history.sitting_of((PLAN, SPECIMEN), A.sitting()).unwrap();
    assert_eq!(of_a.log.presses(), all, "late, kept, and not counted");
    assert_eq!(history.presses(PLAN, SPECIMEN).len(), 4);
    // A's presses came 35 s early by its calendar, B's 3600 s less 52 s late.
    assert_eq!(timing.across, metrology::Duration::from_seconds(3583.0));

    let again = book
        .at(hours(2), A.takes_over())
        .at(hours(2), A.sends(&[press(5, 0, 70, Act::LastPressWrong)]));
    let history = again.history();
    assert_eq!(state(&history), State::Glow);
    assert_eq!(history.sitting(PLAN, SPECIMEN).unwrap().log.kept_to(), 5);
}

#[test]
fn presses_stand() {
    let book = book().add(A.sends(&of_a()));
    let entry = EntryNumber(u64::try_from(book.entries.len()).unwrap());
    let corrected = Fact::Corrected { entry, reason: "other".to_owned(), by: None };
    let refused = book.add(corrected).replay().unwrap_err();
    assert!(refused.to_string().contains("presses, verdicts"), "{refused}");
}

#[test]
fn presses_of_a_device_whose_calendar_is_ahead_wait_for_a_reviewer() {
    let ahead_by = |minutes: i64| {
        let late = of_a().into_iter().map(|press| {
            let wall = hours(0).unix_microseconds() + minutes * 60_000_000;
            Press { wall: Moment::from_unix_microseconds(wall).unwrap(), ..press }
        });
        book().at(hours(0), A.sends(&late.collect::<Vec<_>>())).history().doubts(PLAN, SPECIMEN)
    };
    assert_eq!(ahead_by(5), Vec::<String>::new());
    assert_eq!(ahead_by(-60), Vec::<String>::new(), "they may have been on their way");
    assert_eq!(ahead_by(6), ["its device's clock is ahead of the record's by 360 s or more"]);
}

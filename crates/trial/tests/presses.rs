//! The presses at the bench: the cases that device and record share, bounces, and the log.

use crate::bench::{NOW, moment};
use proptest::prelude::*;
use serde::Deserialize;
use trial::bench::{
    Act, Doubt, Input, Press, PressLog, PressLogError, SittingId, Standing, State, stand,
};
use trial::moment::Elapsed;
use trial::run::{Application, Ending};

/// A press of a case: seconds since the sitting began, and the act.
type Pressed = (f64, String);

/// One case of `bench.json`. Times come in seconds since the first "flame on specimen".
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    name: String,
    applications: usize,
    presses: Vec<Pressed>,
    state: String,
    on_removed: Vec<(f64, Option<f64>)>,
    flames: Option<Ended>,
    glow: Option<Ended>,
    layer: Option<Ended>,
    marks: Vec<Pressed>,
    withdrawn: Vec<usize>,
    ignored: Vec<usize>,
    asks_about_flame_and_glow: bool,
}

#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Ended {
    None,
    Out(f64),
    ByHand(f64),
}

fn at(seconds: f64) -> Elapsed {
    Elapsed::from_microseconds(format!("{:.0}", seconds * 1e6).parse().unwrap())
}

fn ended(ended: Option<Ended>) -> Option<Ending> {
    ended.map(|ended| match ended {
        Ended::None => Ending::None,
        Ended::Out(seconds) => Ending::Out(at(seconds)),
        Ended::ByHand(seconds) => Ending::PutOutByHand(at(seconds)),
    })
}

fn press(sequence: usize, at: Elapsed, act: Act) -> Press {
    let sequence = u32::try_from(sequence).unwrap();
    Press { sequence, at, wall: moment(NOW), act, input: Input::Switch, note: None }
}

fn presses(pressed: &[Pressed]) -> Vec<Press> {
    let numbered = pressed.iter().zip(1..);
    numbered.map(|((seconds, act), sequence)| press(sequence, at(*seconds), act_of(act))).collect()
}

fn act_of(word: &str) -> Act {
    Act::of_word(word).unwrap_or_else(|| panic!("`{word}` is no act"))
}

/// The presses at these seconds.
fn train(pressed: &[(f64, Act)]) -> Vec<Press> {
    pressed.iter().zip(1..).map(|((seconds, act), n)| press(n, at(*seconds), *act)).collect()
}

fn check(case: &Case) {
    let name = &case.name;
    let presses = presses(&case.presses);
    let found = stand(case.applications, &presses);
    assert_eq!(found.state.word(), case.state, "{name}");
    let begun: Vec<_> = found.applications.iter().map(|it| (it.on, it.removed)).collect();
    let expected: Vec<_> =
        case.on_removed.iter().map(|(on, removed)| (at(*on), removed.map(at))).collect();
    assert_eq!(begun, expected, "{name}");
    assert_eq!(found.flames, ended(case.flames), "{name}");
    assert_eq!(found.glow, ended(case.glow), "{name}");
    assert_eq!(found.layer, ended(case.layer), "{name}");
    let marks: Vec<_> = found.marks.iter().map(|seen| (seen.at, presses[seen.press].act)).collect();
    let expected: Vec<_> = case.marks.iter().map(|(s, act)| (at(*s), act_of(act))).collect();
    assert_eq!(marks, expected, "{name}");
    assert_eq!(found.withdrawn, case.withdrawn, "{name}");
    assert_eq!(found.ignored, case.ignored, "{name}");
    assert_eq!(found.asks_about_flame_and_glow, case.asks_about_flame_and_glow, "{name}");
}

#[test]
fn the_cases_that_device_and_record_share() {
    let cases: Vec<Case> = serde_json::from_str(include_str!("cases/bench.json")).unwrap();
    cases.iter().for_each(check);
    let seen = |state: State| cases.iter().any(|case| case.state == state.word());
    assert!(State::ALL.iter().all(|state| seen(*state)), "a case ends in each state");
    let pressed = |act: &Act| cases.iter().flat_map(|it| &it.presses).any(|it| it.1 == act.word());
    assert!(Act::ALL.iter().all(pressed), "each act is in a case");
}

#[test]
fn a_finished_run_has_the_times_that_a_record_of_it_needs() {
    let mut presses = train(&[
        (2.0, Act::FlameOn),
        (9.4, Act::Mark),
        (32.2, Act::FlameRemoved),
        (43.7, Act::FlamesOut),
    ]);
    assert_eq!(stand(1, &presses).timing(), None);
    presses.push(press(5, at(46.0), Act::GlowOut));
    let timing = stand(1, &presses).timing().unwrap();
    assert_eq!(timing.began, moment(NOW));
    let application = Application { on: Elapsed::ZERO, removed: at(30.2) };
    assert_eq!(timing.applications, [application]);
    assert_eq!(timing.flames, Ending::Out(at(41.7)));
    assert_eq!(timing.glow, Ending::Out(at(44.0)));
    assert_eq!(timing.surroundings, Ending::None);
    assert_eq!((timing.marks[0].at, timing.marks[0].kind), (at(7.4), None));
    presses.push(press(6, at(50.0), Act::SpecimenSpoilt));
    assert_eq!(stand(1, &presses).timing(), None, "a spoilt specimen is not timed");
}

#[test]
fn a_doubt_of_the_time_is_acknowledged_before_the_question_is_answered() {
    let quick = [
        (0.0, Act::FlameOn),
        (30.0, Act::FlameRemoved),
        (30.6, Act::FlamesOut),
        (31.2, Act::GlowOut),
        (33.0, Act::TimeDoubtful),
        (34.0, Act::Acknowledged),
    ];
    let found = stand(1, &train(&quick));
    assert!(found.doubts[0].acknowledged && found.asks_about_flame_and_glow);
    let yes = [&quick[..], &[(35.0, Act::Acknowledged)]].concat();
    assert!(!stand(1, &train(&yes)).asks_about_flame_and_glow);
    let again = [
        (0.0, Act::FlameOn),
        (30.0, Act::FlameRemoved),
        (30.4, Act::FlamesOut),
        (30.8, Act::GlowOut),
        (31.0, Act::Acknowledged),
        (31.2, Act::LastPressWrong),
        (31.6, Act::GlowOut),
    ];
    assert!(stand(1, &train(&again)).asks_about_flame_and_glow, "another end is asked about again");
}

#[test]
fn a_doubt_is_of_durations_where_it_tells_how_much_or_nothing() {
    let doubt = |note: Option<&str>| {
        let note = note.map(str::to_owned);
        Doubt { press: 0, note, acknowledged: false }.of_durations()
    };
    assert_eq!(doubt(Some("slept for 4.0 s, ± 0.2 s")).unwrap(), "slept for 4.0 s, ± 0.2 s");
    assert_eq!(doubt(Some("the calendar moved by 3600.0 s")), None);
    assert!(doubt(None).unwrap().contains("did not say why"));
}

#[test]
fn a_number_of_a_sitting_is_read_as_it_is_shown() {
    let sitting = SittingId([0x0f; 16]);
    assert_eq!(SittingId::parse(&sitting.to_string()), Some(sitting));
    let all = [0x01, 0x23, 0x45, 0x67, 0x89, 0xab, 0xcd, 0xef];
    let told = "0123456789abcdef".repeat(2);
    assert_eq!(SittingId::parse(&told), Some(SittingId([all, all].concat().try_into().unwrap())));
    for other in ["", "0f", &"0F".repeat(16), &"0g".repeat(16), &"0f".repeat(17), &"é".repeat(16)]
    {
        assert_eq!(SittingId::parse(other), None, "{other}");
    }
}

fn some_log(length: usize) -> Vec<Press> {
    let acts = Act::ALL.iter().cycle().take(length).zip(1..);
    acts.map(|(act, n)| press(n, Elapsed::from_microseconds(i64::try_from(n).unwrap()), *act))
        .collect()
}

#[test]
fn a_gap_keeps_the_unbroken_beginning() {
    let all = some_log(6);
    let mut log = PressLog::default();
    log.take(&[all[0].clone(), all[1].clone(), all[3].clone()]).unwrap();
    assert_eq!(log.kept_to(), 2);
    log.take(&all[2..]).unwrap();
    assert_eq!(log.presses(), all);
    assert_eq!(log.fresh(&all[1..4]).unwrap(), []);
}

#[test]
fn a_press_that_differs_is_refused_and_nothing_of_its_batch_is_kept() {
    let all = some_log(4);
    let mut log = PressLog::default();
    log.take(&all[..2]).unwrap();
    let refuse = |batch: &[Press], expected: &str| {
        let why = log.fresh(batch).unwrap_err();
        assert!(why.to_string().contains(expected), "{why}");
    };
    let other = Press { at: Elapsed::from_microseconds(9), ..all[1].clone() };
    refuse(&[all[2].clone(), other], "press 2 is there already and says something else");
    let other = Press { note: Some("else".to_owned()), ..all[3].clone() };
    refuse(&[all[3].clone(), other], "press 4 is there already");
    refuse(&[press(0, Elapsed::ZERO, Act::Mark)], "numbered 0");
    refuse(&[press(10_001, Elapsed::ZERO, Act::Mark)], "10000 at most");
    refuse(&[press(3, Elapsed::from_microseconds(-1), Act::Mark)], "before the sitting began");
    refuse(&[Press { note: Some("x".repeat(2_001)), ..all[2].clone() }], "2001 bytes long");
    assert_eq!(log.kept_to(), 2);
    // At its limits a press is sound.
    let note = Some("x".repeat(2_000));
    assert_eq!(log.fresh(&[Press { note, ..press(10_000, Elapsed::ZERO, Act::Mark) }]), Ok(vec![]));
    let why = PressLogError::Differs { sequence: 2 };
    assert_eq!(why.hint(), "Nothing of the batch was kept; begin a new sitting.");
}

/// What happens to a batch on its way: which part is sent, in what order, and how often.
#[derive(Clone, Debug)]
struct Sent {
    from: usize,
    length: usize,
    order: u64,
    times: usize,
}

fn sent() -> impl Strategy<Value = Sent> {
    (0_usize..60, 0_usize..20, any::<u64>(), 1_usize..4)
        .prop_map(|(from, length, order, times)| Sent { from, length, order, times })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    /// Trains of cut, replay, duplicate and reorder: the log is always an unbroken beginning of
    /// what was pressed, and once the device has sent from where the log stands, it is the whole.
    #[test]
    fn whatever_is_sent_again_ends_in_the_same_log(
        length in 1_usize..60,
        trains in proptest::collection::vec(sent(), 0..12),
    ) {
        let all = some_log(length);
        let mut log = PressLog::default();
        for Sent { from, length, order, times } in trains {
            let part: Vec<&Press> = all.iter().skip(from).take(length).collect();
            let batch = std::iter::repeat_n(part, times).flatten().cloned();
            let mut batch: Vec<(u64, Press)> =
                (1..).map(|place: u64| place.wrapping_mul(order | 1)).zip(batch).collect();
            batch.sort_by_key(|(place, _)| *place);
            let batch: Vec<Press> = batch.into_iter().map(|(_, press)| press).collect();
            log.take(&batch).unwrap();
            prop_assert_eq!(log.presses(), &all[..log.presses().len()]);
        }
        let from = usize::try_from(log.kept_to()).unwrap();
        log.take(&all[from..]).unwrap();
        prop_assert_eq!(log.presses(), &all);
    }
}

/// The main action in each state: what one button says.
fn main_action(state: State) -> Act {
    match state {
        State::Ready | State::Between => Act::FlameOn,
        State::OnSpecimen => Act::FlameRemoved,
        State::Burning => Act::FlamesOut,
        State::Glow => Act::GlowOut,
        State::Layer => Act::LayerOut,
        State::Finished => Act::Ignored,
        State::Spoilt => Act::NotSpoilt,
    }
}

/// A bouncing button: after each real press up to five more within 300 ms, each as the main
/// action of the state that the device shows by then.
fn bouncing(real: &[(i64, Vec<i64>)]) -> (Vec<Press>, Vec<usize>, Vec<State>) {
    let (mut presses, mut bounces, mut states) = (Vec::new(), Vec::new(), Vec::new());
    let mut clock = 0;
    for (pause, bounced) in real {
        clock += pause;
        let mut offsets = vec![0];
        offsets.extend(bounced);
        offsets.sort_unstable();
        for (place, offset) in offsets.into_iter().enumerate() {
            let Standing { state, .. } = stand(2, &presses);
            states.push(state);
            if state == State::Finished {
                states.dedup();
                return (presses, bounces, states);
            }
            if place > 0 {
                bounces.push(presses.len());
            }
            let at = Elapsed::from_microseconds(clock + offset);
            presses.push(press(presses.len() + 1, at, main_action(state)));
        }
    }
    states.push(stand(2, &presses).state);
    states.dedup();
    (presses, bounces, states)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_bouncing_button_changes_the_state_once_a_press(
        real in proptest::collection::vec(
            (1_000_000_i64..60_000_000, proptest::collection::vec(1_i64..300_000, 0..5)),
            6,
        ),
    ) {
        let (presses, bounces, states) = bouncing(&real);
        prop_assert_eq!(stand(2, &presses).ignored, bounces);
        let whole = [
            State::Ready,
            State::OnSpecimen,
            State::Between,
            State::OnSpecimen,
            State::Burning,
            State::Glow,
            State::Finished,
        ];
        prop_assert_eq!(states, whole);
    }
}

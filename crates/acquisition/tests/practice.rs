//! The practice bench: its readings are those of a block in a flame, and its faults are found.

use acquisition::practice::Practice;
use acquisition::settings::{Fault, Flame, PracticeBench, Speed};
use acquisition::{Clock, Event, Source, open, start};
use metrology::{Duration, Temperature};
use reading::{Circumstances, RiseTimeError, SensorUncertainty, Trace, Window, rise_time};

use crate::made::{Paper, all, celsius, clock, imported, settings, word};

fn bench(seed: u64, fault: Option<Fault>) -> PracticeBench {
    let lasting_seconds = Some(40.0);
    PracticeBench { fault, lasting_seconds, speed: Speed::AtOnce, ..PracticeBench::of_seed(seed) }
}

/// The recording of a bench that ran to its end.
async fn recorded(bench: PracticeBench) -> String {
    let paper = Paper::default();
    let mut live =
        start(Practice::new(bench, &Clock::new(|| Duration::ZERO)), paper.clone()).unwrap();
    all(&mut live).await;
    live.stop().await.unwrap();
    paper.text()
}

/// The window of a rise: made up here, and the one of the trade.
fn window() -> Window {
    Window::new(Temperature::from_celsius(100.0), Temperature::from_celsius(700.0)).unwrap()
}

fn read(trace: &Trace) -> Result<Duration, RiseTimeError> {
    let known = Circumstances {
        resting_at: Some(Temperature::from_celsius(23.0)),
        part: Some((Duration::ZERO, Duration::from_seconds(40.0))),
        ..Circumstances::default()
    };
    rise_time(trace, window(), SensorUncertainty::NONE, &known).map(|rise| rise.value.value)
}

#[tokio::test]
async fn a_rise_is_read_from_the_recording() {
    let text = recorded(bench(1, None)).await;
    assert!(text.starts_with("time (s),Block (°C),raw\n0.000000,"), "{text}");
    let rise = read(&imported(&text, "Block").trace).unwrap().seconds();
    assert!((22.5..24.5).contains(&rise), "{rise}");
}

#[tokio::test]
async fn a_seed_gives_the_same_bytes_again_and_another_gives_others() {
    let first = recorded(bench(7, None)).await;
    assert_eq!(first, recorded(bench(7, None)).await);
    assert_ne!(first, recorded(bench(8, None)).await);
}

#[tokio::test]
async fn each_fault_is_found_by_its_rule() {
    for (fault, name) in [
        (Fault::OpenCircuit, "open-circuit"),
        (Fault::NoRise, "no-rise"),
        (Fault::Reversed, "reversed"),
        (Fault::WrongType, "wrong-type"),
        (Fault::Stuck, "stuck"),
        (Fault::Spikes, "spikes"),
        (Fault::Gap, "gap-at-crossing"),
    ] {
        let imported = imported(&recorded(bench(2, Some(fault))).await, "Block");
        let error = read(&imported.trace).unwrap_err();
        let found: Vec<_> = error.findings.iter().map(|finding| finding.kind.name()).collect();
        assert!(found.contains(&name), "{name}: {error}");
    }
    let noisy = imported(&recorded(bench(2, Some(Fault::Noise))).await, "Block").trace;
    let rise = rise_time(&noisy, window(), SensorUncertainty::NONE, &Circumstances::default());
    let told: Vec<String> = match rise {
        Ok(rise) => rise.faults.iter().map(|fault| fault.kind.name().to_owned()).collect(),
        Err(error) => error.findings.iter().map(|it| it.kind.name().to_owned()).collect(),
    };
    assert!(told.contains(&"noisy".to_owned()) || told.contains(&"spikes".to_owned()), "{told:?}");
}

#[tokio::test]
async fn an_open_wire_is_told_once_and_recorded() {
    let mut practice = Practice::new(bench(3, Some(Fault::OpenCircuit)), &clock());
    let mut words = Vec::new();
    while let Some(event) = practice.next().await {
        words.push(word(&event));
    }
    assert_eq!(words.iter().filter(|word| **word == "open-circuit").count(), 1);
    let text = recorded(bench(3, Some(Fault::OpenCircuit))).await;
    assert!(text.contains("s, open-circuit: The thermocouple wire of Block is open"), "{text}");
    assert!(!imported(&text, "Block").trace.missing().is_empty());
}

#[tokio::test]
async fn determinations_follow_each_other_by_themselves() {
    let long = PracticeBench { lasting_seconds: Some(1500.0), ..bench(4, None) };
    let text = recorded(long).await;
    let trace = imported(&text, "Block").trace;
    let temperatures: Vec<f64> = trace.points().map(|it| it.temperature.celsius()).collect();
    let climbs = temperatures.windows(2).filter(|pair| pair[0] < 500.0 && pair[1] >= 500.0).count();
    assert!(climbs >= 3, "{climbs}");
}

#[tokio::test]
async fn a_hand_moves_the_flame() {
    let by_hand = PracticeBench { flame: Flame::ByHand, noise_kelvin: 0.0, ..bench(5, None) };
    let mut practice = Practice::new(by_hand, &clock());
    let flame = practice.flame();
    let mut seen = Vec::new();
    for number in 0..400 {
        match number {
            50 => flame.put_on(),
            150 => flame.take_away(),
            _ => {}
        }
        seen.extend(practice.next().await);
    }
    let shown = celsius(&seen, 0);
    assert!((shown[50] - 23.0).abs() < 0.01, "{}", shown[50]);
    assert!(shown[149] > 250.0 && shown[399] < shown[151], "{} {}", shown[149], shown[399]);
    assert!(matches!(seen[0], Event::Readings(_)));
}

#[tokio::test(start_paused = true)]
async fn at_real_speed_each_reading_comes_at_its_time() {
    let begun = tokio::time::Instant::now();
    let text = "source = \"practice\"\nseed = 1\nlasting_seconds = 12.0\n";
    let mut opened = open(&settings(text), clock(), std::io::sink()).await.unwrap();
    assert!(opened.flame.is_some());
    while let Some(event) = opened.live.next().await {
        let apart = event.at().seconds() - begun.elapsed().as_secs_f64();
        assert!(apart.abs() < 0.01, "{apart}");
    }
    assert_eq!(opened.live.stop().await.unwrap().readings, 121);
}

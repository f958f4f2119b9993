//! A file played again gives its readings back.

use std::io::Write as _;

use acquisition::replay::Replay;
use acquisition::settings::Speed;
use acquisition::{open, start};
use metrology::{Duration, Temperature};
use reading::{Missing, MissingCause, Point, Trace};
use tempfile::NamedTempFile;

use crate::made::{Paper, all, celsius, clock, imported, settings, words};

fn point(second: f64, celsius: f64) -> Point {
    Point { at: Duration::from_seconds(second), temperature: Temperature::from_celsius(celsius) }
}

#[tokio::test]
async fn a_recording_of_a_replay_is_the_trace_again() {
    let points: Vec<Point> = (0..5000_u32)
        .map(|n| point(10.0 + f64::from(n) * 0.05, 20.0 + f64::from(n % 97)))
        .collect();
    let missing =
        vec![Missing { at: Duration::from_seconds(12.025), cause: MissingCause::OpenCircuit }];
    let trace = Trace::with_missing(points.clone(), missing).unwrap();
    let paper = Paper::default();
    let traces = vec![("Block".to_owned(), trace.clone()), ("Air".to_owned(), trace)];
    let replay = Replay::new(traces, Speed::AtOnce, &clock());
    let mut live = start(replay, paper.clone()).unwrap();
    let events = all(&mut live).await;
    let kept = live.stop().await.unwrap();
    assert_eq!((kept.readings, kept.troubles), (10_002, 2));
    let again = imported(&paper.text(), "Air").trace;
    assert_eq!(again.len(), points.len());
    assert_eq!(again.missing().len(), 1);
    let shift = again.point(0).at - points[0].at;
    for (one, other) in points.iter().zip(again.points()) {
        assert_eq!(one.temperature, other.temperature);
        assert!((other.at - one.at - shift).abs() <= Duration::from_microseconds(1));
    }
    assert_eq!(celsius(&events, 1).len(), 5001);
}

#[tokio::test(start_paused = true)]
async fn ten_times_as_fast_takes_a_tenth_of_the_time_and_keeps_the_readings_apart() {
    let mut file = NamedTempFile::new().unwrap();
    writeln!(file, "Time (s);T1 (°C)").unwrap();
    for second in 0..100 {
        writeln!(file, "{second};{},5", 20 + second).unwrap();
    }
    let path = file.path().display();
    let text = format!("source = \"replay\"\nfile = \"{path}\"\nspeed = 10.0\n");
    let begun = tokio::time::Instant::now();
    let mut opened = open(&settings(&text), clock(), std::io::sink()).await.unwrap();
    assert_eq!(opened.live.channels(), ["T1"]);
    let events = all(&mut opened.live).await;
    assert!((begun.elapsed().as_secs_f64() - 9.9).abs() < 0.05, "{:?}", begun.elapsed());
    assert_eq!(words(&events), ["readings"; 100]);
    assert!(((events[99].at() - events[0].at()).seconds() - 99.0).abs() < 1e-9);
}

#[tokio::test]
async fn a_file_that_is_none_is_told_with_its_name() {
    let absent = "source = \"replay\"\nfile = \"/nowhere/run.csv\"\n";
    let error = open(&settings(absent), clock(), std::io::sink()).await.unwrap_err();
    assert_eq!(error.to_string(), "`/nowhere/run.csv` cannot be opened");
}

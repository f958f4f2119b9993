//! Eight channels at 100 readings a second: nothing dropped, and no memory that grows.

use std::io;

use acquisition::lines::{Lines, Pattern, Reader};
use acquisition::live::QUEUE;
use acquisition::port::Port;
use acquisition::{Event, Live, SourceSettings, Trouble, start};
use tokio::io::{AsyncWriteExt as _, DuplexStream, duplex};
use tokio::task::JoinHandle;
use tokio::time::{Duration, Instant, sleep_until};

use crate::made::{clock, settings};

/// A cable inside of the test; it is never opened a second time.
#[derive(Debug)]
struct Cable;

impl Port for Cable {
    type Stream = DuplexStream;

    fn name(&self) -> String {
        "the cable".to_owned()
    }

    async fn open(&mut self) -> io::Result<DuplexStream> {
        Err(io::Error::other("there is no second cable"))
    }

    fn may_die_unseen(&self) -> bool {
        false
    }
}

fn eight_channels() -> SourceSettings {
    let mut text = "source = \"tcp-lines\"\naddress = \"made:1\"\ninterval_seconds = 0.01\n\
                    [line]\ndelimiter = \"comma\"\ndecimal = \"point\"\n"
        .to_owned();
    for channel in 1..=8 {
        text += &format!("[[channel]]\nname = \"T{channel}\"\ncolumn = {channel}\nunit = \"C\"\n");
    }
    settings(&text)
}

/// An instrument that sends for this many seconds, and the source at work at the other end.
fn begun(seconds: u32) -> (Live<io::Sink>, JoinHandle<()>) {
    let SourceSettings::TcpLines(lines) = eight_channels() else { panic!("other settings") };
    let (near, mut far) = duplex(4096);
    let pattern = Pattern::new(lines.line, lines.channels.clone());
    let reader = Reader::new(pattern, lines.rhythm().unwrap(), None);
    let live = start(Lines::new(Cable, near, reader, clock()), io::sink()).unwrap();
    let instrument = tokio::spawn(async move {
        let begun = Instant::now();
        far.write_all(b"\n").await.unwrap();
        for number in 0..seconds * 100 {
            sleep_until(begun + Duration::from_millis(10) * number).await;
            let value = number % 1000;
            let line = format!("{value}.5,{value}.1,3.25,4.5,5.5,6.5,7.5,{number}\n");
            far.write_all(line.as_bytes()).await.unwrap();
        }
    });
    (live, instrument)
}

/// Runs for this many seconds of a time that passes only when all wait; tells how many readings
/// were seen, how many were recorded, and how many events waited at the most.
async fn run(seconds: u32) -> (u64, u64, usize) {
    let (mut live, instrument) = begun(seconds);
    let (mut seen, mut most) = (0, 0);
    let last = loop {
        most = most.max(live.waiting());
        match live.next().await.unwrap() {
            Event::Readings(batch) => seen += batch.readings.len() as u64,
            other @ (Event::Trouble { .. } | Event::Returned { .. }) => break other,
        }
    };
    assert!(matches!(last, Event::Trouble { trouble, .. } if trouble.name() == "unplugged"));
    instrument.await.unwrap();
    (seen, live.stop().await.unwrap().readings, most)
}

/// Nobody takes anything for half a minute, three times as long as the queue lasts.
#[tokio::test(start_paused = true)]
async fn what_nobody_takes_is_recorded_and_the_rest_is_told_by_its_number() {
    let (mut live, instrument) = begun(32);
    sleep_until(Instant::now() + Duration::from_secs(30)).await;
    assert_eq!(live.waiting(), QUEUE);
    let (mut seen, mut not_shown) = (0, 0);
    loop {
        match live.next().await.unwrap() {
            Event::Readings(batch) => seen += batch.readings.len() as u64,
            Event::Trouble { trouble: Trouble::NotShown { readings }, .. } => not_shown += readings,
            Event::Trouble { .. } => break,
            Event::Returned { .. } => panic!("nothing was away"),
        }
    }
    instrument.await.unwrap();
    let recorded = live.stop().await.unwrap().readings;
    assert!(not_shown > 8 * 1000, "{not_shown}");
    assert_eq!((seen + not_shown, recorded), (32 * 100 * 8, 32 * 100 * 8));
}

/// The short form: `run(3600)` is the hour.
#[tokio::test(start_paused = true)]
async fn eight_channels_lose_nothing_and_never_fill_the_queue() {
    let (seen, recorded, most) = run(120).await;
    assert_eq!((seen, recorded), (120 * 100 * 8, 120 * 100 * 8));
    assert!(most < QUEUE / 8, "{most} events waited");
}

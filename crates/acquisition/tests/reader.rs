//! Lines from bytes, the time told by the test: what is garbage, late, doubled, silent.

use acquisition::lines::{Pattern, Reader};
use acquisition::{Event, SourceSettings, Trouble};
use metrology::Duration;
use proptest::prelude::*;

use crate::made::{celsius, settings, words};

fn seconds(seconds: f64) -> Duration {
    Duration::from_seconds(seconds)
}

/// A reader of two columns, one line each 0.1 s, its first line complete.
fn reader(baud: Option<u32>) -> Reader {
    let text = "source = \"tcp-lines\"\naddress = \"made:1\"\ninterval_seconds = 0.1\n\
                [line]\ndelimiter = \"comma\"\ndecimal = \"point\"\n\
                [[channel]]\nname = \"Block\"\ncolumn = 1\nunit = \"C\"\nbefore = \"T=\"\n\
                open_circuit = [9999.0]\n[[channel]]\nname = \"Air\"\ncolumn = 2\nunit = \"F\"\n";
    let SourceSettings::TcpLines(lines) = settings(text) else { panic!("other settings") };
    let pattern = Pattern::new(lines.line, lines.channels.clone());
    let mut reader = Reader::new(pattern, lines.rhythm().unwrap(), baud);
    reader.opened(seconds(100.0));
    assert!(reader.take(seconds(100.0), b"\n").is_empty());
    reader
}

#[test]
fn the_first_line_is_kept_and_not_used() {
    let mut reader = reader(None);
    reader.opened(seconds(200.0));
    let events = reader.take(seconds(200.1), b"3.5,68\nT=23.5,68\n");
    assert_eq!(words(&events), ["not-used", "readings"]);
    assert_eq!(celsius(&events, 0), [23.5]);
    assert_eq!(celsius(&events, 1), [20.0]);
}

#[test]
fn bytes_come_in_any_pieces() {
    let bytes = b"T=23.5,68\r\nT=24.5 \xB0C,68\r\nT=25.5\xC2\xB0C,68F\r\nT=OL,68\r\nT=9999,68\r\n";
    let whole = reader(None).take(seconds(100.5), bytes);
    for size in 1..bytes.len() {
        let mut reader = reader(None);
        let mut events = Vec::new();
        for piece in bytes.chunks(size) {
            events.extend(reader.take(seconds(100.5), piece));
        }
        assert_eq!(events, whole, "{size}");
    }
    let told = ["readings", "readings", "readings", "open-circuit", "readings", "readings"];
    assert_eq!(words(&whole), told);
    assert_eq!(celsius(&whole, 0)[..3], [23.5, 24.5, 25.5]);
}

#[test]
fn lines_that_came_together_have_times_of_their_own() {
    let events = reader(None).take(seconds(100.1), b"T=1,68\nT=2,68\nT=3,68\n");
    let times: Vec<f64> = events.iter().map(|event| event.at().seconds()).collect();
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "{times:?}");
    assert!(times[2] - times[0] < 1e-5);
}

#[test]
fn garbage_is_told_with_its_reason_and_kept() {
    let check = |line: &[u8], reason: &str| {
        let events = reader(None).take(seconds(100.1), line);
        let [Event::Trouble { trouble: Trouble::GarbageLine { reason: found, line: kept }, .. }] =
            events.as_slice()
        else {
            panic!("{events:?}");
        };
        assert_eq!(found, reason);
        assert_eq!(kept.as_bytes(), line.trim_ascii());
    };
    check(b"T=23.5\n", "it has 1 columns and Air stands in column 2");
    check(b"23.5,68\n", "column 1 holds `23.5`, which is no number");
    check(b"T=23.5K,68\n", "column 1 is in `K` and the settings say C");
    check(b"T=-300,68\n", "column 1 holds -300, which lies below absolute zero");
    check(b"ERR,68\n", "column 1 holds `ERR`, which is no number");
    check(b"T=23.5,\"68\n", "a quote in it is not closed");
}

#[test]
fn a_wrong_baud_rate_is_suspected_once() {
    // What 9600 baud looks like read at another rate: no ends of lines, no printed characters.
    let noise: Vec<u8> =
        (0..5000_u32).map(|n| [0x00, 0xF8, 0x80, 0x1C, 0xE6][n as usize % 5]).collect();
    let mut reader = reader(Some(19200));
    let mut events = Vec::new();
    for piece in noise.chunks(64) {
        events.extend(reader.take(seconds(100.3), piece));
    }
    let told = words(&events);
    assert_eq!(told, ["garbage-line", "garbage-line", "garbage-line", "not-text", "garbage-line"]);
    let Event::Trouble { trouble, .. } = &events[3] else { panic!("{events:?}") };
    assert_eq!(trouble.to_string(), "What comes is no text; 19200 may be the wrong baud rate.");
    // Noise is no reading: silence is told as well.
    assert_eq!(words(reader.silence(seconds(101.0)).as_slice()), ["silence"]);
    let after = reader.take(seconds(102.0), b"\nT=23.5,68\n");
    assert_eq!(words(&after), ["garbage-line", "returned", "readings"]);
}

#[test]
fn a_late_reading_is_told_and_used() {
    let mut reader = reader(None);
    reader.take(seconds(100.1), b"T=20,68\n");
    assert_eq!(words(&reader.take(seconds(100.24), b"T=21,68\n")), ["readings"]);
    let late = reader.take(seconds(100.8), b"T=22,68\n");
    assert_eq!(words(&late), ["late", "readings"]);
    let Event::Trouble { trouble, .. } = &late[0] else { panic!("{late:?}") };
    assert_eq!(trouble.to_string(), "A reading came 0.46 s late.");
}

#[test]
fn a_line_that_came_twice_counts_once() {
    let mut reader = reader(None);
    let mut events = Vec::new();
    for number in 1..=20 {
        let at = 100.0 + 0.1 * f64::from(number);
        let line = if number < 10 { "T=20,68\n" } else { "T=21,68\n" };
        events.extend(reader.take(seconds(at), line.as_bytes()));
        if number == 15 {
            events.extend(reader.take(seconds(at + 0.004), line.as_bytes()));
        }
    }
    assert_eq!(celsius(&events, 0).len(), 20);
    let told = words(&events);
    assert_eq!(told[14..18], ["readings", "not-used", "doubled", "readings"]);
}

#[test]
fn equal_lines_that_were_held_up_and_come_in_a_bunch_all_count() {
    let mut reader = reader(None);
    let mut read = 0;
    for bunch in 1..=25 {
        let at = 100.0 + 0.4 * f64::from(bunch);
        let events = reader.take(seconds(at), b"T=20,68\nT=20,68\nT=20,68\nT=20,68\n");
        read += celsius(&events, 0).len();
        assert!(!words(&events).contains(&"doubled"));
    }
    assert_eq!(read, 100);
}

#[test]
fn silence_is_told_once_and_its_end_with_its_length() {
    let mut reader = reader(None);
    reader.take(seconds(100.1), b"T=20,68\n");
    let from = reader.silent_from().unwrap();
    assert!((from.seconds() - 101.1).abs() < 1e-9);
    assert_eq!(reader.silence(seconds(101.0)), None);
    assert_eq!(words(reader.silence(seconds(101.1)).as_slice()), ["silence"]);
    assert_eq!(reader.silence(seconds(102.0)), None);
    assert_eq!(reader.silent_from(), None);
    let events = reader.take(seconds(105.1), b"T=21,68\n");
    let Event::Returned { after, channel: None, .. } = events[0] else { panic!("{events:?}") };
    assert!((after.seconds() - 5.0).abs() < 1e-9);
}

#[test]
fn a_wire_that_opens_and_closes_is_told_each_time() {
    let mut reader = reader(None);
    let lines = b"T=20,68\nT=OL,68\nT=OL,68\nT=21,68\nT=OL,68\n";
    let events = reader.take(seconds(100.3), lines);
    let open = ["open-circuit", "readings", "readings"];
    let told: Vec<_> = words(&events);
    assert_eq!(told, [&["readings"][..], &open, &["returned", "readings"], &open[..2]].concat());
    assert!(matches!(events[4], Event::Returned { channel: Some(0), .. }), "{events:?}");
}

proptest! {
    /// Whatever comes, in whatever pieces: the same is told, and every line is in it.
    #[test]
    fn nothing_that_comes_is_lost(
        lines in prop::collection::vec(
            prop_oneof![
                "T=[0-9]{1,3}(\\.[0-9])?,[0-9]{1,3}",
                "[ -~]{1,20}",
                prop::collection::vec(0x80_u8.., 1..20).prop_map(|bytes| bytes.iter().map(|byte| char::from(*byte)).collect()),
            ],
            1..40,
        ),
        size in 1..50_usize,
    ) {
        let bytes = (lines.join("\n") + "\n").into_bytes();
        let whole = reader(Some(9600)).take(seconds(100.1), &bytes);
        let mut reader = reader(Some(9600));
        let pieces: Vec<Event> =
            bytes.chunks(size).flat_map(|piece| reader.take(seconds(100.1), piece)).collect();
        prop_assert_eq!(&pieces, &whole);
        let told = whole.iter().filter_map(|event| match event {
            Event::Readings(batch) => Some(&batch.raw),
            Event::Trouble { trouble: Trouble::GarbageLine { line, .. }, .. } => Some(line),
            Event::Trouble { .. } | Event::Returned { .. } => None,
        });
        let full = lines.iter().filter(|line| !line.trim_ascii().is_empty());
        prop_assert_eq!(told.count(), full.count());
    }

    #[test]
    fn no_settings_bring_the_program_down(text in "(source = \"[a-z-]{0,12}\"\n)?[ -~\n]{0,80}") {
        prop_assert!(SourceSettings::from_toml(&text).is_err());
    }
}

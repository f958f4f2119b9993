//! Lines over a serial cable.

use std::path::Path;

use acquisition::{Live, open};
use tempfile::TempDir;
use tokio::time::{Duration, sleep};

use crate::cable::Cable;
use crate::made::{Paper, celsius, clock, settings, until, word, words_on_time};

/// A terminal takes no other form of characters than eight bits without parity.
fn text(port: &Path) -> String {
    format!(
        "source = \"serial-lines\"\ninterval_seconds = 0.05\nsilence_seconds = 0.4\n\
         [port]\npath = \"{}\"\nbaud = 19200\n\
         [line]\ndelimiter = \"comma\"\ndecimal = \"point\"\n\
         [[channel]]\nname = \"Block\"\ncolumn = 1\nunit = \"C\"\n",
        port.display()
    )
}

async fn opened(port: &Path, paper: &Paper) -> Live<Paper> {
    open(&settings(&text(port)), clock(), paper.clone()).await.unwrap().live
}

async fn send(cable: &mut Cable, bytes: &[u8]) {
    cable.send(bytes);
    sleep(Duration::from_millis(50)).await;
}

#[tokio::test]
async fn a_pulled_plug_that_is_put_back_returns() {
    let folder = TempDir::new().unwrap();
    let port = folder.path().join("port");
    let paper = Paper::default();
    let mut cable = Cable::new();
    cable.name_it(&port);
    let mut live = opened(&port, &paper).await;
    assert_eq!(cable.baud(), 19200);
    for line in [&b"3.5\r\n"[..], b"23.5\r\n", b"24.5\r\n"] {
        send(&mut cable, line).await;
    }
    assert!(!cable.was_written_to());
    drop(cable);
    let before = until(&mut live, |event| word(event) == "unplugged").await;
    assert_eq!(words_on_time(&before), ["not-used", "readings", "readings", "unplugged"]);
    let mut cable = Cable::new();
    cable.name_it(&port);
    sleep(Duration::from_millis(1500)).await;
    send(&mut cable, b"\n30.5\n").await;
    let after = until(&mut live, |event| word(event) == "readings").await;
    assert_eq!(words_on_time(&after), ["returned", "readings"]);
    assert_eq!(celsius(&after, 0), [30.5]);
    assert_eq!(live.stop().await.unwrap().readings, 3);
    assert!(paper.text().contains(": the source after "), "{}", paper.text());
}

#[tokio::test]
async fn another_baud_rate_is_suspected_and_then_silence_told() {
    let folder = TempDir::new().unwrap();
    let port = folder.path().join("port");
    let mut cable = Cable::new();
    cable.name_it(&port);
    let mut live = opened(&port, &Paper::default()).await;
    for _ in 0..4 {
        send(&mut cable, b"\x00\xF8\x80\x1C\xE6\x98\x0A\xFE\x80\x00\xE6\x0D").await;
    }
    let events = until(&mut live, |event| word(event) == "silence").await;
    let told = words_on_time(&events);
    assert!(told.contains(&"not-text"), "{told:?}");
    assert!(celsius(&events, 0).is_empty());
}

#[tokio::test]
async fn a_port_that_is_not_there_is_told_with_those_that_are() {
    let absent = settings(&text(Path::new("/dev/nothing-here")));
    let error = open(&absent, clock(), std::io::sink()).await.unwrap_err();
    assert_eq!(error.to_string(), "/dev/nothing-here cannot be opened");
    assert!(error.hint().unwrap().contains("port"), "{:?}", error.hint());
}

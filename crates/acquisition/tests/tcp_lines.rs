//! Lines over a real connection on this machine.

use acquisition::{Live, Opened, open};
use tokio::io::AsyncWriteExt as _;
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Duration, sleep};

use crate::made::{Paper, celsius, clock, imported, settings, until, word, words_on_time};

async fn connected(paper: &Paper) -> (Live<Paper>, TcpListener, TcpStream) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let text = format!(
        "source = \"tcp-lines\"\naddress = \"{address}\"\ninterval_seconds = 0.05\n\
         silence_seconds = 0.4\n[line]\ndelimiter = \"semicolon\"\ndecimal = \"comma\"\n\
         [[channel]]\nname = \"Block\"\ncolumn = 2\nunit = \"C\"\nopen_circuit = [1372.0]\n\
         [[channel]]\nname = \"Air\"\ncolumn = 3\nunit = \"K\"\n"
    );
    let settings = settings(&text);
    let opening = open(&settings, clock(), paper.clone());
    let (opened, accepted) = tokio::join!(opening, listener.accept());
    let Opened { live, flame } = opened.unwrap();
    assert!(flame.is_none());
    (live, listener, accepted.unwrap().0)
}

async fn send(stream: &mut TcpStream, line: &str) {
    stream.write_all(line.as_bytes()).await.unwrap();
    sleep(Duration::from_millis(50)).await;
}

#[tokio::test]
async fn a_cut_connection_returns_and_nothing_read_is_lost() {
    let paper = Paper::default();
    let (mut live, listener, mut instrument) = connected(&paper).await;
    send(&mut instrument, "9;296,15\r\n").await;
    send(&mut instrument, "1;23,5 °C;296,15\r\n").await;
    send(&mut instrument, "2;24,0;296,15 K\r\n").await;
    send(&mut instrument, "3;24,").await;
    drop(instrument);
    let before = until(&mut live, |event| word(event) == "unplugged").await;
    let told = words_on_time(&before);
    assert_eq!(told[..3], ["not-used", "readings", "readings"], "{told:?}");
    assert_eq!(celsius(&before, 0), [23.5, 24.0]);
    assert_eq!(celsius(&before, 1), [296.15 - 273.15; 2]);
    let (mut instrument, _) = listener.accept().await.unwrap();
    send(&mut instrument, "\n4;30,5;297,15\n").await;
    let after = until(&mut live, |event| word(event) == "readings").await;
    assert!(
        words_on_time(&after).ends_with(&["returned", "readings"]),
        "{:?}",
        words_on_time(&after)
    );
    let kept = live.stop().await.unwrap();
    assert_eq!(kept.readings, 6);
    let text = paper.text();
    for raw in ["not used: 9;296,15", "\"1;23,5 °C;296,15\"", "not used: 3;24,", "unplugged: "] {
        assert!(text.contains(raw), "{raw} is not in {text}");
    }
    let trace = imported(&text, "Block").trace;
    let read: Vec<f64> = trace.points().map(|it| it.temperature.celsius()).collect();
    assert_eq!(read, [23.5, 24.0, 30.5]);
}

#[tokio::test]
async fn silence_is_told_and_its_end_too() {
    let paper = Paper::default();
    let (mut live, listener, mut instrument) = connected(&paper).await;
    send(&mut instrument, "\n1;23,5;296\n").await;
    let before = until(&mut live, |event| word(event) == "silence").await;
    assert_eq!(words_on_time(&before), ["readings", "silence"]);
    // A silent connection may be dead: it is made anew.
    let (mut instrument, _) = listener.accept().await.unwrap();
    send(&mut instrument, "\n2;23,6;296\n").await;
    let after = until(&mut live, |event| word(event) == "readings").await;
    assert_eq!(words_on_time(&after), ["returned", "readings"]);
}

#[tokio::test]
async fn an_address_where_nobody_listens_is_told() {
    let text = "source = \"tcp-lines\"\naddress = \"127.0.0.1:1\"\ninterval_seconds = 1\n[line]\n\
                delimiter = \"comma\"\ndecimal = \"point\"\n[[channel]]\nname = \"A\"\ncolumn = 1\n\
                unit = \"C\"\n";
    let error = open(&settings(text), clock(), std::io::sink()).await.unwrap_err();
    assert_eq!(error.to_string(), "127.0.0.1:1 cannot be opened");
}

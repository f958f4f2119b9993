//! Senders that stop in the middle: they are given up after 30 s, and hold nobody up meanwhile.
//!
//! `CINDERBOOK_SLOW=1` waits for it.
#![expect(clippy::disallowed_methods, reason = "this test may wait, and is told so")]

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use crate::served::Served;

/// What is sent of a request before its sender falls silent.
const BEGUN: [&str; 3] = [
    "",
    "GET / HTTP/1.1\r\nhost: loc",
    "POST /sign-in HTTP/1.1\r\nhost: HOST\r\ncontent-type: application/x-www-form-urlencoded\r\n\
     content-length: 100\r\n\r\nname=",
];

#[test]
fn a_sender_that_falls_silent_is_given_up_and_holds_nobody_up() {
    let served = Served::of_a_new_book();
    let host = served.origin.strip_prefix("http://").unwrap();
    let waits = std::env::var("CINDERBOOK_SLOW").is_ok_and(|word| word == "1");
    let begun = Instant::now();
    let silent: Vec<TcpStream> = BEGUN
        .iter()
        .cycle()
        .take(60)
        .map(|text| {
            let mut stream = TcpStream::connect(host).unwrap();
            stream.write_all(text.replace("HOST", host).as_bytes()).unwrap();
            stream
        })
        .collect();
    for _ in 0..5 {
        assert_eq!(served.get("/help").status, 200);
    }
    if !waits {
        return;
    }
    for mut stream in silent {
        stream.set_read_timeout(Some(Duration::from_secs(40))).unwrap();
        let mut answer = Vec::new();
        let ended = stream.read_to_end(&mut answer);
        let told = String::from_utf8_lossy(&answer);
        assert!(ended.is_ok(), "still open after {:?}: {told}", begun.elapsed());
    }
    let lasted = begun.elapsed();
    assert!(lasted > Duration::from_secs(25) && lasted < Duration::from_secs(45), "{lasted:?}");
}

//! A way to the database that can be cut: all lines at once, or one after the database has answered
//! and before the answer arrives.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;

/// What the guard on an entry's way looks for in what a program asks: the message that runs a
/// statement that was made ready before.
const BIND: u8 = b'B';

/// The way.
#[derive(Clone)]
pub(crate) struct Proxy {
    pub(crate) port: u16,
    state: Arc<State>,
}

#[derive(Default)]
struct State {
    lines: Mutex<Vec<TcpStream>>,
    /// Every other answer to an entry is lost while this is set.
    loses_answers: AtomicBool,
    answers: AtomicU64,
    lost: AtomicU64,
}

impl Proxy {
    /// A way to the database at `to`.
    pub(crate) fn to(to: u16) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let state = Arc::new(State::default());
        let proxy = Self { port, state };
        let own = proxy.clone();
        thread::spawn(move || {
            for line in listener.incoming().map_while(Result::ok) {
                let Ok(on) = TcpStream::connect(("127.0.0.1", to)) else { continue };
                own.carry(line, on);
            }
        });
        proxy
    }

    /// The address of a database by this way.
    pub(crate) fn address(&self, role: &str, database: &str) -> PathBuf {
        format!("postgres://{role}@127.0.0.1:{}/{database}", self.port).into()
    }

    fn carry(&self, line: TcpStream, on: TcpStream) {
        let both = [&line, &on].map(|end| end.try_clone().unwrap());
        self.state.lines.lock().unwrap().extend(both);
        // Whether an entry was offered and not answered.
        let offered = Arc::new(AtomicBool::new(false));
        let (there, state) = (Arc::clone(&offered), Arc::clone(&self.state));
        let (from, to) = (line.try_clone().unwrap(), on.try_clone().unwrap());
        thread::spawn(move || {
            pass(from, to, |piece| {
                let kinds = [&b"run-recorded"[..], b"person-admitted"];
                if piece.first() == Some(&BIND) && kinds.iter().any(|kind| holds(piece, kind)) {
                    there.store(true, Ordering::SeqCst);
                }
                true
            });
        });
        thread::spawn(move || {
            pass(on, line, |_| {
                let answers = offered.swap(false, Ordering::SeqCst);
                if !answers || !state.loses_answers.load(Ordering::SeqCst) {
                    return true;
                }
                // The second one to the same entry comes through, or nothing ever would.
                let lost = state.answers.fetch_add(1, Ordering::SeqCst).is_multiple_of(2);
                state.lost.fetch_add(u64::from(lost), Ordering::SeqCst);
                !lost
            });
        });
    }

    /// Cuts all lines.
    pub(crate) fn cut(&self) {
        for line in self.state.lines.lock().unwrap().drain(..) {
            line.shutdown(Shutdown::Both).ok();
        }
    }

    /// From now on every other answer to an entry is lost, or no longer.
    pub(crate) fn lose_answers(&self, lose: bool) {
        self.state.loses_answers.store(lose, Ordering::SeqCst);
    }

    /// How many answers were lost.
    pub(crate) fn lost(&self) -> u64 {
        self.state.lost.load(Ordering::SeqCst)
    }
}

fn holds(piece: &[u8], word: &[u8]) -> bool {
    piece.windows(word.len()).any(|window| window == word)
}

/// Passes pieces on for as long as `on` says so.
fn pass(mut from: TcpStream, mut to: TcpStream, on: impl Fn(&[u8]) -> bool) {
    let mut buffer = vec![0; 1 << 16];
    while let Ok(length) = from.read(&mut buffer)
        && length > 0
        && on(&buffer[..length])
        && to.write_all(&buffer[..length]).is_ok()
    {}
    from.shutdown(Shutdown::Both).ok();
    to.shutdown(Shutdown::Both).ok();
}

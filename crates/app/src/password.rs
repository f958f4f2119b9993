//! A password from the terminal, which does not show it, or from standard input.

use std::io::{self, IsTerminal as _, Read as _};

use crate::output::Output;
use crate::problem::Problem;

/// A longer one is no password: it is not read on.
const BYTES_AT_MOST: u64 = 1024;

/// Asks for a password; where standard input is no terminal, its first line is taken.
///
/// # Errors
///
/// [`Problem`] where nothing can be read.
pub(crate) fn ask(whose: &str, output: &Output) -> Result<String, Problem> {
    let input = io::stdin();
    if input.is_terminal() {
        output.word(&format!("Password of {whose}:"));
    }
    let _hidden = Hidden::begin();
    // Not a buffered line: what follows it is left for whoever reads next.
    let mut line = Vec::new();
    for byte in input.lock().take(BYTES_AT_MOST).bytes() {
        let byte = byte
            .map_err(|error| Problem::surroundings("cannot read the password").because(&error))?;
        if byte == b'\n' {
            break;
        }
        line.push(byte);
    }
    let text = String::from_utf8(line)
        .map_err(|_| Problem::used_wrongly("the password is not UTF-8 text"))?;
    match text.trim_end_matches('\r') {
        "" => Err(Problem::used_wrongly(format!("there is no password of {whose}"))
            .hint("Type it when asked, or give it as the first line of standard input.")),
        password => Ok(password.to_owned()),
    }
}

/// The terminal does not show what is typed, for as long as this lives.
struct Hidden(#[cfg(unix)] Option<rustix::termios::Termios>);

impl Hidden {
    #[cfg(unix)]
    fn begin() -> Self {
        use rustix::termios::{LocalModes, OptionalActions, tcgetattr, tcsetattr};
        let Ok(before) = tcgetattr(rustix::stdio::stdin()) else { return Self(None) };
        let mut hidden = before.clone();
        hidden.local_modes.remove(LocalModes::ECHO);
        hidden.local_modes.insert(LocalModes::ECHONL);
        let done = tcsetattr(rustix::stdio::stdin(), OptionalActions::Flush, &hidden);
        Self(done.ok().map(|()| before))
    }

    #[cfg(not(unix))]
    const fn begin() -> Self {
        Self()
    }
}

#[cfg(unix)]
impl Drop for Hidden {
    fn drop(&mut self) {
        if let Some(before) = &self.0 {
            use rustix::termios::{OptionalActions, tcsetattr};
            // A terminal that is gone shows nothing any more.
            tcsetattr(rustix::stdio::stdin(), OptionalActions::Flush, before).ok();
        }
    }
}

//! The program serving a book, asked over real HTTP.
//!
//! How to sign in: while nobody can, the program writes a one-use link on standard output; `link`
//! holds it. `come_in` chooses a password with it and keeps the cookie, which every later request
//! sends. For a book with accounts, `serve --link NAME` writes such a link for NAME.
#![expect(clippy::disallowed_methods, reason = "these tests run the program")]

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, OnceLock};

use tempfile::TempDir;
use ureq::Agent;
use ureq::http::Response;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

/// The only person of a new book.
pub(crate) const PERSON: &str = "Ana Ruiz";

/// The password that is chosen.
pub(crate) const PASSWORD: &str = "three words and a lamp";

/// The demo's day after.
const AFTER: &str = "2026-03-06T09:00:00Z";

/// The program, serving a book; it ends with this.
pub(crate) struct Served {
    child: Child,
    /// `http://127.0.0.1:PORT`.
    pub(crate) origin: String,
    /// The one-use link, where one was written.
    pub(crate) link: Option<String>,
    /// The cookie of the session, once there is one.
    pub(crate) cookie: String,
    /// What the book lies in.
    pub(crate) folder: TempDir,
    agent: Agent,
}

/// An answer as text; what is no text is given by its letters as far as they go.
pub(crate) struct Answer {
    pub(crate) status: u16,
    /// The headers, a line each.
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Answer {
    /// A header, or nothing.
    pub(crate) fn header(&self, name: &str) -> &str {
        let mut pairs = self.head.lines().filter_map(|line| line.split_once(": "));
        pairs.find(|(key, _)| *key == name).map_or("", |(_, value)| value)
    }
}

pub(crate) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.env_remove("CINDERBOOK_BOOK").env_remove("CINDERBOOK_PERSON");
    command.env("CINDERBOOK_CLOCK", AFTER);
    command
}

/// Draws up a plan like the demo's in the demo's book, with some of its words exchanged.
pub(crate) fn drawn_up(folder: &Path, changes: &[(&str, &str)]) {
    let mut plan = crate::house::text("crates/app/src/demo/plan.toml");
    let equipment = ("\"EQUIPMENT\"", "\"NB-1\", \"CB-2\", \"TC-4\", \"SW-3\"");
    for (old, new) in changes.iter().chain([&equipment]) {
        assert!(plan.contains(old), "{old}");
        plan = plan.replace(old, new);
    }
    let (book, file) = (folder.join("book"), folder.join("another.toml"));
    std::fs::write(&file, plan).unwrap();
    let mut command = program();
    command.args(["--as", "Odalys Fenn", "--book"]).arg(book).args(["plan", "new"]).arg(&file);
    let done = command.output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

/// A folder with a new book that one person is admitted to.
pub(crate) fn new_book() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let made = program()
        .arg("new")
        .arg(folder.path().join("book"))
        .args(["--laboratory", "Made-up laboratory", "--address", "Nowhere", "--person", PERSON])
        .output()
        .unwrap();
    assert!(made.status.success(), "{made:?}");
    folder
}

/// The demo's folder, made once by this run of the tests: it takes seconds. Only copies are served.
pub(crate) fn demo() -> &'static Path {
    static DEMO: OnceLock<PathBuf> = OnceLock::new();
    DEMO.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("demo");
        std::fs::remove_dir_all(&folder).ok();
        let made = program().arg("--quiet").arg("demo").arg(&folder).output().unwrap();
        assert!(made.status.success(), "{made:?}");
        folder
    })
}

impl Served {
    /// Serves the book in `folder` at a moment, with further arguments.
    pub(crate) fn start(folder: TempDir, arguments: &[&str], clock: &str) -> Self {
        let here = ["--listen", "127.0.0.1:0"];
        Self::start_at(folder, &[&here, arguments].concat(), clock)
    }

    /// Serves the book in `folder` on the network, now: a certificate holds by the true clock. The
    /// client trusts the book's authority and nobody else.
    pub(crate) fn enciphered(folder: TempDir, arguments: &[&str]) -> Self {
        let network = ["--listen", "0.0.0.0:0"];
        let now = jiff::Timestamp::now().to_string();
        let mut served = Self::start_at(folder, &[&network, arguments].concat(), &now);
        let kept = kept(&served.book(), "access/authority.json");
        let kept: serde_json::Value = serde_json::from_str(&kept).unwrap();
        let der = hex::decode(kept["certificate"].as_str().unwrap()).unwrap();
        served.agent = agent_trusting(Some(&der));
        served
    }

    /// The same by a laboratory's certificate, of an authority that the client trusts.
    pub(crate) fn enciphered_by(folder: TempDir, arguments: &[&str], authority: &[u8]) -> Self {
        let now = jiff::Timestamp::now().to_string();
        let mut served = Self::start_at(folder, arguments, &now);
        served.agent = agent_trusting(Some(authority));
        served
    }

    fn start_at(folder: TempDir, arguments: &[&str], clock: &str) -> Self {
        let mut command = program();
        command.env("CINDERBOOK_CLOCK", clock);
        Self::started(command, folder, arguments)
    }

    /// Serves the book in `folder` by this command.
    pub(crate) fn started(command: Command, folder: TempDir, arguments: &[&str]) -> Self {
        let book = folder.path().join("book");
        Self::started_on((command, &book), folder, arguments)
    }

    /// Serves the book at an address by this command.
    pub(crate) fn on(by: (Command, &Path), arguments: &[&str]) -> Self {
        let arguments = [&["--listen", "127.0.0.1:0"], arguments].concat();
        Self::started_on(by, tempfile::tempdir().unwrap(), &arguments)
    }

    fn started_on(
        (mut command, book): (Command, &Path),
        folder: TempDir,
        arguments: &[&str],
    ) -> Self {
        let mut child = command
            .arg("--book")
            .arg(book)
            .arg("serve")
            .args(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (mut origin, mut link) = (None, None);
        let mut words = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut said = String::new();
        while origin.is_none() {
            let Some(line) = words.next() else { panic!("does not serve: {said}") };
            let line = line.unwrap();
            if line.starts_with("A link") {
                let mut written = String::new();
                BufReader::new(child.stdout.take().unwrap()).read_line(&mut written).unwrap();
                link = Some(written.trim().to_owned());
            }
            origin = line
                .strip_prefix("The book is open at ")
                .and_then(|rest| rest.split("/ ").next())
                .map(str::to_owned);
            said = said + &line + "\n";
        }
        std::thread::spawn(move || words.map_while(Result::ok).for_each(drop));
        let (origin, cookie) = (origin.unwrap(), String::new());
        Self { child, origin, link, cookie, folder, agent: agent_trusting(None) }
    }

    /// The demo's book, the person who tests there signed in.
    pub(crate) fn demo() -> Self {
        Self::demo_after(|_| ())
    }

    /// The same, after something was done in the folder that the book lies in.
    pub(crate) fn demo_after(done: impl FnOnce(&Path)) -> Self {
        Self::demo_by(|folder| {
            done(folder);
            program()
        })
    }

    /// The same, served by what is done there.
    pub(crate) fn demo_by(done: impl FnOnce(&Path) -> Command) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let copied = Command::new("cp").arg("-a").arg(demo().join(".")).arg(folder.path()).output();
        assert!(copied.as_ref().unwrap().status.success(), "{copied:?}");
        let command = done(folder.path());
        let arguments = ["--listen", "127.0.0.1:0", "--link", "Odalys Fenn"];
        let mut served = Self::started(command, folder, &arguments);
        served.come_in();
        served
    }

    /// A new book, its only person signed in.
    pub(crate) fn of_a_new_book() -> Self {
        let mut served = Self::start(new_book(), &[], AFTER);
        served.come_in();
        served
    }

    /// Chooses a password with the link, and is signed in.
    pub(crate) fn come_in(&mut self) {
        let link = self.link.clone().unwrap();
        let path = link.strip_prefix(&self.origin).unwrap();
        let form = [("password", PASSWORD), ("again", PASSWORD)];
        let answer = self.fill(path, &form);
        assert_eq!(answer.status, 303, "{}", answer.body);
        self.keep_cookie(&answer);
    }

    /// Keeps the cookie that an answer sets.
    pub(crate) fn keep_cookie(&mut self, answer: &Answer) {
        let pair = answer.header("set-cookie").split(';').next().unwrap();
        pair.clone_into(&mut self.cookie);
    }

    /// Kills the program where it stands.
    pub(crate) fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Serves the same book again at the same address, after it was killed.
    pub(crate) fn start_again(&mut self) {
        let folder = std::mem::replace(&mut self.folder, tempfile::tempdir().unwrap());
        let (cookie, agent) = (self.cookie.clone(), self.agent.clone());
        let at = self.origin.strip_prefix("http://").unwrap().to_owned();
        *self = Self::start_at(folder, &["--listen", &at], AFTER);
        (self.cookie, self.agent) = (cookie, agent);
    }

    /// The same book, served anew at another moment to a browser that shows the same word.
    pub(crate) fn later(self, clock: &str) -> Self {
        let word = self.cookie.split_once('=').unwrap().1.to_owned();
        let mut served = Self::start(self.end(), &[], clock);
        let port = served.origin.rsplit(':').next().unwrap();
        served.cookie = format!("cinderbook-{port}={word}");
        served
    }

    /// Ends the serving and gives back the folder.
    pub(crate) fn end(mut self) -> TempDir {
        let other = tempfile::tempdir().unwrap();
        std::mem::replace(&mut self.folder, other)
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.get_with(path, &[])
    }

    /// Whether a page can be had at this address, with the reason where it cannot.
    pub(crate) fn reached(&self, address: &str) -> Result<u16, String> {
        let answer = self.agent.get(address).call();
        answer.map(|answer| answer.status().as_u16()).map_err(|error| error.to_string())
    }

    /// The same with further headers.
    pub(crate) fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        let mut request = self.agent.get(format!("{}{path}", self.origin));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        answer(request.header("cookie", &self.cookie).call())
    }

    /// An answer that goes on, as it comes.
    pub(crate) fn stream(&self, path: &str) -> impl std::io::Read + use<> {
        let request = self.agent.get(format!("{}{path}", self.origin));
        request.header("cookie", &self.cookie).call().unwrap().into_body().into_reader()
    }

    /// A file that is there.
    pub(crate) fn bytes(&self, path: &str) -> Vec<u8> {
        let request = self.agent.get(format!("{}{path}", self.origin));
        let answer = request.header("cookie", &self.cookie).call().unwrap();
        assert_eq!(answer.status().as_u16(), 200, "{path}");
        answer.into_body().read_to_vec().unwrap()
    }

    /// Whether an answer comes to its end.
    pub(crate) fn comes_whole(&self, path: &str) -> bool {
        std::io::copy(&mut self.stream(path), &mut std::io::sink()).is_ok()
    }

    /// Posts a form as it goes over the line.
    pub(crate) fn post(&self, path: &str, form: &str) -> Answer {
        self.send(path, "application/x-www-form-urlencoded", form)
    }

    pub(crate) fn post_json(&self, path: &str, document: &str) -> Answer {
        self.send(path, "application/json", document)
    }

    /// Posts a form with files: name, the file's name where it is one, and what it holds.
    pub(crate) fn post_parts(&self, path: &str, parts: &[(&str, Option<&str>, &str)]) -> Answer {
        let mut body = String::new();
        for (name, file, text) in parts {
            let file = file.map_or(String::new(), |file| format!("; filename=\"{file}\""));
            body.push_str(&format!(
                "--=-=\r\ncontent-disposition: form-data; name=\"{name}\"{file}\r\n\r\n{text}\r\n"
            ));
        }
        body.push_str("--=-=--\r\n");
        self.send(path, "multipart/form-data; boundary=\"=-=\"", body)
    }

    /// Posts anything.
    pub(crate) fn send(&self, path: &str, kind: &str, body: impl AsRef<[u8]>) -> Answer {
        let request = self.agent.post(format!("{}{path}", self.origin));
        let request = request.header("cookie", &self.cookie).header("content-type", kind);
        answer(request.send(body.as_ref()))
    }

    /// Fills in a form, as a page of the book would.
    pub(crate) fn fill(&self, path: &str, form: &[(&str, &str)]) -> Answer {
        self.fill_from(path, form, &self.origin)
    }

    /// The same, as a page of another site would.
    pub(crate) fn fill_from(&self, path: &str, form: &[(&str, &str)], origin: &str) -> Answer {
        let request = self.agent.post(format!("{}{path}", self.origin));
        let request = request.header("cookie", &self.cookie).header("origin", origin);
        answer(request.send_form(form.iter().copied()))
    }

    /// A page that is there.
    pub(crate) fn page(&self, path: &str) -> String {
        let answer = self.get(path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        answer.body
    }

    /// The address of a page.
    pub(crate) fn at(&self, path: &str) -> String {
        format!("{}{path}", self.origin)
    }

    /// Ends the serving, and holds that the book checks.
    pub(crate) fn ended(self) {
        let folder = self.end();
        let checked = program().arg("verify").arg(folder.path().join("book")).output().unwrap();
        assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stdout));
    }

    /// The most memory that the program has taken so far.
    pub(crate) fn memory_kilobytes(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
        most.trim().trim_end_matches(" kB").parse().unwrap()
    }

    pub(crate) fn book(&self) -> PathBuf {
        self.folder.path().join("book")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.kill();
    }
}

/// A client that follows nothing, takes every status for an answer, and trusts this authority.
fn agent_trusting(authority: Option<&[u8]>) -> Agent {
    let authority = authority.map(|der| Certificate::from_der(der).to_owned());
    let trusted = TlsConfig::builder()
        .root_certs(RootCerts::new_with_certs(authority.as_slice()))
        .unversioned_rustls_crypto_provider(Arc::new(rustls::crypto::ring::default_provider()));
    let config = Agent::config_builder().max_redirects(0).http_status_as_error(false);
    // An answer that does not wait for what is sent ends its connection: none is used again.
    config.max_idle_connections(0).tls_config(trusted.build()).build().into()
}

/// Reads an answer to its end.
fn answer(got: Result<Response<ureq::Body>, ureq::Error>) -> Answer {
    let (parts, mut body) = got.unwrap().into_parts();
    let lines = parts.headers.iter();
    let head =
        lines.map(|(name, value)| format!("{name}: {}\n", value.to_str().unwrap())).collect();
    let body = String::from_utf8_lossy(&body.read_to_vec().unwrap()).into_owned();
    Answer { status: parts.status.as_u16(), head, body }
}

/// A file of the book, as text.
pub(crate) fn kept(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap()
}

pub(crate) fn holds(text: &str, wanted: &[&str]) {
    for wanted in wanted {
        assert!(text.contains(wanted), "`{wanted}` is not in {text}");
    }
}

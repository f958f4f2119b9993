//! The pages and their twins over real HTTP: the trail, the reports, the equipment, the flame.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

/// The demo's book, served to one person.
struct Served {
    child: Child,
    address: String,
    folder: TempDir,
}

/// An answer as text; what is no text is given by its letters as far as they go.
struct Answer {
    status: u16,
    head: String,
    body: String,
}

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.env_remove("CINDERBOOK_BOOK").env_remove("CINDERBOOK_PERSON");
    command.env("CINDERBOOK_CLOCK", "2026-03-06T09:00:00Z");
    command
}

impl Served {
    fn demo() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let made = program().arg("--quiet").arg("demo").arg(folder.path()).output().unwrap();
        assert!(made.status.success(), "{made:?}");
        let mut child = program()
            .args(["--as", "Odalys Fenn", "--book"])
            .arg(folder.path().join("book"))
            .args(["serve", "--listen", "127.0.0.1:0"])
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut words = BufReader::new(child.stderr.take().unwrap()).lines();
        let address = words
            .by_ref()
            .map_while(Result::ok)
            .find_map(|line| {
                let rest = line.strip_prefix("The book is open at http://")?;
                rest.split('/').next().map(str::to_owned)
            })
            .unwrap();
        std::thread::spawn(move || words.map_while(Result::ok).for_each(drop));
        Self { child, address, folder }
    }

    fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, ("text/plain", b""))
    }

    fn post(&self, path: &str, form: &str) -> Answer {
        self.ask("POST", path, ("application/x-www-form-urlencoded", form.as_bytes()))
    }

    fn ask(&self, method: &str, path: &str, (kind, body): (&str, &[u8])) -> Answer {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n\
             content-type: {kind}\r\ncontent-length: {}\r\n\r\n",
            self.address,
            body.len()
        )
        .unwrap();
        stream.write_all(body).unwrap();
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes).unwrap();
        let text = String::from_utf8_lossy(&bytes).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        Answer { status, head: head.to_owned(), body: body.to_owned() }
    }

    /// A page that is there.
    fn page(&self, path: &str) -> String {
        let answer = self.get(path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        answer.body
    }

    fn book(&self) -> std::path::PathBuf {
        self.folder.path().join("book")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

fn holds(text: &str, wanted: &[&str]) {
    for wanted in wanted {
        assert!(text.contains(wanted), "`{wanted}` is not in {text}");
    }
}

#[test]
fn the_record_is_shown_filtered_and_paged() {
    let served = Served::demo();
    let all = served.page("/record");
    holds(&all, &["Report R-1 on plan P-1 was issued.", "Check the record now"]);
    let flame = served.page("/record?kind=flame-confirmed&thing=C-1&person=Bram+Tessaly");
    holds(&flame, &["The flame was confirmed for plan P-1 as C-1, by D-2, D-3, D-4."]);
    let none = served.page("/record?from=2031-01-01");
    holds(&none, &["No entry is as asked."]);
    let wrong = served.get("/record?from=tomorrow");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["`tomorrow` is no day", "such as 2026-11-25"]);
    let first = served.page("/record?before=2");
    holds(&first, &["The made-up book of", "was opened."]);
    let twin = served.page("/api/record?kind=report-issued");
    holds(&twin, &["\"before\":null", "\"kind\":\"report-issued\"", "\"report\":\"R-1\""]);
}

#[test]
fn the_trail_comes_as_a_file() {
    let served = Served::demo();
    let file = served.get("/record.csv?person=Odalys+Fenn");
    holds(&file.head, &["attachment; filename=\"record.csv\"", "text/csv", "nosniff"]);
    holds(&file.body, &["entry,at,who,kind,what\r\n", "Odalys Fenn,report-issued"]);
    assert!(!file.body.contains("Bram Tessaly,"), "{}", file.body);
    let other = served.get("/record.csv?for=spreadsheet");
    holds(&other.body, &["\u{feff}entry,at,who"]);
}

#[test]
fn an_entry_gives_its_hash_and_its_files() {
    let served = Served::demo();
    let twin = served.page("/api/record?kind=report-issued");
    let number = between(&twin, "\"entry\":", ",");
    let entry = served.page(&format!("/record/{number}"));
    holds(&entry, &["R-1.pdf", "As it is written", "Hash"]);
    let file = format!("/record/{}", between(&entry, "href=\"/record/", "\">R-1.json"));
    let json = served.get(&file);
    holds(&json.head, &["attachment; filename=\"R-1.json\"", "application/json"]);
    holds(&json.body, &["cinderbook-report/1"]);
    assert_eq!(served.get("/record/100000").status, 404);
    assert_eq!(served.get("/record/first").status, 404);
    assert_eq!(served.get(&format!("/record/{number}/evidence/00")).status, 404);
}

/// What stands between two marks, the last mark before the end.
fn between<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    let end = text.find(to).unwrap();
    let text = if text[..end].contains(from) { &text[..end] } else { text };
    let begin = text.rfind(from).unwrap() + from.len();
    text[begin..].split(to).next().unwrap()
}

#[test]
fn the_check_tells_a_sound_record_from_a_changed_one() {
    let served = Served::demo();
    holds(&served.page("/record/check"), &["was not checked since the book was opened"]);
    let asked = served.post("/record/check", "head=");
    assert_eq!(asked.status, 303);
    let sound = done(&served);
    holds(&sound, &["\"sound\":true", "\"verdicts_reached_again\":2", "\"faults\":[]"]);
    holds(&served.page("/record/check"), &["The record checks."]);
    damage(&served.book().join("evidence"));
    served.post("/record/check", "head=");
    holds(&done(&served), &["\"sound\":false"]);
    holds(&served.page("/record/check"), &["The record does not check", "Issue no report"]);
    let wrong = served.post("/record/check", "head=42");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["`42` is not a head"]);
}

/// The check once it is done.
fn done(served: &Served) -> String {
    loop {
        let twin = served.page("/api/record/check");
        if twin.contains("\"state\":\"done\"") {
            return twin;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
}

/// Changes one byte of one evidence file.
fn damage(evidence: &Path) {
    let folders = std::fs::read_dir(evidence).unwrap().map(|entry| entry.unwrap().path());
    let folder = folders.into_iter().find(|path| path.is_dir()).unwrap();
    let file = std::fs::read_dir(folder).unwrap().next().unwrap().unwrap().path();
    let mut bytes = std::fs::read(&file).unwrap();
    bytes[0] ^= 1;
    std::fs::write(&file, bytes).unwrap();
}

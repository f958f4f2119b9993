//! The program serving the demo's book, asked over real HTTP.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

use tempfile::TempDir;

/// The demo's book, served to one person.
pub(crate) struct Served {
    child: Child,
    address: String,
    pub(crate) folder: TempDir,
}

/// An answer as text; what is no text is given by its letters as far as they go.
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

pub(crate) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cinderbook"));
    command.env_remove("CINDERBOOK_BOOK").env_remove("CINDERBOOK_PERSON");
    command.env("CINDERBOOK_CLOCK", "2026-03-06T09:00:00Z");
    command
}

impl Served {
    pub(crate) fn demo() -> Self {
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

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, ("text/plain", b""))
    }

    pub(crate) fn post(&self, path: &str, form: &str) -> Answer {
        self.ask("POST", path, ("application/x-www-form-urlencoded", form.as_bytes()))
    }

    pub(crate) fn post_json(&self, path: &str, document: &str) -> Answer {
        self.ask("POST", path, ("application/json", document.as_bytes()))
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
        self.ask("POST", path, ("multipart/form-data; boundary=\"=-=\"", body.as_bytes()))
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
    pub(crate) fn page(&self, path: &str) -> String {
        let answer = self.get(path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        answer.body
    }

    pub(crate) fn book(&self) -> std::path::PathBuf {
        self.folder.path().join("book")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

pub(crate) fn holds(text: &str, wanted: &[&str]) {
    for wanted in wanted {
        assert!(text.contains(wanted), "`{wanted}` is not in {text}");
    }
}

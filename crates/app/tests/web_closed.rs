//! What the program does not answer: other methods, lists of what lies somewhere, names that lead
//! elsewhere, drawings with scripts in them.
#![expect(clippy::disallowed_methods, reason = "what is left on the disk is looked for")]

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;

use serde_json::Value;

use crate::served::{Served, holds};
use crate::web_plans::ready_to_test;

/// The whole answer to a request by a method, with the cookie of who is signed in.
fn asked(served: &Served, method: &str, path: &str) -> String {
    let host = served.origin.strip_prefix("http://").unwrap();
    let mut line = TcpStream::connect(host).unwrap();
    let cookie = &served.cookie;
    write!(
        line,
        "{method} {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\nx-mark: told-back\r\n\
         content-length: 0\r\nconnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = String::new();
    line.read_to_string(&mut answer).unwrap();
    answer
}

#[test]
fn a_method_that_is_not_meant_is_refused_and_nothing_is_told_back() {
    let served = Served::demo();
    for method in ["TRACE", "TRACK", "OPTIONS", "PUT", "DELETE", "PATCH", "PROPFIND"] {
        for path in ["/", "/plans/1", "/api/today", "/assets/style.css"] {
            let answer = asked(&served, method, path);
            let status = answer.split(' ').nth(1).unwrap();
            assert!(["404", "405"].contains(&status), "{method} {path}: {answer}");
            let word = served.cookie.split_once('=').unwrap().1;
            assert!(!answer.contains("told-back") && !answer.contains(word), "{method} {path}");
        }
    }
    served.ended();
}

#[test]
fn no_folder_is_listed_and_nothing_beside_the_pages_is_there() {
    let served = Served::demo();
    for path in [
        "/assets",
        "/assets/",
        "/assets/bench",
        "/assets/bench/",
        "/assets/../assets/style.css",
        "/assets/..%2f..%2fCargo.toml",
        "/assets/%2e%2e/key",
        "/assets//etc/passwd",
        "/evidence",
        "/evidence/",
        "/record/1/evidence/",
        "/access/people.json",
        "/key",
        "/record.sqlite",
        "/.git/config",
        "/.env",
        "/debug",
        "/debug/pprof/",
        "/metrics",
        "/status",
        "/healthz",
        "/swagger",
        "/docs",
        "/openapi.json",
        "/api",
        "/api/",
        "/server-status",
        "/favicon.ico.map",
    ] {
        let answer = served.get(path);
        assert_eq!(answer.status, 404, "{path}: {}", answer.body);
        assert!(!answer.body.contains("bench.js"), "{path}: {}", answer.body);
    }
    served.ended();
}

/// R47: names as a hostile sender may give them, each with what is left of it.
const NAMES: [(&str, &str); 7] = [
    ("../../../etc/cron.d/x.pdf", "x.pdf"),
    ("..%5C..%5Cwindows%5Cx.pdf", "x.pdf"),
    ("C:%5Cx.pdf", "x.pdf"),
    ("x%00.pdf", "x.pdf"),
    ("x%E2%80%AEfdp.pdf", "xfdp.pdf"),
    ("%0D%0Aset-cookie:%20a=b.pdf", "a=b.pdf"),
    ("%3Cscript%3Ealert(1)%3C%2Fscript%3E.pdf", "script>.pdf"),
];

#[test]
fn a_name_leads_nowhere_and_is_shown_as_text() {
    let served = Served::demo();
    let before = folders(served.folder.path());
    let long = format!("{}.pdf", "%C3%BC".repeat(300));
    let cut = format!("{}.pdf", "ü".repeat(116));
    for ((name, left), nth) in NAMES.into_iter().chain([(long.as_str(), cut.as_str())]).zip(1..) {
        let path = format!("/api/evidence?name={name}&kind=certificate");
        let filed = served.send(&path, "application/octet-stream", format!("%PDF-1.7 {nth}"));
        assert_eq!(filed.status, 200, "{name}: {}", filed.body);
        let filed: Value = serde_json::from_str(&filed.body).unwrap();
        assert_eq!(filed["name"], left, "{name}");
        let file = format!("{} {left}", filed["sha256"].as_str().unwrap());
        let said = serde_json::json!({ "piece": "CB-2", "certificate": left, "by": "Ada",
            "on": "2026-03-01", "due": "2027-02-28", "result": "fit", "file": file });
        let kept = served.post_json("/api/calibration", &said.to_string());
        assert_eq!(kept.status, 200, "{}", kept.body);
        let record: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
        let entry = &record["entries"][0]["entry"];
        let page = served.page(&format!("/record/{entry}"));
        assert!(!page.contains("<script>alert"), "{page}");
        let file =
            served.get(&format!("/record/{entry}/evidence/{}", filed["sha256"].as_str().unwrap()));
        let head = file.header("content-disposition");
        assert!(head.starts_with("attachment; filename=\"") && head.len() < 900, "{head}");
        assert!(
            file.header("set-cookie").is_empty()
                && file.header("x-content-type-options") == "nosniff"
        );
    }
    // Whatever it was called, it lies under its hash.
    for path in folders(served.folder.path()).iter().filter(|path| !before.contains(path)) {
        let name = path.rsplit('/').next().unwrap();
        let hash = name.len() == 64 && name.bytes().all(|it| it.is_ascii_hexdigit());
        let folder = name.len() == 2 && path.contains("/evidence/");
        assert!(
            hash || folder
                || path.contains("/heads/")
                || path.contains("/access/")
                || path.contains("record.sqlite"),
            "{path}"
        );
    }
    served.ended();
}

/// All that lies below a folder.
fn folders(folder: &Path) -> Vec<String> {
    let below = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let own = |path: &Path| path.display().to_string();
    below
        .flat_map(|path| {
            [vec![own(&path)], if path.is_dir() { folders(&path) } else { vec![] }].concat()
        })
        .collect()
}

#[test]
fn a_drawing_with_a_script_in_it_is_taken_up_nowhere() {
    let served = ready_to_test();
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\"><script>alert(1)</script></svg>";
    let before = served.page("/api/record");
    for name in ["a.svg", "a.png", "a.jpg", "a.xml"] {
        let part = [("photo", Some(name), svg)];
        let described = served.post_parts("/specimens/2-1/photos", &part);
        assert_eq!(described.status, 422, "{name}");
        holds(&described.body, &["is no JPEG, PNG or WebP picture"]);
        let raw = |path: &str| served.send(path, "application/octet-stream", svg);
        let bench = raw(&format!("/api/bench/2/1/photos?name={name}"));
        assert_eq!(bench.status, 422, "{name}");
        let filed = raw(&format!("/api/evidence?name={name}&kind=photo"));
        assert_eq!(filed.status, 422, "{name}: {}", filed.body);
        let parts = [("piece", None, "CB-2"), ("by", None, "Ada"), ("file", Some(name), svg)];
        assert_eq!(served.post_parts("/calibration", &parts).status, 422, "{name}");
    }
    // Nor a picture that is too large to be unpacked, by whichever door.
    let wide = b"\xff\xd8\xff\xc0\0\x11\x08\x27\x10\x27\x10";
    let filed =
        served.send("/api/evidence?name=w.jpg&kind=photo", "application/octet-stream", wide);
    assert_eq!(filed.status, 422);
    holds(&filed.body, &["10000 × 10000 elements, more than 50 million"]);
    assert_eq!(served.page("/api/record"), before);
    served.ended();
}

/// R73: what says itself that it is too large is refused before any of it comes.
#[test]
fn a_film_of_more_than_two_gigabytes_is_refused_by_its_length() {
    let served = ready_to_test();
    let host = served.origin.strip_prefix("http://").unwrap();
    let mut line = TcpStream::connect(host).unwrap();
    let (cookie, bytes) = (&served.cookie, (2_u64 << 30) + (1 << 20));
    write!(
        line,
        "POST /api/specimens/2-1/films?name=long.mp4 HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\n\
         content-type: application/octet-stream\r\ncontent-length: {bytes}\r\n\r\n"
    )
    .unwrap();
    let mut answer = vec![0; 4096];
    let read = line.read(&mut answer).unwrap();
    holds(&String::from_utf8_lossy(&answer[..read]), &["413", "the film has more than 2 GB"]);
    served.ended();
}

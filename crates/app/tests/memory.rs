//! The memory of the program that serves, where the largest that may be sent comes all at once (R04).
#![expect(clippy::disallowed_methods, reason = "a report is looked into")]

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::process::Command;
use std::thread;

use crate::served::{Answer, Served, holds};
use crate::web_describe::pressed;
use crate::web_plans::{led, ready_to_test};

/// The most memory the program may have taken, in kB.
const MOST: u64 = 256 << 10;

/// One photograph may have so many bytes.
const PHOTO_BYTES: usize = 30 << 20;

/// More of a film than there is memory.
const FILM_BYTES: usize = 400 << 20;

/// A logger's file may have so many bytes.
const FILE_BYTES: usize = 20_000_000;

/// A photograph of 50 million elements, as far as its head says.
fn photo(mark: u8) -> Vec<u8> {
    let mut photo = b"\xff\xd8\xff\xc0\0\x11\x08\x13\x88\x27\x10".to_vec();
    photo.push(mark);
    photo.resize(PHOTO_BYTES, mark);
    photo
}

/// Posts a form of files as a page does.
fn hand_in(
    served: &Served,
    path: &str,
    fields: &[(&str, &str)],
    files: &[(&str, &str, &[u8])],
) -> Answer {
    let mut body = Vec::new();
    for (name, text) in fields {
        body.extend(
            format!("--cut\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{text}\r\n")
                .bytes(),
        );
    }
    for (name, file, bytes) in files {
        let head = format!(
            "--cut\r\ncontent-disposition: form-data; name=\"{name}\"; filename=\"{file}\"\r\n\r\n"
        );
        body.extend(head.bytes());
        body.extend(*bytes);
        body.extend(b"\r\n");
    }
    body.extend(b"--cut--\r\n");
    served.send(path, "multipart/form-data; boundary=cut", body)
}

/// Sends a film a piece at a time; what was answered.
fn film(served: &Served) -> String {
    let host = served.origin.strip_prefix("http://").unwrap();
    let mut line = TcpStream::connect(host).unwrap();
    let cookie = &served.cookie;
    write!(
        line,
        "POST /api/specimens/2-1/films?name=long.mp4 HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\n\
         content-type: application/octet-stream\r\ncontent-length: {FILM_BYTES}\r\n\
         connection: close\r\n\r\n"
    )
    .unwrap();
    let mut piece = vec![7; 1 << 20];
    piece[..12].copy_from_slice(b"\0\0\0\x18ftypisom");
    for _ in 0..FILM_BYTES >> 20 {
        line.write_all(&piece).unwrap();
        piece[..12].fill(7);
    }
    let mut answer = String::new();
    line.read_to_string(&mut answer).unwrap();
    answer
}

/// A heating of nearly two million readings.
fn heating() -> Vec<u8> {
    let mut file = b"Time (s),T (C)\n".to_vec();
    let mut at = 0;
    while file.len() < FILE_BYTES - 32 {
        file.extend(
            format!("{}.{:04},{:.2}\n", at / 10_000, at % 10_000, 20.0 + f64::from(at) / 2_500.0)
                .bytes(),
        );
        at += 1;
    }
    file
}

#[test]
fn the_largest_photographs_film_and_file_at_once_leave_the_program_within_its_memory() {
    let served = ready_to_test();
    let (photos, file) = ([photo(1), photo(2)], heating());
    thread::scope(|scope| {
        let film = scope.spawn(|| film(&served));
        let described = scope.spawn(|| {
            let files = [("photo", "1.jpg", &*photos[0]), ("photo", "2.jpg", &*photos[1])];
            hand_in(&served, "/specimens/2-1/photos", &[], &files)
        });
        let before = scope.spawn(|| {
            served.send("/api/bench/2/1/photos?name=3.jpg", "application/octet-stream", photo(3))
        });
        let brought = scope.spawn(|| {
            let fields = [("plan", "1"), ("class", "1"), ("channel", "T")];
            hand_in(&served, "/flame/bring", &fields, &[("file", "heating.csv", &file)])
        });
        led(&described.join().unwrap());
        assert_eq!(before.join().unwrap().status, 200);
        let brought = brought.join().unwrap();
        assert!([303, 422].contains(&brought.status), "{}", brought.body);
        holds(&film.join().unwrap(), &["200 OK", &format!("\"bytes\":{FILM_BYTES}")]);
    });
    assert_eq!(served.get("/").status, 200);
    let most = served.memory_kilobytes();
    println!("{} MB at most", most >> 10);
    assert!(most < MOST, "{most} kB");
    served.ended();
}

/// A PNG of so many grey elements, not packed: its parts and their sums by RFC 2083 and RFC 1950, from
/// memory.
fn png(width: u32, height: u32) -> Vec<u8> {
    let sum = |bytes: &[u8]| {
        !bytes.iter().fold(!0_u32, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| sum >> 1 ^ (0xedb8_8320 * (sum & 1)))
        })
    };
    let part = |name: &[u8; 4], inside: &[u8]| {
        let named = [name.as_slice(), inside].concat();
        let length = u32::try_from(inside.len()).unwrap().to_be_bytes();
        [length.as_slice(), &named, &sum(&named).to_be_bytes()].concat()
    };
    let row = [vec![0], vec![128; width as usize]].concat();
    let rows = row.repeat(height as usize);
    let mut packed = vec![0x78, 1];
    let blocks = rows.chunks(65_535).count();
    for (block, nth) in rows.chunks(65_535).zip(1..) {
        let length = u16::try_from(block.len()).unwrap();
        packed.push(u8::from(nth == blocks));
        packed.extend([length.to_le_bytes(), (!length).to_le_bytes()].concat());
        packed.extend(block);
    }
    let (one, two) = rows.iter().fold((1_u32, 0_u32), |(one, two), byte| {
        let one = (one + u32::from(*byte)) % 65_521;
        (one, (two + one) % 65_521)
    });
    packed.extend((two << 16 | one).to_be_bytes());
    let head = [&width.to_be_bytes()[..], &height.to_be_bytes(), &[8, 0, 0, 0, 0]].concat();
    let parts = [part(b"IHDR", &head), part(b"IDAT", &packed), part(b"IEND", b"")].concat();
    [b"\x89PNG\r\n\x1a\n".as_slice(), &parts].concat()
}

/// R72: the typesetter unpacks every photograph of a report, so it is given smaller copies.
#[test]
fn a_report_prints_large_photographs_as_smaller_copies_and_keeps_them_as_they_came() {
    let served = ready_to_test();
    let chain = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &chain)).status, 200);
    let (large, small) = (png(1600, 1200), png(600, 400));
    let files = [("photo", "large.png", &*large), ("photo", "small.png", &*small)];
    led(&hand_in(&served, "/specimens/2-1/photos", &[], &files));
    let all = "layer=unchanged&surroundings=none&burnt=partly&temperature=23&humidity=50";
    led(&served.post("/specimens/2-1/describe/all", all));
    for act in ["judge", "report"] {
        let done = served.post("/plans/2", &format!("act={act}"));
        assert_eq!(done.status, 303, "{act}: {}", done.body);
    }
    let report = served.folder.path().join("report.pdf");
    std::fs::write(&report, served.bytes("/reports/2/pdf")).unwrap();
    let listed = Command::new("pdfimages").arg("-list").arg(&report).output().unwrap();
    let listed = String::from_utf8(listed.stdout).unwrap();
    let pictures = listed.lines().skip(2).map(|line| line.split_whitespace().collect::<Vec<_>>());
    let sizes: Vec<_> = pictures.map(|words| (words[3].to_owned(), words[4].to_owned())).collect();
    let size = |width: &str, height: &str| (width.to_owned(), height.to_owned());
    assert_eq!(sizes, [size("1200", "900"), size("600", "400")], "{listed}");
    let twin: serde_json::Value =
        serde_json::from_str(&served.page("/api/record?kind=run-recorded")).unwrap();
    let entry = served.page(&format!("/record/{}", twin["entries"][0]["entry"]));
    let address =
        entry.split("href=\"").find(|it| it.contains("/evidence/") && it.contains("large.png"));
    let address = address.unwrap().split('"').next().unwrap();
    assert_eq!(served.bytes(address), large);
    served.ended();
}

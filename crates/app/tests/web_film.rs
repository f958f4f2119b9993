//! Films of a specimen over real HTTP: taken in as they come, answered by their parts, laid beside
//! the presses.
#![expect(clippy::disallowed_methods, reason = "what is left of a film is looked for")]

use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use serde_json::{Value, json};

use crate::served::{Answer, Served, holds};
use crate::web_describe::pressed;
use crate::web_plans::{led, ready_to_test};

/// An MP4 of 12.5 s without a picture in it: what it is, pictures, and what says where they are.
pub(crate) fn mp4(pictures: usize) -> Vec<u8> {
    let part = |name: &[u8; 4], inside: &[u8]| {
        let size = u32::try_from(inside.len() + 8).unwrap().to_be_bytes();
        [size.as_slice(), name, inside].concat()
    };
    let mut length = vec![0; 12];
    length.extend(1000_u32.to_be_bytes());
    length.extend(12_500_u32.to_be_bytes());
    let moov = part(b"moov", &part(b"mvhd", &length));
    [part(b"ftyp", b"isom\0\0\0\0"), part(b"mdat", &vec![7; pictures]), moov].concat()
}

fn form(name: &str, bytes: &[u8]) -> Vec<u8> {
    let head = format!(
        "--cut\r\ncontent-disposition: form-data; name=\"film\"; filename=\"{name}\"\r\n\r\n"
    );
    [head.as_bytes(), bytes, b"\r\n--cut--\r\n"].concat()
}

/// Hands a film in as the page's form does.
fn hand_in(served: &Served, name: &str, bytes: &[u8]) -> Answer {
    served.send("/specimens/1-1/films", "multipart/form-data; boundary=cut", form(name, bytes))
}

fn films(served: &Served) -> Vec<Value> {
    let twin: Value = serde_json::from_str(&served.page("/api/specimens/1-1")).unwrap();
    twin["films"].as_array().unwrap().clone()
}

#[test]
fn a_film_is_kept_as_it_came_and_answered_by_its_parts() {
    let served = Served::demo();
    let film = mp4(200_000);
    assert_eq!(led(&hand_in(&served, "IMG_1.MP4", &film)), "/specimens/1-1#films");
    led(&hand_in(&served, "IMG_1.MP4", &film));
    let [shown] = films(&served).try_into().unwrap();
    assert_eq!((&shown["seconds"], &shown["missing"]), (&json!(12.5), &Value::Null));
    assert_eq!((&shown["begins_s"], &shown["who"]), (&Value::Null, &json!("Odalys Fenn")));
    let page = served.page("/specimens/1-1");
    holds(&page, &["<video controls", "preload=\"metadata\"", "IMG_1.MP4", "kept by Odalys Fenn"]);
    holds(&page, &["was added.", "It is not said yet when in it the flame is removed."]);
    let address = format!("/specimens/1-1/evidence/{}", shown["sha256"].as_str().unwrap());
    assert_eq!(served.bytes(&address), film);
    let whole = served.get_with(&address, &[("accept-encoding", "gzip")]);
    assert_eq!((whole.status, whole.header("content-encoding")), (200, ""));
    holds(&whole.head, &["content-type: video/mp4", "default-src 'none'; sandbox", "nosniff"]);
    assert_eq!(whole.header("accept-ranges"), "bytes");
    let part = |range: &str| served.get_with(&address, &[("range", range)]);
    let middle = part("bytes=4-7");
    assert_eq!((middle.status, middle.body.as_str()), (206, "ftyp"));
    assert_eq!(middle.header("content-range"), format!("bytes 4-7/{}", film.len()));
    let end = part("bytes=-5");
    assert_eq!((end.status, end.header("content-length")), (206, "5"));
    assert_eq!(part("bytes=999999-").status, 416);
    let kept: Value = serde_json::from_str(&served.page("/api/record?kind=film-kept")).unwrap();
    let entry = &kept["entries"][0]["entry"];
    assert_eq!(served.bytes(&format!("/record/{entry}/evidence/{}", &address[24..])), film);
    served.ended();
}

#[test]
fn the_second_at_which_the_flame_is_removed_lays_a_film_on_the_strip() {
    let served = Served::demo();
    led(&hand_in(&served, "phone.mp4", &mp4(900)));
    let hash = films(&served)[0]["sha256"].as_str().unwrap().to_owned();
    let path = format!("/specimens/1-1/films/{hash}");
    let field = format!("removed-{}", &hash[..8]);
    let wrong = served.post(&path, &format!("{field}=soon"));
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["<title>Error: ", "There is a problem", "value=\"soon\""]);
    holds(&wrong.body, &["Flame removed at this second of the film: `soon` is no number."]);
    for typed in ["5.5", "5,5+s", "7.25"] {
        led(&served.post(&path, &format!("{field}={typed}")));
    }
    let [film] = films(&served).try_into().unwrap();
    let removed = |page: &Value| page["moments"]["spans"][0]["to_s"].as_f64().unwrap();
    let twin: Value = serde_json::from_str(&served.page("/api/specimens/1-1")).unwrap();
    let begins = film["begins_s"].as_f64().unwrap();
    assert!((begins - (removed(&twin) - 7.25)).abs() < 1e-9, "{film}");
    let page = served.page("/specimens/1-1");
    holds(&page, &["class=\"span film\"", "removed in it at 7.25 s, said Odalys Fenn", "7.25\""]);
    // What was said before stays in the trail; what was said twice is there once.
    assert_eq!(page.matches("the flame is removed at 5.50 s").count(), 1);
    assert_eq!(page.matches("the flame is removed at 7.25 s").count(), 1);
    assert_eq!(served.post("/specimens/1-1/films/00", "removed-00=3").status, 404);
    let twin = format!("/api{path}/place");
    holds(&served.post_json(&twin, "{\"removed\":\"8 s\"}").body, &["\"removed_s\":8.0"]);
    assert_eq!(served.post_json(&twin, "{\"removed\":\"1.234\"}").status, 422);
    served.ended();
}

/// What a page sends of what it heard.
fn heard(removed: &str, tones: u32, apart: &str) -> String {
    let heard = format!(
        "{{\"removed\":\"{removed}\",\"tones\":{tones},\"of\":2,\"likeness\":0.83,\"best\":0.8,\
         \"second\":0.12,\"apart_s\":{apart}}}"
    );
    url::form_urlencoded::byte_serialize(heard.as_bytes()).collect()
}

#[test]
fn what_the_sound_of_a_film_proposed_is_kept_with_what_was_taken() {
    let served = Served::demo();
    led(&hand_in(&served, "phone.mp4", &mp4(900)));
    let hash = films(&served)[0]["sha256"].as_str().unwrap().to_owned();
    let (path, field) = (format!("/specimens/1-1/films/{hash}"), format!("removed-{}", &hash[..8]));
    let proposed = heard("31.20", 2, "0.004");
    // Taken one frame later; the same once more is the same.
    for _ in 0..2 {
        led(&served.post(&path, &format!("{field}=31.23&heard={proposed}")));
    }
    let entries = |kind: &str| {
        let record: Value =
            serde_json::from_str(&served.page(&format!("/api/record?kind={kind}"))).unwrap();
        record["entries"].as_array().unwrap().clone()
    };
    assert_eq!((entries("film-heard").len(), entries("film-placed").len()), (1, 1));
    let what = entries("film-heard")[0]["what"].as_str().unwrap().to_owned();
    holds(&what, &["removed at 31.20 s: a proposal. 2 of 2 tones were heard", "within 0.004 s"]);
    holds(&what, &["83 % alike; 80 % speaks for this place, 12 % for the next best."]);
    let [film] = films(&served).try_into().unwrap();
    let begins = |of: &Value| of["begins_s"].as_f64().unwrap();
    assert!((begins(&film["heard"]) - begins(&film) - 0.03).abs() < 1e-9, "{film}");
    let page = served.page("/specimens/1-1");
    holds(&page, &["removed in it at 31.23 s, said Odalys Fenn", "31.23\""]);
    holds(&page, &["Proposed by the bench's tones in its sound, listened to by Odalys Fenn"]);
    // Another proposal, and the same place: both are kept anew, in this order.
    let other = heard("31.21", 1, "null");
    led(&served.post(&path, &format!("{field}=31.23&heard={other}")));
    assert_eq!((entries("film-heard").len(), entries("film-placed").len()), (2, 2));
    holds(&served.page("/specimens/1-1"), &["Only 1 of 2 tones was heard."]);
    for (wrong, why) in [
        (heard("soon", 2, "0"), "`soon` is no number"),
        (heard("3", 3, "0"), "3 of 2 tones are not from 1 to all of them"),
        (heard("3", 2, "-1"), "`apart_s` is -1, not from 0 to"),
        ("1".to_owned(), "What the sound proposed cannot be read"),
    ] {
        let refused = served.post(&path, &format!("{field}=31.23&heard={wrong}"));
        assert_eq!(refused.status, 422, "{wrong}");
        holds(&refused.body, &["<title>Error: ", why]);
    }
    let twin = format!("/api{path}/place");
    let said = "{\"removed\":\"8 s\",\"heard\":{\"removed\":\"8.03\",\"tones\":2,\"of\":2,\
                \"likeness\":1,\"best\":1,\"second\":0,\"apart_s\":0.01}}";
    holds(&served.post_json(&twin, said).body, &["\"removed_s\":8.0", "\"removed_s\":8.03"]);
    assert_eq!(served.post_json(&twin, &said.replace("\"tones\":2", "\"tones\":0")).status, 422);
    served.ended();
}

#[test]
fn the_page_says_which_tones_a_film_may_have_heard() {
    let served = ready_to_test();
    let presses = [(0, "flame-on"), (302, "flame-removed"), (310, "flames-out"), (315, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &presses)).status, 200);
    let body = form("phone.mp4", &mp4(900));
    led(&served.send("/specimens/2-1/films", "multipart/form-data; boundary=cut", body));
    let page = served.page("/specimens/2-1");
    holds(
        &page,
        &["data-tones=\"flame-on:0 flame-removed:30.2\"", "data-removed-seconds=\"30.2\""],
    );
    holds(&page, &["data-seconds=\"12.5\""]);
    served.ended();
}

#[test]
fn what_is_no_film_is_refused_and_a_film_cut_off_is_kept_and_said_so() {
    let served = Served::demo();
    let film = mp4(900);
    let png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    let limit = "at most 2 GB";
    for (name, bytes, words) in [
        ("empty.mp4", &[][..], "No film came."),
        ("words.mp4", b"once upon a time".as_slice(), "`words.mp4` is no MP4, MOV, WebM"),
        ("picture.mp4", &png, "`picture.mp4` is no MP4, MOV, WebM"),
        ("film.webm", &film, "`film.webm` is by its first bytes video/mp4, not what its name says"),
        ("phone.heic", b"\0\0\0\x18ftypheic", "`phone.heic` is no MP4, MOV, WebM"),
    ] {
        let refused = hand_in(&served, name, bytes);
        assert_eq!(refused.status, 422, "{name}");
        holds(&refused.body, &["<title>Error: ", "href=\"#film\"", words, limit]);
    }
    assert_eq!(films(&served).len(), 0);
    led(&hand_in(&served, "cut.mp4", &film[..500]));
    let long = format!("../../{}.mp4", "x".repeat(300));
    led(&hand_in(&served, &long, &film));
    led(&hand_in(&served, "<b>bold</b>.mp4", &mp4(901)));
    let names: Vec<Value> = films(&served).into_iter().map(|it| it["name"].clone()).collect();
    assert_eq!(names[1], format!("{}.mp4", "x".repeat(116)));
    let page = served.page("/specimens/1-1");
    holds(&page, &["The film is cut off and cannot be shown. It is kept as it is."]);
    assert!(!page.contains("<b>bold") && page.contains("b&gt;.mp4"), "{page}");
    let left = std::fs::read_dir(served.book().join("evidence")).unwrap();
    let left =
        left.filter(|it| it.as_ref().unwrap().file_name().to_string_lossy().contains("incom"));
    assert_eq!(left.count(), 0, "what is refused leaves nothing");
    served.ended();
}

/// The head of a request that sends a film, and the way it goes.
fn begun(served: &Served, bytes: usize) -> TcpStream {
    let mut line = TcpStream::connect(served.origin.strip_prefix("http://").unwrap()).unwrap();
    let host = served.origin.strip_prefix("http://").unwrap();
    let cookie = &served.cookie;
    write!(
        line,
        "POST /api/specimens/2-1/films?name=slow.mp4 HTTP/1.1\r\nhost: {host}\r\n\
         cookie: {cookie}\r\ncontent-type: application/octet-stream\r\n\
         content-length: {bytes}\r\nconnection: close\r\n\r\n"
    )
    .unwrap();
    line
}

/// Waits until so many films are coming in.
fn coming(served: &Served, count: usize) {
    let evidence = served.book().join("evidence");
    loop {
        let names = std::fs::read_dir(&evidence).unwrap();
        let names = names.map(|it| it.unwrap().file_name().to_string_lossy().into_owned());
        if names.filter(|name| name.starts_with("incoming-")).count() == count {
            return;
        }
        std::thread::yield_now();
    }
}

#[test]
fn while_films_come_in_the_bench_goes_on_and_memory_stays() {
    let served = ready_to_test();
    let film = mp4(80 << 20);
    let before = served.memory_kilobytes();
    let mut first = begun(&served, film.len());
    let mut second = begun(&served, film.len());
    first.write_all(&film[..film.len() / 2]).unwrap();
    second.write_all(&film[..1000]).unwrap();
    coming(&served, 2);
    // Nothing waits for a film: presses are kept while two come in.
    let presses = [(0, "flame-on"), (302, "flame-removed"), (310, "flames-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &presses)).status, 200);
    let third = served.send("/api/specimens/2-1/films?name=a.mp4", "video/mp4", mp4(9));
    assert_eq!(third.status, 429);
    holds(&third.body, &["2 films are coming in already"]);
    // A sender that goes away leaves nothing behind.
    drop(second);
    coming(&served, 1);
    first.write_all(&film[film.len() / 2..]).unwrap();
    let mut answer = String::new();
    first.read_to_string(&mut answer).unwrap();
    holds(&answer, &["200 OK", "\"name\":\"slow.mp4\"", &format!("\"bytes\":{}", film.len())]);
    let taken = served.memory_kilobytes() - before;
    assert!(taken < 32 << 10, "80 MB of film took {taken} kB of memory");
    served.ended();
}

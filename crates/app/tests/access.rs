//! Who may come in: links, passwords, sessions, and what no other site can do. How tests sign in
//! is written at the head of `served.rs`.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::served::{PASSWORD, PERSON, Served, kept, new_book};
use crate::web_describe::pressed;
use crate::web_plans::ready_to_test;

/// The log of the month in which a book is served unless said otherwise.
const LOG_OF_MARCH: &str = "access/log-2026-03.jsonl";

const NOON: &str = "2026-11-25T12:00:00Z";

/// The form of Sign in.
fn credentials(password: &str) -> [(&str, &str); 3] {
    [("name", PERSON), ("password", password), ("to", "/")]
}

#[test]
fn the_first_person_comes_in_by_a_link_that_is_good_once() {
    let mut served = Served::start(new_book(), &[], NOON);
    let link = served.link.clone().unwrap();
    let path = link.strip_prefix(&served.origin).unwrap();
    let page = served.get(path);
    assert_eq!(page.status, 200);
    assert!(page.body.contains(PERSON));

    let short = served.fill(path, &[("password", "elevenchars"), ("again", "elevenchars")]);
    assert_eq!(short.status, 422);
    assert!(short.body.contains("The password has 11 characters; it takes 12 at least."));
    assert!(short.body.contains("<title>Error: "));
    let common = [("password", "SanFrancisco"), ("again", "SanFrancisco")];
    let common = served.fill(path, &common);
    assert_eq!(common.status, 422);
    assert!(common.body.contains("The password is easily guessed: it is one of the commonest"));
    let unlike = served.fill(path, &[("password", PASSWORD), ("again", "something else")]);
    assert!(unlike.body.contains("The two passwords are not the same."));

    served.come_in();
    let today = served.get("/");
    assert_eq!(today.status, 200);
    assert!(today.body.contains("Today") && today.body.contains(PERSON));
    for again in
        [served.get(path), served.fill(path, &[("password", PASSWORD), ("again", PASSWORD)])]
    {
        assert_eq!(again.status, 410);
        assert!(again.body.contains("This link has been used."), "{}", again.body);
    }
    let unknown = served.get("/link/0000");
    assert_eq!(unknown.status, 410);
    // The second start needs no link.
    assert_eq!(Served::start(served.end(), &[], NOON).link, None);
}

#[test]
fn a_link_is_good_for_a_quarter_of_an_hour() {
    let served = Served::start(new_book(), &[], NOON);
    let link = served.link.clone().unwrap();
    let path = link.strip_prefix(&served.origin).unwrap().to_owned();
    // A start with another clock; `--link` leaves the first person's link alone.
    let served = Served::start(served.end(), &["--link", PERSON], "2026-11-25T12:15:00Z");
    let over = served.get(&path);
    assert_eq!(over.status, 410);
    assert!(over.body.contains("This link is older than 15 min."), "{}", over.body);
}

#[test]
fn nothing_is_shown_to_one_who_is_not_signed_in() {
    let mut served = Served::of_a_new_book();
    served.cookie.clear();
    for (path, back) in [
        ("/", "/sign-in?to=/"),
        ("/plans?next=3", "/sign-in?to=/plans%3Fnext%3D3"),
        ("/no/such/page", "/sign-in?to=/no/such/page"),
    ] {
        let page = served.get(path);
        assert_eq!((page.status, page.header("location")), (303, back));
    }
    for twin in ["/api/today", "/api/openapi.json", "/api/no-such"] {
        let answer = served.get(twin);
        assert_eq!(answer.status, 401, "{twin}");
        assert_eq!(answer.header("content-type"), "application/problem+json");
        assert!(answer.body.contains("nobody is signed in"), "{}", answer.body);
    }
    let form =
        credentials(PASSWORD).map(|(key, value)| (key, if key == "to" { "/plans" } else { value }));
    assert_eq!(served.fill("/sign-in", &form).header("location"), "/plans");
    for elsewhere in ["//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere"] {
        let form = [("name", PERSON), ("password", PASSWORD), ("to", elsewhere)];
        assert_eq!(served.fill("/sign-in", &form).header("location"), "/");
    }
}

#[test]
fn the_cookie_can_be_read_by_no_script_and_sent_by_no_other_site() {
    let mut served = Served::of_a_new_book();
    let answer = served.fill("/sign-in", &credentials(PASSWORD));
    let cookie = answer.header("set-cookie").to_owned();
    let port = served.origin.rsplit(':').next().unwrap();
    let (pair, attributes) = cookie.split_once("; ").unwrap();
    assert_eq!(attributes, "Path=/; Max-Age=259200; HttpOnly; SameSite=Strict");
    let (name, word) = pair.split_once('=').unwrap();
    assert_eq!(name, format!("cinderbook-{port}"));
    assert_eq!(word.len(), 64, "256 bits as hexadecimal digits");
    served.keep_cookie(&answer);

    let out = served.fill("/sign-out", &[]);
    assert_eq!((out.status, out.header("location")), (303, "/sign-in"));
    assert_eq!(served.get("/api/today").status, 401, "the session has ended at the server too");
}

#[test]
fn nothing_that_lets_one_in_is_kept_in_clear() {
    let served = Served::of_a_new_book();
    let kept = kept(&served.book(), "access/people.json");
    let word = served.cookie.split_once('=').unwrap().1;
    let link = served.link.as_ref().unwrap().rsplit('/').next().unwrap();
    assert!(kept.contains("$argon2id$"));
    for secret in [PASSWORD, word, link] {
        assert!(!kept.contains(secret));
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        assert_eq!(
            served.book().join("access/people.json").metadata().unwrap().permissions().mode()
                & 0o777,
            0o600
        );
    }
}

#[test]
fn after_five_wrong_passwords_the_next_has_to_wait() {
    let mut served = Served::start(new_book(), &[], NOON);
    served.come_in();
    for _ in 0..5 {
        let wrong = served.fill("/sign-in", &credentials("not the password"));
        assert_eq!(wrong.status, 401);
        assert!(wrong.body.contains("The name and the password do not belong together."));
        assert!(wrong.header("set-cookie").is_empty());
    }
    // Now also the right one.
    let waits = served.fill("/sign-in", &credentials(PASSWORD));
    assert_eq!(waits.status, 429);
    let said = "5 wrong sign-ins for this name within 15 min; the next is taken in 30 s.";
    assert!(waits.body.contains(said), "{}", waits.body);
    let twin = served.post_json("/api/sign-in", r#"{"name": "ana ruiz", "password": "x"}"#);
    assert_eq!((twin.status, twin.header("content-type")), (429, "application/problem+json"));
    // Those who are in stay in.
    assert_eq!(served.get("/").status, 200);
}

#[test]
fn a_session_ends_when_nothing_is_asked_for_half_an_hour() {
    let mut served = Served::start(new_book(), &[], "2026-11-25T08:00:00Z");
    served.come_in();
    let word = served.cookie.split_once('=').unwrap().1.to_owned();
    let mut folder = Some(served.end());
    let mut status = |clock: &str| {
        let mut served = Served::start(folder.take().unwrap(), &[], clock);
        let port = served.origin.rsplit(':').next().unwrap();
        served.cookie = format!("cinderbook-{port}={word}");
        let status = served.get("/api/today").status;
        folder = Some(served.end());
        status
    };
    // It outlives the server, and every request lengthens it, to half a day at most.
    for (clock, expected) in [
        ("2026-11-25T08:29:00Z", 200),
        ("2026-11-25T08:58:00Z", 200),
        ("2026-11-25T09:28:00Z", 401),
    ] {
        assert_eq!(status(clock), expected, "{clock}");
    }
}

#[test]
fn the_bench_is_held_while_a_specimen_burns_and_nothing_else_is() {
    let mut served = ready_to_test();
    assert_eq!(pressed(&served, 1, ("08:00", &[(0, "flame-on")])).status, 200);
    served = served.later("2026-03-06T09:45:00Z");
    assert_eq!(served.get("/api/bench/2/1").status, 200, "the flame is on the specimen");
    assert_eq!(served.get("/api/today").status, 401);
    let all = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &all)).status, 200);
}

#[test]
fn another_site_changes_nothing_and_reads_nothing() {
    let served = Served::of_a_new_book();
    for origin in ["http://elsewhere.example", "https://127.0.0.1:1", "null"] {
        let refused = served.fill_from("/sign-out", &[], origin);
        assert_eq!(refused.status, 403, "{origin}");
        assert!(refused.body.contains("Another site asked for a change in this book."));
    }
    let fetched = [("sec-fetch-site", "cross-site")];
    assert_eq!(served.get_with("/", &fetched).status, 200, "a link from elsewhere may be followed");
    assert!(served.get("/").header("access-control-allow-origin").is_empty());
    assert_eq!(served.get("/").status, 200, "nobody was signed out");
}

#[test]
fn only_the_books_own_names_and_addresses_are_answered() {
    let mut served = Served::start(new_book(), &["--name", "Bench.lab.example"], NOON);
    let port = served.origin.rsplit(':').next().unwrap().to_owned();
    // Nobody here finds that name.
    served.origin = format!("http://127.0.0.1:{port}");
    for own in ["bench.lab.example", "127.0.0.1", "localhost"] {
        let answer = served.get_with("/sign-in", &[("host", &format!("{own}:{port}"))]);
        assert_eq!(answer.status, 200, "{own}");
    }
    // Another name that leads here, as one who rebinds a name of theirs would have it, the right
    // address without its port, and what only looks like a name of the book.
    let others = [
        format!("elsewhere.example:{port}"),
        format!("bench.lab.example.elsewhere.example:{port}"),
        format!("bench.lab.example.:{port}"),
        format!("0.0.0.0:{port}"),
        format!("[::1]:{port}"),
        format!("127.0.0.1@elsewhere.example:{port}"),
        "127.0.0.1".to_owned(),
        "elsewhere.example".to_owned(),
    ];
    for host in &others {
        for path in ["/", "/sign-in", "/api/clock", "/assets/style.css", "/api/device/challenge"] {
            let refused = served.get_with(path, &[("host", host)]);
            assert_eq!(refused.status, 421, "{host} {path}");
            assert!(refused.body.contains("is no name of this book"), "{}", refused.body);
            assert!(refused.header("set-cookie").is_empty());
        }
    }
}

#[test]
fn there_is_no_account_before_somebody_chose_a_password() {
    let mut served = Served::start(new_book(), &[], NOON);
    for (name, password) in [(PERSON, ""), (PERSON, PERSON), ("admin", "admin"), ("root", "")] {
        let form = [("name", name), ("password", password), ("to", "/")];
        let refused = served.fill("/sign-in", &form);
        assert_eq!(refused.status, 401, "{name}");
        assert!(refused.header("set-cookie").is_empty());
    }
    let people: serde_json::Value =
        serde_json::from_str(&kept(&served.book(), "access/people.json")).unwrap();
    assert_eq!(people["accounts"], serde_json::json!({}));
    served.come_in();
    assert_eq!(served.get("/").status, 200);
}

#[test]
fn a_password_is_asked_for_its_length_alone_may_be_pasted_and_never_has_to_change() {
    let served = Served::start(new_book(), &[], NOON);
    let link = served.link.clone().unwrap();
    let path = link.strip_prefix(&served.origin).unwrap();
    let page = served.page(path);
    for (page, kind) in [(&page, "new-password"), (&served.page("/sign-in"), "current-password")] {
        // A keeper of passwords knows the field, and it takes what is pasted, of any length.
        assert!(page.contains(&format!("type=\"password\" autocomplete=\"{kind}\"")), "{page}");
        for bar in ["maxlength", "pattern=", "paste", "readonly"] {
            assert!(!page.contains(bar), "{bar}");
        }
    }
    for script in crate::house::files("crates/app/src/web/assets", ".js") {
        assert!(!crate::house::text(&script).contains("\"paste\""), "{}", script.display());
    }
    let long = "nine lamps and a kettle on the windowsill, ärgerlich öde, always";
    assert_eq!(long.chars().count(), 64);
    let chosen = served.fill(path, &[("password", long), ("again", long)]);
    assert_eq!(chosen.status, 303, "{}", chosen.body);
    let mut served = Served::start(served.end(), &[], "2036-11-25T12:00:00Z");
    let answer = served.fill("/sign-in", &credentials(long));
    assert_eq!((answer.status, answer.header("location")), (303, "/"));
    served.keep_cookie(&answer);
    assert_eq!(served.get("/").status, 200, "ten years later");
    let short = long.chars().take(63).collect::<String>();
    assert_eq!(served.fill("/sign-in", &credentials(&short)).status, 401, "each letter counts");
}

#[test]
fn a_session_that_asks_for_ever_more_is_answered_no_longer() {
    let served = Served::of_a_new_book();
    let (asked, refused) = (AtomicUsize::new(0), Mutex::new(None));
    std::thread::scope(|threads| {
        for _ in 0..4 {
            threads.spawn(|| {
                while asked.fetch_add(1, Ordering::SeqCst) < 20_000
                    && refused.lock().unwrap().is_none()
                {
                    let answer = served.get("/api/second-factor");
                    if answer.status != 200 {
                        *refused.lock().unwrap() = Some(answer);
                    }
                }
            });
        }
    });
    let refused =
        refused.into_inner().unwrap().expect("3 000 at once, and 50 a second, are answered");
    assert_eq!(refused.status, 429, "{}", refused.body);
    let said = "this sign-in asked for more than 50 things a second";
    assert!(refused.body.contains(said), "{}", refused.body);
    assert!(asked.into_inner() > 3_000);
    // Another sign-in has its own.
    let answer = served.fill("/sign-in", &credentials(PASSWORD));
    assert_eq!(answer.status, 303);
}

#[test]
fn what_is_refused_is_a_line_of_the_log_without_a_secret_and_changes_nothing() {
    let mut served = Served::of_a_new_book();
    let entries = served.page("/api/record");
    let log = |served: &Served| kept(&served.book(), LOG_OF_MARCH);
    let before = log(&served).lines().count();
    assert_eq!(served.fill_from("/equipment", &[], "http://elsewhere.example").status, 403);
    assert_eq!(served.get_with("/", &[("host", "elsewhere.example")]).status, 421);
    let (good, stale) = (served.cookie.clone(), served.cookie.replace('=', "=0"));
    served.cookie.clone_from(&stale);
    assert_eq!(served.post("/equipment", "act=register").header("location"), "/sign-in?to=/");
    assert_eq!(served.post_json("/api/sign-out", "").status, 401);
    // To look at a page with it is no attempt to change anything.
    assert_eq!(served.get("/").status, 303);
    served.cookie = good;
    let log = log(&served);
    let said: Vec<&str> =
        log.lines().skip(before).filter_map(|line| line.split("\"what\":").nth(1)).collect();
    let ended = "\"a change was asked for after its sign-in had ended\"}";
    assert_eq!(
        said,
        [
            "\"another site asked for a change in this book\"}",
            "\"`elsewhere.example` is no name of this book\"}",
            ended,
            ended,
        ]
    );
    let link = served.link.as_ref().unwrap().rsplit('/').next().unwrap();
    for secret in [PASSWORD, link, &stale[stale.find('=').unwrap() + 1..]] {
        assert!(!log.contains(secret));
    }
    assert_eq!(served.page("/api/record"), entries);
}

#[test]
fn every_answer_says_what_a_browser_may_do_with_it() {
    let mut served = Served::of_a_new_book();
    let check = |served: &Served, path: &str| {
        let answer = served.get(path);
        let policy = answer.header("content-security-policy");
        for part in ["default-src 'none'", "script-src 'self'", "frame-ancestors 'none'"] {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("unsafe"), "{path}: {policy}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("referrer-policy"), "same-origin", "{path}");
        assert!(!answer.header("cache-control").is_empty(), "{path}");
        assert!(answer.header("strict-transport-security").is_empty(), "{path}");
        assert!(!answer.body.contains("<script>") && !answer.body.contains(" style="), "{path}");
    };
    for path in ["/", "/no-such-page", "/assets/style.css", "/api/today", "/api/openapi.json"] {
        check(&served, path);
    }
    served.cookie.clear();
    for path in ["/", "/sign-in", "/link/0000", "/api/today"] {
        check(&served, path);
    }
}

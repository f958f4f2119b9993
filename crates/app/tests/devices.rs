//! Enrolled devices: who enrols one, what it shows at sign-in, where the bench asks for one, how one ends; and
//! what browsers are told once the certificate is known to work on one.

use ring::rand::SystemRandom;
use ring::signature::{ECDSA_P256_SHA256_FIXED_SIGNING, EcdsaKeyPair, KeyPair as _};
use serde_json::{Value, json};

use crate::people::{admitted, asked, let_in};
use crate::served::{Answer, PASSWORD, PERSON, Served, holds, kept, new_book};
use crate::web_describe::pressed;
use crate::web_plans::ready_to_test;

const LOG: &str = "access/log-2026-03.jsonl";
const TOVE: &str = "Tove Berg";

/// The key pair of a device, as its browser would keep it.
struct Device {
    pair: EcdsaKeyPair,
}

impl Device {
    fn new() -> Self {
        let random = SystemRandom::new();
        let kind = &ECDSA_P256_SHA256_FIXED_SIGNING;
        let made = EcdsaKeyPair::generate_pkcs8(kind, &random).unwrap();
        Self { pair: EcdsaKeyPair::from_pkcs8(kind, made.as_ref(), &random).unwrap() }
    }

    /// What it shows for a challenge: what is done, of whom, from which origin.
    fn shows(&self, (what, of): (&str, &str), (origin, challenge): (&str, &str)) -> Value {
        let text = format!("cinderbook {what}\n{origin}\n{challenge}\n{of}");
        let signature = self.pair.sign(&SystemRandom::new(), text.as_bytes()).unwrap();
        json!({
            "key": hex::encode(self.pair.public_key()),
            "challenge": challenge,
            "signature": hex::encode(signature),
        })
    }

    /// Enrols it under a name, in the sign-in that asks.
    fn enrol(&self, served: &mut Served, name: &str) -> Answer {
        let challenge = challenge(served);
        let mut document = self.shows(("enrol", name), (&served.origin, &challenge.text));
        document["name"] = name.into();
        challenge
            .with(served, |served| served.post_json("/api/device/enrol", &document.to_string()))
    }

    /// Signs a person in on it; the cookie of the sign-in where it succeeds.
    fn signs_in(&self, served: &mut Served, person: &str) -> Answer {
        let challenge = challenge(served);
        let shown = self.shows(("sign-in", person), (&served.origin, &challenge.text));
        challenge.with(served, |served| signs_in(served, person, &shown))
    }

    /// The same, where the browser says that it trusts the certificate.
    fn signs_in_trusting(&self, served: &mut Served, person: &str) -> Answer {
        let challenge = challenge(served);
        let what = ("sign-in trusted", person);
        let mut shown = self.shows(what, (&served.origin, &challenge.text));
        shown["trusted"] = "yes".into();
        challenge.with(served, |served| signs_in(served, person, &shown))
    }
}

/// A challenge, with the cookie that came with it.
struct Challenge {
    text: String,
    cookie: String,
}

impl Challenge {
    /// Does something as the browser that was given it.
    fn with<T>(&self, served: &mut Served, does: impl FnOnce(&Served) -> T) -> T {
        let both = format!("{}; {}", served.cookie, self.cookie);
        let before = std::mem::replace(&mut served.cookie, both);
        let done = does(served);
        served.cookie = before;
        done
    }
}

fn challenge(served: &Served) -> Challenge {
    let given = served.get("/api/device/challenge");
    assert_eq!(given.status, 200, "{}", given.body);
    let document: Value = serde_json::from_str(&given.body).unwrap();
    let text = document["challenge"].as_str().unwrap().to_owned();
    let cookie = given.header("set-cookie");
    assert!(cookie.contains("Max-Age=120; HttpOnly; SameSite=Strict"), "{cookie}");
    Challenge { text, cookie: cookie.split(';').next().unwrap().to_owned() }
}

/// Signs in with what a device shows.
fn signs_in(served: &Served, person: &str, shown: &Value) -> Answer {
    let mut document = shown.clone();
    document["name"] = person.into();
    document["password"] = PASSWORD.into();
    served.post_json("/api/sign-in", &document.to_string())
}

/// Looks as who has this cookie.
fn as_who<T>(served: &mut Served, cookie: &str, does: impl FnOnce(&Served) -> T) -> T {
    let before = std::mem::replace(&mut served.cookie, cookie.to_owned());
    let done = does(served);
    served.cookie = before;
    done
}

fn cookie(answer: &Answer) -> String {
    assert_eq!(answer.status, 200, "{}", answer.body);
    answer.header("set-cookie").split(';').next().unwrap().to_owned()
}

fn act(served: &Served, document: &Value) -> Answer {
    served.post_json("/api/setup/acts", &document.to_string())
}

#[test]
fn an_administrator_enrols_a_device_and_ends_it_at_once() {
    let mut served = Served::demo_after(admitted);
    let technician = let_in(&mut served, TOVE);
    let device = Device::new();
    let refused = {
        let mine = std::mem::replace(&mut served.cookie, technician.clone());
        let refused = device.enrol(&mut served, "Bench tablet");
        served.cookie = mine;
        refused
    };
    assert_eq!(refused.status, 403);
    holds(&refused.body, &["to look after people is for an administrator"]);

    let long = "x".repeat(61);
    let wrong = [
        ("", "has 0 characters"),
        (long.as_str(), "has 61 characters"),
        ("Bench\ntablet", "is more than one line"),
    ];
    for (name, said) in wrong {
        let refused = device.enrol(&mut served, name);
        assert_eq!(refused.status, 422);
        holds(&refused.body, &[said]);
    }
    assert_eq!(device.enrol(&mut served, " Bench tablet ").status, 200);
    let again = device.enrol(&mut served, "Another");
    assert_eq!(again.status, 422);
    holds(&again.body, &["this device is enrolled already, as Bench tablet"]);
    let same = Device::new().enrol(&mut served, "bench TABLET");
    holds(&same.body, &["another device is called bench TABLET"]);
    holds(&served.page("/device"), &["which is enrolled as <strong>Bench tablet</strong>"]);
    let strange = as_who(&mut served, &technician, |served| served.page("/device"));
    holds(
        &strange,
        &["Your sign-in is on no enrolled device.", "enrols it, signed in on this page"],
    );
    assert!(!strange.contains("Enrol this device"));

    // A technician signs in on it by the password: the other factor is the device.
    let on_it = cookie(&device.signs_in(&mut served, TOVE));
    let mine = as_who(&mut served, &on_it, |served| asked(served, "/api/setup"));
    assert!(mine["sessions"].as_array().unwrap().iter().any(|it| it["enrolled"] == "Bench tablet"));
    assert_eq!(mine["devices"], json!([]), "the list is for who looks after people");
    let setup = asked(&served, "/api/setup");
    let listed = json!([{ "name": "Bench tablet", "enrolled_by": "Odalys Fenn",
        "enrolled": "2026-03-06 09:00 UTC", "last_seen": "2026-03-06 09:00 UTC" }]);
    assert_eq!(setup["devices"], listed);
    holds(&served.page("/setup"), &[">Bench tablet</td>", ">Odalys Fenn</td>"]);

    assert_eq!(served.fill("/setup", &[("act", "end-device"), ("device", "None")]).status, 422);
    let end = [("act", "end-device"), ("device", "Bench tablet")];
    let theirs = as_who(&mut served, &technician, |served| served.fill("/setup", &end));
    assert_eq!(theirs.status, 403);
    // The sign-in that enrolled it is on it, and ends with it: another one goes on.
    let office = cookie(&signs_in(&served, "Odalys Fenn", &json!({})));
    served.cookie = office;
    assert_eq!(served.fill("/setup", &end).status, 303);
    assert_eq!(as_who(&mut served, &on_it, |served| served.get("/api/today")).status, 401);
    assert_eq!(as_who(&mut served, &technician, |served| served.get("/api/today")).status, 200);
    // Its key says nothing any more, and the password alone lets in as on any device.
    let after = cookie(&device.signs_in(&mut served, TOVE));
    let mine = as_who(&mut served, &after, |served| asked(served, "/api/setup"));
    assert!(mine["sessions"].as_array().unwrap().iter().all(|it| it["enrolled"].is_null()));
    let log = kept(&served.book(), LOG);
    holds(&log, &["enrolled the device Bench tablet", "signed in on Bench tablet"]);
    holds(&log, &["ended the device Bench tablet"]);
    holds(&log, &["signed in on a device that is not enrolled, or no longer"]);
    served.ended();
}

#[test]
fn a_device_shows_itself_by_one_fresh_signature_for_one_person_at_one_address() {
    let mut served = Served::demo_after(admitted);
    let device = Device::new();
    assert_eq!(device.enrol(&mut served, "Bench tablet").status, 200);
    let me = "Odalys Fenn";
    let origin = served.origin.clone();
    let given = challenge(&served);
    let good = device.shows(("sign-in", me), (&origin, &given.text));
    let check = |served: &mut Served, given: &Challenge, shown: &Value, said: &str| {
        let refused = given.with(served, |served| signs_in(served, me, shown));
        assert_eq!(refused.status, 401, "{said}");
        holds(&refused.body, &[said, "Open the page again, and do it once more."]);
        assert!(refused.header("set-cookie").is_empty());
    };
    let not_its_key = "the signature of this device is not one of its key";
    let of = |what: (&str, &str), from: &str| device.shows(what, (from, &given.text));
    check(&mut served, &given, &of(("sign-in", TOVE), &origin), not_its_key);
    check(&mut served, &given, &of(("enrol", me), &origin), not_its_key);
    check(&mut served, &given, &of(("sign-in", me), "http://elsewhere.example"), not_its_key);
    let mut more = good.clone();
    more["trusted"] = "yes".into();
    check(&mut served, &given, &more, not_its_key);
    // Wrong ones are counted as wrong passwords are; a right one ends the count.
    assert_eq!(signs_in(&served, me, &json!({})).status, 200);
    let mut of_another = Device::new().shows(("sign-in", me), (&origin, &given.text));
    of_another["key"] = good["key"].clone();
    check(&mut served, &given, &of_another, not_its_key);
    for part in ["challenge", "signature"] {
        let mut without = good.clone();
        without[part] = "".into();
        let refused = given.with(&mut served, |served| signs_in(served, me, &without));
        assert_eq!(refused.status, 401, "{part}");
    }
    // The challenge was given to another browser.
    let other = challenge(&served);
    check(&mut served, &other, &good, "this device signed what was not asked of it here");
    // Right once.
    assert_eq!(given.with(&mut served, |served| signs_in(served, me, &good)).status, 200);
    check(&mut served, &given, &good, "what this device signed was shown before");
    let log = kept(&served.book(), LOG);
    holds(&log, &[not_its_key, "what this device signed was shown before"]);
    let (signature, word) = (&good["signature"], given.cookie.split_once('=').unwrap().1);
    for secret in [signature.as_str().unwrap(), word, &given.text] {
        assert!(!log.contains(secret));
    }
    assert!(!kept(&served.book(), "access/people.json").contains(word));
    served.ended();
}

#[test]
fn the_bench_opens_on_enrolled_devices_alone_where_the_laboratory_wants_it_so() {
    let mut served = ready_to_test();
    let enrolled_alone = json!({ "act": "bench-devices", "devices": "enrolled" });
    let none_yet = act(&served, &enrolled_alone);
    assert_eq!(none_yet.status, 422);
    holds(&none_yet.body, &["no device is enrolled yet"]);
    assert_eq!(served.get("/bench").status, 200, "a book opens on any device unless it is said");

    // A specimen that was begun is timed to its end, whatever is said meanwhile.
    let office = served.cookie.clone();
    let device = Device::new();
    served.cookie = cookie(&signs_in(&served, "Odalys Fenn", &json!({})));
    assert_eq!(device.enrol(&mut served, "Bench tablet").status, 200);
    let tablet = std::mem::replace(&mut served.cookie, office);
    assert_eq!(pressed(&served, 1, ("08:00", &[(0, "flame-on")])).status, 200);
    assert_eq!(act(&served, &enrolled_alone).status, 200);
    let all = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &all)).status, 200);
    assert_eq!(served.get("/api/bench/2/1").status, 200, "by its pass");

    // Nothing else of the bench opens here, and all else does.
    let said = "the bench opens on enrolled devices alone, and this sign-in is on none";
    for path in ["/api/bench", "/api/bench/1/1"] {
        let refused = served.get(path);
        assert_eq!(refused.status, 403, "{path}");
        holds(&refused.body, &[said, "enrolled by Odalys Fenn at /device."]);
    }
    for path in ["/bench", "/bench/1/1"] {
        let page = served.get(path);
        assert_eq!((page.status, page.header("location")), (303, "/device#enrolment"), "{path}");
    }
    holds(&served.page("/device"), &["The bench opens on enrolled devices alone."]);
    for path in ["/api/bench/1/1/presses", "/api/bench/2/1/timekeeper"] {
        assert_eq!(served.post_json(path, "{}").status, 403, "{path}");
    }
    for path in ["/", "/specimens/2-1", "/plans", "/device", "/setup"] {
        assert_eq!(served.get(path).status, 200, "{path}");
    }
    holds(&served.page("/setup"), &["The bench opens on enrolled devices alone."]);
    let log = kept(&served.book(), LOG);
    holds(&log, &["refused /api/bench: the bench opens on enrolled devices alone"]);

    for path in ["/bench", "/bench/2/1", "/api/bench", "/api/bench/1/1"] {
        assert_eq!(as_who(&mut served, &tablet, |it| it.get(path)).status, 200, "{path}");
    }
    // Who ends the device ends its passes too.
    let act_on_any = [("act", "any-device")];
    assert_eq!(served.fill("/setup", &act_on_any).status, 303);
    assert_eq!(served.get("/bench").status, 200);
    served.ended();
}

#[test]
fn what_is_ended_is_refused_with_the_very_next_request() {
    let mut served = ready_to_test();
    let device = Device::new();
    let mine = served.cookie.clone();
    served.cookie = cookie(&signs_in(&served, "Odalys Fenn", &json!({})));
    assert_eq!(device.enrol(&mut served, "Bench tablet").status, 200);
    let with_pass = std::mem::replace(&mut served.cookie, mine);
    let all = [(0, "flame-on"), (302, "flame-removed")];
    let presses =
        |served: &mut Served| as_who(served, &with_pass, |it| pressed(it, 1, ("08:00", &all)));
    assert_eq!(presses(&mut served).status, 200);

    // A sign-in.
    let other = cookie(&signs_in(&served, "Odalys Fenn", &json!({})));
    let listed = as_who(&mut served, &other, |it| asked(it, "/api/setup"));
    let own = listed["sessions"].as_array().unwrap().iter().find(|it| it["this_one"] == true);
    let name = own.unwrap()["session"].clone();
    let today = |served: &mut Served, cookie: &str| {
        as_who(served, cookie, |it| it.get("/api/today").status)
    };
    assert_eq!(today(&mut served, &other), 200);
    assert_eq!(act(&served, &json!({ "act": "end", "session": name })).status, 200);
    assert_eq!(today(&mut served, &other), 401);

    // A device, in the middle of a specimen: a lost tablet presses nothing more.
    assert_eq!(presses(&mut served).status, 200);
    let end = json!({ "act": "end-device", "device": "Bench tablet" });
    assert_eq!(act(&served, &end).status, 200);
    assert_eq!(presses(&mut served).status, 401);
    assert_eq!(today(&mut served, &with_pass), 401);

    // An account.
    let invited = json!({ "act": "invite", "person": TOVE, "roles": ["technician"] });
    assert_eq!(act(&served, &invited).status, 200);
    let theirs = let_in(&mut served, TOVE);
    assert_eq!(today(&mut served, &theirs), 200);
    let disable = json!({ "act": "disable", "person": TOVE, "reason": "left" });
    assert_eq!(act(&served, &disable).status, 200);
    assert_eq!(today(&mut served, &theirs), 401);
    served.ended();
}

#[test]
fn browsers_are_told_to_come_enciphered_alone_once_a_device_came_by_the_certificate() {
    let mut served = Served::enciphered(new_book(), &[]);
    served.come_in();
    let said = |served: &Served| served.get("/").header("strict-transport-security").to_owned();
    let promise = |how: &str| json!({ "act": "enciphered-alone", "promise": how });
    let refused = act(&served, &promise("given"));
    assert_eq!(refused.status, 422);
    holds(
        &refused.body,
        &["nobody has signed in yet on an enrolled device that trusts this certificate"],
    );
    let device = Device::new();
    assert_eq!(device.enrol(&mut served, "Bench tablet").status, 200);
    assert_eq!(
        act(&served, &promise("given")).status,
        422,
        "it was enrolled, and not signed in on"
    );
    served.cookie = cookie(&device.signs_in(&mut served, PERSON));
    assert_eq!(act(&served, &promise("given")).status, 422, "its browser was let past a warning");
    served.cookie = cookie(&device.signs_in_trusting(&mut served, PERSON));
    assert_eq!(said(&served), "", "nobody wanted it");
    assert_eq!(act(&served, &promise("given")).status, 200);
    assert_eq!(said(&served), "max-age=31536000");
    holds(
        &served.page("/setup"),
        &["Browsers are told to reach this book's name enciphered alone"],
    );
    let cookie = served.cookie.clone();
    served.cookie.clear();
    assert_eq!(said(&served), "max-age=31536000", "whoever asks");
    served.cookie = cookie;

    assert_eq!(act(&served, &promise("taken-back")).status, 200);
    assert_eq!(said(&served), "max-age=0", "so that browsers forget it");
    assert_eq!(act(&served, &promise("given")).status, 200);

    // By another authority it is not known to work: no browser is told so, until it does.
    let folder = served.end();
    #[expect(clippy::disallowed_methods, reason = "takes the authority of a book away")]
    std::fs::remove_file(folder.path().join("book/access/authority.json")).unwrap();
    let mut served = Served::enciphered(folder, &[]);
    assert_eq!(device.signs_in_trusting(&mut served, "Nobody").status, 401);
    assert_eq!(said(&served), "");
    assert_eq!(device.signs_in_trusting(&mut served, PERSON).status, 200);
    assert_eq!(said(&served), "max-age=31536000");
}

#[test]
fn on_this_machine_alone_there_is_nothing_to_promise() {
    let served = Served::of_a_new_book();
    let given = json!({ "act": "enciphered-alone", "promise": "given" });
    let refused = act(&served, &given);
    assert_eq!(refused.status, 422);
    holds(&refused.body, &["the book is not enciphered here"]);
    assert_eq!(served.get("/").header("strict-transport-security"), "");
}

#[test]
#[expect(clippy::disallowed_methods, reason = "writes a file as an earlier version did")]
fn accounts_of_before_there_were_enrolled_devices_read_on() {
    let served = ready_to_test();
    assert_eq!(pressed(&served, 1, ("08:00", &[(0, "flame-on")])).status, 200);
    let mut people: Value =
        serde_json::from_str(&kept(&served.book(), "access/people.json")).unwrap();
    let mut without = |of: &str, names: &[&str]| {
        let all = if of.is_empty() {
            vec![&mut people]
        } else {
            people[of].as_array_mut().unwrap().iter_mut().collect()
        };
        assert!(!all.is_empty(), "{of}");
        for one in all {
            for name in names {
                assert!(one.as_object_mut().unwrap().remove(*name).is_some(), "{of} {name}");
            }
        }
    };
    without("", &["devices", "asks_device", "promise", "opened"]);
    without("sessions", &["enrolled", "signed"]);
    without("passes", &["enrolled"]);
    std::fs::write(served.book().join("access/people.json"), people.to_string()).unwrap();
    let served = served.later("2026-03-06T09:10:00Z");
    assert_eq!(served.get("/bench").status, 200);
    let all = [(0, "flame-on"), (302, "flame-removed"), (417, "flames-out"), (440, "glow-out")];
    assert_eq!(pressed(&served, 1, ("08:00", &all)).status, 200);
    let setup = asked(&served, "/api/setup");
    assert_eq!((&setup["devices"], &setup["enrolled_devices_alone"]), (&json!([]), &json!(false)));
    served.ended();
}

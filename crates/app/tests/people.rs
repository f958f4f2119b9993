//! Who may do what: every route as every role, over real HTTP; strange fields; the manual's table.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Value, json};

use crate::served::{Answer, PASSWORD, Served, holds, program};

/// One person for each role.
const PEOPLE: [(&str, &str, &[&str]); 4] = [
    ("Tove Berg", "technician", &["test"]),
    ("Enno Falk", "engineer", &["review", "issue"]),
    ("Quinn Moor", "quality-manager", &["issue"]),
    ("Ada Winter", "administrator", &[]),
];

/// Not walked: a stream that never ends, and what ends the session that asks.
const LEFT_OUT: [&str; 3] = ["/api/flame/run/events", "/api/sign-out", "/sign-out"];

/// Runs a command on the book in `folder` as a person; its exit code, and what it wrote.
pub(crate) fn run(
    folder: &Path,
    person: &str,
    arguments: &[&str],
) -> (Option<i32>, String, String) {
    let mut command = program();
    command.args(["--as", person, "--book"]).arg(folder.join("book")).args(arguments);
    let done = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (done.status.code(), text(done.stdout), text(done.stderr))
}

pub(crate) fn admitted(folder: &Path) {
    for (name, role, may) in PEOPLE {
        let mut arguments = vec!["people", "admit", name, "--role", role];
        arguments.extend(may.iter().flat_map(|grant| ["--may", grant]));
        let (code, _, said) = run(folder, "Odalys Fenn", &arguments);
        assert_eq!(code, Some(0), "{said}");
    }
}

pub(crate) fn asked(served: &Served, path: &str) -> Value {
    serde_json::from_str(&served.page(path)).unwrap()
}

/// Lets a person in by a link that who is signed in makes; their cookie.
pub(crate) fn let_in(served: &mut Served, person: &str) -> String {
    let act = json!({ "act": "link", "person": person }).to_string();
    let made = served.post_json("/api/setup/acts", &act);
    assert_eq!(made.status, 200, "{}", made.body);
    let link: Value = serde_json::from_str(&made.body).unwrap();
    let path = link["link"].as_str().unwrap().strip_prefix(&served.origin).unwrap().to_owned();
    let before = served.cookie.clone();
    let answer = served.fill(&path, &[("password", PASSWORD), ("again", PASSWORD)]);
    assert_eq!(answer.status, 303, "{}", answer.body);
    served.keep_cookie(&answer);
    std::mem::replace(&mut served.cookie, before)
}

/// An address with something for each of its parts that the demo's book has, or never had.
fn filled(path: &str) -> String {
    let specimen = if path.contains("/specimens/") { "1-1" } else { "1" };
    let parts = [
        ("{plan}", "1"),
        ("{specimen}", specimen),
        ("{number}", "1"),
        ("{entry}", "1"),
        ("{mark}", "NB-1"),
        ("{sha256}", "00"),
        ("{film}", "none"),
        ("{piece}", "1"),
        ("{draft}", "none"),
        ("{page}", "check"),
    ];
    parts.iter().fold(path.to_owned(), |path, (part, with)| path.replace(part, with))
}

/// Whether an answer says that this person lacks the role.
fn is_refused(answer: &Answer, person: &str) -> bool {
    answer.status == 403 && answer.body.contains(person) && answer.body.contains(" is for ")
}

/// Which roles may do which act, as the command tells it.
fn table() -> BTreeMap<String, Vec<String>> {
    let told = program().args(["people", "acts", "--json"]).output().unwrap();
    let rows: Vec<Value> = serde_json::from_slice(&told.stdout).unwrap();
    let words = |row: &Value| {
        let roles = row["roles"].as_array().unwrap().iter();
        roles.map(|role| role.as_str().unwrap().to_owned()).collect()
    };
    rows.iter().map(|row| (row["act"].as_str().unwrap().to_owned(), words(row))).collect()
}

/// Method, address and acts of every route of the interface, and of every form of a page.
fn routes(served: &Served) -> Vec<(&'static str, String, Vec<String>)> {
    let described = asked(served, "/api/openapi.json");
    let words = |acts: &Value, path: &str| -> Vec<String> {
        let acts = acts.as_array().unwrap_or_else(|| panic!("{path} names no act"));
        acts.iter().map(|act| act.as_str().unwrap().to_owned()).collect()
    };
    let mut routes = Vec::new();
    for (path, item) in described["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let method = match method.as_str() {
                "get" => "GET",
                "post" => "POST",
                other => panic!("{path} takes {other}, which no table names"),
            };
            routes.push((method, path.clone(), words(&operation["x-acts"], path)));
        }
    }
    for (path, acts) in described["x-acts-of-pages"].as_object().unwrap() {
        routes.push(("POST", path.clone(), words(acts, path)));
    }
    routes
}

#[test]
fn every_route_takes_those_whom_the_table_names_and_nobody_else() {
    let mut served = Served::demo_after(admitted);
    let (table, routes) = (table(), routes(&served));
    assert!(routes.len() > 80, "{}", routes.len());
    let cookies: Vec<String> =
        PEOPLE.iter().map(|(person, ..)| let_in(&mut served, person)).collect();
    let mut walked = 0;
    for (method, path, acts) in routes.iter().filter(|it| !LEFT_OUT.contains(&it.1.as_str())) {
        let ask = |served: &Served| match (*method, path.starts_with("/api/")) {
            ("GET", _) => served.get(&filled(path)),
            (_, true) => served.post_json(&filled(path), "{}"),
            (_, false) => served.post(&filled(path), ""),
        };
        served.cookie.clear();
        let stranger = ask(&served);
        let open = acts.is_empty();
        let turned_away = stranger.status == 401 && stranger.body.contains("nobody is signed in")
            || stranger.header("location").starts_with("/sign-in?to=");
        assert_eq!(turned_away, !open, "nobody: {method} {path}: {}", stranger.status);
        if open {
            continue;
        }
        for ((person, role, _), cookie) in PEOPLE.iter().zip(&cookies) {
            served.cookie.clone_from(cookie);
            let allowed = acts.iter().any(|act| table[act].iter().any(|it| it == role));
            let answer = ask(&served);
            // Set up is for all, and looks itself at what is asked for there.
            let own = path.starts_with("/api/setup/acts") || path == "/setup";
            assert!(own || is_refused(&answer, person) != allowed, "{role}: {method} {path}");
            assert!(answer.status < 500, "{role}: {method} {path}: {}", answer.body);
            walked += 1;
        }
    }
    assert!(walked > 300, "{walked}");
    println!("{} routes, {walked} asked as one role each", routes.len());
    served.ended();
}

#[test]
fn no_other_method_does_anything_and_a_strange_field_is_refused() {
    let served = Served::demo();
    let described = asked(&served, "/api/openapi.json");
    let schemas = &described["components"]["schemas"];
    let mut tried = 0;
    for (path, item) in described["paths"].as_object().unwrap() {
        let schema = &item["post"]["requestBody"]["content"]["application/json"]["schema"];
        let Some(name) = schema["$ref"].as_str() else { continue };
        let schema = &schemas[name.rsplit('/').next().unwrap()];
        let acts: Vec<Option<&str>> = match schema["oneOf"].as_array() {
            None => vec![None],
            Some(variants) => variants.iter().map(named_act).collect(),
        };
        for act in acts {
            let document = match act {
                None => json!({ "no-such-field": 1 }),
                Some(act) => json!({ "act": act, "no-such-field": 1 }),
            };
            let refused = served.post_json(&filled(path), &document.to_string());
            assert!((400..500).contains(&refused.status), "{path} {act:?}: {}", refused.status);
            let said = refused.body.contains("unknown field") || refused.status == 404;
            assert!(said, "{path} {act:?}: {}", refused.body);
            tried += 1;
        }
    }
    assert!(tried > 30, "{tried}");
    served.ended();
}

/// The word of a variant that is told apart by its act.
fn named_act(variant: &Value) -> Option<&str> {
    let parts = variant["allOf"].as_array().map_or(std::slice::from_ref(variant), Vec::as_slice);
    parts.iter().find_map(|part| part["properties"]["act"]["enum"][0].as_str())
}

#[test]
fn the_manual_shows_the_table_of_roles_and_acts_as_it_is() {
    let page = crate::house::text("docs/manual/people.md");
    let told = program().args(["people", "acts", "--json"]).output().unwrap();
    let rows: Vec<Value> = serde_json::from_slice(&told.stdout).unwrap();
    let roles = ["technician", "engineer", "quality-manager", "administrator"];
    for row in &rows {
        let may = |role: &&str| row["roles"].as_array().unwrap().iter().any(|it| it == role);
        let cell = |role: &&str| match (may(role), row["authorisation"].is_null()) {
            (false, _) => "–",
            (true, true) => "yes",
            (true, false) => "by method",
        };
        let cells: Vec<&str> = roles.iter().map(cell).collect();
        let (act, says) = (row["act"].as_str().unwrap(), row["says"].as_str().unwrap());
        holds(&page, &[&format!("| `{act}` | {says} | {} |", cells.join(" | "))]);
    }
    assert_eq!(page.matches("\n| `").count(), rows.len());
}

//! What no source of ours does, as far as a test can read it: SQL made of text, other programs,
//! marks of a page that are not escaped, parts that are read when the program runs.

use crate::house::{none, text};
use crate::tidy::{before_its_tests, sources, strings};

/// SQL with a hole in it, each reviewed: what stands there is a constant or a whole number of ours, or
/// is quoted as SQL asks (a role and two places, when a database is made for a book).
const SQL_WITH_HOLES: [(&str, &str); 8] = [
    ("crates/ledger/src/store/sqlite.rs", "PRAGMA max_page_count = {pages}"),
    ("crates/ledger/src/store/sqlite.rs", "PRAGMA {setting} = {value}"),
    ("crates/ledger/src/store/sqlite.rs", "SELECT {COLUMNS} FROM entry WHERE number = ?1"),
    (
        "crates/ledger/src/store/sqlite.rs",
        "SELECT {COLUMNS} FROM entry ORDER BY number DESC LIMIT 1",
    ),
    ("crates/ledger/src/store/sqlite.rs", "SELECT {COLUMNS} FROM entry WHERE number > ?1"),
    ("crates/ledger/src/store/postgres/schema.rs", "BEGIN;"),
    ("crates/ledger/src/store/postgres/schema.rs", "GRANT USAGE ON SCHEMA cinderbook TO {role};"),
    ("crates/ledger/src/store/postgres/schema.rs", "SELECT {}"),
];

/// Words that SQL begins with, or goes on with.
const SQL: [&str; 12] = [
    "SELECT ",
    "INSERT INTO ",
    "UPDATE ",
    "DELETE FROM ",
    "CREATE ",
    "DROP ",
    "ALTER ",
    "GRANT ",
    "REVOKE ",
    "PRAGMA ",
    "SET LOCAL ",
    "COPY ",
];

/// Pages that put marks in as they are: a drawing of our own that escapes its words itself, and a
/// page that is escaped already, with the heads of its tables.
const AS_IT_IS: [&str; 2] =
    ["crates/app/src/web/page/flame_chart/view.rs", "crates/app/src/web/stacked.rs"];

/// What each source says outside its tests.
fn said() -> impl Iterator<Item = (String, String)> {
    let inside = sources().into_iter().filter(|path| path.display().to_string().contains("/src/"));
    inside.map(|path| (path.display().to_string(), before_its_tests(&text(&path)).to_owned()))
}

#[test]
fn no_sql_is_made_of_what_comes_from_outside() {
    let (mut offences, mut reviewed) = (Vec::new(), Vec::new());
    for (path, source) in said() {
        for (line, words) in strings(&source) {
            if !(words.contains('{') && SQL.iter().any(|it| words.contains(it))) {
                continue;
            }
            let known = |it: &&(&str, &str)| it.0 == path && words.starts_with(it.1);
            match SQL_WITH_HOLES.iter().find(known) {
                Some(known) => reviewed.push(*known),
                None => offences.push(format!("{path}:{line}: {words:?}")),
            }
        }
    }
    none(&offences);
    let gone = SQL_WITH_HOLES.iter().filter(|it| !reviewed.contains(it));
    none(&gone.map(|it| format!("{it:?} is reviewed and not there")).collect::<Vec<_>>());
}

#[test]
fn no_other_program_is_started() {
    let starts =
        ["process::Command", "Command::new", "libc::", "rustix::process", "fork(", "exec("];
    let found = said().flat_map(|(path, source)| {
        let lines = source.lines().map(str::to_owned).zip(1..).collect::<Vec<_>>();
        let starting =
            lines.into_iter().filter(|(line, _)| starts.iter().any(|it| line.contains(it)));
        starting
            .map(move |(line, number)| format!("{path}:{number}: {}", line.trim()))
            .collect::<Vec<_>>()
    });
    none(&found.collect::<Vec<_>>());
}

#[test]
fn pages_escape_what_they_show_and_have_no_script_or_look_in_them() {
    let found = said().flat_map(|(path, source)| {
        let unescaped = source.contains("PreEscaped") && !AS_IT_IS.contains(&path.as_str());
        let mut found: Vec<_> =
            unescaped.then(|| format!("{path}: PreEscaped")).into_iter().collect();
        let inside = [" script {", " style {", " style=", " onclick=", " onload=", " onerror="];
        if path.starts_with("crates/app/src/web/") {
            found.extend(
                inside.iter().filter(|it| source.contains(*it)).map(|it| format!("{path}: {it}")),
            );
        }
        found
    });
    none(&found.collect::<Vec<_>>());
}

/// Scripts, looks and the layouts of a report are in the program: a file beside it changes nothing.
#[test]
fn what_pages_are_made_of_is_built_in() {
    let manifest = text("Cargo.toml");
    let embed = manifest.lines().find(|line| line.starts_with("rust-embed")).unwrap();
    assert!(embed.contains("\"debug-embed\""), "{embed}");
    let found = said().filter(|(path, source)| {
        let edges = ["File::open", "fs::read", "include_str!(env", "rust_embed::utils"];
        path.starts_with("crates/report/src/") && edges.iter().any(|it| source.contains(it))
    });
    none(&found.map(|(path, _)| format!("{path} reads a file")).collect::<Vec<_>>());
    for layout in ["report", "chart", "validation"] {
        let source = text(format!("crates/report/src/pdf/{layout}.typ"));
        assert!(!source.contains("sys.inputs") && !source.contains("import \"@"), "{layout}");
    }
}

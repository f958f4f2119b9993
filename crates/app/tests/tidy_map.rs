//! The map of the rooms: the table in `ARCHITECTURE.md` is the rule that is checked.

use crate::house::{none, text};

struct Room {
    name: String,
    may_import: Vec<String>,
    keeps: Vec<String>,
}

/// The table itself: the page that people read is the rule that is checked.
fn map() -> Vec<Room> {
    let page = text("ARCHITECTURE.md");
    page.lines()
        .filter(|line| line.starts_with("| `"))
        .map(|row| {
            let mut cells = row.split('|').skip(1).map(names_in);
            Room {
                name: cells.next().unwrap().remove(0),
                may_import: cells.next().unwrap(),
                keeps: cells.next().unwrap(),
            }
        })
        .collect()
}

fn free_for_all() -> Vec<String> {
    let page = text("ARCHITECTURE.md");
    names_in(page.lines().find(|line| line.starts_with("Free for all rooms")).unwrap())
}

/// The words between back-quotes.
fn names_in(line: &str) -> Vec<String> {
    line.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

/// The names in one table of a room's manifest.
fn dependencies(room: &str, table: &str) -> Vec<String> {
    let manifest = text(format!("crates/{room}/Cargo.toml"));
    let mut inside = false;
    let mut names = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            // What one system alone needs stands in a table of its own.
            let of_a_system = line.starts_with("[target.") && line.ends_with(".dependencies]");
            inside = line == table || of_a_system && table == "[dependencies]";
        } else if inside && line.contains('=') {
            names.push(line.split(['.', ' ', '=']).next().unwrap().to_owned());
        }
    }
    names
}

fn offences() -> Vec<String> {
    let map = map();
    let free = free_for_all();
    let is_room = |name: &String| map.iter().any(|room| &room.name == name);
    let mut offences = Vec::new();
    for room in &map {
        let normal = dependencies(&room.name, "[dependencies]");
        for name in &normal {
            if is_room(name) && !room.may_import.contains(name) {
                offences.push(format!("`{}` may not import `{name}`", room.name));
            }
            if !is_room(name) && !room.keeps.contains(name) && !free.contains(name) {
                offences.push(format!("`{}` may not use the outside crate `{name}`", room.name));
            }
        }
        for name in &room.keeps {
            if !normal.contains(name) {
                offences
                    .push(format!("`{}` does not use `{name}`; take it off the map", room.name));
            }
        }
        for name in dependencies(&room.name, "[dev-dependencies]") {
            if is_room(&name) && !room.may_import.contains(&name) {
                offences.push(format!("tests of `{}` may not import `{name}`", room.name));
            }
        }
    }
    offences
}

#[test]
fn rooms_import_what_the_map_allows_and_no_more() {
    none(&offences());
}

#[test]
fn the_map_names_every_room_once() {
    let mut named: Vec<String> = map().into_iter().map(|room| room.name).collect();
    named.sort();
    let mut there: Vec<String> = crate::house::files("crates", "Cargo.toml")
        .iter()
        .map(|path| path.parent().unwrap().file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    there.sort();
    assert_eq!(named, there);
}

#[test]
fn the_inner_files_of_the_ledger_know_bytes_only() {
    let offences: Vec<String> = ["chain", "blob"]
        .iter()
        .flat_map(|name| crate::house::files("crates/ledger/src", &format!("{name}.rs")))
        .filter(|path| crate::house::text(path).contains("trial::"))
        .map(|path| format!("{} names `trial`", path.display()))
        .collect();
    none(&offences);
}

#[test]
fn every_outside_crate_says_what_it_is_for() {
    let manifest = text("Cargo.toml");
    let lines = manifest.lines().skip_while(|line| *line != "[workspace.dependencies]").skip(1);
    let mut said = false;
    let mut offences = Vec::new();
    for line in lines.take_while(|line| !line.starts_with('[')) {
        if line.starts_with('#') {
            said = true;
        } else if line.trim().is_empty() {
            said = false;
        } else if !said && !line.contains('#') {
            offences.push(format!("Cargo.toml: `{line}` has no comment that says what for"));
        }
    }
    none(&offences);
}

//! The pages and their twins over real HTTP: the trail, the reports, the equipment, the flame.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::path::Path;

use crate::served::{Served, holds};

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
    holds(&served.page("/record/check"), &["was not checked yet"]);
    let asked = served.post("/record/check", "head=");
    assert_eq!(asked.status, 303);
    let sound = done(&served);
    holds(&sound, &["\"sound\":true", "\"verdicts_reached_again\":2", "\"faults\":[]"]);
    holds(&served.page("/record/check"), &["The record checks."]);
    damage(&served.book().join("evidence"));
    served.post("/record/check", "head=");
    holds(&done(&served), &["\"sound\":false"]);
    holds(
        &served.page("/record/check"),
        &["The record does not check", "No report is issued until it checks."],
    );
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

const REGISTER: &str = "mark=TC-9%2FB&kind=thermocouple&description=type+K&calibration=needed";

#[test]
fn a_piece_is_registered_calibrated_and_withdrawn() {
    let served = Served::demo();
    holds(&served.page("/equipment"), &["CB-2", "holds till 2027-01-12", "G-26-07", "in use"]);
    let empty = served.post("/register-equipment", "mark=CB-2&kind=&description=&calibration=");
    assert_eq!(empty.status, 422);
    holds(
        &empty.body,
        &[
            "<title>Error: Register a piece",
            "CB-2 is registered already",
            "Choose what it is.",
            "value=\"CB-2\"",
        ],
    );
    let made = served.post("/register-equipment", REGISTER);
    assert_eq!(made.status, 303, "{}", made.body);
    holds(&made.head, &["location: /equipment/TC-9%2FB"]);
    holds(&served.page("/equipment/TC-9%2FB"), &["not calibrated", "No plan names it yet."]);

    let certificate = [("file", Some("../Zertifikat ü.pdf"), "%PDF-1.7 made up")];
    let said = [("piece", "TC-9/B"), ("certificate", "K 7"), ("by", "=HYPERLINK(1)")];
    let days = [("on", "2026-03-01"), ("due", "2027-02-28"), ("result", "within class 1")];
    let typed = said.into_iter().chain(days).map(|(name, text)| (name, None, text));
    let recorded = served.post_parts("/calibration", &typed.chain(certificate).collect::<Vec<_>>());
    assert_eq!(recorded.status, 303, "{}", recorded.body);
    let piece = served.page("/equipment/TC-9%2FB");
    holds(&piece, &["holds till 2027-02-28", "K 7", "/evidence/"]);
    let file = format!("/record/{}", between(&piece, "href=\"/record/", "\">K 7"));
    let file = served.get(&file);
    holds(&file.head, &["filename=\"Zertifikat _.pdf\"; filename*=UTF-8''Zertifikat%20%C3%BC.pdf"]);
    holds(&file.body, &["%PDF-1.7 made up"]);
    let sheet = served.get("/record.csv?thing=TC-9%2FB&for=spreadsheet");
    holds(&sheet.body, &["TC-9/B was calibrated on 2026-03-01 by =HYPERLINK(1)"]);

    let away = served.post("/withdraw", "piece=TC-9%2FB&reason=the+sheath+is+cracked");
    assert_eq!(away.status, 303);
    holds(&served.page("/equipment/TC-9%2FB"), &["out of service: the sheath is cracked"]);
    let again = served.post("/withdraw", "piece=TC-9%2FB&reason=again");
    assert_eq!(again.status, 422);
    holds(&again.body, &["is out of service already: the sheath is cracked"]);
}

#[test]
fn what_is_no_certificate_is_refused_and_what_was_typed_stays() {
    let served = Served::demo();
    let parts = [("piece", None, "CB-2"), ("by", None, "Ada"), ("file", Some("a.pdf"), "MZ")];
    let refused = served.post_parts("/calibration", &parts);
    assert_eq!(refused.status, 422);
    holds(
        &refused.body,
        &[
            "`a.pdf` is neither a PDF nor a PNG or JPEG picture.",
            "value=\"Ada\"",
            "Give the day of the calibration, such as 2026-11-25.",
        ],
    );
}

#[test]
fn a_program_opens_a_lot() {
    let served = Served::demo();
    let lot = "{\"mark\":\"G-26-08\",\"kind\":\"gas\",\"description\":\"butane\"}";
    let opened = served.post_json("/api/open-lot", lot);
    assert_eq!(opened.status, 200, "{}", opened.body);
    let twice = served.post_json("/api/open-lot", lot);
    assert_eq!(twice.status, 422);
    holds(&twice.head, &["application/problem+json"]);
    holds(&twice.body, &["Lot G-26-08 was opened already. Give another mark."]);
    assert_eq!(served.post_json("/api/open-lot", "{}").status, 422);
    holds(&served.page("/api/equipment"), &["\"mark\":\"G-26-08\",\"kind\":\"gas\""]);
    let filed = served.post_json("/api/evidence?name=a.pdf&kind=certificate", "%PDF-1.7");
    holds(&filed.body, &["\"sha256\":", "\"name\":\"a.pdf\"", "\"bytes\":8"]);
}

#[test]
fn a_report_is_downloaded_and_issued_once() {
    let served = Served::demo();
    holds(&served.page("/reports"), &["R-1", "Odalys Fenn", "No judged plan waits"]);
    holds(&served.page("/reports/1"), &["Report R-1 on plan", "Head of the record that it prints"]);
    let pdf = served.get("/reports/1/pdf");
    holds(&pdf.head, &["application/pdf", "attachment; filename=\"R-1.pdf\"", "nosniff"]);
    assert!(pdf.body.starts_with("%PDF-"));
    let kept = std::fs::read_to_string(served.folder.path().join("R-1.csv")).unwrap();
    assert_eq!(served.get("/reports/1/csv").body, kept, "the table is that of the day of issue");
    holds(&served.get("/reports/1/spreadsheet").body, &["\u{feff}report,"]);
    assert_eq!(served.get("/reports/1/docx").status, 404);
    assert_eq!(served.get("/reports/9").status, 404);

    let back = served.post("/reports", "plan=1&issued_before=0");
    assert_eq!(back.status, 409);
    holds(&back.body, &["Report R-1 was issued at 2026-03-05 08:30:00 UTC by Odalys Fenn."]);
    holds(&served.page("/reports/new?plan=1"), &["Why is R-1 replaced?", "Issue report R-2 as"]);
    let why = "plan=1&issued_before=1&reason=the+part+was+misnamed&changes=name+of+the+part";
    let issued = served.post("/reports", why);
    assert_eq!(issued.status, 303, "{}", issued.body);
    holds(&issued.head, &["location: /reports/2"]);
    holds(&served.page("/reports/1"), &["takes its place"]);
    assert_eq!(served.post("/reports", why).status, 409);
    holds(&served.page("/api/reports"), &["\"replaces\":1", "\"replaced_by\":2"]);
}

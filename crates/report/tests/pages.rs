//! The pages, read by other programs.

use std::process::Command;

use report::content::{Amendment, Content, Observation, Standing, Value};
use report::pdf::{Attachments, PdfError, render};

use crate::sample;
use crate::tools::{edges, flowing, pages, run, words, written};

/// A4 is 595 points wide; the margins are 22 mm.
const MARGIN: f64 = 62.3;
const RIGHT: f64 = 595.3 - MARGIN;

/// The letters of ISO/IEC 17025:2017, 7.8.2.1, and what stands for each in the sample.
const CHECKLIST: [(&str, &str); 21] = [
    ("a title", "Needle-flame test report"),
    ("b laboratory", "Larkspur Lane Fire Laboratory (made-up) 12 Larkspur Lane, 00000 Nowhere"),
    ("c place", "Test hall 2, bench A"),
    ("d identification", "Report number R-0143"),
    ("d end", "End of report R-0143"),
    ("e customer", "Fernmoor Appliance Works (made-up)"),
    ("f method", "IEC 60695-11-5, edition 2016"),
    ("g item", "Terminal holder of a coffee grinder"),
    ("g identification", "Drawing FM-2207 rev. C"),
    ("g condition", "New and dry"),
    ("h received", "18 November 2026"),
    ("i tested", "23 November 2026, 24 November 2026"),
    ("j issued", "25 November 2026"),
    ("k sampling", "Taken by the customer from one batch"),
    ("l items only", "The results relate only to the items tested"),
    ("m results with units", "27.8 s ± 0.5 s"),
    ("n deviations", "held by a clamp instead of standing free"),
    ("o authorised", "Ines Okoro (made-up), head of the fire laboratory"),
    ("p outside results", "None: all results are the laboratory’s own."),
    ("7.8.3 uncertainty and 7.8.6 rule", "Simple acceptance"),
    ("7.8.6 risk", "a probability of up to 50 %"),
];

fn shown(name: &str, content: &Content, attachments: &Attachments) -> std::path::PathBuf {
    written(name, &render(content, attachments).unwrap())
}

#[test]
fn iso_17025_7_8_2_every_point_is_on_the_pages() {
    let (content, attachments) = sample::report();
    let said = words(&shown("checklist.pdf", &content, &attachments));
    for (point, words) in CHECKLIST {
        assert!(said.contains(words), "{point}: {words:?} is missing");
    }
}

#[test]
fn every_page_carries_its_number_the_report_and_the_made_up_mark() {
    let (content, attachments) = sample::report();
    let pages = pages(&shown("every-page.pdf", &content, &attachments));
    for (index, page) in pages.iter().enumerate() {
        let page = flowing(page);
        let number = format!("Page {} of {}", index + 1, pages.len());
        assert!(page.contains(&number), "{number} is missing: {page}");
        assert!(page.contains("Report R-0143"), "{page}");
        assert_eq!(page.matches("MADE-UP: demonstration data, not a test result").count(), 2);
    }
}

#[test]
fn a_measured_report_has_no_made_up_mark() {
    let (mut content, attachments) = sample::report();
    content.made_up = None;
    let said = words(&shown("measured.pdf", &content, &attachments));
    assert!(!said.contains("MADE-UP"), "{said:.400}");
}

#[test]
fn the_file_is_sound_tagged_archivable_and_holds_its_data() {
    let (content, attachments) = sample::report();
    let pdf = shown("sound.pdf", &content, &attachments);
    let path = pdf.to_str().unwrap();
    let checked = run("qpdf", &["--check", path]);
    assert!(checked.contains("No syntax or stream encoding errors found"), "{checked}");
    let info = run("pdfinfo", &[path]);
    for line in ["Tagged:          yes", "PDF version:     1.7", "CreationDate:"] {
        assert!(info.contains(line), "{line}: {info}");
    }
    assert!(info.contains("Wed Nov 25 10:32:07 2026"), "{info}");
    let metadata = run("pdfinfo", &["-meta", path]);
    for claim in ["<pdfaid:part>3", "<pdfaid:conformance>A", "<pdfuaid:part>1"] {
        assert!(metadata.contains(claim), "{claim}: {metadata}");
    }
    assert!(run("pdfdetach", &["-list", path]).contains("report.json"));
    let out = written("attached.json", b"");
    run("pdfdetach", &["-save", "1", "-o", out.to_str().unwrap(), path]);
    let attached = std::fs::read_to_string(out).unwrap();
    assert_eq!(attached, report::json::write(&content).unwrap());
    let fonts = run("pdffonts", &[path]);
    assert!(fonts.lines().skip(2).all(|font| font.contains(" yes yes yes ")), "{fonts}");
}

#[test]
fn the_same_report_has_the_same_bytes() {
    let (content, attachments) = sample::report();
    let first = render(&content, &attachments).unwrap();
    assert!(render(&content, &attachments).unwrap() == first, "twice in one process");
    let path = written("other-process.pdf", b"");
    let this = std::env::current_exe().unwrap();
    let arguments = ["--exact", "pages::writes_where_another_process_asks", "--nocapture"];
    let done =
        Command::new(this).args(arguments).env("REPORT_TEST_WRITES_TO", &path).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    assert!(std::fs::read(path).unwrap() == first, "in two processes");
}

/// The other half of the test above: writes the report where the variable says. Without it, it
/// only looks whether the report can be made.
#[test]
fn writes_where_another_process_asks() {
    let (content, attachments) = sample::report();
    let pdf = render(&content, &attachments).unwrap();
    assert!(pdf.starts_with(b"%PDF-1.7"));
    if let Some(path) = std::env::var_os("REPORT_TEST_WRITES_TO") {
        std::fs::write(path, pdf).unwrap();
    }
}

/// No word may leave the text's width.
fn assert_inside(pdf: &std::path::Path) {
    for (left, right, word) in edges(pdf) {
        assert!(left > MARGIN - 1.0 && right < RIGHT + 1.0, "{word} stands outside the margins");
    }
}

#[test]
fn names_cannot_become_markup() {
    let (mut content, attachments) = sample::report();
    let name = "#image(\"/x\") *bold* _it_ <script>alert(1)</script> $x^2$ @key \\ [a] = b // c";
    content.item.description = name.into();
    content.customer.name = name.into();
    content.specimens[0].observations =
        vec![Observation { at: content.specimens[0].applied.clone(), text: name.into() }];
    content.photos[0].caption = name.into();
    let pdf = shown("markup.pdf", &content, &attachments);
    let said = words(&pdf);
    assert!(said.matches("<script>alert(1)</script> $x^2$ @key").count() >= 4, "{said:.400}");
    assert!(said.contains("#image(\"/x\") *bold* _it_"), "{said:.400}");
    assert_inside(&pdf);
}

#[test]
fn odd_scripts_are_printed_or_named_by_their_code() {
    let (mut content, attachments) = sample::report();
    content.item.description = "Πλάκα Ω, Плата, 板 \u{202e}x \u{1f525}".into();
    let said = words(&shown("scripts.pdf", &content, &attachments));
    assert!(said.contains("Πλάκα Ω, Плата, [U+677F] [U+202E]x [U+1F525]"), "{said:.400}");
    assert!(said.contains("3 characters that the typefaces of this document do not hold"));
}

#[test]
fn thirty_specimens_and_long_names_stay_inside_the_margins() {
    let (mut content, attachments) = sample::report();
    let one = content.specimens[0].clone();
    content.specimens =
        (1..=30).map(|number| report::content::Specimen { number, ..one.clone() }).collect();
    let long = "Bezirksschornsteinfegermeisterprüfungskommissionsvorsitzender".repeat(3);
    content.laboratory.name = long.clone();
    content.customer.name = long.clone();
    content.item.identification = long.clone();
    content.number = "R-2026-000143-amended-2-of-the-northern-site".into();
    content.conformity.criteria[0].clause = long.clone();
    content.conditions.equipment[0].number = "NORTH-BENCH-3-BURNER-0002".into();
    content.conditions.equipment[0].description = long.clone();
    content.specimens[4].layer = long.clone();
    content.photos[0].name = long;
    let pdf = shown("many.pdf", &content, &attachments);
    assert_inside(&pdf);
    let said = words(&pdf);
    assert!(
        said.contains("End of report R-2026-000143-amended-2-of-the-northern-site"),
        "{said:.400}"
    );
    assert!(said.contains("9f2c01d4c7b86b1e4f1a5ad3c27e90b8d2a4f06e71c35d8890ab12cd34ef5678"));
}

#[test]
fn a_report_with_nothing_in_its_lists_can_still_be_read() {
    let (mut content, _) = sample::report();
    content.made_up = None;
    content.method.product_standard = None;
    content.method.rules.clear();
    content.conformity.standing = Standing::NotJudged;
    content.conformity.words = Standing::NotJudged.words().into();
    content.conformity.criteria.clear();
    content.conformity.what_it_shows = None;
    content.conformity.near_limit = None;
    content.conditions.conditioning.clear();
    content.conditions.points.clear();
    content.conditions.equipment.clear();
    content.confirmations.clear();
    content.specimens.clear();
    content.photos.clear();
    content.deviations.clear();
    content.remarks.clear();
    let pdf = shown("empty.pdf", &content, &Attachments::default());
    assert_inside(&pdf);
    let said = words(&pdf);
    for words in ["Not judged", "No specimen was tested.", "No criterion was judged."] {
        assert!(said.contains(words), "{words}");
    }
}

#[test]
fn what_does_not_count_stays_visible_with_its_reason() {
    let (mut content, attachments) = sample::report();
    content.specimens[0].burning = None::<Value>;
    let said = words(&shown("void.pdf", &content, &attachments));
    assert!(said.contains("Void: begun before the block had cooled: 61 °C"), "{said:.400}");
    assert!(
        said.contains("Specimen 3 is void and does not count: the draught door"),
        "{said:.400}"
    );
}

#[test]
fn an_amended_report_says_what_it_replaces() {
    let (mut content, attachments) = sample::report();
    content.amends = Some(Amendment {
        replaces: "R-0140".into(),
        changes: vec!["The point of application of specimen 2 is B and not A.".into()],
        reason: "a slip in the table".into(),
    });
    let said = words(&shown("amended.pdf", &content, &attachments));
    assert!(
        said.contains("It replaces report R-0140, which is no longer to be used."),
        "{said:.400}"
    );
}

#[test]
fn pictures_that_are_none_are_refused_by_name() {
    let (content, mut attachments) = sample::report();
    attachments.photos[1] = b"GIF89a".to_vec();
    let refused = render(&content, &attachments).unwrap_err();
    assert!(matches!(&refused, PdfError::NotAPicture { name } if name == "after.png"));
    assert!(refused.hint().is_some());
    attachments.photos[1] = b"\x89PNG\r\n\x1a\nand no more".to_vec();
    let refused = render(&content, &attachments).unwrap_err();
    assert!(matches!(refused, PdfError::Typesetter { .. }), "{refused}");
    attachments.photos.pop();
    assert!(matches!(
        render(&content, &attachments),
        Err(PdfError::Photos { captions: 2, photos: 1 })
    ));
}

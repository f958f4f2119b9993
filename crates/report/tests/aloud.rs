//! The report as who hears it gets it, told by another program: the checkpoints of PDF/UA-1 that a
//! program can decide (Matterhorn Protocol 1.1), and whether descriptions describe.

use report::content::{PhotoShown, PhotoTaken};
use report::pdf::{Attachments, render};
use trial::evidence::{Evidence, EvidenceHash, EvidenceKind};
use trial::number::SpecimenNumber;

use crate::tools::{house, run, written};
use crate::{german, sample};

/// What the listener finds of each checkpoint, and that it warns of nothing.
fn heard(name: &str, pdf: &[u8]) -> String {
    let path = written(name, pdf);
    let asked = ["--fail-on", "warning", "--criteria", path.to_str().unwrap()];
    let said = run(&house(".venv/bin/outloud"), &asked);
    assert!(said.contains("0 error(s), 0 warning(s)"), "{said}");
    said
}

/// A composed report in German that shows a photograph, and one with everything that a report has.
#[test]
fn every_checkpoint_of_pdf_ua_that_a_program_can_decide_holds() {
    let (content, attachments) = sample::report();
    let taken = attachments.photos[..1].to_vec();
    let evidence = Evidence {
        name: "specimen-1-after.png".into(),
        hash: EvidenceHash([7; 32]),
        bytes: 1,
        kind: EvidenceKind::Photo,
    };
    let shown = PhotoShown { evidence, specimen: SpecimenNumber(1), taken: PhotoTaken::Later };
    let [_, german] = german::both(&[shown]);
    let photographed = Attachments { photos: taken, ..german::attached() };
    for (name, content, attachments) in
        [("aloud.pdf", content, attachments), ("aloud-german.pdf", german, photographed)]
    {
        let said = heard(name, &render(&content, &attachments).unwrap());
        for held in [
            "01 Real content tagged",
            "11 Declared natural language",
            "13 Graphics",
            "14 Headings",
            "15 Tables",
            "21 Embedded files",
            "31 Fonts",
        ] {
            assert!(said.contains(&format!("PASS    {held}")), "{held}: {said}");
        }
    }
}

//! What a signature covers: the entries of the thing, and of each kind of thing all of them.

use crate::base_line::confirmed_often;
use crate::bench::{Book, PLAN, draft, hours, method_alone, opened, person};
use crate::history::{report, whole_path};
use crate::refusals::confirmed_book;
use crate::signatures::{all_tested, judged, signs};
use trial::base_line::{freeze, proposed};
use trial::care::{DueItem, DueLet};
use trial::commissioning::Commissioning;
use trial::fact::Fact;
use trial::history::Covering;
use trial::number::{
    BaseLineNumber, ConfirmationNumber, EntryNumber, PlanNumber, ReportNumber, SpecimenNumber,
};
use trial::signature::{Meaning, Signed};

/// The last entry, and one that was withdrawn and replaced by itself.
fn corrected(book: Book) -> (Book, Vec<EntryNumber>) {
    let last = book.entries.last().unwrap().clone();
    let (reason, by) = ("misspelt".to_owned(), Some(Box::new(last.fact)));
    let book = book.at(hours(9), Fact::Corrected { entry: last.entry, reason, by });
    let correction = book.entries.last().unwrap().entry;
    (book, vec![last.entry, correction])
}

#[test]
fn a_report_is_its_own_entry_and_no_other() {
    let book = whole_path();
    let first = book.entries.last().unwrap().entry;
    let Fact::ReportIssued(mut issued) = report(2) else { panic!() };
    issued.supersedes = Some(ReportNumber(1));
    let book = book.at(hours(3), Fact::ReportIssued(issued));
    let second = book.entries.last().unwrap().entry;
    let content = |number| book.history().content(Signed::Report(ReportNumber(number)));
    assert_eq!([content(1), content(2)], [Some(vec![first]), Some(vec![second])]);
    assert_eq!(content(3), None);
}

#[test]
fn a_base_line_a_call_and_a_list_are_their_entries_with_what_corrects_them() {
    let book = confirmed_often(20, |_, _| ());
    let history = book.history();
    let base_line = freeze(&history, &proposed(&history), None).unwrap();
    let book = book.at(hours(8), Fact::BaseLineFrozen(Box::new(base_line)));
    let frozen = book.entries.last().unwrap().entry;
    let confirmation = ConfirmationNumber(20);
    let done = "the burner was cleaned".to_owned();
    let (book, answered) =
        corrected(book.at(hours(8), Fact::FlameCallAnswered { confirmation, done }));
    let other = ConfirmationNumber(19);
    let done = "nothing".to_owned();
    let book = book.at(hours(9), Fact::FlameCallAnswered { confirmation: other, done });
    let list = Commissioning { bench: "bench 2".to_owned(), points: vec![] };
    let (book, commissioned) = corrected(book.at(hours(9), Fact::BenchCommissioned(list)));
    let history = book.history();
    assert_eq!(history.content(Signed::BaseLine(BaseLineNumber(1))), Some(vec![frozen]));
    assert_eq!(history.content(Signed::BaseLine(BaseLineNumber(2))), None);
    assert_eq!(history.content(Signed::FlameCall(confirmation)), Some(answered));
    assert_eq!(history.content(Signed::FlameCall(ConfirmationNumber(18))), None);
    assert_eq!(history.content(Signed::Commissioning(commissioned[0])), Some(commissioned));
    assert_eq!(history.content(Signed::Commissioning(frozen)), None);
}

#[test]
fn what_is_asked_of_a_plan_after_its_approval_is_no_longer_covered() {
    let approved = signs(all_tested(judged()), "Bea", Signed::Plan(PLAN), Meaning::Approved);
    let covering = |book: &Book| {
        let history = book.history();
        history.covering(history.signatures_on(Signed::Plan(PLAN)).last().unwrap())
    };
    assert_eq!(covering(&approved), Covering::Covers);
    let plan = PLAN;
    let more = Fact::SpecimensAdded {
        plan,
        specimens: vec![SpecimenNumber(13)],
        reason: "one more".to_owned(),
    };
    let let_through = Fact::DueLetThrough(DueLet {
        plan,
        item: DueItem::Calibration("TC-1".into()),
        reason: "the new one comes tomorrow".to_owned(),
    });
    for fact in [more, let_through] {
        let book = approved.clone().at(hours(9), fact);
        let since = vec![book.entries.last().unwrap().entry];
        assert_eq!(covering(&book), Covering::NoLonger { since });
    }
}

#[test]
fn what_is_not_there_or_not_complete_has_no_content() {
    let history = confirmed_book(&draft(method_alone("30 s"))).history();
    let specimen = Signed::Specimen { plan: PLAN, specimen: SpecimenNumber(1) };
    let trail = |from, until| Signed::Trail { from: EntryNumber(from), until: EntryNumber(until) };
    for what in
        [specimen, Signed::Plan(PLAN), Signed::Plan(PlanNumber(2)), trail(0, 1), trail(2, 1)]
    {
        assert_eq!(history.content(what), None, "{what}");
    }
    assert_eq!(history.content(trail(2, 3)), Some(vec![EntryNumber(2), EntryNumber(3)]));
    assert_eq!(opened().history().content(Signed::Plan(PLAN)), None);
    for (what, missing) in [
        (specimen, "nobody has said what was seen"),
        (Signed::Plan(PLAN), "it was not judged"),
        (Signed::Report(ReportNumber(9)), "it was not issued"),
        (Signed::BaseLine(BaseLineNumber(9)), "it was not frozen"),
        (Signed::FlameCall(ConfirmationNumber(9)), "nothing was noted"),
        (Signed::Commissioning(EntryNumber(1)), "the entry keeps no such list"),
        (trail(1, 500), "the record does not reach so far"),
    ] {
        let refused = history.may_sign(&person(), what, what.meanings()[0]).unwrap_err();
        assert_eq!(refused.to_string(), format!("{what} is not there to be signed: {missing}"));
    }
}

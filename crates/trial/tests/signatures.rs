//! Signatures: what each covers, what voids it, who may sign, and which ones a report wants.

use crate::bench::{Book, PLAN, draft, hours, method_alone, observed, opened, plan};
use crate::refusals::confirmed_book;
use trial::fact::{Authorisation, Fact, Recorded};
use trial::history::{Covering, History, HistoryProblem};
use trial::moment::Elapsed;
use trial::number::{ConfirmationNumber, EntryNumber, PersonName, SpecimenNumber};
use trial::run::Ending;
use trial::signature::{
    ContentHash, Identified, Meaning, SamePerson, SentBack, Signature, Signed, SigningError,
    SigningRule,
};

const WHOLE: Signed = Signed::Plan(PLAN);

fn one() -> Signed {
    Signed::Specimen { plan: PLAN, specimen: SpecimenNumber(1) }
}

fn run(specimen: u32) -> Fact {
    let observed = Box::new(observed(specimen, &plan(draft(method_alone("30 s")))));
    Fact::RunRecorded { plan: PLAN, confirmation: ConfirmationNumber(1), observed }
}

/// The next fact, by a person of their own.
fn by(mut book: Book, who: &str, fact: Fact) -> Book {
    book = book.at(hours(5), fact);
    if let Some(last) = book.entries.last_mut() {
        *last = Recorded { who: who.into(), ..last.clone() };
    }
    book
}

/// Three specimens, tested by Ada and judged. Ada tests; Bea reviews and issues.
pub(crate) fn judged() -> Book {
    let mut book = confirmed_book(&draft(method_alone("30 s")));
    for (person, may) in [
        ("Ada", vec![Authorisation::Test]),
        ("Bea", vec![Authorisation::Review, Authorisation::Issue]),
    ] {
        let person = PersonName::from(person);
        book = book.at(hours(4), Fact::PersonAdmitted { person, authorisations: may });
    }
    for specimen in 1..=3 {
        book = tests(book, "Ada", specimen);
    }
    verdict(book)
}

/// A specimen that a person watched and recorded.
fn tests(book: Book, who: &str, specimen: u32) -> Book {
    let Fact::RunRecorded { plan, confirmation, mut observed } = run(specimen) else { panic!() };
    observed.observer = who.into();
    by(book, who, Fact::RunRecorded { plan, confirmation, observed })
}

fn verdict(book: Book) -> Book {
    let judged = book.history().judge(PLAN).unwrap();
    let (standing, account) = (judged.standing, judged.account());
    book.at(hours(5), Fact::VerdictReached { plan: PLAN, standing, account })
}

/// A signature; its hash is a number here.
pub(crate) fn signs(book: Book, who: &str, what: Signed, meaning: Meaning) -> Book {
    let number = u8::try_from(book.entries.len()).unwrap();
    let last = *book.history().content(what).unwrap().last().unwrap();
    let (content, identified) = (ContentHash([number; 32]), Identified::Password);
    by(book, who, Fact::Signed(Signature { what, meaning, content, last, identified }))
}

pub(crate) fn all_tested(mut book: Book) -> Book {
    for specimen in [1, 2, 3].map(SpecimenNumber) {
        book = signs(book, "Ada", Signed::Specimen { plan: PLAN, specimen }, Meaning::Tested);
    }
    book
}

fn may(history: &History, who: &str, what: Signed, meaning: Meaning) -> Result<(), SigningError> {
    history.may_sign(&who.into(), what, meaning)
}

/// The run of specimen 1 with its flames out a second earlier.
fn corrected(book: Book) -> Book {
    let recorded = book.history().runs(PLAN)[0].clone();
    let (entry, confirmation) = (recorded.entry, recorded.confirmation);
    let mut observed = recorded.run.observed().clone();
    observed.flames = Ending::Out(Elapsed::from_microseconds(31_000_000));
    let holds = Fact::RunRecorded { plan: PLAN, confirmation, observed: Box::new(observed) };
    let (reason, holds) = ("misread".to_owned(), Some(Box::new(holds)));
    by(book, "Ada", Fact::Corrected { entry, reason, by: holds })
}

#[test]
fn a_report_wants_each_specimen_tested_and_the_plan_approved_by_another_person() {
    let book = judged();
    let history = book.history();
    assert_eq!(history.signatures_asked(), [Meaning::Tested, Meaning::Approved]);
    assert_eq!(history.signatures_wanted(PLAN).len(), 4);
    let early = may(&history, "Bea", WHOLE, Meaning::Approved).unwrap_err();
    assert_eq!(early.to_string(), "the signature of specimen 1 of plan P-1 as tested comes first");
    let other = may(&history, "Bea", one(), Meaning::Tested).unwrap_err();
    assert_eq!(other.to_string(), "Bea is not authorised to sign specimen 1 of plan P-1 as tested");
    let book = all_tested(book);
    let history = book.history();
    let wanted = history.signatures_wanted(PLAN);
    assert_eq!(wanted.iter().map(|it| it.what).collect::<Vec<_>>(), [WHOLE]);
    assert_eq!(may(&history, "Bea", WHOLE, Meaning::Approved), Ok(()));
    let book = signs(book, "Bea", WHOLE, Meaning::Approved);
    assert_eq!(book.history().signatures_wanted(PLAN), []);
}

#[test]
fn a_specimen_is_signed_as_tested_by_who_tested_it() {
    let mut book = confirmed_book(&draft(method_alone("30 s")));
    for person in ["Ada", "Cy"].map(PersonName::from) {
        let authorisations = vec![Authorisation::Test];
        book = book.at(hours(4), Fact::PersonAdmitted { person, authorisations });
    }
    let history = tests(tests(book, "Ada", 1), "Cy", 2).history();
    let two = Signed::Specimen { plan: PLAN, specimen: SpecimenNumber(2) };
    assert_eq!(may(&history, "Ada", one(), Meaning::Tested), Ok(()));
    assert_eq!(may(&history, "Cy", two, Meaning::Tested), Ok(()));
    let refused = may(&history, "Cy", one(), Meaning::Tested).unwrap_err();
    assert_eq!(refused.to_string(), "specimen 1 of plan P-1 was tested by Ada, not by Cy");
    assert!(may(&history, "Ada", two, Meaning::Tested).is_err());
    assert_eq!(history.testers(PLAN), ["Ada", "Cy"].map(PersonName::from).into());
}

#[test]
fn signatures_are_asked_as_soon_as_one_person_tests_and_another_looks() {
    use Authorisation::{Issue, Review, Test};
    let asked = |people: &[(&str, &[Authorisation])], disabled: &str| {
        let mut book = opened();
        for (person, may) in people {
            let (person, authorisations) = ((*person).into(), may.to_vec());
            book = book.at(hours(4), Fact::PersonAdmitted { person, authorisations });
        }
        if !disabled.is_empty() {
            let (person, reason) = (disabled.into(), "left".to_owned());
            book = book.at(hours(5), Fact::PersonDisabled { person, reason });
        }
        !book.history().signatures_asked().is_empty()
    };
    assert!(asked(&[("Ada", &[Test]), ("Bea", &[Review])], ""));
    assert!(asked(&[("Ada", &[Test, Issue]), ("Bea", &[Test])], ""));
    assert!(!asked(&[("Ada", &[Test, Review, Issue])], ""), "one person alone");
    assert!(!asked(&[("Ada", &[Test]), ("Bea", &[Test])], ""), "nobody looks");
    assert!(!asked(&[("Ada", &[Review]), ("Bea", &[Issue])], ""), "nobody tests");
    assert!(!asked(&[("Ada", &[Test]), ("Bea", &[Review])], "Bea"), "who looked is out");
    assert!(!asked(&[], ""));
}

#[test]
fn who_tested_does_not_approve_unless_the_laboratory_wrote_why() {
    let ada = "Ada".into();
    let authorisations = vec![Authorisation::Test, Authorisation::Issue];
    let book =
        all_tested(judged()).at(hours(5), Fact::PersonAdmitted { person: ada, authorisations });
    let refused = may(&book.history(), "Ada", WHOLE, Meaning::Approved).unwrap_err();
    assert!(matches!(refused, SigningError::SamePerson { .. }), "{refused}");
    assert!(refused.hint().contains("in writing"));
    let rule = SigningRule {
        asked: vec![Meaning::Tested, Meaning::Approved],
        same_person: SamePerson::Allowed,
        reason: "Ada works alone on Fridays".to_owned(),
    };
    let book = book.at(hours(5), Fact::SigningRuled(rule));
    assert_eq!(may(&book.history(), "Ada", WHOLE, Meaning::Approved), Ok(()));
    let none = SigningRule {
        asked: Vec::new(),
        same_person: SamePerson::Refused,
        reason: "signed on paper".to_owned(),
    };
    assert_eq!(book.at(hours(5), Fact::SigningRuled(none)).history().signatures_wanted(PLAN), []);
}

#[test]
fn a_correction_voids_what_was_signed_of_that_specimen_and_of_the_plan() {
    let book = signs(all_tested(judged()), "Bea", WHOLE, Meaning::Approved);
    let book = corrected(book);
    let history = book.history();
    let last = book.entries.last().unwrap().entry;
    let covering = |what: Signed| {
        let last = history.signatures_on(what).last().unwrap();
        history.covering(last)
    };
    assert_eq!(covering(one()), Covering::NoLonger { since: vec![last] });
    assert_eq!(covering(WHOLE), Covering::NoLonger { since: vec![last] });
    let two = Signed::Specimen { plan: PLAN, specimen: SpecimenNumber(2) };
    assert_eq!(covering(two), Covering::Covers);
    let amended = history.amendments_of(PLAN);
    assert_eq!((amended.len(), amended[0].changes.len()), (1, 1));
    assert_eq!(
        (amended[0].changes[0].what.as_str(), amended[0].changes[0].after.as_str()),
        ("Flames", "out at 31.0 s")
    );
    // It is judged anew before it is approved anew.
    let history = signs(book, "Ada", one(), Meaning::Tested).history();
    let refused = may(&history, "Bea", WHOLE, Meaning::Approved).unwrap_err();
    assert_eq!(refused.to_string(), "judging plan P-1 as it stands now comes first");
}

#[test]
fn a_run_that_is_withdrawn_leaves_its_signature_without_cover() {
    let book = all_tested(judged());
    let entry = book.history().runs(PLAN)[0].entry;
    let book =
        book.at(hours(5), Fact::Corrected { entry, reason: "of another plan".into(), by: None });
    let history = book.history();
    let signed = history.signatures_on(one()).last().unwrap();
    assert_eq!(history.covering(signed), Covering::NoLonger { since: Vec::new() });
    assert!(matches!(
        may(&history, "Ada", one(), Meaning::Tested),
        Err(SigningError::Nothing { .. })
    ));
}

#[test]
fn judging_again_with_the_same_outcome_voids_nothing() {
    let book = signs(all_tested(judged()), "Bea", WHOLE, Meaning::Approved);
    let history = verdict(book).history();
    assert!(history.signed(WHOLE, Meaning::Approved).is_some());
}

#[test]
fn what_is_sent_back_waits_until_it_is_signed_anew() {
    let back = |specimens: Vec<SpecimenNumber>| {
        let note = "look again".to_owned();
        Fact::SentBack(SentBack { plan: PLAN, specimens, note })
    };
    let book = by(all_tested(judged()), "Bea", back(vec![SpecimenNumber(1)]));
    let history = book.history();
    assert_eq!(history.all_sent_back().count(), 1);
    assert!(history.signed(one(), Meaning::Tested).is_none());
    assert_eq!(history.signatures_wanted(PLAN).len(), 2);
    let book = signs(book, "Ada", one(), Meaning::Tested);
    let history = book.history();
    assert_eq!((history.all_sent_back().count(), history.sent_backs(PLAN).len()), (0, 1));
    // The signature that was sent back is kept beside the new one.
    let signed = [history.signatures().len(), history.signatures_of(PLAN).len()];
    assert_eq!(signed, [4, 4]);
    assert_eq!(history.signatures_on(one()).count(), 2);
    let unknown = book.at(hours(5), back(vec![SpecimenNumber(99)])).replay().unwrap_err();
    assert!(matches!(unknown.problem, HistoryProblem::Unknown { .. }));
}

#[test]
fn a_signature_is_given_once_and_stands_uncorrected() {
    let book = all_tested(judged());
    let signed = book.entries.last().unwrap().clone();
    let twice = by(book, "Ada", signed.fact.clone()).replay().unwrap_err();
    assert!(matches!(twice.problem, HistoryProblem::Twice { .. }), "{twice}");
    let entry = signed.entry;
    let gone = Fact::Corrected { entry, reason: "x".into(), by: None };
    let refused = all_tested(judged()).at(hours(5), gone).replay().unwrap_err();
    assert!(matches!(refused.problem, HistoryProblem::Uncorrectable { .. }), "{refused}");
}

#[test]
fn a_signature_that_did_not_see_the_last_entry_does_not_follow() {
    let signed = all_tested(judged()).entries.last().unwrap().clone();
    let late = corrected(judged());
    let Fact::Signed(signature) = signed.fact else { panic!() };
    let of_one = Fact::Signed(Signature { what: one(), last: EntryNumber(1), ..signature });
    let refused = by(late, "Ada", of_one).replay().unwrap_err();
    assert!(refused.to_string().contains("looking at entry"), "{refused}");
}

#[test]
fn the_trail_is_reviewed_row_after_row() {
    let book = judged();
    let trail = |from: u64, until: u64| Signed::Trail {
        from: EntryNumber(from),
        until: EntryNumber(until),
    };
    let history = book.history();
    assert_eq!(may(&history, "Bea", trail(1, 5), Meaning::Reviewed), Ok(()));
    assert!(matches!(
        may(&history, "Bea", trail(1, 500), Meaning::Reviewed),
        Err(SigningError::Nothing { .. })
    ));
    let history = signs(book, "Bea", trail(1, 5), Meaning::Reviewed).history();
    assert_eq!(history.trail_to_review(), EntryNumber(6));
    // A row of entries stays what it was.
    assert_eq!(history.covering(history.trail_signature().unwrap()), Covering::Covers);
    let refused = may(&history, "Bea", trail(6, 9), Meaning::Approved).unwrap_err();
    assert_eq!(refused.to_string(), "the trail, entries 6 to 9 is not signed as approved");
    assert!(matches!(
        may(&history, "Bea", trail(7, 9), Meaning::Reviewed),
        Err(SigningError::Order { .. })
    ));
    assert_eq!(may(&history, "Bea", trail(6, 9), Meaning::Reviewed), Ok(()));
}

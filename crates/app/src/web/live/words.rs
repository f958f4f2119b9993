//! What the heatings came to, in words.

use trial::method::EachOrMean;
use trial::moment::Moment;
use trial::number::PlanNumber;

use crate::book::OpenBook;

/// That the determinations lie within the band, as the rules ask it.
pub(super) fn within(book: &OpenBook, plan: PlanNumber) -> String {
    let asked = book.plan(plan).map(|it| &it.requirement().asked.confirmation);
    asked.map_or_else(
        |_| String::new(),
        |asked| {
            let band = asked.rise_time.value;
            let which = match asked.rule.value {
                EachOrMean::Each => format!("All {} lie", asked.determinations.value.number()),
                EachOrMean::Mean => "Their mean lies".to_owned(),
            };
            format!("{which} within {:.1} to {:.1}.", band.low, band.high)
        },
    )
}

/// Till when the last confirmation holds.
pub(super) fn ends(book: &OpenBook) -> String {
    let Some(last) = book.history().last_confirmation() else { return String::new() };
    let longest = book.plan(last.plan).ok().and_then(|plan| plan.draft().confirmation_age_max);
    let till = longest.and_then(|age| till(last.at, age));
    till.map_or_else(String::new, |till| {
        format!(" It holds till {till}, or until the gas is changed.")
    })
}

/// The moment so long after another, as it is read.
pub(in crate::web) fn till(at: Moment, by: metrology::Duration) -> Option<String> {
    #[expect(clippy::cast_possible_truncation, reason = "an age of days, in microseconds")]
    let by = (by.seconds() * 1e6) as i64;
    let later = at.unix_microseconds().checked_add(by)?;
    Moment::from_unix_microseconds(later).ok().map(crate::web::page::when)
}

/// How many determinations count so far.
pub(super) fn not_yet(book: &OpenBook, plan: PlanNumber) -> String {
    let open = book.history().open_determinations();
    let counting = open.iter().filter(|made| made.void.is_none()).count();
    let asked = book.plan(plan).map(|it| &it.requirement().asked.confirmation.determinations);
    let needed = asked.map_or(String::new(), |it| format!(" of {}", it.value.number()));
    format!("{counting}{needed} determinations count. Let the block cool, and make the next one.")
}

//! What the pages of a report say by themselves: the template takes each word by its name.

pub(super) mod english;
pub(super) mod german;

use serde::Serialize;

macro_rules! page {
    ($($(#[$doc:meta])* $name:ident,)*) => {
        /// The words of the pages. `{}` stands where the template puts a value, in that order.
        #[derive(Serialize)]
        #[serde(rename_all = "kebab-case")]
        pub(crate) struct Page {
            /// The months, from January on.
            pub(crate) months: [&'static str; 12],
            $($(#[$doc])* pub(crate) $name: &'static str,)*
        }
    };
}

page! {
    /// The tag of the language, and of the country whose habit it follows.
    lang, region,
    /// What stands between whole and part of a number, and behind the day of a month.
    decimal, day_mark,
    report, of_laboratory, issued, page_of, titled, edition, as_called_by,
    amended_report, replaces, reason,
    report_number, date_of_issue, laboratory, place_of_test, customer, job,
    item_tested, identification, condition, date_received, not_noted, date_of_test, sampling,
    authorised_by,
    kept, not_kept, undecided, not_judged,
    asked_heading, none_judged, demand, limit, where_it_stands, number_is, outcome,
    decision_rule, risk, what_it_shows, near_limit,
    results, none_tested, number, begun, flame_on, afterflame, afterglow, burning, layer_below,
    damaged, void, results_note, void_specimen, strip_caption,
    seen, specimen, at, seen_note, watched, and,
    amended_values, value, was, holds, who_when_why, amended_by, amended_note,
    flame, no_confirmation, confirmation, block_at_start, rise_time, read_from, void_because, void_reason,
    not_last, window_note, uncertainty_note, curves_caption, rises_caption,
    conditions, duration_of_application, position, point, flame_height, flame_height_asked, gas,
    atmosphere, conditioning, what, from, until, measured, asked,
    equipment, calibrated, due, certificate,
    departures, additions, none, outside, none_outside,
    from_the_record, entry, when, who, record_words,
    signatures, meaning, name, of_what, stands, by_name, covers, covers_no_longer,
    signatures_note,
    photographs, photo,
    record, plan, head, head_entry, head_entries, head_square, to_verify, data, data_attached, made_by,
    rules_file, determination_file, end, replaced, files, file, attached,
}

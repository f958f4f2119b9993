//! English.

use metrology::decision::DecisionRule;
use trial::equipment::EquipmentKind;
use trial::method::{Demand, EachOrMean};
use trial::rules::Standing as NumberStanding;
use trial::run::{LayerOutcome, MarkKind};

use super::page::english::PAGE;
use super::{Charts, Conditions, Conformity, Results, Whole, Words};
use crate::content::{MADE_UP, PhotoTaken, Standing};

pub(super) const WORDS: Words = Words {
    page: PAGE,
    shown: |number| number.to_owned(),
    of_rules: |text| text.to_owned(),
    clause: |clause| clause.to_owned(),
    edition: " ed. ",
    made_up: MADE_UP,
    whole: WHOLE,
    conformity: CONFORMITY,
    conditions: CONDITIONS,
    results: RESULTS,
    charts: CHARTS,
};

const WHOLE: Whole = Whole {
    title: |name| {
        let mut letters = name.chars();
        let first = letters.next().map(|letter| letter.to_uppercase().to_string());
        format!("{}{} report", first.unwrap_or_default(), letters.as_str())
    },
    condition_not_noted: "not noted",
    sampling_not_known: "not known to the laboratory",
    other_layer: |words| format!("Another layer was used: {words}."),
    no_layer: |why| format!("No layer was used: {why}."),
    chosen: |[key, value], replaced, reason| {
        let replaced = replaced.map(|replaced| format!(" in place of {replaced}"));
        format!("{key} was set to {value}{}: {reason}", replaced.unwrap_or_default())
    },
    let_through: |item, [day, who, reason]| {
        format!("Tested although this was due: {item}. Let through on {day} by {who}: {reason}")
    },
    due: |item| item.to_string(),
    may_issue: "authorised to issue reports",
    of_the_laboratory: "of the laboratory",
    refused: |stage, found| format!("Refused at {stage}: {found}."),
    times_accepted: |specimen, doubts, reason| {
        format!(
            "The times of specimen {specimen} were accepted although {doubts}. The reason: {reason}."
        )
    },
    corrected_by_fact: |entry, reason| {
        format!("Entry {entry} corrected, a new fact holds: {reason}.")
    },
    corrected_by_nothing: |entry, reason| {
        format!("Entry {entry} corrected, nothing holds instead: {reason}.")
    },
    number_stands: |standing| match standing {
        NumberStanding::Seen => "seen in the edition",
        NumberStanding::Memory => "from memory",
        NumberStanding::Ours => "chosen for this test",
    },
    statements: [
        "The results relate only to the items tested, in the condition in which they were \
         received and conditioned.",
        "This report may be passed on only as a whole. Parts of it may be reproduced only \
         with the laboratory's written consent.",
        "Uncertainties are expanded uncertainties that cover the value with a probability of \
         about 95 %. The coverage factor k is given with each group of results.",
        "Times of day are in UTC.",
    ],
    to_verify: "Ask the laboratory for the bundle of this report and run \
        “cinderbook verify” on it with this head: every entry and every file must stand in the record that the \
        laboratory has signed, and that record must continue this head. The SHA-256 of a single file can be \
        found with any program for it.",
    no_signatures_asked: "The laboratory asks for no signatures in the record",
    one_person: "The laboratory lets one person test and approve",
    signed: |what| what.to_string(),
    meaning: |meaning| meaning.told(),
    photo: |specimen, taken| match taken {
        PhotoTaken::Before => format!("Specimen {specimen}, before the flame"),
        PhotoTaken::Later => format!("Specimen {specimen}, during the test or after it"),
    },
};

const CONFORMITY: Conformity = Conformity {
    standing: Standing::words,
    applies_to: |[profile, title], method| format!("{profile}, {title}, tested by {method}."),
    met: |met, of| format!("{met} of {of} specimens met every criterion."),
    nearest: |what, value, specimen, asked| {
        let what = demand(what);
        format!(" The {what} nearest to its limit is {value} (specimen {specimen}), asked {asked}.")
    },
    found: |specimen, what, found, asked| {
        format!("specimen {specimen}: {} {found}, asked {asked}", demand(what))
    },
    decided_by: |found| format!(" Decided by {found}."),
    further: |further| match further {
        1 => "One further specimen is to be tested.".into(),
        further => format!("{further} further specimens are to be tested."),
    },
    not_judged: |why| format!("Not judged: {why}."),
    staged: |place, further| {
        format!(" The first did not; {place} lets {further} more decide, and all of them met.")
    },
    rule: |rule| match rule {
        DecisionRule::SimpleAcceptance => {
            "Simple acceptance: the value found is held against its limit as it stands; its \
             uncertainty is shown beside it."
        }
        DecisionRule::GuardBand { .. } => {
            "Guard band: a value is accepted only if it keeps its limit with the guard band taken \
             off, rejected only if it breaks it with the guard band added, and undecided between."
        }
    },
    half: "A value exactly at its limit would be accepted wrongly with a probability of up to 50 %.",
    guard: |ratio, factor| format!("The guard band is w = {ratio} · U with k = {factor}."),
    most_sure: "above 99.9 %",
    least_sure: "below 0.1 %",
    of_value: |share, what, specimen| format!("{share} ({}, specimen {specimen})", demand(what)),
    accepted_risk: |value| {
        format!(
            " Of the values accepted here, the one most at risk conforms with a probability of {value}."
        )
    },
    rejected_risk: |value| {
        format!(
            " Of the values not accepted, the one most at risk conforms all the same with a \
             probability of {value}."
        )
    },
    in_place_of: |place| format!(" in place of {place}"),
    verified: |who, day| format!("verified by this laboratory ({who}, {day})"),
    not_kept: ", not kept",
    all: |count, text| format!("all {count}: {text}"),
    one: |specimen, text| format!("no. {specimen}: {text}"),
    layer: |outcome| format!("layer {outcome}"),
    burnt: |burnt| format!("burnt {burnt}"),
    shows: |[met, all], [confidence, share]| {
        format!(
            "{met} of {all} specimens met every criterion. At a confidence of {confidence} this alone \
             shows no more than that at least {share} of such parts would (Clopper and Pearson, \
             one-sided)."
        )
    },
    near_limit: |specimen, what, [value, away, asked]| {
        let what = demand(what);
        format!("Specimen {specimen}: {what} {value} is {away} away from its limit (asked {asked})")
    },
    within_uncertainty: ": less than its expanded uncertainty",
    demanded: |demand| match demand {
        Demand::DurationOfBurning => "Duration of burning, each specimen",
        Demand::DamagedLength => "Damaged length, each specimen",
        Demand::LayerIgnition => "The layer below does not catch fire",
        Demand::LayerScorching => "The layer below is not scorched",
        Demand::CompleteBurning => "The specimen is not burnt completely",
    },
};

/// The name of what is looked at.
const fn demand(demand: Demand) -> &'static str {
    match demand {
        Demand::DurationOfBurning => "duration of burning",
        Demand::DamagedLength => "damaged length",
        Demand::LayerIgnition => "ignition of the layer",
        Demand::LayerScorching => "scorching of the layer",
        Demand::CompleteBurning => "complete burning",
    }
}

const CONDITIONS: Conditions = Conditions {
    applications: |count, each, pause| {
        let times = match count {
            1 => "One application of".to_owned(),
            count => format!("{count} applications of"),
        };
        let pause = pause.map(|pause| format!(", {pause} apart"));
        format!("{times} {each}{}", pause.unwrap_or_default())
    },
    specimens: |numbers| format!("Specimens {numbers}"),
    layer_parts: "Tissue and board",
    to: " to ",
    not_recorded: "not recorded",
    asked: |found, [temperature, humidity]| format!("{found}, asked {temperature}, {humidity}"),
    lot: |kind, number| format!("{kind} lot {number}"),
    layer: |kind, distance| format!("{kind}, {distance} below"),
    no_layer: |why| format!("none: {why}"),
    gas: |what, [lot, day]| format!("{what}, lot {lot}, opened {day}"),
    equipment: |kind| match kind {
        EquipmentKind::Burner => "burner",
        EquipmentKind::CopperBlock => "copper block",
        EquipmentKind::Thermocouple => "thermocouple",
        EquipmentKind::Timer => "timer",
        EquipmentKind::Logger => "logger",
        EquipmentKind::Gauge => "gauge",
        EquipmentKind::Chamber => "chamber",
        EquipmentKind::Climate => "climate",
        EquipmentKind::Ruler => "ruler",
        EquipmentKind::Camera => "camera",
        EquipmentKind::Other => "other",
    },
    confirmed: |rule, counted| match rule {
        EachOrMean::Each => format!(
            "The flame is confirmed: each of the {counted} determinations that count lies within \
             the accepted band."
        ),
        EachOrMean::Mean => format!(
            "The flame is confirmed: the mean of the {counted} determinations that count lies \
             within the accepted band."
        ),
    },
    typed: |by, seconded| {
        let second = seconded.map(|person| format!(", checked by {person}"));
        format!("typed by {by}{}", second.unwrap_or_default())
    },
    block: |block| format!(", block {block}"),
    remark: |remark| format!("; {remark}"),
};

const RESULTS: Results = Results {
    over: |shown| format!("over {shown}"),
    layer: |outcome| match outcome {
        LayerOutcome::Unchanged => "unchanged",
        LayerOutcome::Scorched => "scorched",
        LayerOutcome::Glowed => "glowed",
        LayerOutcome::Flamed => "flamed",
        LayerOutcome::NotUsed => "not used",
    },
    put_out: [
        "Flames put out by hand",
        "Glowing put out by hand",
        "Layer or surroundings put out by hand",
    ],
    note: |note| format!("Note: {note}"),
    mark: |kind| match kind {
        MarkKind::Ignited => "Catches fire",
        MarkKind::Drop => "A drop falls, not burning",
        MarkKind::BurningDrop => "A drop falls, burning",
        MarkKind::LayerCaught => "The layer catches fire",
        MarkKind::Other => "Seen",
    },
};

const CHARTS: Charts = Charts {
    removed: "flame removed",
    limit: |limit| format!("limit {limit}"),
    since_removal: "time since the last removal of the test flame, s",
    times: "Times of each specimen",
    parts: ["flame applied", "afterflame", "afterglow", "something seen"],
    number: |number| format!("no. {number}"),
    void: ", void",
    told: |number, times| format!("Specimen {number}: {}", told(times)),
    spoilt: |number, times| format!("Specimen {number} (spoilt): {}", told(times)),
    not_read: "not read",
    accepted: |band| format!("accepted {band}"),
    between: |from, to| format!("{from} to {to}"),
    block_temperature: "temperature of the block, °C",
    since_passed: |bottom| format!("time since the block passed {bottom}, s"),
    window: ["bottom of the window", "top of the window"],
    curves: |[bottom, lines, accepted]| {
        format!(
            "Temperature of the copper block against time since it passed {bottom}. {lines} \
             Accepted: {accepted}."
        )
    },
    curves_title: "Confirmation of the test flame",
    determination: |number| format!("determination {number}"),
    determination_void: |number| format!("determination {number} (void)"),
    curve: |number, [top, rise]| format!("Determination {number}: {top} after {rise}."),
    curve_void: |number, [top, rise]| format!("Determination {number} (void): {top} after {rise}."),
    rise_axis: "rise time with its expanded uncertainty, s",
    rises: |each, accepted| {
        format!("Each rise time with its expanded uncertainty: {each}. Accepted: {accepted}.")
    },
    rises_title: "Rise times against the accepted band",
};

fn told([applied, flamed, glowed, burnt]: [&str; 4]) -> String {
    format!(
        "flame applied {applied}, afterflame {flamed}, afterglow {glowed}, duration of burning {burnt}."
    )
}

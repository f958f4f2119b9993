//! German. The terms of the trade stand from memory: see GLOSSARY.md.

use metrology::decision::DecisionRule;
use trial::care::DueItem;
use trial::equipment::{EquipmentKind, LotKind};
use trial::finding::Stage;
use trial::method::{Demand, EachOrMean};
use trial::rules::Standing as NumberStanding;
use trial::run::{Burnt, LayerOutcome, MarkKind};
use trial::signature::{Meaning, Signed};

use super::page::german::PAGE;
use super::{Charts, Conditions, Conformity, Results, Whole, Words};
use crate::content::{PhotoTaken, Standing};

pub(super) const WORDS: Words = Words {
    page: PAGE,
    shown,
    of_rules,
    clause: |clause| clause.replace("Annex ", "Anhang ").replace(", on ", ", zu "),
    edition: " Ausg. ",
    made_up: "ERFUNDEN: Vorführdaten, kein Prüfergebnis",
    whole: WHOLE,
    conformity: CONFORMITY,
    conditions: CONDITIONS,
    results: RESULTS,
    charts: CHARTS,
};

/// A decimal comma between digits.
fn shown(number: &str) -> String {
    let digit = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_digit);
    let bytes = number.as_bytes();
    let before = |at: usize| at.checked_sub(1).and_then(|at| bytes.get(at));
    let point = |at: usize| digit(before(at)) && digit(bytes.get(at + 1));
    let signs = number.char_indices();
    signs.map(|(at, sign)| if sign == '.' && point(at) { ',' } else { sign }).collect()
}

/// The titles and things of the rules files that are built in; a test goes through them.
const OF_RULES: [(&str, &str); 11] = [
    ("needle-flame test", "Prüfung mit der Nadelflamme"),
    (
        "household and similar electrical appliances, Annex E",
        "elektrische Geräte für den Hausgebrauch und ähnliche Zwecke, Anhang E",
    ),
    ("part of non-metallic material", "Teil aus nichtmetallischem Werkstoff"),
    ("base material of a printed board", "Basismaterial einer Leiterplatte"),
    (
        "control, monitoring and protection equipment on ships, item 21",
        "Steuer-, Überwachungs- und Schutzeinrichtungen auf Schiffen, Punkt 21",
    ),
    ("five applications with pauses", "fünf Beflammungen mit Pausen"),
    ("one application", "eine Beflammung"),
    (
        "luminaires, parts that keep live parts in position",
        "Leuchten, Teile, die aktive Teile in ihrer Lage halten",
    ),
    (
        "one layer of wrapping tissue on a flat smooth white-pinewood board",
        "eine Lage Umwickel-Seidenpapier auf einem ebenen, glatten Brett aus Weißkiefer",
    ),
    ("counts", "zählt"),
    ("disregarded", "zählt nicht"),
];

fn of_rules(text: &str) -> String {
    let known = OF_RULES.iter().find(|(english, _)| *english == text);
    match known {
        Some((_, german)) => (*german).to_owned(),
        None => shown(&text.replace(" to ", " bis ")),
    }
}

const WHOLE: Whole = Whole {
    title: |name| format!("Prüfbericht: {}", of_rules(name)),
    condition_not_noted: "nicht vermerkt",
    sampling_not_known: "dem Laboratorium nicht bekannt",
    other_layer: |words| format!("Eine andere Unterlage wurde verwendet: {words}."),
    no_layer: |why| format!("Keine Unterlage wurde verwendet: {why}."),
    chosen: |[key, value], replaced, reason| {
        let replaced = replaced.map(|replaced| format!(" statt {}", of_rules(replaced)));
        let replaced = replaced.unwrap_or_default();
        format!("{key} wurde auf {}{replaced} gesetzt: {reason}", of_rules(value))
    },
    let_through: |item, [day, who, reason]| {
        format!("Geprüft, obwohl dies fällig war: {item}. Zugelassen am {day} von {who}: {reason}")
    },
    due: |item| match item {
        DueItem::Calibration(number) => format!("die Kalibrierung von {number}"),
        DueItem::Care(task) => format!("Pflege des Prüfplatzes: „{}“", task.told()),
    },
    may_issue: "berechtigt, Prüfberichte auszustellen",
    of_the_laboratory: "vom Laboratorium",
    refused: |stage, found| format!("Abgelehnt bei: {}. „{found}“", stage_told(stage)),
    times_accepted: |specimen, doubts, reason| {
        format!(
            "Die Zeiten von Prüfling {specimen} wurden trotz eines Zweifels angenommen: „{doubts}“. \
             Die Begründung: {reason}."
        )
    },
    corrected_by_fact: |entry, reason| {
        format!("Eintrag {entry} berichtigt, eine neue Angabe gilt: {reason}.")
    },
    corrected_by_nothing: |entry, reason| {
        format!("Eintrag {entry} berichtigt, nichts gilt an seiner Stelle: {reason}.")
    },
    number_stands: |standing| match standing {
        NumberStanding::Seen => "in der Ausgabe gesehen",
        NumberStanding::Memory => "aus dem Gedächtnis",
        NumberStanding::Ours => "für diese Prüfung gewählt",
    },
    statements: [
        "Die Ergebnisse gelten nur für die geprüften Gegenstände, in dem Zustand, in dem sie \
         eingingen und vorbehandelt wurden.",
        "Dieser Bericht darf nur als Ganzes weitergegeben werden. Teile davon dürfen nur mit \
         schriftlicher Zustimmung des Laboratoriums vervielfältigt werden.",
        "Angegebene Messunsicherheiten sind erweiterte Messunsicherheiten, die den Wert mit einer \
         Wahrscheinlichkeit von etwa 95 % überdecken. Der Erweiterungsfaktor k steht bei jeder \
         Gruppe von Ergebnissen.",
        "Uhrzeiten sind in UTC angegeben.",
    ],
    to_verify: "Verlangen Sie vom Laboratorium das Bündel dieses Berichts und lassen Sie \
        „cinderbook verify“ mit diesem Kopf darüber laufen: Jeder Eintrag und jede Datei muss in der \
        Aufzeichnung stehen, die das Laboratorium signiert hat, und diese Aufzeichnung muss diesen \
        Kopf fortsetzen. Den SHA-256 einer einzelnen Datei findet jedes Programm dafür.",
    no_signatures_asked: "Das Laboratorium verlangt in der Aufzeichnung keine Unterschriften",
    one_person: "Das Laboratorium lässt zu, dass eine Person prüft und freigibt",
    signed: |what| match what {
        Signed::Specimen { plan, specimen } => format!("Prüfling {specimen} von Plan {plan}"),
        Signed::Plan(plan) => format!("Plan {plan}"),
        Signed::Report(report) => format!("Bericht {report}"),
        Signed::BaseLine(number) => format!("Grundlinie {number}"),
        Signed::FlameCall(number) => format!("Meldung der Flammenkarte bei {number}"),
        Signed::Commissioning(entry) => format!("Liste des neuen Prüfplatzes, Eintrag {entry}"),
        Signed::Trail { from, until } => format!("Verlauf von Eintrag {from} bis {until}"),
    },
    meaning: |meaning| match meaning {
        Meaning::Tested => "Geprüft von",
        Meaning::Reviewed => "Durchgesehen von",
        Meaning::Approved => "Freigegeben von",
    },
    photo: |specimen, taken| match taken {
        PhotoTaken::Before => format!("Prüfling {specimen}, vor der Beflammung"),
        PhotoTaken::Later => format!("Prüfling {specimen}, während der Prüfung oder danach"),
    },
};

const fn stage_told(stage: Stage) -> &'static str {
    match stage {
        Stage::Plan => "Plan",
        Stage::Readiness => "Bereitschaft",
        Stage::Confirmation => "Bestätigung der Flamme",
        Stage::Run => "Beflammung",
        Stage::Verdict => "Beurteilung",
        Stage::Review => "Durchsicht",
        Stage::Report => "Bericht",
    }
}

const CONFORMITY: Conformity = Conformity {
    standing: |standing| match standing {
        Standing::Meets => "Erfüllt die Anforderung",
        Standing::DoesNotMeet => "Erfüllt die Anforderung nicht",
        Standing::Undecided => "Unentschieden",
        Standing::NotJudged => "Nicht beurteilt",
    },
    applies_to: |[profile, title], method| format!("{profile}, {title}, geprüft nach {method}."),
    met: |met, of| format!("{met} von {of} Prüflingen erfüllten jedes Kriterium."),
    nearest: |what, value, specimen, asked| {
        let what = demand(what);
        format!(
            " Am nächsten an ihrem Grenzwert liegt die {what}: {value} (Prüfling {specimen}), \
             gefordert {asked}."
        )
    },
    found: |specimen, what, found, asked| {
        format!("Prüfling {specimen}: {} {found}, gefordert {asked}", demand(what))
    },
    decided_by: |found| format!(" Entscheidend: {found}."),
    further: |further| match further {
        1 => "Ein weiterer Prüfling ist zu prüfen.".into(),
        further => format!("{further} weitere Prüflinge sind zu prüfen."),
    },
    not_judged: |why| format!("Nicht beurteilt: „{why}“."),
    staged: |place, further| {
        format!(
            " Der erste erfüllte die Anforderung nicht; nach {place} entscheiden {further} weitere, \
             und alle erfüllten sie."
        )
    },
    rule: |rule| match rule {
        DecisionRule::SimpleAcceptance => {
            "Einfache Annahme: Der gefundene Wert wird, so wie er ist, mit seinem Grenzwert \
             verglichen; seine Messunsicherheit steht daneben."
        }
        DecisionRule::GuardBand { .. } => {
            "Schutzband: Ein Wert wird nur angenommen, wenn er den um das Schutzband verengten \
             Grenzwert einhält, nur zurückgewiesen, wenn er den um das Schutzband erweiterten \
             Grenzwert verletzt, und bleibt dazwischen unentschieden."
        }
    },
    half: "Ein Wert genau an seinem Grenzwert würde mit einer Wahrscheinlichkeit von bis zu 50 % zu \
        Unrecht angenommen.",
    guard: |ratio, factor| {
        format!("Das Schutzband ist w = {} · U mit k = {}.", shown(ratio), shown(factor))
    },
    most_sure: "über 99,9 %",
    least_sure: "unter 0,1 %",
    of_value: |share, what, specimen| format!("{share} ({}, Prüfling {specimen})", demand(what)),
    accepted_risk: |value| {
        format!(
            " Von den hier angenommenen Werten ist der am stärksten gefährdete mit einer \
             Wahrscheinlichkeit von {value} konform."
        )
    },
    rejected_risk: |value| {
        format!(
            " Von den nicht angenommenen Werten ist der am stärksten gefährdete mit einer \
             Wahrscheinlichkeit von {value} dennoch konform."
        )
    },
    in_place_of: |place| format!(" statt {place}"),
    verified: |who, day| format!("von diesem Laboratorium nachgeprüft ({who}, {day})"),
    not_kept: ", nicht erfüllt",
    all: |count, text| format!("alle {count}: {text}"),
    one: |specimen, text| format!("Nr. {specimen}: {text}"),
    layer: |outcome| format!("Unterlage {}", layer(outcome)),
    burnt: |burnt| match burnt {
        Burnt::Partly => "teilweise verbrannt".into(),
        Burnt::Completely => "vollständig verbrannt".into(),
    },
    shows: |[met, all], [confidence, share]| {
        format!(
            "{met} von {all} Prüflingen erfüllten jedes Kriterium. Bei einem Vertrauensniveau von \
             {confidence} zeigt dies allein nicht mehr, als dass mindestens {share} solcher Teile es \
             täten (Clopper und Pearson, einseitig)."
        )
    },
    near_limit: |specimen, what, [value, away, asked]| {
        let what = demand(what);
        format!(
            "Prüfling {specimen}: {what} {value} liegt {away} von ihrem Grenzwert entfernt \
             (gefordert {asked})"
        )
    },
    within_uncertainty: ": weniger als ihre erweiterte Messunsicherheit",
    demanded: |demand| match demand {
        Demand::DurationOfBurning => "Brenndauer, jeder Prüfling",
        Demand::DamagedLength => "Geschädigte Länge, jeder Prüfling",
        Demand::LayerIgnition => "Die Unterlage fängt nicht Feuer",
        Demand::LayerScorching => "Die Unterlage wird nicht versengt",
        Demand::CompleteBurning => "Der Prüfling verbrennt nicht vollständig",
    },
};

/// The name of what is looked at.
const fn demand(demand: Demand) -> &'static str {
    match demand {
        Demand::DurationOfBurning => "Brenndauer",
        Demand::DamagedLength => "geschädigte Länge",
        Demand::LayerIgnition => "Entzündung der Unterlage",
        Demand::LayerScorching => "Versengung der Unterlage",
        Demand::CompleteBurning => "vollständige Verbrennung",
    }
}

const fn layer(outcome: LayerOutcome) -> &'static str {
    match outcome {
        LayerOutcome::Unchanged => "unverändert",
        LayerOutcome::Scorched => "versengt",
        LayerOutcome::Glowed => "glimmte",
        LayerOutcome::Flamed => "brannte",
        LayerOutcome::NotUsed => "nicht verwendet",
    }
}

const CONDITIONS: Conditions = Conditions {
    applications: |count, each, pause| {
        let times = match count {
            1 => "Eine Beflammung von".to_owned(),
            count => format!("{count} Beflammungen von"),
        };
        let pause = pause.map(|pause| format!(", im Abstand von {pause}"));
        format!("{times} {each}{}", pause.unwrap_or_default())
    },
    specimens: |numbers| format!("Prüflinge {numbers}"),
    layer_parts: "Seidenpapier und Brett",
    to: " bis ",
    not_recorded: "nicht aufgezeichnet",
    asked: |found, [temperature, humidity]| format!("{found}, gefordert {temperature}, {humidity}"),
    lot: |kind, number| match kind {
        LotKind::Gas => format!("Gas, Charge {number}"),
        LotKind::Tissue => format!("Seidenpapier, Charge {number}"),
        LotKind::Board => format!("Brett, Charge {number}"),
    },
    layer: |kind, distance| format!("{kind}, {distance} darunter"),
    no_layer: |why| format!("keine: {why}"),
    gas: |what, [lot, day]| format!("{what}, Charge {lot}, geöffnet am {day}"),
    equipment: |kind| match kind {
        EquipmentKind::Burner => "Brenner",
        EquipmentKind::CopperBlock => "Kupferblock",
        EquipmentKind::Thermocouple => "Thermoelement",
        EquipmentKind::Timer => "Zeitmesser",
        EquipmentKind::Logger => "Messwertschreiber",
        EquipmentKind::Gauge => "Lehre",
        EquipmentKind::Chamber => "Prüfkammer",
        EquipmentKind::Climate => "Klimamessgerät",
        EquipmentKind::Ruler => "Maßstab",
        EquipmentKind::Camera => "Kamera",
        EquipmentKind::Other => "Sonstiges",
    },
    confirmed: |rule, counted| match rule {
        EachOrMean::Each => format!(
            "Die Flamme ist bestätigt: Jede der {counted} zählenden Bestimmungen liegt im zulässigen \
             Bereich."
        ),
        EachOrMean::Mean => format!(
            "Die Flamme ist bestätigt: Der Mittelwert der {counted} zählenden Bestimmungen liegt im \
             zulässigen Bereich."
        ),
    },
    typed: |by, seconded| {
        let second = seconded.map(|person| format!(", nachgesehen von {person}"));
        format!("eingetippt von {by}{}", second.unwrap_or_default())
    },
    block: |block| format!(", Block {block}"),
    remark: |remark| format!("; „{remark}“"),
};

const RESULTS: Results = Results {
    over: |shown| format!("> {shown}"),
    layer,
    put_out: [
        "Flammen von Hand gelöscht",
        "Glimmen von Hand gelöscht",
        "Unterlage oder Umgebung von Hand gelöscht",
    ],
    note: |note| format!("Anmerkung: {note}"),
    mark: |kind| match kind {
        MarkKind::Ignited => "Fängt Feuer",
        MarkKind::Drop => "Ein Tropfen fällt, nicht brennend",
        MarkKind::BurningDrop => "Ein Tropfen fällt, brennend",
        MarkKind::LayerCaught => "Die Unterlage fängt Feuer",
        MarkKind::Other => "Gesehen",
    },
};

const CHARTS: Charts = Charts {
    removed: "Flamme entfernt",
    limit: |limit| format!("Grenzwert {limit}"),
    since_removal: "Zeit seit dem letzten Entfernen der Prüfflamme, s",
    times: "Zeiten jedes Prüflings",
    parts: ["Beflammung", "Nachbrennen", "Nachglimmen", "etwas gesehen"],
    number: |number| format!("Nr. {number}"),
    void: ", ungültig",
    told: |number, times| format!("Prüfling {number}: {}", told(times)),
    spoilt: |number, times| format!("Prüfling {number} (ungültig): {}", told(times)),
    not_read: "nicht abgelesen",
    accepted: |band| format!("zulässig {band}"),
    between: |from, to| format!("{from} bis {to}"),
    block_temperature: "Temperatur des Blocks, °C",
    since_passed: |bottom| format!("Zeit, seit der Block {bottom} durchlief, s"),
    window: ["untere Grenze des Fensters", "obere Grenze des Fensters"],
    curves: |[bottom, lines, accepted]| {
        format!(
            "Temperatur des Kupferblocks über der Zeit, seit er {bottom} durchlief. {lines} \
             Zulässig: {accepted}."
        )
    },
    curves_title: "Bestätigung der Prüfflamme",
    determination: |number| format!("Bestimmung {number}"),
    determination_void: |number| format!("Bestimmung {number} (ungültig)"),
    curve: |number, [top, rise]| format!("Bestimmung {number}: {top} nach {rise}."),
    curve_void: |number, [top, rise]| format!("Bestimmung {number} (ungültig): {top} nach {rise}."),
    rise_axis: "Anstiegszeit mit ihrer erweiterten Messunsicherheit, s",
    rises: |each, accepted| {
        format!(
            "Jede Anstiegszeit mit ihrer erweiterten Messunsicherheit: {each}. Zulässig: {accepted}."
        )
    },
    rises_title: "Anstiegszeiten gegen den zulässigen Bereich",
};

fn told([applied, flamed, glowed, burnt]: [&str; 4]) -> String {
    format!(
        "Beflammung {applied}, Nachbrenndauer {flamed}, Nachglimmdauer {glowed}, Brenndauer {burnt}."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_gets_its_comma_and_a_sentence_keeps_its_point() {
        assert_eq!(shown("30.2 s ± 0.5 s. Ende."), "30,2 s ± 0,5 s. Ende.");
        assert_eq!(shown("Nr. 5"), "Nr. 5");
        assert_eq!(of_rules("15 °C to 35.5 °C"), "15 °C bis 35,5 °C");
    }
}

//! What an entry says, in words; what it speaks of; the files it rests on.

use metrology::Ratio;
use trial::care::CareNeed;
use trial::confirmation::{Determination, DeterminationSource};
use trial::fact::{Calibration, Conditioned, Conditioning, EvidenceHash, Fact, Language};
use trial::film::TonesHeard;
use trial::moment::Elapsed;
use trial::number::{
    ConfirmationNumber, DeterminationNumber, EquipmentNumber, PlanNumber, ReportNumber,
};

use crate::step::confirm;
use crate::web::page::reports::issue::language_told;
use crate::web::page::sign::capital;

/// What an entry may speak of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Thing {
    /// A plan, with its specimens.
    Plan(PlanNumber),
    /// A heating of the block.
    Determination(DeterminationNumber),
    /// A confirmation of the flame.
    Confirmation(ConfirmationNumber),
    /// A report.
    Report(ReportNumber),
    /// A piece of equipment or a lot, by the laboratory's mark.
    Marked(String),
}

impl Thing {
    /// Reads `P-1`, `D-1`, `C-1`, `R-1`, or else a mark.
    pub(super) fn of(text: &str) -> Self {
        let numbered = text
            .split_once('-')
            .and_then(|(letter, number)| Some((letter, number.parse::<u32>().ok()?)));
        match numbered {
            Some(("P", number)) => Self::Plan(PlanNumber(number)),
            Some(("D", number)) => Self::Determination(DeterminationNumber(number)),
            Some(("C", number)) => Self::Confirmation(ConfirmationNumber(number)),
            Some(("R", number)) => Self::Report(ReportNumber(number)),
            _ => Self::Marked(text.to_owned()),
        }
    }

    /// Whether `fact` speaks of it.
    pub(super) fn is_in(&self, fact: &Fact) -> bool {
        match self {
            Self::Plan(asked) => plan(fact) == Some(*asked),
            Self::Determination(asked) => determinations(fact).contains(asked),
            Self::Confirmation(asked) => confirmation(fact) == Some(*asked),
            Self::Report(asked) => matches!(fact, Fact::ReportIssued(issued)
                if issued.number == *asked || issued.supersedes == Some(*asked)),
            Self::Marked(asked) => marked(fact, asked),
        }
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "most facts are of no plan")]
fn plan(fact: &Fact) -> Option<PlanNumber> {
    match fact {
        Fact::CautionsAcknowledged { plan }
        | Fact::SpecimensAdded { plan, .. }
        | Fact::ReadinessFound { plan }
        | Fact::FlameConfirmed { plan, .. }
        | Fact::RunRecorded { plan, .. }
        | Fact::PressesKept { plan, .. }
        | Fact::TimekeeperTaken { plan, .. }
        | Fact::FilmKept { plan, .. }
        | Fact::FilmHeard { plan, .. }
        | Fact::FilmPlaced { plan, .. }
        | Fact::SpecimenPhotographed { plan, .. }
        | Fact::TimesAccepted { plan, .. }
        | Fact::SpecimenSpoilt { plan, .. }
        | Fact::VerdictReached { plan, .. }
        | Fact::StageRefused { plan, .. } => Some(*plan),
        Fact::PlanDrawnUp { draft, .. } => Some(draft.number),
        Fact::ConditioningRecorded(conditioning) => Some(conditioning.plan),
        Fact::ReportIssued(issued) => Some(issued.plan),
        Fact::DueLetThrough(due) => Some(due.plan),
        Fact::SentBack(back) => Some(back.plan),
        Fact::Signed(it) => it.what.plan(),
        Fact::Corrected { by: Some(by), .. } => plan(by),
        _ => None,
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "most facts are of no determination")]
fn determinations(fact: &Fact) -> Vec<DeterminationNumber> {
    match fact {
        Fact::DeterminationRecorded(made) => vec![made.number],
        Fact::DeterminationVoided { number, .. } => vec![*number],
        Fact::FlameConfirmed { determinations, .. } => determinations.clone(),
        Fact::BaseLineFrozen(it) => it.determinations.clone(),
        Fact::CoolingKept(cooling) => vec![cooling.determination],
        _ => Vec::new(),
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "most facts are of no confirmation")]
fn confirmation(fact: &Fact) -> Option<ConfirmationNumber> {
    match fact {
        Fact::FlameConfirmed { number, .. } => Some(*number),
        Fact::RunRecorded { confirmation, .. } => Some(*confirmation),
        Fact::FlameCallAnswered { confirmation, .. } => Some(*confirmation),
        _ => None,
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "most facts are of no equipment and no lot")]
fn marked(fact: &Fact, mark: &str) -> bool {
    let is = |number: &EquipmentNumber| number.0 == mark;
    match fact {
        Fact::EquipmentRegistered(equipment) => is(&equipment.number),
        Fact::CalibrationRecorded(calibration) => is(&calibration.equipment),
        Fact::EquipmentWithdrawn { equipment, .. } => is(equipment),
        Fact::BlockWeighed(weighing) => is(&weighing.block),
        Fact::LotOpened(lot) => lot.number.0 == mark,
        Fact::CareDone(care) => care.equipment.as_ref().is_some_and(is),
        Fact::PlanDrawnUp { draft, .. } => draft.equipment.iter().any(is),
        Fact::DeterminationRecorded(made) => {
            is(&made.block) || is(&made.thermocouple) || made.gas.0 == mark
        }
        _ => false,
    }
}

/// What a fact says, in one or more sentences.
pub(in crate::web::page) fn words(fact: &Fact) -> String {
    let said = laboratory(fact).or_else(|| test(fact)).or_else(|| bench(fact));
    let said = said.or_else(|| flame(fact)).or_else(|| afterwards(fact));
    let said = said.or_else(|| super::told_people::people(fact));
    said.unwrap_or_else(|| format!("{}.", spaced(fact.kind())))
}

/// Facts of the laboratory.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told below")]
fn laboratory(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::BookOpened { laboratory, kind } => {
            format!("The {kind} book of {} was opened.", laboratory.name)
        }
        Fact::PersonAdmitted { person, authorisations } => {
            let may: Vec<&str> = authorisations.iter().map(|it| it.word()).collect();
            let may = if may.is_empty() { "nothing stated".to_owned() } else { may.join(", ") };
            format!("{person} was admitted; authorised: {may}.")
        }
        Fact::EquipmentRegistered(it) => format!(
            "{}, a {}, was registered: {}.",
            it.number,
            spaced(it.kind.word()),
            it.description
        ),
        Fact::CalibrationRecorded(calibration) => calibrated(calibration),
        Fact::EquipmentWithdrawn { equipment, reason } => {
            format!("{equipment} was taken out of service: {reason}.")
        }
        Fact::LotOpened(lot) => {
            format!("Lot {} of {} was opened: {}.", lot.number, lot.kind, lot.description)
        }
        Fact::NumberVerified { rules, key, text, copy } => {
            format!("{key} = {text} of {rules} was held against {copy}.")
        }
        Fact::FlameCallAnswered { confirmation, done } => format!(
            "The call of the flame chart at {confirmation} was answered; done: {}.",
            done.trim_end_matches('.')
        ),
        _ => return care(fact),
    })
}

/// Care of the bench.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told above and below")]
fn care(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::CareDone(care) => {
            let piece = care.equipment.as_ref().map(|number| format!(" ({number})"));
            let note = match care.note.trim_end_matches('.') {
                "" => String::new(),
                note => format!(": {note}"),
            };
            format!("Care: {}{}{note}.", care.task.told(), piece.unwrap_or_default())
        }
        Fact::CareIntervalSet(interval) => {
            let days = interval.days.map(|days| format!("{days} days"));
            let specimens = interval.specimens.map(|count| format!("{count} specimens"));
            let every: Vec<String> = days.into_iter().chain(specimens).collect();
            let need = match interval.need {
                CareNeed::ForReady => "needed for ready",
                CareNeed::Reminded => "reminded of",
            };
            format!("Care: {} every {}, {need}.", interval.task.told(), every.join(" or "))
        }
        Fact::DueLetThrough(due) => format!(
            "Plan {} is tested although this is due: {}: {}.",
            due.plan,
            due.item,
            due.reason.trim_end_matches('.')
        ),
        Fact::BenchCommissioned(list) => {
            let stands = if list.in_order() { "nothing was" } else { "something was" };
            format!("The bench {} was gone through: {stands} out of order.", list.bench)
        }
        Fact::FaultMet(fault) => {
            let [what, lost, done] =
                [&fault.what, &fault.lost, &fault.done].map(|it| it.trim_end_matches('.'));
            format!("Fault: {what}. Lost: {lost}. Action taken: {done}.")
        }
        Fact::ProgramValidated(it) => format!(
            "Cinderbook {} was held against {} reference cases on this machine: {} outside their \
             tolerance.",
            it.version, it.cases, it.off
        ),
        _ => return None,
    })
}

/// Facts of a test, up to its runs.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told above and below")]
fn test(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::CautionsAcknowledged { plan } => {
            format!("The cautions were acknowledged for plan {plan}.")
        }
        Fact::PlanDrawnUp { draft, .. } => format!(
            "Plan {} was drawn up: job {}, {}.",
            draft.number, draft.job, draft.part.description
        ),
        Fact::SpecimensAdded { plan, specimens, reason } => {
            format!("Specimens {} were added to plan {plan}: {reason}.", listed(specimens))
        }
        Fact::ConditioningRecorded(conditioning) => conditioned(conditioning),
        Fact::ReadinessFound { plan } => format!("Plan {plan} was found ready."),
        Fact::DeterminationRecorded(made) => determined(made),
        Fact::DeterminationVoided { number, reason } => {
            format!("{number} was found void: {reason}.")
        }
        Fact::FlameConfirmed { number, plan, determinations } => format!(
            "The flame was confirmed for plan {plan} as {number}, by {}.",
            listed(determinations)
        ),
        Fact::RunRecorded { plan, confirmation, observed } => format!(
            "Specimen {} of plan {plan} was tested under confirmation {confirmation}.",
            observed.specimen
        ),
        Fact::SpecimenSpoilt { plan, specimen, reason } => {
            format!("Specimen {specimen} of plan {plan} was spoilt: {reason}.")
        }
        _ => return None,
    })
}

/// Facts of the flame besides its determinations and confirmations.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told above and below")]
fn flame(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::BaseLineFrozen(it) => {
            let restart = it.restart.as_ref().map_or_else(String::new, |restart| {
                let reason = restart.reason.trim_end_matches('.');
                format!(" It takes the place of an earlier one ({}): {reason}.", restart.cause)
            });
            format!(
                "The base line of the flame was frozen as {}, on {} confirmations: {}.{restart}",
                it.number,
                it.confirmations.len(),
                listed(&it.confirmations)
            )
        }
        Fact::CoolingKept(cooling) => format!(
            "The cooling after {} was kept: {}.",
            cooling.determination, cooling.evidence.name
        ),
        Fact::BlockWeighed(weighing) => {
            let mass = &weighing.mass;
            let area =
                weighing.area.map_or_else(String::new, |it| format!(" Its surface is {it}."));
            format!("{} weighs {} ± {}.{area}", weighing.block, mass.value, mass.uncertainty)
        }
        _ => return None,
    })
}

/// What was pressed at the bench.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told above and below")]
fn bench(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::PressesKept { plan, specimen, presses, .. } => {
            let acts: Vec<String> = presses.iter().map(|press| spaced(press.act.word())).collect();
            let which = match (presses.first(), presses.last()) {
                (Some(first), Some(last)) if first.sequence < last.sequence => {
                    format!("Presses {} to {}", first.sequence, last.sequence)
                }
                (Some(only), _) => format!("Press {}", only.sequence),
                (None, _) => "No press".to_owned(),
            };
            let kept = if presses.len() == 1 { "was" } else { "were" };
            let acts = acts.join(", ");
            format!("{which} of specimen {specimen} of plan {plan} {kept} kept: {acts}.")
        }
        Fact::FilmKept { plan, specimen, film, recorded } => {
            let how = if recorded.is_some() { "recorded at the bench" } else { "added" };
            format!("The film {} of specimen {specimen} of plan {plan} was {how}.", film.name)
        }
        Fact::FilmHeard { plan, specimen, removed, tones, .. } => format!(
            "By the bench's tones in the sound of a film of specimen {specimen} of plan {plan} the \
             flame is removed at {:.2} s: a proposal. {}",
            removed.since(Elapsed::ZERO).seconds(),
            heard(tones)
        ),
        Fact::SpecimenPhotographed { plan, specimen, photo } => format!(
            "Specimen {specimen} of plan {plan} was photographed before the flame: {}.",
            photo.name
        ),
        Fact::FilmPlaced { plan, specimen, removed, .. } => format!(
            "In a film of specimen {specimen} of plan {plan} the flame is removed at {:.2} s.",
            removed.since(Elapsed::ZERO).seconds()
        ),
        Fact::TimesAccepted { plan, specimen, reason } => format!(
            "The doubtful times of specimen {specimen} of plan {plan} were accepted: {}.",
            reason.trim_end_matches('.')
        ),
        Fact::TimekeeperTaken { plan, specimen, reason, .. } => format!(
            "Another device keeps the time of specimen {specimen} of plan {plan} from here on: \
             {}.",
            reason.trim_end_matches('.')
        ),
        _ => return None,
    })
}

/// How surely the bench's tones were heard, as sentences.
pub(in crate::web::page) fn heard(tones: &TonesHeard) -> String {
    let TonesHeard { tones, of, likeness, best, second, apart } = tones;
    let whole = |share: Ratio| format!("{:.0} %", share.percent());
    let fits = match apart {
        Some(apart) => format!(
            "{tones} of {of} tones were heard; their distances fit the presses within {apart:.3}"
        ),
        None => format!("Only {tones} of {of} tones was heard"),
    };
    format!(
        "{fits}. They are {} alike; {} speaks for this place, {} for the next best.",
        whole(*likeness),
        whole(*best),
        whole(*second)
    )
}

/// What comes of a test; corrections and refusals.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told above")]
fn afterwards(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::VerdictReached { plan, standing, .. } => {
            format!("Plan {plan} was judged: {}.", spaced(standing.word()))
        }
        Fact::ReportIssued(issued) => {
            let (number, plan) = (issued.number, issued.plan);
            let other = Some(issued.language).filter(|it| *it != Language::English);
            let language = other.map(|it| format!(" in {}", language_told(it))).unwrap_or_default();
            let earlier = issued.supersedes.map(|earlier| format!(" in place of {earlier}"));
            let earlier = earlier.unwrap_or_default();
            format!("Report {number} on plan {plan} was issued{language}{earlier}.")
        }
        Fact::KeyBegun(key) => match (&key.in_place_of, &key.by_old) {
            (None, _) => "A key began to sign the heads of the book.".to_owned(),
            (Some(_), Some(_)) => format!("The book's key was renewed: {}.", key.reason),
            (Some(_), None) => format!("A new key began, the earlier one is lost: {}.", key.reason),
        },
        Fact::Corrected { entry, reason, by: None } => {
            format!("Entry {entry} was withdrawn: {reason}.")
        }
        Fact::Corrected { entry, reason, by: Some(by) } => {
            format!("Entry {entry} was corrected: {reason}. What holds: {}", words(by))
        }
        Fact::Signed(it) => {
            format!("{} was signed as {}.", capital(&it.what.to_string()), it.meaning)
        }
        Fact::SentBack(back) => {
            format!("Plan {} was sent back: {}.", back.plan, back.note.trim_end_matches('.'))
        }
        Fact::SigningRuled(rule) => format!(
            "Signatures asked for before a report: {}; one person who tests and approves: {}. {}",
            if rule.asked.is_empty() { "none".to_owned() } else { listed(&rule.asked) },
            rule.same_person,
            rule.reason
        ),
        Fact::StageRefused { stage, plan, findings } => {
            let why: Vec<&str> = findings.iter().map(|finding| finding.text.as_str()).collect();
            format!("Stage {stage} of plan {plan} was refused: {}.", why.join("; "))
        }
        _ => return None,
    })
}

fn calibrated(calibration: &Calibration) -> String {
    format!(
        "{} was calibrated on {} by {}, certificate {}: {}. It holds till {}.",
        calibration.equipment,
        calibration.on,
        calibration.by,
        calibration.certificate,
        calibration.result.trim_end_matches('.'),
        calibration.due
    )
}

fn conditioned(conditioning: &Conditioning) -> String {
    let what = match &conditioning.what {
        Conditioned::Specimens(specimens) if specimens.len() == 1 => {
            format!("Specimen {}", listed(specimens))
        }
        Conditioned::Specimens(specimens) => format!("Specimens {}", listed(specimens)),
        Conditioned::Layer => "The layer".to_owned(),
    };
    format!(
        "{what} of plan {} lay at {} to {} and {} to {} from {} until {}.",
        conditioning.plan,
        conditioning.temperature.from,
        conditioning.temperature.to,
        crate::words::percent(conditioning.humidity.from),
        crate::words::percent(conditioning.humidity.to),
        super::when(conditioning.from),
        super::when(conditioning.until)
    )
}

fn determined(made: &Determination) -> String {
    let from = match &made.source {
        DeterminationSource::Trace { evidence, .. } => format!("read from {}", evidence.name),
        DeterminationSource::Typed { by, seconded: Some(second) } => {
            format!("typed by {by}, checked by {second}")
        }
        DeterminationSource::Typed { by, seconded: None } => {
            format!("typed by {by}, checked by nobody")
        }
    };
    format!("Determination {}; {from}.", confirm::told(made).trim_end_matches('.'))
}

fn listed<T: ToString>(items: &[T]) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// A word of the record as it is read.
pub(super) fn spaced(word: &str) -> String {
    word.replace('-', " ")
}

/// A file that an entry rests on.
pub(super) struct Rests {
    /// What it is called.
    pub(super) name: String,
    /// Its hash.
    pub(super) hash: EvidenceHash,
}

/// The files that a fact rests on.
#[expect(clippy::wildcard_enum_match_arm, reason = "most facts rest on no file")]
pub(super) fn rests_on(fact: &Fact) -> Vec<Rests> {
    let named = |name: String, hash| Rests { name, hash };
    match fact {
        Fact::CalibrationRecorded(calibration) => {
            let evidence = calibration.evidence.iter();
            evidence.map(|it| named(it.name.clone(), it.hash)).collect()
        }
        Fact::DeterminationRecorded(made) => match &made.source {
            DeterminationSource::Trace { evidence, .. } => {
                vec![named(evidence.name.clone(), evidence.hash)]
            }
            DeterminationSource::Typed { .. } => Vec::new(),
        },
        Fact::RunRecorded { observed, .. } => {
            observed.evidence.iter().map(|it| named(it.name.clone(), it.hash)).collect()
        }
        Fact::FilmKept { film: file, .. } | Fact::SpecimenPhotographed { photo: file, .. } => {
            vec![named(file.name.clone(), file.hash)]
        }
        Fact::CoolingKept(it) => vec![named(it.evidence.name.clone(), it.evidence.hash)],
        Fact::PlanDrawnUp { rules, .. } => rules
            .iter()
            .map(|it| named(format!("{}.toml", it.id.0.replace('/', "-")), EvidenceHash(it.hash.0)))
            .collect(),
        Fact::ReportIssued(issued) => vec![
            named(format!("{}.json", issued.number), issued.content),
            named(format!("{}.pdf", issued.number), issued.pdf),
        ],
        Fact::Corrected { by: Some(by), .. } => rests_on(by),
        _ => Vec::new(),
    }
}

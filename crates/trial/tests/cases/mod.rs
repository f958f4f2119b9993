//! Cases as data: what was observed, the verdict expected, and the criterion that decides.

use crate::bench::{self, chosen, microseconds};
use metrology::decision::DecisionRule;
use metrology::{DegreesOfFreedom, Length, Measurement, Temperature};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use trial::confirmation::confirm;
use trial::finding::Finding;
use trial::moment::Elapsed;
use trial::number::ConfirmationNumber;
use trial::plan::{Draft, Plan};
use trial::requirement::Ordered;
use trial::run::{Application, Burnt, Ending, LayerOutcome, Observed, Run, record};
use trial::verdict::{VerdictStanding, judge};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    method: String,
    profile: Option<String>,
    #[serde(default)]
    case: Vec<Case>,
    #[serde(default)]
    confirmation: Vec<Confirmation>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Case {
    name: String,
    variant: Option<String>,
    #[serde(default)]
    choices: BTreeMap<String, String>,
    /// r of the guard band w = r·U, k = 2; none for simple acceptance.
    guard_band: Option<f64>,
    specimens: Vec<Seen>,
    expected: String,
    #[serde(default)]
    decided_by: Vec<String>,
    /// Kinds of the findings on what was not judged.
    #[serde(default)]
    not_judged: Vec<String>,
}

/// One specimen. Times count from the last removal, as a stop-watch would show them.
#[derive(Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
struct Seen {
    ta: Option<String>,
    applications: Option<u32>,
    pause: Option<String>,
    flames: Option<String>,
    glow: Option<String>,
    surroundings: Option<String>,
    by_hand: bool,
    layer: Option<String>,
    burnt: Option<String>,
    length: Option<f64>,
    spoilt: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct Confirmation {
    name: String,
    #[serde(default)]
    choices: BTreeMap<String, String>,
    guard_band: Option<f64>,
    rise_times: Vec<f64>,
    #[serde(default)]
    starts: Vec<f64>,
    #[serde(default)]
    void: Vec<usize>,
    /// Kinds of the findings; none if the flame is confirmed.
    #[serde(default)]
    findings: Vec<String>,
}

#[expect(clippy::disallowed_methods, reason = "a test may read its own cases")]
fn files() -> Vec<(PathBuf, File)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases");
    let mut paths = Vec::new();
    for folder in std::fs::read_dir(root).unwrap().map(|entry| entry.unwrap().path()) {
        if folder.is_dir() {
            paths.extend(std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()));
        }
    }
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            let file = toml::from_str(&text).unwrap_or_else(|why| panic!("{path:?}: {why}"));
            (path, file)
        })
        .collect()
}

fn rule(guard_band: Option<f64>) -> DecisionRule {
    guard_band.map_or(DecisionRule::SimpleAcceptance, |ratio| DecisionRule::GuardBand {
        ratio,
        coverage_factor: 2.0,
    })
}

fn draft(file: &File, variant: Option<&String>, choices: &BTreeMap<String, String>) -> Draft {
    let mut choices: Vec<_> = choices.iter().map(|(key, value)| chosen(key, value)).collect();
    if file.profile.is_none() && !choices.iter().any(|it| it.key.0 == "application.duration") {
        choices.push(chosen("application.duration", "30 s"));
    }
    bench::draft(Ordered {
        method: file.method.as_str().into(),
        profile: file.profile.as_deref().map(Into::into),
        variant: variant.map(|name| name.as_str().into()),
        choices,
    })
}

fn observe(seen: &Seen, number: u32, plan: &Plan) -> Observed {
    let requirement = plan.requirement();
    let asked = &requirement.asked.application;
    let ta = seen.ta.as_ref().unwrap_or(&requirement.duration_of_application.text);
    let pause = seen.pause.clone().or(asked.pause.as_ref().map(|pause| pause.text.clone()));
    let (ta, pause) = (microseconds(ta), pause.map_or(0, |pause| microseconds(&pause)));
    let count = u64::from(seen.applications.unwrap_or(0)).max(asked.count.value.number());
    let count = seen.applications.map_or(count, u64::from);
    let applications: Vec<Application> = (0..i64::try_from(count).unwrap())
        .map(|nth| nth * (ta + pause))
        .map(|on| Application {
            on: Elapsed::from_microseconds(on),
            removed: Elapsed::from_microseconds(on + ta),
        })
        .collect();
    let removed = applications.last().unwrap().removed.microseconds();
    let ending = |text: &Option<String>| match text {
        None => Ending::None,
        Some(text) => {
            let at = Elapsed::from_microseconds(removed + microseconds(text));
            if seen.by_hand { Ending::PutOutByHand(at) } else { Ending::Out(at) }
        }
    };
    let layer = seen.layer.as_deref().unwrap_or("unchanged");
    let burnt = seen.burnt.as_deref().unwrap_or("partly");
    Observed {
        applications,
        flames: ending(&seen.flames),
        glow: ending(&seen.glow),
        surroundings: ending(&seen.surroundings),
        layer: LayerOutcome::of_word(layer).unwrap_or_else(|| panic!("layer {layer}")),
        burnt: Burnt::of_word(burnt).unwrap_or_else(|| panic!("burnt {burnt}")),
        damaged_length: seen.length.map(|length| Measurement {
            value: Length::from_millimetres(length),
            uncertainty: Length::from_millimetres(0.1),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        }),
        spoilt: seen.spoilt.clone(),
        ..bench::observed(number, plan)
    }
}

fn words(findings: &[Finding]) -> Vec<&'static str> {
    findings.iter().map(|finding| finding.kind.word()).collect()
}

fn said(standing: VerdictStanding) -> String {
    match standing {
        VerdictStanding::NotYet { further } => format!("not-yet {further}"),
        VerdictStanding::Meets
        | VerdictStanding::DoesNotMeet
        | VerdictStanding::Undecided
        | VerdictStanding::NotJudged => standing.word().to_owned(),
    }
}

fn check(path: &Path, file: &File, case: &Case) {
    let what = format!("{}: {}", path.display(), case.name);
    let mut draft = draft(file, case.variant.as_ref(), &case.choices);
    draft.decision_rule = rule(case.guard_band);
    let confirmed = bench::confirmed(&draft);
    let plan = confirmed.ready().plan();
    let run = |(seen, number): (&Seen, u32)| {
        record(&confirmed, observe(seen, number, plan))
            .unwrap_or_else(|why| panic!("{what}: {why:?}"))
    };
    let mut runs: Vec<Run> = case.specimens.iter().zip(1..).map(run).collect();
    let verdict = judge(plan, &runs);
    assert_eq!(said(verdict.standing), case.expected, "{what}\n{}", verdict.account());
    let decided: Vec<&str> = verdict.decided_by().iter().map(|it| it.demand.word()).collect();
    if case.expected != "meets" {
        assert_eq!(decided, case.decided_by, "{what}\n{}", verdict.account());
    }
    assert_eq!(words(&verdict.findings), case.not_judged, "{what}");
    runs.reverse();
    assert_eq!(judge(plan, &runs).account(), verdict.account(), "{what}: order of the runs");
}

#[test]
fn every_case_comes_out_as_expected() {
    let mut number = 0;
    for (path, file) in &files() {
        for case in &file.case {
            check(path, file, case);
            number += 1;
        }
    }
    assert!(number >= 60, "{number} cases are too few");
}

#[test]
fn every_confirmation_comes_out_as_expected() {
    for (path, file) in &files() {
        for case in &file.confirmation {
            let what = format!("{}: {}", path.display(), case.name);
            let mut draft = draft(file, None, &case.choices);
            draft.confirmation_rule = rule(case.guard_band);
            let determinations: Vec<_> = case
                .rise_times
                .iter()
                .zip(1..)
                .enumerate()
                .map(|(index, (value, number))| {
                    let mut made = bench::determination(number);
                    made.rise_time = Some(bench::rise_time(*value));
                    let start = case.starts.get(index).copied().unwrap_or(24.0);
                    made.start = Temperature::from_celsius(start);
                    made.void = case.void.contains(&(index + 1)).then(|| "draught".to_owned());
                    made
                })
                .collect();
            let ready = bench::ready(&draft);
            let found = match confirm(&ready, ConfirmationNumber(1), &determinations) {
                Ok(confirmed) => {
                    assert_eq!(confirmed.determinations().len(), determinations.len(), "{what}");
                    vec![]
                }
                Err(findings) => words(&findings),
            };
            assert_eq!(found, case.findings, "{what}");
        }
    }
}

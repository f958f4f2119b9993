//! Why the flame will not confirm: the pages, their twins and the commands, over one made-up bench.

use serde_json::{Value, json};

use crate::served::{Served, holds};
use crate::usual::{Made, NEXT, bench_after, brought, command};

fn why(served: &Served, number: u32) -> Value {
    serde_json::from_str(&served.page(&format!("/api/flame/determinations/{number}"))).unwrap()
}

#[test]
fn a_weaker_flame_is_told_with_its_group_the_look_and_how_far_to_turn_the_flow() {
    let mut twin = Value::Null;
    let served = bench_after(|folder| {
        let done = brought(folder, &[Made { seed: 7, heat: 0.9, ..Made::default() }]);
        assert_eq!(done.status.code(), Some(1), "{done:?}");
        let number = NEXT.to_string();
        let asked = command(folder, &["--json", "confirm", "why", &number]);
        assert_eq!(asked.status.code(), Some(1), "{asked:?}");
        twin = serde_json::from_slice(&asked.stdout).unwrap();
        let text = command(folder, &["confirm", "why", &number]);
        let text = String::from_utf8(text.stdout).unwrap();
        holds(
            &text,
            &["base line  B-1, frozen at", "flow       If it is the flame, turn", "cause "],
        );
    });
    let sheet = why(&served, NEXT);
    assert_eq!(sheet, twin, "the command and the page say the same");
    let diagnosis = &sheet["diagnosis"];
    assert_eq!(diagnosis["finding"], "told", "{diagnosis}");
    let group = json!(["the flame is weaker", "the flame is off-centre", "the block is too high"]);
    assert_eq!(diagnosis["causes"][0]["causes"], group);
    let heat = diagnosis["heat_percent"][0].as_f64().unwrap();
    assert!((heat + 10.0).abs() < 1.5, "{heat}");
    let flow = diagnosis["flow"]["percent"][0].as_f64().unwrap();
    assert!((flow - 11.0).abs() < 2.5, "{flow}");
    assert!((diagnosis["flow"]["height_mm"][0].as_f64().unwrap() - 1.3).abs() < 0.4);
    assert_eq!((&sheet["base_line"]["used"], &sheet["base_line"]["of"]), (&json!(60), &json!(60)));
    let page = served.page(&format!("/flame/determinations/{NEXT}"));
    holds(&page, &["<h1>Why will it not confirm? D-65</h1>", "No curve tells these apart"]);
    holds(&page, &["Look along the burner from two sides", "turn the flow up by", "mm higher"]);
    holds(&page, &["the readings less the course", "Base line B-1", "class=\"run second\""]);
    holds(&served.page("/flame"), &["/flame/determinations/65\"", "Why is it so?"]);
    served.ended();
}

#[test]
fn a_dull_block_is_told_and_one_like_the_others_is_not() {
    let served = bench_after(|folder| {
        let dull = Made { seed: 11, emissivity: 0.55, ..Made::default() };
        let usual = Made { seed: 12, ..Made::default() };
        // The dull block is too slow for the band.
        assert_eq!(brought(folder, &[dull, usual]).status.code(), Some(1));
    });
    let dull = why(&served, NEXT);
    assert_eq!(dull["diagnosis"]["causes"][0]["causes"], json!(["the block is dull or sooted"]));
    holds(dull["diagnosis"]["causes"][0]["evidence"].as_str().unwrap(), &["The emissivity is 0.5"]);
    assert_eq!(dull["diagnosis"]["flow"], Value::Null, "no flow is turned for a dull block");
    let usual = why(&served, NEXT + 1);
    assert_eq!(usual["diagnosis"]["finding"], "nothing");
    let page = served.page(&format!("/flame/determinations/{}", NEXT + 1));
    holds(&page, &["Nothing differs from the base line", "nothing has changed"]);
    // One of the base line is held against the others.
    let own = why(&served, 10);
    assert_eq!(own["base_line"]["used"], 59);
    served.ended();
}

#[test]
fn without_a_cooling_a_curve_or_a_base_line_it_is_said_what_cannot_be_told() {
    let served = bench_after(|folder| {
        let short = Made { seed: 21, cooling_seconds: 1.0, ..Made::default() };
        assert!(brought(folder, &[short]).status.success());
        let typed = command(
            folder,
            &[
                "confirm",
                "typed",
                "1",
                "--rise",
                "23.4 s",
                "--uncertainty",
                "0.3 s",
                "--start",
                "31 °C",
                "--second",
                "Bram Tessaly",
            ],
        );
        assert!(typed.status.success(), "{typed:?}");
    });
    let short = why(&served, NEXT);
    holds(short["block"]["cooling_missing"].as_str().unwrap(), &["No cooling was recorded."]);
    holds(short["not_diagnosed"]["text"].as_str().unwrap(), &["no heating and cooling"]);
    let told = short["block"]["not_told_apart"].to_string();
    holds(&told, &["the readings do not tell it apart", "no cooling was fitted"]);
    let typed = why(&served, NEXT + 1);
    holds(typed["not_told"]["text"].as_str().unwrap(), &["its times were typed"]);
    let page = served.page(&format!("/flame/determinations/{}", NEXT + 1));
    holds(&page, &["Nothing is told.", "Bring in a logger's file"]);
    assert_eq!(served.get("/flame/determinations/999").status, 404);
    assert_eq!(served.get("/api/flame/determinations/first").status, 400);
    served.ended();
    let demo = Served::demo();
    let sheet = why(&demo, 2);
    holds(sheet["not_diagnosed"]["text"].as_str().unwrap(), &["no base line of this bench"]);
    demo.ended();
}

#[test]
fn the_budget_is_shown_line_by_line_with_trials_rules_and_what_would_halve_it() {
    let served = bench_after(|folder| {
        let weighed = command(
            folder,
            &["equipment", "weighed", "CB-2", "--mass", "0.581 g", "--uncertainty", "1 mg"],
        );
        assert!(weighed.status.success(), "{weighed:?}");
    });
    let of = |query: &str| -> Value {
        let path = format!("/api/flame/determinations/10/budget{query}");
        serde_json::from_str(&served.page(&path)).unwrap()
    };
    let usual = of("");
    let expanded = |sheet: &Value| sheet["expanded_s"].as_f64().unwrap();
    assert!((0.2..1.2).contains(&expanded(&usual)), "{usual}");
    let share: f64 =
        usual["lines"].as_array().unwrap().iter().map(|it| it["share"].as_f64().unwrap()).sum();
    assert!((share - 1.0).abs() < 1e-9);
    // 0.581 g weighed: the method's block would have been quicker by 0.17 %.
    let corrected = usual["corrected_s"].as_f64().unwrap() - usual["read_s"].as_f64().unwrap();
    assert!((corrected + 0.04).abs() < 0.03, "{corrected}");
    let better = of("?bottom=0.5&top=1.0&correlation=0.8");
    assert!(expanded(&better) < 0.8 * expanded(&usual), "{better}");
    holds(&better["together"].to_string(), &["go together by 0.80"]);
    let page = served.page("/flame/determinations/10/budget");
    holds(&page, &["<h1>Budget of D-10</h1>", "simple acceptance", "guard band of 1 × U"]);
    holds(&page, &["mass of the block", "1000000 Monte Carlo trials", "What would halve it"]);
    holds(&page, &["taken as usual", "Have the thermocouple calibrated"]);
    let wrong = served.page("/flame/determinations/10/budget?bottom=warm&correlation=7");
    holds(&wrong, &["<title>Error: ", "`warm` is no number", "href=\"#correlation\""]);
    for query in ["?bottom=NaN&top=1", "?correlation=inf", "?top=1"] {
        let path = format!("/api/flame/determinations/10/budget{query}");
        assert_eq!(served.get(&path).status, 422, "{query}");
    }
    holds(&served.page("/record?thing=CB-2"), &["CB-2 weighs 0.581 g ± 0.001 g."]);
    holds(&served.page("/equipment/CB-2"), &["0.581 g ± 0.001 g", "/weighing?piece=CB-2"]);
    let wrong = served.post("/weighing", "piece=TC-4&mass=heavy&uncertainty=0&area=");
    assert_eq!(wrong.status, 422);
    holds(
        &wrong.body,
        &["TC-4 is no copper block", "`heavy`", "The uncertainty is more than 0 g."],
    );
    let anew = served.post("/weighing", "piece=CB-2&mass=0,579&uncertainty=0.0005&area=89.8");
    assert_eq!(anew.status, 303, "{}", anew.body);
    holds(&served.page("/equipment/CB-2"), &["0.579 g ± 0.0005 g; its surface is 89.8 mm²"]);
    served.ended();
}

#[test]
fn the_base_line_is_frozen_by_an_act_and_another_one_for_a_reason() {
    let served = bench_after(|_| ());
    let page = served.page("/flame/base-line");
    holds(&page, &["Base line B-1 holds.", "C-2 to C-21", "Sign base line B-1"]);
    holds(&page, &["Odalys Fenn", "What was changed?", "Frozen"]);
    // The chart takes its limits from it.
    let chart: Value = serde_json::from_str(&served.page("/api/flame/chart")).unwrap();
    assert_eq!(chart["base_line"]["frozen"], "2026-03-06T09:00:00Z", "{}", chart["base_line"]);
    holds(&served.page("/flame/chart"), &["The base line is C-2 to C-21", "It was frozen on"]);
    let again = served.post("/flame/base-line", "from=2&to=&without=&cause=&reason=");
    assert_eq!(again.status, 422);
    holds(&again.body, &["href=\"#reason\"", "Base line B-1 holds; another one takes its place"]);
    let form = "from=C-2&to=&without=C-5&cause=new-block&reason=block+CB-3";
    let short = served.post("/flame/base-line", form);
    holds(&short.body, &["For a base line 20 confirmations are needed, and there are 19."]);
    let rubbish = served.post("/flame/base-line", "from=x&cause=weather");
    holds(&rubbish.body, &["`x` is no confirmation", "Choose what was changed."]);
    let asked = json!({ "from": "2", "cause": "new-block", "reason": "block CB-3" });
    let answer = served.post_json("/api/flame/base-line", &asked.to_string());
    assert_eq!(answer.status, 200, "{}", answer.body);
    let sheet: Value = serde_json::from_str(&answer.body).unwrap();
    assert_eq!(
        (&sheet["holds"]["base_line"], &sheet["holds"]["cause"]),
        (&json!(2), &json!("new-block"))
    );
    assert_eq!(sheet["earlier"][0]["base_line"], 1);
    holds(&served.page("/record"), &["was frozen as B-2, on 20 confirmations", "block CB-3."]);
    let entry = served.page("/api/record?kind=base-line-frozen");
    holds(&entry, &["base-line-frozen"]);
    served.ended();
    let demo = Served::demo();
    let page = demo.page("/flame/base-line");
    holds(
        &page,
        &["No base line is frozen.", "thermocouple: 1; 20 are needed.", "and there are 1"],
    );
    let early = demo.post_json("/api/flame/base-line", "{}");
    assert_eq!(early.status, 409);
    holds(&early.body, &["too-few-confirmations"]);
    demo.ended();
}

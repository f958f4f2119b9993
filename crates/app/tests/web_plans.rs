//! The pages of plans and specimens, and their twins, over real HTTP.

use crate::served::{Served, holds};

#[test]
fn plans_are_listed_and_a_plan_says_how_it_stands() {
    let served = Served::demo();
    holds(&served.page("/plans"), &["href=\"/plans/1\"", "reported", "cinderbook plan new"]);
    holds(&served.page("/api/plans"), &["\"in_all\":1", "\"state\":\"reported\"", "\"next\":null"]);
    holds(&served.page("/plans?after=1"), &["No test is planned."]);
    let plan = served.page("/plans/1");
    holds(&plan, &["Report R-1 was issued", "Does not meet the requirement"]);
    holds(&plan, &["from memory: check it", "seen in the edition", "Keep extinguishing means"]);
    holds(&served.page("/api/plans/1"), &["\"act\":\"nothing\"", "\"state\":\"tested\""]);
    for nowhere in ["/plans/99", "/plans/none", "/api/plans/99"] {
        assert_eq!(served.get(nowhere).status, 404, "{nowhere}");
    }
}

#[test]
fn a_form_of_a_plan_comes_back_with_what_was_typed() {
    let served = Served::demo();
    let form = "act=conditioned&what=1&from=yesterday&until=2026-03-05+08:00&\
                temperature-from=1.234&temperature-to=24,5&humidity-from=abc&humidity-to=52";
    let answer = served.post("/plans/1", form);
    assert_eq!(answer.status, 422);
    holds(&answer.body, &["<title>Error: ", "There is a problem", "`yesterday` is no time"]);
    holds(&answer.body, &["can be read as 1234 °C or as 1.2340 °C", "`abc` is no number"]);
    holds(&answer.body, &["value=\"24,5\"", "value=\"yesterday\"", "aria-invalid=\"true\""]);
    assert_eq!(served.post("/plans/1", "act=dance").status, 422);
}

#[test]
fn an_act_is_kept_once_however_often_it_is_sent() {
    let served = Served::demo();
    let form = "act=conditioned&what=layer&from=2026-03-04+08:07&until=2026-03-05T09:00:00Z&\
                temperature-from=22&temperature-to=24+C&humidity-from=48&humidity-to=52+%25";
    for _ in 0..2 {
        let answer = served.post("/plans/1", form);
        assert_eq!(answer.status, 303, "{}", answer.body);
        holds(&answer.head, &["location: /plans/1"]);
    }
    assert_eq!(served.page("/plans/1").matches("2026-03-04T08:07:00Z").count(), 1);
    // Neither the verdict nor the report is made twice.
    let entries = |served: &Served| served.page("/record").matches("verdict").count();
    let before = entries(&served);
    assert_eq!(served.post_json("/api/plans/1/acts", "{\"act\":\"judge\"}").status, 200);
    assert_eq!(entries(&served), before);
    let again = served.post_json("/api/plans/1/acts", "{\"act\":\"report\",\"after\":0}");
    assert_eq!(again.status, 422);
    holds(&again.body, &["report R-1 was issued at", "Nothing was issued twice."]);
    let unknown = served.post_json("/api/plans/1/acts", "{\"act\":\"dance\"}");
    assert_eq!(unknown.status, 422);
    holds(&unknown.body, &["dance"]);
}

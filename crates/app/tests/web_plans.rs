//! The pages of plans and specimens, and their twins, over real HTTP.

use crate::served::{Answer, Served, drawn_up, holds};

#[test]
fn plans_are_listed_and_a_plan_says_how_it_stands() {
    let served = Served::demo();
    holds(&served.page("/plans"), &["href=\"/plans/1\"", "reported", "href=\"/plans/new\""]);
    holds(&served.page("/api/plans"), &["\"in_all\":1", "\"state\":\"reported\"", "\"next\":null"]);
    holds(&served.page("/plans?after=1"), &["No test is planned."]);
    let plan = served.page("/plans/1");
    holds(&plan, &["Report R-1 was issued", "Does not meet the requirement"]);
    holds(&plan, &["href=\"/specimens/1-2\"", "href=\"/plans/1/review\"", "/plans/new?from=1"]);
    holds(&served.page("/reports/1"), &["href=\"/specimens/1-3\""]);
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
    assert_eq!(served.page("/plans/1").matches("2026-03-04 08:07:00 UTC").count(), 1);
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

#[test]
fn a_specimen_shows_its_strip_its_photographs_and_its_history() {
    let served = Served::demo();
    let page = served.page("/specimens/1-1");
    holds(&page, &["<svg", "The strip of time", "Flame on specimen", "Duration of burning"]);
    holds(&page, &["Judgement by the rules", "History", "/record/", "SHA-256"]);
    let twin = served.page("/api/specimens/1-1");
    holds(&twin, &["\"spans\":[{\"kind\":\"flame\"", "\"kind\":\"photo\""]);
    let address = page.split("<img src=\"").nth(1).and_then(|rest| rest.split('"').next());
    let photo = served.get(address.unwrap());
    assert_eq!(photo.status, 200);
    holds(&photo.head, &["content-type: image/png", "default-src 'none'; sandbox", "nosniff"]);
    assert_eq!(served.get("/specimens/1-1/evidence/00").status, 404);
    assert_eq!(served.get("/specimens/1-77").status, 404);
    let review = served.page("/plans/1/review");
    holds(&review, &["Odd things", "Approved by", "Covers this record"]);
    holds(&served.page("/api/plans/1/review"), &["\"odd\":["]);
}

/// Where an answer leads.
pub(crate) fn led(answer: &Answer) -> String {
    assert_eq!(answer.status, 303, "{}", answer.body);
    let line = answer.head.lines().find_map(|line| line.strip_prefix("location: ")).unwrap();
    line.to_owned()
}

/// Plans a test by its questions, as the demo's plan was planned, and gives its page.
fn planned(served: &Served) -> String {
    let first = led(&served.get("/plans/new?from=1"));
    let draft = first.strip_suffix("/part").unwrap().to_owned();
    let answer = |page: &str, form: &str| served.post(&format!("{draft}/{page}"), form);
    let wrong = answer("part", "job=&part=&mark=LK-7&customer=X&address=Y&received=soon");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["<title>Error: ", "Name the job.", "`soon` is no date", "value=\"LK-7\""]);
    let form =
        "job=%3Cscript%3E7&part=cover&mark=LK-7&customer=X&address=Y&received=&condition=new";
    assert!(led(&answer("part", form)).ends_with("/rules"));
    for (typed, status) in [("abc", 422), ("-5", 422), ("1.234", 422), ("30 s", 303), ("30,0", 303)]
    {
        let answer = answer("duration", &format!("duration={typed}&duration-reason=as+ordered"));
        assert_eq!(answer.status, status, "{typed}");
        if status == 422 {
            holds(&answer.body, &["There is a problem", &format!("value=\"{typed}\"")]);
        }
    }
    // Answers that do not go together are named at both.
    let alone = answer("duration", "duration=120&duration-reason=");
    holds(&alone.body, &["href=\"#duration\"", "href=\"#duration-reason\"", "has no reason"]);
    let other = answer("rules", "method=iec-60695-11-5%2F2004&profile=iacs-e10%2F10+once");
    assert_eq!(other.status, 422);
    holds(&other.body, &["href=\"#method\"", "href=\"#profile\"", "iacs-e10/10 goes with"]);
    led(&answer("rules", "method=iec-60695-11-5%2F2016&profile=iec-60335-1%2F5+part"));
    led(&answer("duration", "duration=30,0&duration-reason=as+ordered"));
    led(&answer("requirement", "confirmation-holds="));
    let check = served.page(&format!("{draft}/check"));
    holds(&check, &["&lt;script&gt;7", "Change", "Not given", "Give to the bench"]);
    holds(&served.page(&format!("{draft}/all")), &["What lies below?", "What is used?"]);
    let page = led(&answer("check", ""));
    assert_eq!(served.get(&format!("{draft}/check")).status, 404);
    page
}

/// The demo's book with a second plan, of one specimen, that was found ready. Its laboratory asks
/// for no signatures: who tests there also issues.
pub(crate) fn ready_to_test() -> Served {
    let served = ready_to_sign();
    let rule = "same-person=allowed&reason=signed+on+paper+(made+up)";
    assert_eq!(led(&served.post("/sign/rules", rule)), "/sign/rules");
    served
}

/// The same in a laboratory that asks for signatures, as the demo's does.
pub(crate) fn ready_to_sign() -> Served {
    let served = Served::demo();
    let plan = planned(&served);
    assert_eq!(plan, "/plans/2");
    holds(&served.page(&plan), &["&lt;script&gt;7", "was not conditioned", "Read the cautions"]);
    led(&served.post(&plan, "act=readiness"));
    made_ready(&served, &["1", "layer"]);
    served
}

/// The demo's book with a second plan, of three specimens and five applications of 15 s with pauses
/// of 15 s, that was found ready.
pub(crate) fn ready_for_five() -> Served {
    let served = Served::demo_after(|folder| {
        let rules = [("iec-60335-1/5", "iacs-e10/10"), ("\"part\"", "\"five-times\"")];
        drawn_up(
            folder,
            &[rules.as_slice(), &[("[1]", "[1, 2, 3]"), ("confirmation-holds = \"4 h\"\n", "")]]
                .concat(),
        );
    });
    made_ready(&served, &["1", "2", "3", "layer"]);
    served
}

/// Does what is missing before the flame of plan 2.
pub(crate) fn made_ready(served: &Served, conditioned: &[&str]) {
    for what in conditioned {
        let climate = "temperature-from=22&temperature-to=24&humidity-from=48&humidity-to=52";
        let times = "from=2026-03-03+08:00&until=2026-03-06+08:00";
        led(&served.post("/plans/2", &format!("act=conditioned&what={what}&{times}&{climate}")));
    }
    led(&served.post("/plans/2", "act=cautions"));
    let ready = served.post_json("/api/plans/2/acts", "{\"act\":\"readiness\"}");
    assert_eq!(ready.status, 200, "{}", ready.body);
    holds(&ready.body, &["\"ready\":true", "\"missing\":[]"]);
}

#[test]
fn a_test_is_planned_made_ready_and_described_from_a_stop_watch() {
    let served = ready_to_test();
    holds(&served.page("/plans/2"), &["href=\"/bench/2/1\"", "Go to the bench"]);
    holds(&served.page("/"), &["Ready to test", "href=\"/plans/2\"", "Nothing is timed now."]);
    let times = led(&served.get("/specimens/2-1/describe"));
    let answer =
        |page: &str, form: &str| served.post(&format!("/specimens/2-1/describe/{page}"), form);
    assert_eq!(times, "/specimens/2-1/describe/times");
    let wrong = answer("times", "began=2026-03-06+08:30&removed-1=&flames=out&flames-at=x");
    assert_eq!(wrong.status, 422);
    holds(&wrong.body, &["Flame 1 removed: type a number", "`x` is no number", "Glow after"]);
    let form = "began=2026-03-06+08:30&removed-1=30,2&flames=out&flames-at=41,7&glow=none";
    assert!(led(&answer("times", form)).ends_with("/marks"));
    led(&answer("marks", "mark-1-at=7,4&mark-1=drop"));
    led(&answer("layer", "layer=unchanged&surroundings=none"));
    led(&answer("specimen", "burnt=partly&temperature=23&humidity=50"));
    photograph(&served);
    assert!(led(&answer("unusual", "note=it+crackled")).ends_with("/check"));
    let check = served.page("/specimens/2-1/describe/check");
    holds(
        &check,
        &["Record as tested by Odalys Fenn", "41,7 s", "At 7,4", "Not given", "1 photograph."],
    );
    let done = answer("check", "");
    assert_eq!(done.status, 303, "{}", done.body);
    holds(&served.page("/specimens/2-1"), &["a drop fell", "it crackled", "11.5 s", "shot.png"]);
    assert_eq!(answer("check", "").status, 409);
}

/// Hands in a photograph, and something that is none.
fn photograph(served: &Served) {
    let part = |name: &str, bytes: &[u8]| {
        let head = "--cut\r\ncontent-disposition: form-data; name=\"photo\"; filename=\"";
        [head.as_bytes(), name.as_bytes(), b"\"\r\n\r\n", bytes, b"\r\n--cut--\r\n"].concat()
    };
    let kind = "multipart/form-data; boundary=cut";
    let hand_in = |body: &[u8]| served.send("/specimens/2-1/photos", kind, body);
    let png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x10\0\0\0\x10";
    assert!(led(&hand_in(&part("shot.png", png))).ends_with("/unusual"));
    let heic = hand_in(&part("shot.jpg", b"\0\0\0\x18ftypheic"));
    assert_eq!(heic.status, 422);
    holds(&heic.body, &["`shot.jpg` is no JPEG", "each at most 30 MB", "HEIC"]);
}

//! Help says what stands on the screens, and every page leads to its own.

use crate::house::none;
use crate::served::Served;
use crate::web_plans::ready_to_test;

/// Each page of help with a screen that it is about.
const SCREENS: &[(&str, &str)] = &[
    ("sign-in", "/sign-in"),
    ("today", "/"),
    ("flame", "/flame"),
    ("flame-chart", "/flame/chart"),
    ("care", "/care"),
    ("commissioning", "/care/commissioning"),
    ("bench", "/bench"),
    ("plans", "/plans"),
    ("plan", "/plans/2"),
    ("specimen", "/specimens/1-1"),
    ("review", "/plans/1/review"),
    ("sign", "/sign?what=plan-1&meaning=approved"),
    ("signatures", "/sign/rules"),
    ("record-review", "/record/review"),
    ("reports", "/reports"),
    ("equipment", "/equipment"),
    ("record", "/record"),
    ("set-up", "/setup"),
    ("this-device", "/device"),
];

/// What stands between two marks, each time.
fn between<'t>(text: &'t str, from: &str, to: &str) -> Vec<&'t str> {
    text.split(from).skip(1).filter_map(|rest| rest.split(to).next()).collect()
}

#[test]
fn the_words_of_help_stand_on_its_screen() {
    let served = ready_to_test();
    let mut offences = Vec::new();
    for (name, address) in SCREENS {
        let help = served.page(&format!("/help/{name}"));
        let (_, words) = help.split_once("The words on it").unwrap();
        let words = between(words.split("<h2>").next().unwrap(), "<dt>", "</dt>");
        assert!(!words.is_empty(), "{name}");
        let screen = served.page(address);
        let missing = words.into_iter().filter(|word| !screen.contains(word));
        offences.extend(missing.map(|word| format!("help {name}: `{word}` is not on {address}")));
    }
    none(&offences);
}

#[test]
fn every_line_of_the_bar_has_its_help_and_every_page_of_help_is_looked_at() {
    let served = Served::demo();
    let bar = served.page("/");
    let bar = bar.split("<nav").nth(1).unwrap().split("</nav>").next().unwrap();
    let mut lines = between(bar, "href=\"", "\"");
    assert_eq!(lines.pop(), Some("/help/today"), "help stands last");
    for line in lines {
        let page = served.page(line);
        let help = page.split("</nav>").next().unwrap().rsplit("href=\"").next().unwrap();
        let help = help.split('"').next().unwrap();
        assert!(help.starts_with("/help/"), "{line} leads to {help}");
        assert_eq!(served.page(help).matches("<h1>Help: ").count(), 1);
    }
    let index = served.page("/help");
    let named = between(&index, "href=\"/help/", "\"");
    let not_held: Vec<String> = named
        .iter()
        .filter(|name| !SCREENS.iter().any(|(held, _)| held == *name) && **name != "certificate")
        .map(|name| format!("no test holds help {name}"))
        .collect();
    none(&not_held);
}

#[test]
fn help_is_read_before_one_can_sign_in() {
    let mut served = Served::demo();
    served.cookie.clear();
    assert!(served.page("/sign-in").contains("<a href=\"/help\">Help</a>"));
    assert!(served.page("/help").contains("/help/sign-in"));
    assert!(served.page("/help/bench").contains("It drives nothing"));
    let none = served.get("/help/no-such");
    assert_eq!(none.status, 404);
    assert!(none.body.contains("There is no help called `no-such`."), "{}", none.body);
}

//! Around the flame, on its page and in its twin: a guide that keeps nothing.

use serde_json::Value;

use crate::served::{Served, holds};

#[test]
fn gas_purge_and_smoke_are_told_as_a_guide() {
    let served = Served::demo();
    let page = served.page("/flame/around");
    holds(&page, &["A guide: local rules and the laboratory's own decide.", "17.2 ml/min ± 10 %"]);
    assert!(!page.contains("Until the door is opened"), "nothing is told of what was not given");
    let asked = "gas=propane&height=12&room=25&cartridge=400&burnt=10&chamber=0.5&extraction=100\
                 &mixing=3&left=1&material=PVC&mass=1";
    let page = served.page(&format!("/flame/around?{asked}"));
    holds(&page, &["22.3 ml/min ± 10 %", "31 W ± 10 %", "Used of the cartridge", "376 g"]);
    holds(&page, &["4 min 9 s, until 1 % is left", "The door stays shut until then"]);
    holds(&page, &["Hydrogen chloride", "up to 782 ppm: 15.6 times what is immediately dangerous"]);
    let twin: Value =
        serde_json::from_str(&served.page(&format!("/api/flame/around?{asked}"))).unwrap();
    assert_eq!(twin["flame"]["lines"][0]["value"], "22.3 ml/min ± 10 %");
    let kept: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
    let before = kept["entries"][0]["entry"].clone();
    for (query, words) in [
        ("height=abc", "`abc` is no number"),
        ("height=200", "the flame's height is 200 mm; the guide holds from 5 mm to 60 mm"),
        ("gas=hydrogen", "Choose the gas: butane or propane."),
        ("cartridge=400", "How long the flame has burnt: type a number"),
        ("material=PVC", "The chamber's volume: type a number"),
        ("chamber=1&extraction=100&mixing=20", "The allowance for mixing is 20 times."),
        ("chamber=1&extraction=0", "The extraction is 0 m³/h; the guide holds from"),
    ] {
        let wrong = served.get(&format!("/flame/around?{query}"));
        assert_eq!(wrong.status, 422, "{query}");
        let body = wrong.body.to_lowercase();
        holds(&body, &["<title>error: around the flame", &words.to_lowercase()]);
        assert_eq!(served.get(&format!("/api/flame/around?{query}")).status, 422, "{query}");
    }
    let kept: Value = serde_json::from_str(&served.page("/api/record")).unwrap();
    assert_eq!(kept["entries"][0]["entry"], before, "nothing is kept");
    served.ended();
}

//! How much light the bench throws, and what a machine can tell of it, in every state.
#![expect(clippy::disallowed_methods, reason = "the light of a picture is no result of a test")]

use super::at_bench::{AtBench, BEGIN};
use super::axe::{SIZES, THEMES, offences_here};
use super::driver::{Browser, Profile, to_test};
use super::hands::Hand;
use crate::house::none;
use crate::web_plans::ready_for_five;

/// The mean light of a picture at most, as a part of a white page's.
const MEAN_AT_MOST: f64 = 0.02;
/// No picture element is brighter.
const BRIGHTEST: f64 = 0.35;
/// From one state to the next the mean light moves by no more.
const STEP_AT_MOST: f64 = 0.01;

/// The main action is to be hit with gloves: 25 mm high; half the page wide where Mark is beside it.
const TARGETS: &str = "(() => {
  const offences = [];
  const box = (name) => document.querySelector(name).getBoundingClientRect();
  const main = box('button.main');
  if (main.height < 128) offences.push(`the main action is ${main.height} px high`);
  if (main.width < innerWidth * 0.45) offences.push(`the main action is ${main.width} px wide`);
  const mark = document.querySelector('button.mark');
  if (mark && mark.checkVisibility() && mark.getBoundingClientRect().width < 95.5)
    offences.push(`Mark is ${mark.getBoundingClientRect().width} px wide`);
  if (document.querySelectorAll('.foot button').length > 4) offences.push('more than four rare acts');
  if (document.getAnimations().length > 0) offences.push('something moves by itself');
  return offences;
})()";

/// What was found of the light in all states, with the mean of the last state at each size.
struct Light<'a> {
    browser: &'a Browser,
    last: [Option<f64>; 4],
    found: Vec<String>,
    brightest_mean: f64,
}

impl<'a> Light<'a> {
    fn from(browser: &'a Browser) -> Self {
        Self { browser, last: [None; 4], found: Vec::new(), brightest_mean: 0.0 }
    }

    /// Looks at the page as it stands, which no state led to.
    async fn of_new(&mut self, page: &str) {
        self.last = [None; 4];
        self.of(page).await;
    }

    /// Looks at the page as it stands, which the state before led to. It is dark however the device
    /// is set.
    async fn of(&mut self, state: &str) {
        for ((size, last), theme) in
            SIZES.into_iter().zip(&mut self.last).zip(THEMES.iter().cycle())
        {
            self.browser.screen(size, theme).await;
            let (mean, most) = light(&self.browser.picture().await);
            let step = last.map_or(0.0, |last| (mean - last).abs());
            let mut found = Vec::new();
            for (what, is, at_most) in [
                ("mean light", mean, MEAN_AT_MOST),
                ("light at its brightest", most, BRIGHTEST),
                ("a step of light", step, STEP_AT_MOST),
            ] {
                if is > at_most {
                    found.push(format!("{what} is {is:.4}; at most {at_most}"));
                }
            }
            *last = Some(mean);
            self.brightest_mean = self.brightest_mean.max(mean);
            println!("{state} at {} px: mean {mean:.4}, most {most:.2}, step {step:.4}", size.0);
            let targets = self.browser.value(TARGETS).await;
            found.extend(serde_json::from_value::<Vec<String>>(targets).unwrap());
            found.extend(offences_here(self.browser).await);
            let place = |line| format!("{state} at {} px, {theme}: {line}", size.0);
            self.found.extend(found.into_iter().map(place));
        }
    }

    /// What was found, with what the browser has to say.
    async fn end(mut self) {
        println!("mean light at most {:.4}", self.brightest_mean);
        self.found.extend(self.browser.complaints().await);
        none(&self.found);
    }
}

/// The mean and the greatest relative luminance of a picture (WCAG 2.2, relative luminance).
pub(super) fn light(png: &[u8]) -> (f64, f64) {
    let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    let samples = info.color_type.samples();
    assert!(samples >= 3, "{info:?}");
    let linear = |value: u8| {
        let value = f64::from(value) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    let linear: Vec<f64> = (0..=255).map(linear).collect();
    let (mut sum, mut most, mut count) = (0.0, 0.0_f64, 0_u32);
    for pixel in bytes[..info.buffer_size()].chunks_exact(samples) {
        let [red, green, blue] = [pixel[0], pixel[1], pixel[2]].map(|it| linear[usize::from(it)]);
        let luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
        sum += luminance;
        count += 1;
        most = most.max(luminance);
    }
    (sum / f64::from(count), most)
}

#[tokio::test]
async fn every_state_throws_little_light_and_breaks_no_rule() {
    let served = ready_for_five();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    let bench = AtBench::open(&served, (&browser, Hand::Keyboard), (BEGIN, "")).await;
    bench.says("Clock: ±").await;
    let mut light = Light::from(&browser);
    light.of_new("before the flame").await;
    bench.checked().await;
    light.of_new("ready").await;
    five_applications(&bench, &mut light).await;
    bench.heading("Burning after removal").await;
    light.of("burning").await;
    bench.pass(70_000).await;
    browser.until("!document.querySelector('.beside').hidden", "put out by hand").await;
    light.of("burning, put out by hand beside").await;
    bench.switch().await;
    bench.heading("Glow after the flames").await;
    light.of("glow").await;
    browser.value("test.freeze(4_000)").await;
    bench.says("▲ Time is doubtful").await;
    light.of("glow, time doubtful").await;
    bench.mark().await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.heading("Layer below still burning").await;
    light.of("layer").await;
    bench.pass(1_000).await;
    bench.switch().await;
    bench.heading("Finished").await;
    bench.pass(5_000).await;
    light.of("finished").await;
    bench.act("Specimen spoilt").await;
    bench.heading("Specimen spoilt").await;
    light.of("spoilt").await;
    browser.key("Escape", 27).await;
    browser.find("dialog", "Leave the bench?").await;
    light.of_new("the question at leaving").await;
    light.end().await;
}

/// Five applications; the first is looked at.
async fn five_applications(bench: &AtBench<'_>, light: &mut Light<'_>) {
    for application in 1..=5 {
        bench.switch().await;
        bench.heading(&format!("Flame on specimen, {application} of 5")).await;
        bench.pass(13_000).await;
        if application == 1 {
            light.of("flame on specimen").await;
            bench.letter("l").await;
            bench.says("1 mark").await;
        }
        bench.pass(4_000).await;
        if application == 1 {
            light.of("flame on specimen, late").await;
        }
        bench.switch().await;
        bench.pass(9_000).await;
        if application == 1 {
            bench.heading("Between applications, 1 of 5 done").await;
            light.of("between applications").await;
        }
    }
}

#[tokio::test]
async fn what_is_asked_or_watched_throws_as_little() {
    let (served, _profile, browser) = to_test().await;
    let bench = AtBench::open(&served, (&browser, Hand::Keyboard), (BEGIN, "")).await;
    bench.says("Clock: ±").await;
    let mut light = Light::from(&browser);
    bench.act("Play three ticks").await;
    browser.find("dialog", "Did you hear three ticks?").await;
    light.of_new("three ticks").await;
    bench.act("Yes").await;
    bench.checked().await;
    browser.key("?", 191).await;
    browser.find("dialog", "Keys").await;
    light.of_new("the keys").await;
    browser.key("Escape", 27).await;
    browser.until("document.querySelector('dialog') === null", "the bench").await;
    bench.switch().await;
    bench.heading("Flame on specimen").await;
    bench.pass(30_000).await;
    bench.switch().await;
    bench.in_record(2).await;
    let other_device = Profile::new();
    let other = Browser::of(&served, &other_device).await;
    let watches = AtBench::open(&served, (&other, Hand::Keyboard), (BEGIN + 31_000, "")).await;
    watches.says("this device watches").await;
    let mut seen_there = Light::from(&other);
    seen_there.of_new("watching").await;
    watches.act("Time it here instead").await;
    other.find("dialog", "Time it here instead?").await;
    seen_there.of_new("taking over").await;
    seen_there.end().await;
    for _ in 0..2 {
        bench.pass(450).await;
        bench.switch().await;
    }
    bench.says("Was there any flame or glow after removal?").await;
    light.of_new("a question at the end").await;
    browser.new_tab().await;
    browser.go(&served.at("/bench/2/1")).await;
    browser.find("heading", "Open in another tab").await;
    light.of_new("in another tab").await;
    light.end().await;
}

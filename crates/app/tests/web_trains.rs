//! Presses over a bad network: cut, doubled, out of order, their answers lost; the log is the same.
#![expect(clippy::disallowed_methods, reason = "this test looks how long it is to be")]

use rand::seq::SliceRandom as _;
use rand::{Rng, RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use serde_json::{Value, json};

use crate::served::{Served, drawn_up};

/// Trains, each of a specimen of its own. `CINDERBOOK_TRAINS` asks for another number.
const TRAINS: usize = 1_000;

const ACTS: [&str; 11] = [
    "flame-on",
    "flame-removed",
    "flames-out",
    "glow-out",
    "burning-again",
    "mark",
    "drop",
    "layer-caught",
    "layer-out",
    "last-press-wrong",
    "ignored",
];

#[test]
fn whatever_the_network_does_to_a_train_of_presses_the_log_is_that_train() {
    let trains = std::env::var("CINDERBOOK_TRAINS").map_or(TRAINS, |text| text.parse().unwrap());
    let specimens: Vec<_> = (1..=trains).collect();
    let served = Served::demo_after(|folder| {
        drawn_up(folder, &[("[1]", &format!("{specimens:?}"))]);
    });
    let mut sent = 0;
    for train in 1..=trains {
        let mut random = Pcg64::seed_from_u64(u64::try_from(train).unwrap());
        let presses = presses(&mut random);
        sent += through(&served, (train, &presses), &mut random);
        let twin: Value =
            serde_json::from_str(&served.page(&format!("/api/bench/2/{train}"))).unwrap();
        assert_eq!(twin["presses"], json!(presses), "train {train}");
    }
    assert!(sent > 2 * trains, "only {sent} batches were sent");
    served.ended();
}

/// A train by chance: its acts need not make sense.
fn presses(random: &mut impl Rng) -> Vec<Value> {
    let mut at_us = 0_u64;
    let count = random.random_range(1..=12);
    let press = |sequence: u32| {
        at_us += random.random_range(1..20_000_000);
        let act = ACTS[random.random_range(0..ACTS.len())];
        let seconds = at_us / 1_000_000;
        let wall = format!("2026-03-06T08:{:02}:{:02}.5Z", seconds / 60, seconds % 60);
        json!({ "sequence": sequence, "at_us": at_us, "wall": wall, "act": act, "input": "key" })
    };
    (1..=count).map(press).collect()
}

/// Sends a train through a bad network until the record says that it has all of it; how many
/// batches that took. What is kept never falls back.
fn through(served: &Served, (train, presses): (usize, &[Value]), random: &mut impl Rng) -> usize {
    let (mut kept_to, mut batches) = (0, 0);
    while kept_to < presses.len() {
        batches += 1;
        // The device knows what it was answered; it sends from there, or what it sent before.
        let from = if random.random_bool(0.3) { random.random_range(0..=kept_to) } else { kept_to };
        let mut batch = presses[from..].to_vec();
        if random.random_bool(0.5) {
            batch.truncate(random.random_range(1..=batch.len()));
        }
        if random.random_bool(0.3) {
            batch.remove(random.random_range(0..batch.len()));
        }
        let again: Vec<_> = batch.iter().filter(|_| random.random_bool(0.3)).cloned().collect();
        batch.extend(again);
        if random.random_bool(0.5) {
            batch.shuffle(random);
        }
        let body = json!({
            "device": format!("{:032x}", 1), "sitting": format!("{train:032x}"), "presses": batch
        });
        let answer = served.post_json(&format!("/api/bench/2/{train}/presses"), &body.to_string());
        assert_eq!(answer.status, 200, "train {train}: {}", answer.body);
        let said: Value = serde_json::from_str(&answer.body).unwrap();
        let now = usize::try_from(said["kept_to"].as_u64().unwrap()).unwrap();
        assert!(now >= kept_to, "train {train}: {now} after {kept_to}");
        // One answer in four is lost.
        if !random.random_bool(0.25) {
            kept_to = now;
        }
    }
    batches
}

//! Things of a page by what they are for a person: their role and their words.

#![expect(clippy::disallowed_methods, reason = "a test that waits knows when to stop")]

use std::time::{Duration, Instant};

use serde_json::json;

use super::driver::{Browser, PATIENCE};

/// A thing of the page, as assistive tools see it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Thing {
    /// Such as `button`, `link`, `heading`, `textbox`.
    pub(crate) role: String,
    /// Its accessible name.
    pub(crate) words: String,
    pub(super) node: i64,
}

impl Browser {
    /// All things of the page, in its order.
    pub(crate) async fn things(&self) -> Vec<Thing> {
        let tree = self.below("Accessibility.getFullAXTree", json!({})).await;
        let nodes = tree["nodes"].as_array().unwrap();
        let seen = nodes.iter().filter(|node| node["ignored"] == false);
        seen.filter_map(|node| {
            Some(Thing {
                role: node["role"]["value"].as_str()?.to_owned(),
                words: node["name"]["value"].as_str().unwrap_or_default().to_owned(),
                node: node["backendDOMNodeId"].as_i64()?,
            })
        })
        .collect()
    }

    /// Waits for the thing with this role whose words begin with `words`.
    pub(crate) async fn find(&self, role: &str, words: &str) -> Thing {
        let began = Instant::now();
        loop {
            let things = self.things().await;
            let found = things.iter().find(|it| it.role == role && it.words.starts_with(words));
            if let Some(found) = found {
                return found.clone();
            }
            assert!(
                began.elapsed() < PATIENCE,
                "no {role} `{words}` at {}; there are {:?}",
                self.address().await,
                things.iter().map(|it| format!("{} `{}`", it.role, it.words)).collect::<Vec<_>>()
            );
            tokio::time::sleep(Duration::from_millis(30)).await;
        }
    }

    /// Waits until an expression of the page holds; `what` is waited for.
    pub(crate) async fn until(&self, expression: &str, what: &str) {
        let began = Instant::now();
        while self.value(expression).await != true {
            if began.elapsed() > PATIENCE {
                let shown = self.value("document.body.innerText").await;
                panic!("{what} did not come at {}; there is {shown}", self.address().await);
            }
            tokio::time::sleep(Duration::from_millis(30)).await;
        }
    }

    /// Presses a key and lets it go. `key` and `code` as the browser's events name them.
    pub(crate) async fn key(&self, key: &str, code: u32) {
        let text = match key {
            "Enter" => "\r",
            " " => " ",
            _ => "",
        };
        for kind in ["keyDown", "keyUp"] {
            let text = if kind == "keyDown" { text } else { "" };
            let event = json!({
                "type": kind, "key": key, "code": if key == " " { "Space" } else { key },
                "windowsVirtualKeyCode": code, "text": text
            });
            self.below("Input.dispatchKeyEvent", event).await;
        }
    }
}

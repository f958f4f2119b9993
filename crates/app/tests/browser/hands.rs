//! The two ways a story is gone through: by keyboard alone, or by touch alone.

use serde_json::{Value, json};

use super::driver::Browser;
use super::page::Thing;

/// With what the page is worked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hand {
    /// Tab, arrows, Space, Enter and letters.
    Keyboard,
    /// A finger, and the letters of the keyboard that a touch screen shows.
    Touch,
}

/// Each way with the screen it is gone through on.
pub(super) const WAYS: [(Hand, (u32, u32)); 2] =
    [(Hand::Keyboard, (1180, 820)), (Hand::Touch, (320, 640))];

/// So many steps of the Tab key lead round any page.
const ROUND: usize = 300;

impl Browser {
    /// Follows a link or presses a button, and waits for the page that comes of it.
    pub(super) async fn follow(&self, hand: Hand, (role, words): (&str, &str)) {
        let thing = self.find(role, words).await;
        self.value("window.isOld = true").await;
        match hand {
            Hand::Keyboard => {
                self.tab_to(&thing).await;
                self.key("Enter", 13).await;
            }
            Hand::Touch => self.tap(&thing).await,
        }
        let gone = "window.isOld === undefined && document.readyState === 'complete'";
        self.until(gone, &format!("a page after {role} `{words}`")).await;
    }

    /// Presses a button that stays on its page.
    pub(super) async fn press(&self, hand: Hand, (role, words): (&str, &str)) {
        let thing = self.find(role, words).await;
        match hand {
            Hand::Keyboard => {
                self.tab_to(&thing).await;
                self.key("Enter", 13).await;
            }
            Hand::Touch => self.tap(&thing).await,
        }
    }

    /// Chooses one of several answers; `group` is the question, as its words begin.
    pub(super) async fn choose(&self, hand: Hand, (group, answer): (&str, &str)) {
        let group = self.find("group", group).await;
        let radio = &self.answer_in(&group, answer).await;
        match hand {
            Hand::Touch => self.tap(radio).await,
            Hand::Keyboard => {
                let name = self.asked_of(radio, "function () { return this.name }").await;
                let within = format!("document.activeElement.name === {name}");
                for _ in 0..ROUND {
                    if self.value(&within).await == true {
                        break;
                    }
                    self.key("Tab", 9).await;
                }
                self.key(" ", 32).await;
                for _ in 0..20 {
                    if self.asked_of(radio, "function () { return this.checked }").await == true {
                        break;
                    }
                    self.key("ArrowDown", 40).await;
                }
            }
        }
        assert_eq!(
            self.asked_of(radio, "function () { return this.checked }").await,
            true,
            "{answer}"
        );
    }

    /// Ticks one of several things that may all be chosen.
    pub(super) async fn tick(&self, hand: Hand, words: &str) {
        let thing = self.find("checkbox", words).await;
        match hand {
            Hand::Keyboard => {
                self.tab_to(&thing).await;
                self.key(" ", 32).await;
            }
            Hand::Touch => self.tap(&thing).await,
        }
        let ticked = self.asked_of(&thing, "function () { return this.checked }").await;
        assert_eq!(ticked, true, "{words}");
    }

    /// The answer to a question whose words begin so.
    async fn answer_in(&self, group: &Thing, answer: &str) -> Thing {
        let node = json!({ "backendNodeId": group.node });
        let object = self.below("DOM.resolveNode", node).await;
        let function = "function (answer) {
            return [...this.querySelectorAll('input')].find(
              (it) => it.labels[0].innerText.startsWith(answer)
            );
          }";
        let asked = json!({
            "objectId": object["object"]["objectId"],
            "functionDeclaration": function,
            "arguments": [{ "value": answer }],
        });
        let found = self.below("Runtime.callFunctionOn", asked).await;
        let object = &found["result"]["objectId"];
        assert!(object.is_string(), "no answer `{answer}` to {group:?}");
        let described = self.below("DOM.describeNode", json!({ "objectId": object })).await;
        let node = described["node"]["backendNodeId"].as_i64().unwrap();
        Thing { role: "radio".to_owned(), words: answer.to_owned(), node }
    }

    /// Types into a field instead of what stands there.
    pub(super) async fn fill(&self, hand: Hand, (label, text): (&str, &str)) {
        let field = self.find("textbox", label).await;
        match hand {
            Hand::Keyboard => self.tab_to(&field).await,
            Hand::Touch => self.tap(&field).await,
        }
        self.value("document.activeElement.select()").await;
        self.key("Delete", 46).await;
        self.below("Input.insertText", json!({ "text": text })).await;
        assert_eq!(self.asked_of(&field, "function () { return this.value }").await, text);
    }

    /// Steps with the Tab key until `thing` has the focus.
    pub(super) async fn tab_to(&self, thing: &Thing) {
        for _ in 0..ROUND {
            if self.asked_of(thing, "function () { return this === document.activeElement }").await
                == true
            {
                return;
            }
            self.key("Tab", 9).await;
        }
        panic!("the Tab key does not lead to {} `{}`", thing.role, thing.words);
    }

    pub(super) async fn tap(&self, thing: &Thing) {
        let node = json!({ "backendNodeId": thing.node });
        self.below("DOM.scrollIntoViewIfNeeded", node.clone()).await;
        let model = self.below("DOM.getBoxModel", node).await;
        let corner = |at: usize| model["model"]["border"][at].as_f64().unwrap();
        let middle = ((corner(0) + corner(4)) / 2.0, (corner(1) + corner(5)) / 2.0);
        self.below("Emulation.setTouchEmulationEnabled", json!({ "enabled": true })).await;
        let finger = json!([{ "x": middle.0, "y": middle.1 }]);
        for (kind, points) in [("touchStart", finger), ("touchEnd", json!([]))] {
            let touch = json!({ "type": kind, "touchPoints": points });
            self.below("Input.dispatchTouchEvent", touch).await;
        }
    }

    /// What a function of the page's own gives for a thing.
    async fn asked_of(&self, thing: &Thing, function: &str) -> Value {
        let node = json!({ "backendNodeId": thing.node });
        let object = self.below("DOM.resolveNode", node).await;
        let asked = json!({
            "objectId": object["object"]["objectId"],
            "functionDeclaration": function,
            "returnByValue": true,
        });
        self.below("Runtime.callFunctionOn", asked).await["result"]["value"].take()
    }
}

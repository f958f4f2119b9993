//! A browser of its own, with a new profile, and what it is told below the page.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use axum::http::Method;
use fantoccini::actions::{InputSource as _, KeyAction, KeyActions};
use fantoccini::key::Key;
use fantoccini::wd::{WebDriverCompatibleCommand, WindowHandle};
use fantoccini::{Client, ClientBuilder};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};
use tempfile::TempDir;
use url::Url;

use crate::served::Served;
use crate::web_plans::ready_to_test;

/// A browser with one page. It ends with its value.
#[derive(Debug)]
pub(crate) struct Browser {
    client: Client,
    /// The browser's own process, which the driver does not end with itself.
    process: u64,
    driver: Child,
}

/// What is left when a browser was killed: its profile, with all that its pages kept.
#[derive(Debug)]
pub(crate) struct Profile(TempDir);

impl Profile {
    /// An empty one.
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }
}

/// A book with a specimen to test, served, and a browser whose person is signed in.
pub(crate) async fn to_test() -> (Served, Profile, Browser) {
    let served = ready_to_test();
    let profile = Profile::new();
    let browser = Browser::of(&served, &profile).await;
    (served, profile, browser)
}

/// A command of the driver that the standard does not know.
#[derive(Debug)]
struct Own(&'static str, Value);

impl WebDriverCompatibleCommand for Own {
    fn endpoint(&self, base: &Url, session: Option<&str>) -> Result<Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.0))
    }

    fn method_and_body(&self, _: &Url) -> (Method, Option<String>) {
        (Method::POST, Some(self.1.to_string()))
    }
}

impl Browser {
    /// A browser with this profile; `more` are arguments of its own.
    pub(crate) async fn open(Profile(profile): &Profile, more: &[String]) -> Self {
        let mut driver = Command::new("chromedriver")
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|cause| panic!("chromedriver did not start: {cause}; run .ci/prepare"));
        let port = port(&mut driver);
        let told = capabilities(profile.path(), more);
        let connected = ClientBuilder::new(HttpConnector::new())
            .capabilities(told.as_object().unwrap().clone())
            .connect(&format!("http://127.0.0.1:{port}"))
            .await;
        let client = match connected {
            Ok(client) => client,
            Err(cause) => {
                driver.kill().ok();
                driver.wait().ok();
                panic!("the browser did not start: {cause}");
            }
        };
        let process = client.capabilities().unwrap()["goog:processID"].as_u64().unwrap();
        let browser = Self { client, process, driver };
        browser.below("Page.enable", json!({})).await;
        browser.below("Accessibility.enable", json!({})).await;
        browser.below("DOM.enable", json!({})).await;
        browser
    }

    /// A browser in which the person of `served` is signed in.
    pub(crate) async fn of(served: &Served, profile: &Profile) -> Self {
        let browser = Self::open(profile, &[]).await;
        browser.sign_in(served).await;
        browser
    }

    /// The person of `served` is signed in from here on.
    pub(crate) async fn sign_in(&self, served: &Served) {
        let (name, value) = served.cookie.split_once('=').unwrap();
        let cookie = json!({ "name": name, "value": value, "url": served.origin });
        self.below("Network.setCookie", cookie).await;
    }

    /// The tab that is looked at.
    pub(crate) async fn tab(&self) -> WindowHandle {
        self.client.window().await.unwrap()
    }

    /// Opens a further tab, and looks at it.
    pub(crate) async fn new_tab(&self) -> WindowHandle {
        let tab = self.client.new_window(true).await.unwrap().handle;
        self.to_tab(&tab).await;
        tab
    }

    /// Looks at another tab.
    pub(crate) async fn to_tab(&self, tab: &WindowHandle) {
        self.client.switch_to_window(tab.clone()).await.unwrap();
    }

    /// A picture of the page as it is seen, as PNG.
    pub(crate) async fn picture(&self) -> Vec<u8> {
        self.client.screenshot().await.unwrap()
    }

    /// Opens an address.
    pub(crate) async fn go(&self, address: &str) {
        self.client.goto(address).await.unwrap_or_else(|cause| panic!("{address}: {cause}"));
    }

    /// Loads the page again, and waits for the new one.
    pub(crate) async fn reload(&self) {
        self.value("window.isOld = true").await;
        self.below("Page.reload", json!({})).await;
        let anew = "window.isOld === undefined && document.readyState === 'complete'";
        self.until(anew, "the page again").await;
    }

    /// The address of the page.
    pub(crate) async fn address(&self) -> Url {
        self.client.current_url().await.unwrap()
    }

    /// Tells the browser something below the page (`DevTools` protocol).
    pub(crate) async fn below(&self, method: &str, parameters: Value) -> Value {
        let command = Own("goog/cdp/execute", json!({ "cmd": method, "params": parameters }));
        let Ok(told) = tokio::time::timeout(PATIENCE, self.client.issue_cmd(command)).await else {
            let asked: String = parameters.to_string().chars().take(400).collect();
            panic!("{method} was not answered within {} s: {asked}", PATIENCE.as_secs());
        };
        told.unwrap_or_else(|cause| panic!("{method}: {cause}"))
    }

    /// Presses a key once, after a pause that the driver makes, not the page: the driver asks the
    /// page before each of its commands, so that one which follows waits for a page that is busy.
    pub(crate) async fn key_after(&self, pause: Duration, key: Key) {
        let value = char::from(key);
        let keys = KeyActions::new("keys".to_owned())
            .then(KeyAction::Pause { duration: pause })
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value });
        let pressed = tokio::time::timeout(PATIENCE, self.client.perform_actions(keys)).await;
        pressed.expect("a key is taken").unwrap();
    }

    /// Gives the page a network, or takes it away.
    pub(crate) async fn network(&self, there: bool) {
        let how = json!({
            "offline": !there, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1
        });
        self.below("Network.enable", json!({})).await;
        self.below("Network.emulateNetworkConditions", how).await;
    }

    /// The value of an expression in the page; a promise is waited for.
    pub(crate) async fn value(&self, expression: &str) -> Value {
        let asked = json!({
            "expression": expression, "awaitPromise": true, "returnByValue": true
        });
        let mut told = self.below("Runtime.evaluate", asked).await;
        assert!(told["exceptionDetails"].is_null(), "{}", told["exceptionDetails"]);
        told["result"]["value"].take()
    }

    /// What the browser has to say against the pages since it was asked last: refusals of the
    /// content policy and faults of scripts. An address with nothing behind it is told as well;
    /// the test that asks for one knows.
    pub(crate) async fn complaints(&self) -> Vec<String> {
        let lines = self.log("browser").await;
        let severe = lines.iter().filter(|line| line["level"] == "SEVERE");
        severe.map(|line| line["message"].as_str().unwrap().to_owned()).collect()
    }

    /// The addresses that were asked for since this was asked last.
    pub(crate) async fn requests(&self) -> Vec<Url> {
        let lines = self.log("performance").await;
        let events = lines
            .iter()
            .map(|line| serde_json::from_str::<Value>(line["message"].as_str().unwrap()).unwrap());
        events
            .filter(|event| event["message"]["method"] == "Network.requestWillBeSent")
            .map(|event| event["message"]["params"]["request"]["url"].as_str().unwrap().to_owned())
            .map(|address| address.parse().unwrap())
            .collect()
    }

    async fn log(&self, kind: &str) -> Vec<Value> {
        let told = self.client.issue_cmd(Own("se/log", json!({ "type": kind }))).await.unwrap();
        told.as_array().unwrap().clone()
    }

    /// Lays the page out for a screen of this size, in CSS pixels, in the light or dark theme.
    pub(crate) async fn screen(&self, (width, height): (u32, u32), theme: &str) {
        let size = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false
        });
        self.below("Emulation.setDeviceMetricsOverride", size).await;
        let scheme = json!({ "features": [{ "name": "prefers-color-scheme", "value": theme }] });
        self.below("Emulation.setEmulatedMedia", scheme).await;
    }
}

impl Drop for Browser {
    /// Killed, not closed: a test that ends in a panic leaves no browser behind, and one that
    /// wants a browser that dies has it.
    fn drop(&mut self) {
        Command::new("kill").args(["-9", &self.process.to_string()]).status().ok();
        self.driver.kill().ok();
        self.driver.wait().ok();
    }
}

/// The port that the driver says it listens on.
fn port(driver: &mut Child) -> u16 {
    let mut said = BufReader::new(driver.stdout.take().unwrap());
    let mut line = String::new();
    while said.read_line(&mut line).unwrap() > 0 {
        if let Some((_, port)) = line.trim_end().trim_end_matches('.').split_once("on port ")
            && line.contains("successfully")
        {
            let port = port.parse().unwrap();
            // What the driver says later must not stop it.
            std::thread::spawn(move || std::io::copy(&mut said, &mut std::io::sink()));
            return port;
        }
        line.clear();
    }
    panic!("chromedriver ended without a port");
}

fn capabilities(profile: &Path, more: &[String]) -> Value {
    let mut arguments: Vec<String> = [
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--autoplay-policy=no-user-gesture-required",
        "--force-color-profile=srgb",
        "--hide-scrollbars",
        // A camera that shows a test picture, and is allowed to.
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
    ]
    .map(str::to_owned)
    .into();
    arguments.push(format!("--user-data-dir={}", profile.display()));
    arguments.extend_from_slice(more);
    json!({
        "goog:chromeOptions": { "args": arguments },
        "goog:loggingPrefs": { "browser": "ALL", "performance": "ALL" },
        "pageLoadStrategy": "normal",
    })
}

/// How long something that must come is waited for before the test says that it did not.
pub(crate) const PATIENCE: Duration = Duration::from_secs(60);

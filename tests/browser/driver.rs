//! Server, driver and browser, each ended with the test.

use fantoccini::actions::{InputSource, KeyAction, KeyActions, MouseActions, PointerAction};
use fantoccini::wd::WebDriverCompatibleCommand;
use fantoccini::{Client, ClientBuilder, Locator};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// The real program, serving.
pub(crate) struct Served {
    child: Child,
    lines: Receiver<String>,
    pub(crate) url: String,
    _data: tempfile::TempDir,
}

impl Served {
    pub(crate) fn start(arguments: &[&str]) -> Self {
        let data = tempfile::tempdir().unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_tintpoint"))
            .arg("serve")
            .args(arguments)
            .env("TINTPOINT_DATA", data.path())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let (told, lines) = channel();
        let out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || out.lines().map_while(Result::ok).for_each(|line| drop(told.send(line))));
        let mut served = Served { child, lines, url: String::new(), _data: data };
        let line = served.line_with("http://");
        served.url = line.trim().trim_end_matches('/').to_owned();
        served
    }

    /// The next line of the terminal with a word in it.
    pub(crate) fn line_with(&self, word: &str) -> String {
        loop {
            let line = self.lines.recv_timeout(Duration::from_secs(20)).unwrap();
            if line.contains(word) {
                return line;
            }
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The accessibility engine, where `.ci/prepare` puts it.
pub(crate) fn axe() -> Option<String> {
    let place = std::env::var_os("TINTPOINT_AXE").map(PathBuf::from);
    let place = place.unwrap_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/browser/package/axe.min.js"));
    std::fs::read_to_string(place).ok()
}

/// Chromium with its driver.
pub(crate) struct Browser {
    driver: Child,
    pub(crate) page: Client,
}

/// Chromium makes no window narrower than this, CSS pixels, and says nothing of it.
const LEAST_WINDOW: u32 = 500;

/// What the browser has noted of one kind.
#[derive(Debug)]
struct Log(&'static str);

impl WebDriverCompatibleCommand for Log {
    fn endpoint(&self, base: &url::Url, session: Option<&str>) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/se/log", session.unwrap_or_default()))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(json!({ "type": self.0 }).to_string()))
    }
}

impl Browser {
    /// A window of that size; one that is narrower than any window of the browser is a phone with a touch screen.
    pub(crate) async fn start((width, height): (u32, u32)) -> Self {
        let mut driver = Command::new("chromedriver").arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut out = BufReader::new(driver.stdout.take().unwrap()).lines();
        let port: u16 = loop {
            let line = out.next().unwrap().unwrap();
            if let Some((_, port)) = line.split_once("started successfully on port ")
                && let Ok(port) = port.trim_end_matches('.').parse()
            {
                break port;
            }
        };
        // What it says later must not fill the pipe.
        std::thread::spawn(move || out.for_each(drop));
        let size = format!("--window-size={width},{height}");
        let mut options = json!({
            "goog:chromeOptions": { "args": ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync", size] },
            "goog:loggingPrefs": { "browser": "ALL", "performance": "ALL" },
        });
        if width < LEAST_WINDOW {
            options["goog:chromeOptions"]["mobileEmulation"] =
                json!({ "deviceMetrics": { "width": width, "height": height, "pixelRatio": 2.0, "touch": true, "mobile": true } });
        }
        let Value::Object(options) = options else { unreachable!() };
        let page = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new())
            .capabilities(options)
            .connect(&format!("http://127.0.0.1:{port}"))
            .await
            .unwrap();
        Browser { driver, page }
    }

    /// Ends the browser when it has complained of nothing and asked no other host for anything.
    pub(crate) async fn end(mut self, served: &Served) {
        let errors = self.noted("browser").await;
        let errors: Vec<&Value> = errors.iter().filter(|entry| entry["level"] == "SEVERE" && !is_refusal(entry)).collect();
        assert!(errors.is_empty(), "{errors:?}");
        let asked: Vec<String> = self.noted("performance").await.iter().filter_map(requested).collect();
        assert!(asked.len() > 3, "{asked:?}");
        for url in asked {
            assert!(
                url.starts_with(&served.url) || url.starts_with("data:") || url.starts_with("chrome:") || url.starts_with("about:"),
                "{url}"
            );
        }
        self.page.clone().close().await.unwrap();
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }

    async fn noted(&self, kind: &'static str) -> Vec<Value> {
        self.page.issue_cmd(Log(kind)).await.unwrap().as_array().unwrap().clone()
    }

    pub(crate) async fn open(&self, url: &str) {
        self.page.goto(url).await.unwrap();
    }

    /// The text of a part, once there is one; a part that goes with its page is looked for anew.
    pub(crate) async fn text(&self, css: &str) -> String {
        let until = std::time::Instant::now() + Duration::from_secs(20);
        loop {
            if let Ok(part) = self.page.find(Locator::Css(css)).await
                && let Ok(text) = part.text().await
            {
                return text;
            }
            assert!(std::time::Instant::now() < until, "no {css} on the page");
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Waits until a part says something.
    pub(crate) async fn says(&self, css: &str, words: &str) {
        let until = std::time::Instant::now() + Duration::from_secs(20);
        while !self.text(css).await.contains(words) {
            assert!(std::time::Instant::now() < until, "{css} does not say `{words}`: {}", self.text(css).await);
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    pub(crate) async fn click(&self, css: &str) {
        self.page.find(Locator::Css(css)).await.unwrap().click().await.unwrap();
    }

    pub(crate) async fn type_into(&self, css: &str, text: &str) {
        self.page.find(Locator::Css(css)).await.unwrap().send_keys(text).await.unwrap();
    }

    /// Presses keys, wherever the focus is.
    pub(crate) async fn press(&self, keys: &[char]) {
        let mut actions = KeyActions::new("keys".to_owned());
        for key in keys {
            actions = actions.then(KeyAction::Down { value: *key }).then(KeyAction::Up { value: *key });
        }
        self.page.perform_actions(actions).await.unwrap();
    }

    /// Drags from one place of the window to another, CSS pixels.
    pub(crate) async fn drag(&self, from: (f64, f64), to: (f64, f64)) {
        let go = |(x, y): (f64, f64)| PointerAction::MoveTo { duration: Some(Duration::from_millis(60)), x, y };
        let actions = MouseActions::new("hand".to_owned())
            .then(go(from))
            .then(PointerAction::Down { button: 0 })
            .then(go((0.5 * (from.0 + to.0), 0.5 * (from.1 + to.1))))
            .then(go(to))
            .then(PointerAction::Up { button: 0 });
        self.page.perform_actions(actions).await.unwrap();
    }

    /// What the accessibility engine finds on the page, all its rules.
    pub(crate) async fn violations(&self) -> Vec<String> {
        let found = self.page.execute(&axe().unwrap(), Vec::new()).await;
        found.unwrap();
        let script = "const done = arguments[arguments.length - 1]; axe.run().then((found) => done(found.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html).join(' | '))));";
        let found = self.page.execute_async(script, Vec::new()).await.unwrap();
        found.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
    }

    /// The page is no wider than this, CSS pixels; a touch screen would show all of a wider one, smaller.
    pub(crate) async fn fits(&self, width: u32) -> bool {
        let script = "return Math.max(document.documentElement.scrollWidth, window.innerWidth)";
        self.page.execute(script, Vec::new()).await.unwrap().as_f64().unwrap() <= f64::from(width)
    }

    /// Keeps a picture of the whole page where `TINTPOINT_SHOTS` names a folder, for those who look at it.
    pub(crate) async fn shot(&self, place: &str) {
        let Some(folder) = std::env::var_os("TINTPOINT_SHOTS") else { return };
        let name: String = place.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).take(60).collect();
        std::fs::write(PathBuf::from(folder).join(name + ".png"), self.page.screenshot().await.unwrap()).unwrap();
    }

    /// Controls that a gloved finger would miss: less than 48 CSS pixels high (WCAG 2.2, 2.5.5, asks for 44), other than links within sentences.
    pub(crate) async fn small_targets(&self) -> Vec<String> {
        let script = "return [...document.querySelectorAll('button, select, input:not([type=hidden]):not([type=radio]):not([type=checkbox]), summary, nav a, .button, label:has(input[type=radio]), label:has(input[type=checkbox])')]\
            .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 48).map((e) => e.outerHTML)";
        let found = self.page.execute(script, Vec::new()).await.unwrap();
        found.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
    }
}

/// A refusal that a walk has provoked stands in the log as well: the browser notes every status from 400 on.
fn is_refusal(entry: &Value) -> bool {
    let message = entry["message"].as_str().unwrap_or_default();
    ["status of 401", "status of 400", "status of 413", "status of 409"].iter().any(|status| message.contains(status))
}

fn requested(entry: &Value) -> Option<String> {
    let message: Value = serde_json::from_str(entry["message"].as_str()?).ok()?;
    let message = &message["message"];
    if message["method"] != "Network.requestWillBeSent" {
        return None;
    }
    message["params"]["request"]["url"].as_str().map(str::to_owned)
}

//! Chromium, led over its DevTools protocol
//! (<https://chromedevtools.github.io/devtools-protocol/>).

use std::io::Write as _;
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tungstenite::{Message, WebSocket};

/// A browser that hangs is a failure, not a wait.
const LONGEST: Duration = Duration::from_secs(60);
/// Set: this browser must be there. Not set: one that is found, or none.
const WANTED: &str = "FOCUSLAG_BROWSER";
const USUAL: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];

/// How a page is looked at.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// CSS pixels.
    pub width: u32,
    /// The system's dark colours.
    pub dark: bool,
    /// As on paper.
    pub print: bool,
}

/// A running browser with one empty tab.
pub struct Browser {
    process: Child,
    socket: WebSocket<TcpStream>,
    session: Option<String>,
    calls: u64,
    heard: Vec<Value>,
    _profile: tempfile::TempDir,
}

/// Not through the test harness, which would keep it to itself.
pub fn say(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

fn runs(name: &str) -> bool {
    let version = Command::new(name).arg("--version").output();
    version.is_ok_and(|v| v.status.success())
}

impl Browser {
    /// Starts one; `None`, said aloud, where there is none.
    pub fn start() -> Option<Self> {
        let wanted = std::env::var(WANTED).ok().filter(|w| !w.is_empty());
        let name = match &wanted {
            Some(name) => {
                assert!(runs(name), "{WANTED} names {name}, which does not run");
                name.as_str()
            }
            None => match USUAL.iter().find(|name| runs(name)) {
                Some(name) => name,
                None => {
                    say("SKIPPED: no Chromium is installed, so the page is not tried in a browser");
                    return None;
                }
            },
        };
        let profile = tempfile::tempdir().unwrap();
        let process = Command::new(name)
            .args(["--headless", "--no-sandbox", "--disable-gpu"])
            .args(["--disable-dev-shm-usage", "--hide-scrollbars"])
            .args(["--no-first-run", "--disable-background-networking"])
            .arg("--remote-debugging-port=0")
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .arg("about:blank")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let socket = connect(&profile.path().join("DevToolsActivePort"));
        let mut browser = Self {
            process,
            socket,
            session: None,
            calls: 0,
            heard: Vec::new(),
            _profile: profile,
        };
        let tab = browser.call("Target.createTarget", json!({ "url": "about:blank" }));
        let flat = json!({ "targetId": tab["targetId"], "flatten": true });
        let session = browser.call("Target.attachToTarget", flat);
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for part in ["Page", "Runtime", "Log", "Network"] {
            browser.call(&format!("{part}.enable"), json!({}));
        }
        Some(browser)
    }

    /// One command of the protocol and its result.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        self.calls += 1;
        let id = self.calls;
        let mut ask = json!({ "id": id, "method": method, "params": params });
        if let Some(session) = &self.session {
            ask["sessionId"] = json!(session);
        }
        self.socket.send(Message::text(ask.to_string())).unwrap();
        loop {
            let mut said = self.next();
            if said["id"] == id {
                assert!(said.get("error").is_none(), "{method}: {said}");
                return said["result"].take();
            }
            self.heard.push(said);
        }
    }

    fn next(&mut self) -> Value {
        loop {
            if let Message::Text(text) = self.socket.read().unwrap() {
                return serde_json::from_str(&text).unwrap();
            }
        }
    }

    /// Loads a page from disk and waits until it is all there.
    pub fn open(&mut self, page: &Path, look: Look) {
        let size = json!({
            "width": look.width, "height": 800, "deviceScaleFactor": 1, "mobile": look.width < 600
        });
        self.call("Emulation.setDeviceMetricsOverride", size);
        let scheme = if look.dark { "dark" } else { "light" };
        let media = json!({
            "media": if look.print { "print" } else { "" },
            "features": [{ "name": "prefers-color-scheme", "value": scheme }]
        });
        self.call("Emulation.setEmulatedMedia", media);
        self.heard.clear();
        let url = format!("file://{}", page.display());
        self.call("Page.navigate", json!({ "url": url }));
        let loaded = |e: &Value| e["method"] == "Page.loadEventFired";
        while !self.heard.iter().any(loaded) {
            let event = self.next();
            self.heard.push(event);
        }
    }

    /// What an expression in the page gives.
    pub fn evaluate(&mut self, script: &str) -> Value {
        let ask = json!({ "expression": script, "awaitPromise": true, "returnByValue": true });
        let mut said = self.call("Runtime.evaluate", ask);
        assert!(said.get("exceptionDetails").is_none(), "{said}");
        said["result"]["value"].take()
    }

    /// What the console was told, and what was asked for beyond the page itself.
    pub fn noise(&mut self) -> Vec<String> {
        // Everything said so far is in once this has an answer.
        let own = self.evaluate("document.location.href");
        let mut noise = Vec::new();
        for event in &self.heard {
            match event["method"].as_str().unwrap_or("") {
                method @ ("Runtime.consoleAPICalled"
                | "Runtime.exceptionThrown"
                | "Log.entryAdded") => {
                    noise.push(format!("console: {method} {}", event["params"]));
                }
                "Network.requestWillBeSent" => {
                    let url = &event["params"]["request"]["url"];
                    let inside = url.as_str().is_some_and(|u| u.starts_with("data:"));
                    if url != &own && !inside {
                        noise.push(format!("request: {url}"));
                    }
                }
                _ => {}
            }
        }
        noise
    }
}

/// Waits for the browser to say where it listens: a port and a path.
fn connect(told: &Path) -> WebSocket<TcpStream> {
    let begun = Instant::now();
    loop {
        assert!(begun.elapsed() < LONGEST, "the browser does not start");
        let text = std::fs::read_to_string(told).unwrap_or_default();
        if let Some((port, path)) = text.split_once('\n').filter(|(_, path)| !path.is_empty()) {
            let place = format!("127.0.0.1:{port}");
            let stream = TcpStream::connect(&place).unwrap();
            stream.set_read_timeout(Some(LONGEST)).unwrap();
            let url = format!("ws://{place}{}", path.trim());
            return tungstenite::client(url, stream).unwrap().0;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

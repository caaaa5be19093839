//! The page in a real browser, where there is one.

use std::process::{Command, Output};
use std::time::{Duration, Instant};

use crate::bench::{Bench, NASTY};

/// A browser that hangs is a failure, not a wait.
const LONGEST: Duration = Duration::from_secs(60);

/// Runs headless Chromium on a page; `None`, with a note, where there is none.
fn browse(bench: &Bench, page: &str, args: &[&str]) -> Option<(Output, Duration)> {
    let names = ["chromium", "chromium-browser", "google-chrome"];
    let found = names
        .iter()
        .find(|n| Command::new(n).arg("--version").output().is_ok());
    let Some(browser) = found else {
        println!("skipped: no Chromium is installed");
        return None;
    };
    let begun = Instant::now();
    let out = Command::new(browser)
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--hide-scrollbars",
        ])
        .args(["--enable-logging=stderr", "--timeout=30000"])
        .arg(format!(
            "--user-data-dir={}",
            bench.path("profile").display()
        ))
        .args(args)
        .arg(format!("file://{}", bench.path(page).display()))
        .output()
        .unwrap();
    Some((out, begun.elapsed()))
}

#[test]
fn no_script_runs_and_the_console_stays_empty() {
    let bench = Bench::new();
    let mut args = vec!["report".to_owned(), "-o".to_owned(), "a.html".to_owned()];
    for (k, name) in NASTY.iter().enumerate() {
        let path = bench.setup(&format!("n{k}"), name, 1, 6, true);
        args.push(path.display().to_string());
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    assert!(bench.run(&args).status.success());
    let Some((out, took)) = browse(&bench, "a.html", &["--dump-dom"]) else {
        return;
    };
    let log = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(!log.contains("CONSOLE"), "{log}");
    let dom = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(dom.trim_end().ends_with("</html>"), "{log}");
    assert!(!dom.contains("<script") && dom.contains("Before you rely on this"));
    assert!(took < LONGEST, "{took:?}");
}

#[test]
fn it_prints_and_fits_a_phone() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 2, 8, true);
    assert!(
        bench
            .run(&["report", path.to_str().unwrap(), "-o", "a.html"])
            .status
            .success()
    );
    let pdf = format!("--print-to-pdf={}", bench.path("a.pdf").display());
    let Some(_) = browse(&bench, "a.html", &[&pdf]) else {
        return;
    };
    assert!(
        std::fs::read(bench.path("a.pdf"))
            .unwrap()
            .starts_with(b"%PDF")
    );
    let picture = format!("--screenshot={}", bench.path("a.png").display());
    browse(&bench, "a.html", &["--window-size=360,800", &picture]);
    let seen = image::open(bench.path("a.png")).unwrap().into_rgb8();
    // Paper at the right edge: nothing reaches beyond a phone's width.
    let paper = *seen.get_pixel(2, seen.height() - 2);
    let edge = (100..seen.height()).filter(|y| *seen.get_pixel(seen.width() - 1, *y) == paper);
    assert!(edge.count() + 100 > seen.height() as usize * 9 / 10);
}

/// Asks for names of rules broken, with an example each, as the page's title.
const ASK: &str = "axe.run(document,{runOnly:['wcag2a','wcag2aa','wcag21a','wcag21aa','wcag22aa',\
                   'best-practice']}).then(r=>{document.body.textContent='CHECKED '+r.passes.length+\
                   ' BROKEN '+JSON.stringify(r.violations.map(v=>[v.id,v.nodes[0].html]))},\
                   e=>{document.body.textContent='FAILED '+e})";

/// The page with an accessibility checker in it: rules passed, rules broken.
fn checked(bench: &Bench, page: &str, checker: &str) -> Option<(usize, String)> {
    // The page's own policy forbids scripts: it is lifted for the copy.
    let open = page.replace("http-equiv=\"Content-Security-Policy\"", "name=\"lifted\"");
    let with = open.replace(
        "</body>",
        &format!("<script>{checker}</script><script>{ASK}</script></body>"),
    );
    std::fs::write(bench.path("checked.html"), with).unwrap();
    let args = ["--virtual-time-budget=60000", "--dump-dom"];
    let (out, _) = browse(bench, "checked.html", &args)?;
    let dom = String::from_utf8_lossy(&out.stdout).into_owned();
    let told = dom.split("CHECKED ").nth(1).expect(&dom);
    let (passed, rest) = told.split_once(" BROKEN ").expect(told);
    let broken = rest.split("</body>").next().unwrap_or(rest);
    Some((passed.parse().unwrap(), broken.trim().to_owned()))
}

/// With the checker axe-core (its `axe.min.js` named by `FOCUSLAG_AXE`, as
/// `.ci/run` does): rules of WCAG 2.0 to 2.2, levels A and AA, and its good
/// practice.
#[test]
fn an_accessibility_checker_finds_nothing() {
    let Some(checker) = std::env::var_os("FOCUSLAG_AXE") else {
        println!("skipped: no accessibility checker is named by FOCUSLAG_AXE");
        return;
    };
    let checker = std::fs::read_to_string(checker).unwrap();
    let bench = Bench::new();
    let amber = bench.setup("kit-amber", "kit-amber", 2, 8, true);
    let slate = bench.setup("kit-slate", "kit-slate", 2, 8, true);
    let (amber, slate) = (amber.to_str().unwrap(), slate.to_str().unwrap());
    let made = bench.run(&["report", amber, slate, "-o", "a.html"]);
    assert!(made.status.success());
    let page = std::fs::read_to_string(bench.path("a.html")).unwrap();
    let Some((passed, broken)) = checked(&bench, &page, &checker) else {
        return;
    };
    assert!(passed > 15 && broken == "[]", "{passed} passed; {broken}");
    // It does look: a page without a language is told.
    let mute = page.replacen("lang=\"en\"", "", 1);
    assert_ne!(mute, page);
    let (_, broken) = checked(&bench, &mute, &checker).unwrap();
    assert!(broken.contains("html-has-lang"), "{broken}");
}

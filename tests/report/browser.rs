//! The page in a real browser, where there is one.

use base64::Engine as _;
use serde_json::{Value, json};

use crate::bench::{Bench, NASTY, text};
use crate::devtools::{Browser, Look};
use crate::faults::{checker, faults};

const WIDE: Look = Look {
    width: 1280,
    dark: false,
    print: false,
};
const PHONE: Look = Look { width: 360, ..WIDE };
/// A4 without margins of 14 mm, at 96 CSS pixels to the inch.
const PAPER: Look = Look {
    width: 688,
    print: true,
    ..WIDE
};

fn report(bench: &Bench, setups: &[(&str, u32, u32)]) {
    let mut args = vec!["report".to_owned(), "-o".to_owned(), "a.html".to_owned()];
    for (k, (name, clips, trials)) in setups.iter().enumerate() {
        let path = bench.setup(&format!("n{k}"), name, *clips, *trials, true);
        args.push(path.display().to_string());
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let done = bench.run(&args);
    assert!(done.status.success(), "{done:?}");
}

#[test]
fn a_page_has_no_fault_on_a_desk_a_phone_or_paper_whatever_its_names() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let bench = Bench::new();
    let long = "langer name ".repeat(25);
    let mut setups = vec![("kit-amber", 2, 6), ("kit-cobalt", 1, 6), (&*long, 1, 6)];
    setups.extend(NASTY.iter().map(|name| (*name, 1, 6)));
    report(&bench, &setups);
    let dark = |look| Look { dark: true, ..look };
    let tablet = Look { width: 768, ..WIDE };
    let looks = [WIDE, dark(WIDE), tablet, PHONE, dark(PHONE), PAPER];
    for look in looks {
        let found = faults(&mut browser, &bench.path("a.html"), look);
        assert!(found.is_empty(), "{look:?}: {found:#?}");
    }
    let words = browser.evaluate("document.body.innerText");
    let words = words.as_str().unwrap();
    assert!(words.contains("Before you rely on this") && words.contains(NASTY[0]));
}

/// Each check, on a page that is broken on purpose.
#[test]
fn a_broken_page_is_noticed() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let bench = Bench::new();
    report(&bench, &[("kit-amber", 1, 4)]);
    let whole = text(&bench.path("a.html"));
    let open = whole.replacen("Content-Security-Policy", "x", 1);
    let with = |page: &str, more: &str| page.replacen("</main>", &format!("{more}</main>"), 1);
    let pixel =
        "<img src=\"data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///ywAAAAAAQABAAACAUwAOw==\">";
    let pale = "<p style=\"background:#fff;color:#eee\">pale words</p>";
    let thin = "<table><tr><th style=\"display:block;width:1rem;min-width:0;white-space:normal;\
                overflow-wrap:anywhere\"><bdi>kit-slate</bdi></table>";
    let undark = whole.replace("prefers-color-scheme:dark", "prefers-color-scheme:no");
    let dark = Look { dark: true, ..WIDE };
    let mut broken = vec![
        (with(&whole, "<script>alert(1)</script>"), WIDE, "console: "),
        (
            with(&open, "<script>console.log(1)</script>"),
            WIDE,
            "console: ",
        ),
        (
            with(&open, "<img alt=far src=\"http://127.0.0.1:9/a.png\">"),
            WIDE,
            "request: ",
        ),
        (with(&whole, pixel), WIDE, "no alternative: <img"),
        (
            with(&whole, "<svg role=img></svg>"),
            WIDE,
            "no alternative: <svg",
        ),
        (
            with(&whole, "<div style=\"width:900px\">far</div>"),
            PHONE,
            "wider than 360",
        ),
        (
            with(&whole, "<div style=\"width:900px\">far</div>"),
            PAPER,
            "wider than 688",
        ),
        (with(&whole, thin), PHONE, "torn: kit-slate"),
        (undark, dark, "not dark"),
    ];
    if checker().is_some() {
        broken.push((with(&whole, pale), WIDE, "accessibility: color-contrast"));
    }
    for (page, look, words) in broken {
        std::fs::write(bench.path("b.html"), page).unwrap();
        let found = faults(&mut browser, &bench.path("b.html"), look);
        let noticed = found.iter().any(|f| f.starts_with(words));
        assert!(noticed, "{words}: {found:#?}");
    }
}

/// What a phone shows without a finger moving sideways. Smallest letters of the
/// picture: ten CSS pixels (common practice, no source).
#[test]
fn a_phone_shows_picture_rate_time_and_stills_at_full_width() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let bench = Bench::new();
    report(&bench, &[("kit-amber", 1, 6), ("kit-cobalt", 1, 6)]);
    browser.open(&bench.path("a.html"), PHONE);
    let smallest = browser.evaluate(
        "Math.min(...[...document.querySelectorAll('.glance svg text')].map(t => \
         parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a))",
    );
    assert!(smallest.as_f64().unwrap() >= 10.0, "{smallest} px");
    let above = browser.evaluate(
        "document.querySelector('.glance').getBoundingClientRect().y < \
         document.querySelector('.lead').getBoundingClientRect().y",
    );
    assert_eq!(above, true);
    // Setup, side, hit rate and time lie within the table's own box.
    let inside = browser.evaluate(
        "(box => [...box.querySelectorAll('thead th')].slice(0, 4).every(th => \
         th.getBoundingClientRect().right <= box.getBoundingClientRect().right))\
         (document.querySelector('#setups .scroll'))",
    );
    assert_eq!(inside, true);
    let words = browser.evaluate("document.querySelector('#setups thead').innerText");
    let words: Vec<&str> = words.as_str().unwrap().split_whitespace().collect();
    assert!(
        words
            .join(" ")
            .starts_with("Setup Side Hit rate Half in focus by"),
        "{words:?}"
    );
    let narrow = browser.evaluate(
        "[...document.querySelectorAll('div.trial .film')].every(film => \
         [...film.querySelectorAll('img:not(.scr)')].every(img => img.width >= film.clientWidth - 2))",
    );
    assert_eq!(narrow, true);
}

#[test]
fn it_prints_on_a4() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let bench = Bench::new();
    report(&bench, &[("kit-slate", 2, 8)]);
    browser.open(&bench.path("a.html"), WIDE);
    let ask = json!({ "preferCSSPageSize": true, "printBackground": true });
    let pdf = bytes(&browser.call("Page.printToPDF", ask));
    let pdf = String::from_utf8_lossy(&pdf).into_owned();
    let boxes: Vec<&str> = pdf.split("/MediaBox [").skip(1).collect();
    assert!((3..=8).contains(&boxes.len()), "{} pages", boxes.len());
    for page in boxes {
        let size: Vec<f64> = page
            .split([' ', ']'])
            .take(4)
            .map(|n| n.parse().unwrap())
            .collect();
        // ISO 216: 210 × 297 mm, at 72 points to the inch.
        assert!((size[2] - 595.3).abs() < 1.0, "{size:?}");
        assert!((size[3] - 841.9).abs() < 1.0, "{size:?}");
    }
}

#[test]
fn the_largest_report_opens_within_two_seconds() {
    let Some(mut browser) = Browser::start() else {
        return;
    };
    let bench = Bench::new();
    let names: Vec<String> = (0..6).map(|k| format!("kit-{k}")).collect();
    let setups: Vec<(&str, u32, u32)> = names.iter().map(|n| (n.as_str(), 5, 40)).collect();
    report(&bench, &setups);
    // Time of the page's own thread: what a clock on the wall says while nothing
    // else is at work, and other tests are.
    browser.call("Performance.enable", json!({ "timeDomain": "threadTicks" }));
    let mut took = Vec::new();
    for _ in 0..3 {
        let begun = busy_s(&mut browser);
        browser.open(&bench.path("a.html"), WIDE);
        let wall = browser.evaluate(
            "(async () => { await new Promise(requestAnimationFrame); return performance.now() })()",
        );
        let ended = busy_s(&mut browser);
        // Another process may have taken over the tab.
        let own = if ended > begun { ended - begun } else { ended };
        took.push(own);
        println!("opened in {own:.2} s of its own, {wall} ms on the wall");
    }
    // A tab that was taken over says little of its own time, but not every one is.
    let longest = took.iter().copied().fold(0.0, f64::max);
    assert!(longest > 0.05 && longest < 2.0, "{took:?} s");
    let rows = browser.evaluate("document.querySelectorAll('details.trial').length");
    assert_eq!(rows, 1200);
}

/// How long the page's thread has been at work, s.
fn busy_s(browser: &mut Browser) -> f64 {
    let said = browser.call("Performance.getMetrics", json!({}));
    let metrics = said["metrics"].as_array().unwrap();
    let task = metrics.iter().find(|m| m["name"] == "TaskDuration");
    task.unwrap()["value"].as_f64().unwrap()
}

fn bytes(result: &Value) -> Vec<u8> {
    let data = result["data"].as_str().unwrap();
    base64::engine::general_purpose::STANDARD
        .decode(data)
        .unwrap()
}

/// Draws what the README shows from the sample's results: see DEVELOPERS.
#[test]
#[ignore = "writes .readme/*.png; needs target/sample"]
fn draw_the_pictures_of_the_readme() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let sample = root.join("target/sample");
    let mut browser = Browser::start().expect("a Chromium to draw with");
    let bench = Bench::new();
    let mut args = vec!["report".to_owned(), "-o".to_owned(), "a.html".to_owned()];
    for kit in ["amber", "slate", "cobalt"] {
        let file = sample.join(format!("kit-{kit}.timing.json"));
        assert!(
            file.exists(),
            "{}: run .setup/run-sample first",
            file.display()
        );
        args.push(file.display().to_string());
    }
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    assert!(bench.run(&args).status.success());
    let parts = [
        ("latencies", "#latencies .stack", 1100, 0.75),
        ("trials", "#strip .grid", 1100, 0.75),
        (
            "worst",
            "#trials div.trial:nth-of-type(3) .look",
            1100,
            0.55,
        ),
    ];
    for (name, part, width, scale) in parts {
        browser.open(&bench.path("a.html"), Look { width, ..WIDE });
        let place = browser.evaluate(&format!(
            "(b => ({{ x: b.x - 8, y: b.y + scrollY - 8, width: b.width + 16, height: b.height + 16, \
             scale: {scale} }}))(document.querySelector('{part}').getBoundingClientRect())"
        ));
        let ask = json!({ "clip": place, "captureBeyondViewport": true });
        let picture = bytes(&browser.call("Page.captureScreenshot", ask));
        let file = root.join(format!(".readme/{name}.png"));
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(&file, &picture).unwrap();
        println!("{}: {} bytes", file.display(), picture.len());
        assert!(picture.len() < 60_000, "{name} is too large for a README");
    }
}

//! The page itself.

use crate::bench::{Bench, NASTY, tags, text};

/// What a page may not hold, whatever its setups are called.
fn harmless(page: &str) {
    for wrong in [
        "http://",
        "https://",
        "<script",
        "javascript:",
        "onerror=alert(1)>",
        "\u{202e}",
    ] {
        assert!(!page.contains(wrong), "{wrong}");
    }
    for name in ["img", "link", "a", "image", "use"] {
        for tag in tags(page, name) {
            for key in [" src=\"", " href=\""] {
                let Some(at) = tag.find(key) else { continue };
                let value = &tag[at + key.len()..];
                let inside = value.starts_with("data:image/jpeg;") || value.starts_with('#');
                assert!(inside, "{}", &tag[..tag.len().min(120)]);
            }
        }
    }
    for img in tags(page, "img") {
        let alt = img.find(" alt=\"").map(|at| &img[at + 6..]);
        assert!(
            alt.is_some_and(|a| !a.starts_with('"')),
            "an image without words"
        );
    }
    for plot in tags(page, "svg")
        .iter()
        .filter(|t| t.contains("class=\"plot\""))
    {
        assert!(plot.contains("role=\"img\""), "{plot}");
    }
    let count = |what: &str| page.matches(what).count();
    assert_eq!(count("<title>"), count("role=\"img\"") + 1);
    assert_eq!(count("<desc>"), count("role=\"img\""));
    for head in tags(page, "th") {
        assert!(head.contains(" scope=\""), "{head}");
    }
}

#[test]
fn nasty_names_break_nothing() {
    let bench = Bench::new();
    let mut names: Vec<String> = NASTY.iter().map(|n| (*n).to_owned()).collect();
    names.push("langer name ".repeat(25));
    let mut args = vec!["report".to_owned()];
    for (k, name) in names.iter().enumerate() {
        let path = bench.setup(&format!("kit-{k}"), name, 2, 8, true);
        args.push(path.display().to_string());
    }
    args.extend(["-o", "all.html"].map(str::to_owned));
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let done = bench.run(&args);
    assert!(done.status.success(), "{done:?}");
    let page = text(&bench.path("all.html"));
    harmless(&page);
    assert!(page.contains("<bdi>&lt;script&gt;alert(1)&lt;/script&gt;</bdi>"));
    assert!(page.contains("ערכת נמל"));
    // Nothing else came into the folder.
    let files = std::fs::read_dir(bench.path("")).unwrap().count();
    assert_eq!(files, 2 * names.len() + 1);
    // And the same bytes again.
    assert!(bench.run(&args).status.success());
    assert_eq!(text(&bench.path("all.html")), page);
}

#[test]
fn a_large_report_stays_below_eight_mebibytes() {
    let bench = Bench::new();
    let paths: Vec<String> = (0..6)
        .map(|k| {
            let name = format!("kit-{k}");
            bench.setup(&name, &name, 5, 40, true).display().to_string()
        })
        .collect();
    let mut args: Vec<&str> = vec!["report", "--json", "-o", "large.html"];
    args.extend(paths.iter().map(String::as_str));
    let done = bench.run(&args);
    assert!(done.status.success(), "{done:?}");
    let said: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    let bytes = said["bytes"].as_u64().unwrap();
    println!("{said}");
    assert!(bytes < 8 << 20, "{bytes}");
    assert_eq!(said["trials"], 1200);
    assert_eq!(said["stills"]["kept_for"], 1200);
    // Some stills are there, and the page says that others are not.
    assert!(said["stills"]["in_page"].as_u64().unwrap() >= 18, "{said}");
    let page = text(&bench.path("large.html"));
    harmless(&page);
    assert!(page.contains("of 1200 trials that have some"));
    assert_eq!(page.matches("<details class=\"trial\">").count(), 1200);
}

#[test]
fn without_evidence_the_page_says_so() {
    let bench = Bench::new();
    let bare = bench.setup("kit-slate", "kit-slate", 1, 8, false);
    let done = bench.run(&["report", bare.to_str().unwrap(), "-o", "-"]);
    assert!(done.status.success());
    let page = String::from_utf8(done.stdout).unwrap();
    assert!(page.contains("Evidence that is missing") && page.contains("kit-slate.evidence.zip"));
    assert!(page.contains("No stills are kept for these trials."));
    assert!(String::from_utf8_lossy(&done.stderr).contains("no evidence file"));
    harmless(&page);
}

#[test]
fn what_is_gone_from_the_evidence_is_said_and_not_fatal() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 1, 8, false);
    let file = path.to_str().unwrap();
    let made = |words: &str| {
        let done = bench.run(&["report", file, "-o", "a.html"]);
        assert!(done.status.success(), "{done:?}");
        let page = text(&bench.path("a.html"));
        harmless(&page);
        assert!(page.contains(words), "{words}");
        let shown = bench.run(&["show", file, "--png", "a.png"]);
        assert!(shown.status.success(), "{shown:?}");
    };
    bench.spoiled(&path, |pack| pack.index.clips[0].curve = None);
    made("No curve is kept for this trial.");
    bench.spoiled(&path, |pack| pack.index.clips[0].trials.truncate(3));
    made("No stills are kept for this trial.");
    bench.spoiled(&path, |pack| pack.pictures.clear());
    made("24 of its stills are gone from it");
    made("3 of its 3 stills are gone from the evidence file.");
    // A page that was to have none lacks none.
    let done = bench.run(&["report", file, "-o", "none.html", "--stills", "none"]);
    assert!(done.status.success(), "{done:?}");
    assert!(!text(&bench.path("none.html")).contains("gone from"));
    let shown = bench.run(&["show", file]);
    let shown = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(
        shown.contains("3 of the stills of this trial are gone"),
        "{shown}"
    );
    bench.spoiled(&path, |pack| pack.index.clips.clear());
    made("Evidence that is missing");
}

#[test]
fn a_damaged_evidence_file_is_said_and_not_fatal() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 1, 8, true);
    let zip = bench.path("kit-slate.evidence.zip");
    let bytes = std::fs::read(&zip).unwrap();
    for cut in [0, 10, bytes.len() / 2, bytes.len() - 30] {
        std::fs::write(&zip, &bytes[..cut]).unwrap();
        let done = bench.run(&["report", path.to_str().unwrap(), "-o", "a.html"]);
        assert!(done.status.success(), "{done:?}");
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(said.contains("cannot be used as evidence"), "{said}");
    }
}

#[test]
fn requests_that_are_wrong_are_refused() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 1, 8, false);
    let path = path.to_str().unwrap();
    std::fs::write(bench.path("letter.html"), "<p>Dear harbour master</p>").unwrap();
    for (args, words) in [
        (
            vec!["report", path, "-o", "letter.html"],
            "is not a page that focuslag report wrote",
        ),
        (vec!["report", path, "-o", path], "is not a page"),
        (vec!["report", "no.json", "-o", "a.html"], "no.json"),
        (vec!["report", path, "-o", "no/a.html"], "does not exist"),
        (
            vec!["report", path, "-o", "-", "--json"],
            "both go to standard output",
        ),
    ] {
        let done = bench.run(&args);
        assert_eq!(done.status.code(), Some(2), "{args:?} {done:?}");
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(said.contains(words), "{said}");
    }
    assert_eq!(
        text(&bench.path("letter.html")),
        "<p>Dear harbour master</p>"
    );
    let forced = bench.run(&["report", path, "-o", "letter.html", "--force"]);
    assert!(forced.status.success());
}

/// A full disk ends with 1 and leaves nothing behind.
#[cfg(target_os = "linux")]
#[test]
fn a_place_that_cannot_be_written_is_a_failure() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 1, 8, false);
    let done = bench.run(&["report", path.to_str().unwrap(), "-o", "/proc/a.html"]);
    assert_eq!(done.status.code(), Some(1), "{done:?}");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(said.contains("/proc/a.html: cannot be written"), "{said}");
}

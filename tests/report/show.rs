//! One trial up close.

use crate::bench::{Bench, NASTY, text};

#[test]
fn a_trial_in_text_csv_png_and_a_log() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 2, 8, true);
    let path = path.to_str().unwrap();
    let done = bench.run(&[
        "show",
        path,
        "--trial",
        "kit-slate-1:2",
        "--png",
        "a.png",
        "--csv",
        "a.csv",
        "--hdr-log",
        "a.hlog",
    ]);
    assert!(done.status.success(), "{done:?}");
    let shown = String::from_utf8_lossy(&done.stdout).into_owned();
    assert!(shown.contains("kit-slate-1.mp4, trial 2, near"), "{shown}");
    assert!(
        shown.contains("   4‰ ┤")
            && shown.contains("judged at             δ 2.0 ‰")
            && shown.contains("o onset"),
        "{shown}"
    );
    assert!(
        std::fs::read(bench.path("a.png"))
            .unwrap()
            .starts_with(b"\x89PNG")
    );
    let mut table = csv::Reader::from_path(bench.path("a.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    // A window of 1.5 s and 0.25 s around it, 60 updates a second.
    let updates = rows.iter().filter(|r| &r[6] == "update").count();
    assert!((118..=122).contains(&updates), "{updates}");
    let log = text(&bench.path("a.hlog"));
    let last = log.lines().last().unwrap();
    assert!(
        log.starts_with("#[Histogram log format version 1.3]"),
        "{log}"
    );
    assert!(last.starts_with("Tag=kit-slate,0.000,1200.000,"), "{log}");
    // Written again over itself without a word.
    let again = bench.run(&["show", path, "--png", "a.png", "--hdr-log", "a.hlog", "-q"]);
    assert!(again.status.success(), "{again:?}");
}

#[test]
fn json_is_one_document_and_dashes_are_files() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 1, 6, true);
    let done = bench.run(&["show", path.to_str().unwrap(), "--json"]);
    let said: serde_json::Value = serde_json::from_slice(&done.stdout).unwrap();
    assert!(
        said["picked"]
            .as_str()
            .unwrap()
            .starts_with("The worst trial")
    );
    assert_eq!(said["stills"].as_array().unwrap().len(), 3);
    let signal = &said["signal"];
    let n = signal["sharpness"].as_array().unwrap().len();
    assert_eq!(signal["after_onset_ms"].as_array().unwrap().len(), n);
    let csv = bench.run(&["show", path.to_str().unwrap(), "--csv", "-"]);
    assert!(csv.stdout.starts_with(b"setup,clip,trial,"));
    let mut piped = assert_cmd::Command::cargo_bin("focuslag").unwrap();
    let piped = piped
        .args(["show", "-"])
        .write_stdin(std::fs::read(&path).unwrap());
    let piped = piped.output().unwrap();
    let shown = String::from_utf8_lossy(&piped.stdout).into_owned();
    assert!(
        shown.contains("No curve is kept") && shown.contains("no folder"),
        "{shown}"
    );
}

#[test]
fn names_are_no_formulas_and_no_control_codes() {
    let bench = Bench::new();
    let mut names: Vec<String> = NASTY.iter().map(|n| (*n).to_owned()).collect();
    names.push("kit, amber\n#[Log format: 2]".to_owned());
    names.push("\t@langer name/".repeat(25));
    for (k, name) in names.iter().enumerate() {
        let path = bench.setup(&format!("n{k}"), name, 1, 4, true);
        let path = path.to_str().unwrap();
        let csv = bench.run(&["show", path, "--csv", "-"]);
        let csv = String::from_utf8(csv.stdout).unwrap();
        let mut read = csv::Reader::from_reader(csv.as_bytes());
        for row in read.records().map(Result::unwrap) {
            for column in [0, 1, 5] {
                assert!(!row[column].starts_with(['=', '+', '-', '@']), "{row:?}");
            }
        }
        let log = bench.run(&["show", path, "--hdr-log", "-"]);
        let log = String::from_utf8(log.stdout).unwrap();
        let (last, head) = log
            .trim_end()
            .rsplit_once('\n')
            .map(|(h, l)| (l, h))
            .unwrap();
        assert!(
            last.starts_with("Tag=") && last.matches(',').count() == 4,
            "{log}"
        );
        assert!(head.lines().all(|l| l.starts_with(['#', '"'])), "{log}");
        let shown = bench.run(&["show", path]);
        let shown = String::from_utf8(shown.stdout).unwrap();
        let control = |c: char| c.is_control() && c != '\n';
        assert!(
            !shown.contains(control) && !shown.contains('\u{202e}'),
            "{shown:?}"
        );
        let png = bench.run(&["show", path, "--png", &format!("n{k}.png")]);
        assert!(png.status.success(), "{png:?}");
    }
}

#[test]
fn wrong_requests_are_refused_by_name() {
    let bench = Bench::new();
    let path = bench.setup("kit-slate", "kit-slate", 2, 6, false);
    let path = path.to_str().unwrap();
    std::fs::write(bench.path("a.txt"), "letter").unwrap();
    for (args, words) in [
        (
            vec!["show", path, "--trial", "kit-slate-1.mp4:99"],
            "its trials are 0 to 5",
        ),
        (vec!["show", path, "--trial", "amber:0"], "no clip `amber`"),
        (vec!["show", path, "--csv", "a.txt"], "is not a table"),
        (
            vec!["show", path, "--png", "-"],
            "does not go to standard output",
        ),
        (
            vec!["show", path, "--csv", "-", "--json"],
            "both go to standard output",
        ),
    ] {
        let done = bench.run(&args);
        assert_eq!(done.status.code(), Some(2), "{args:?} {done:?}");
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(said.contains(words), "{said}");
    }
    assert_eq!(text(&bench.path("a.txt")), "letter");
    let list = bench.run(&["show", path, "--list"]);
    let list = String::from_utf8_lossy(&list.stdout).into_owned();
    assert_eq!(list.matches("kit-slate-").count(), 12, "{list}");
}

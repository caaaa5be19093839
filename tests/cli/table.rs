//! All trials as one table.

use std::collections::BTreeMap;

use serde_json::{Value, json};

use super::bench::{Bench, Told, content};

type Row = BTreeMap<String, String>;

/// Read back by another's reader (the csv crate), which refuses rows of unequal length.
fn rows(text: &str) -> Vec<Row> {
    let mut read = csv::Reader::from_reader(text.as_bytes());
    let rows = read.deserialize().collect::<Result<_, _>>();
    rows.unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// The name as it was: an apostrophe that keeps a spreadsheet from calculating goes.
fn name(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest)
            if rest
                .trim_start_matches('\'')
                .trim_start()
                .starts_with(['=', '+', '-', '@']) =>
        {
            rest
        }
        _ => cell,
    }
}

/// A timing file with the fixed keys alone.
fn made(name: &str, tags: Value, clip: &str, cue: &str) -> Value {
    let trial = |index: u32, side: &str, verdict: &str, reason: Value, settle: Value, ms: Value| {
        json!({
            "index": index, "side": side, "verdict": verdict, "reason": reason, "early": false,
            "move_s": 1.01, "onset_s": 1.204, "reaction_s": null, "settle_s": settle,
            "end_s": 2.704, "latency_ms": ms, "latency_corrected_ms": null,
            "uncertainty_ms": 6.9, "reversals": 2, "relapses": 0,
            "overshoot_permille": 1e-7, "onset_seen": "screen", "delta_permille": 4.0,
            "hit_limit_permille": 4.0, "reference_from": "hand", "close_call": false,
            "blur_permille": { "onset": 31.0, "end": -0.123_456_789_012_345_68, "end_u": 0.3 },
            "cues": { cue: { "shown_s": 1.402, "latency_ms": 198.0 } }
        })
    };
    json!({
        "format": "focuslag-timing", "version": 1,
        "setup": { "name": name, "tags": tags },
        "rig": { "stimulus": { "kind": "swing" } },
        "measure": { "name": "blur", "version": 1, "settle_permille": 4.0, "hit_permille": 4.0 },
        "made_by": {},
        "clips": [ {
            "path": clip, "sha256": "ab", "frames": 1440, "duration_s": 6.0, "capture_fps": 240.0,
            "screen": { "corners": null, "refresh_hz": null }, "least_permille": 1.4,
            "live_view_lag_ms": 58.1, "warnings": [], "error": null,
            "trials": [
                trial(0, "near", "hit", Value::Null, 1.523.into(), 319.0.into()),
                trial(1, "far", "void", "excluded: \"door\", open\nagain".into(), Value::Null, Value::Null),
                trial(2, "near", "void", "cut".into(), Value::Null, Value::Null),
            ]
        } ]
    })
}

#[test]
fn a_timed_session_reads_back_to_the_numbers_of_its_files() {
    let bench = Bench::new();
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\ntags = { firmware = \"2.0\" }\nclips = [\"good.mp4\"]\n\
         [[exclude]]\nclip = \"good.mp4\"\ntrial = 1\nreason = \"somebody walked through\"\n",
    );
    assert_eq!(bench.run("time session.toml").code, 0);
    let told = bench.run("table kit-amber.timing.json");
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{told:?}");
    let timing: Value =
        serde_json::from_slice(&content(&bench.path("kit-amber.timing.json"))).unwrap();
    let trials = timing["clips"][0]["trials"].as_array().unwrap();
    let rows = rows(&told.out);
    assert_eq!(rows.len(), trials.len());
    assert_eq!(rows[1]["reason"], "excluded: somebody walked through");
    for (row, trial) in rows.iter().zip(trials) {
        let own = |place: &str| trial.pointer(place).unwrap_or(&Value::Null).clone();
        let mut seen = 0;
        for (key, value) in row {
            let place = match key.as_str() {
                "trial" => "/index".to_owned(),
                "blur_onset_permille" => "/blur_permille/onset".to_owned(),
                "blur_end_permille" => "/blur_permille/end".to_owned(),
                "blur_end_u_permille" => "/blur_permille/end_u".to_owned(),
                key => format!("/{key}"),
            };
            match own(&place) {
                Value::Number(n) => assert_eq!(value.parse::<f64>().ok(), n.as_f64(), "{key}"),
                Value::Bool(b) => assert_eq!(*value, b.to_string(), "{key}"),
                Value::String(s) => assert_eq!(*value, s, "{key}"),
                _ => continue,
            }
            seen += 1;
        }
        assert!(seen >= 15, "{row:?}");
        assert_eq!(row["clip"], "good.mp4");
        assert_eq!(
            (&*row["tag_firmware"], &*row["capture_fps"]),
            ("2.0", "240.0")
        );
    }
}

/// RFC 4180, 2.5 to 2.7: cells with line breaks, quotes and commas stand in quotes, and a quote
/// in them is two.
#[test]
fn nasty_names_are_no_formulas_and_come_back() {
    let bench = Bench::new();
    let nasty = [
        "b\"bb",
        "b\r\nbb, ccc",
        "=HYPERLINK(\"a\")",
        "\t-2+3",
        "'=1",
        "'tis\ta kit",
        " @kit ; 'x' -- é ערכת",
    ];
    let mut args = vec!["table".to_owned()];
    for (k, word) in nasty.iter().enumerate() {
        let tags = json!({ *word: *word, "firmware": "2.0", "none": "" });
        let file = format!("{k}.timing.json");
        bench.file(&file, &made(word, tags, word, word).to_string());
        args.push(file);
    }
    let told = Told::of(bench.command().args(&args).output().unwrap());
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{told:?}");
    assert!(told.out.contains(",\"b\"\"bb\",") && told.out.contains("\"b\r\nbb, ccc\""));
    let rows = rows(&told.out);
    assert_eq!(rows.len(), 3 * nasty.len());
    for (row, word) in rows
        .chunks(3)
        .zip(nasty)
        .flat_map(|(r, w)| r.iter().map(move |r| (r, w)))
    {
        assert_eq!([&row["setup"], &row["clip"]].map(|c| name(c)), [word, word]);
        for (head, cell) in row {
            let begins = cell.trim_start().chars().next();
            let number = cell.parse::<f64>().is_ok();
            assert!(
                number || !matches!(begins, Some('=' | '+' | '-' | '@')),
                "{head}: {cell}"
            );
        }
        for other in nasty {
            let here = if other == word { word } else { "" };
            assert_eq!(name(&row[&format!("tag_{other}")]), here);
            let shown = if other == word { "1.402" } else { "" };
            assert_eq!(row[&format!("cue_{other}_shown_s")], shown);
        }
        assert_eq!(row["tag_firmware"], "2.0");
        assert_eq!(
            row["blur_end_permille"].parse(),
            Ok(-0.123_456_789_012_345_68)
        );
        assert_eq!(row["overshoot_permille"].parse(), Ok(1e-7));
    }
    assert_eq!(rows[1]["reason"], "excluded: \"door\", open\nagain");
    assert_eq!(
        (
            &*rows[2]["verdict"],
            &*rows[2]["reason"],
            &*rows[2]["latency_ms"]
        ),
        ("void", "cut", "")
    );
    // What a terminal would obey is shown instead.
    bench.file(
        "0.timing.json",
        &made("a\0\u{1b}[2J", json!({}), "c", "d").to_string(),
    );
    assert!(bench.run("table 0.timing.json").out.contains(",a␀␛[2J,"));
}

#[test]
fn a_bad_file_is_named_and_the_others_are_written() {
    let bench = Bench::new();
    bench.file(
        "a.timing.json",
        &made("kit-amber", json!({}), "a.mp4", "box").to_string(),
    );
    bench.file("cut.timing.json", "{ \"format\": \"focuslag-timing\", ");
    let bad = "table cut.timing.json gone.timing.json";
    let told = bench.run(&format!("{bad} a.timing.json -o all.csv"));
    told.says(
        1,
        &[
            "cut.timing.json: line 1",
            "gone.timing.json: cannot be read",
        ],
    );
    assert_eq!(told.out, "all.csv: rows: 3, files: 1 of 3\n");
    let text = String::from_utf8(content(&bench.path("all.csv"))).unwrap();
    assert_eq!(rows(&text).len(), 3);
    let told = bench.run(&format!("{bad} a.timing.json -o all.csv --json"));
    let document = told.json();
    assert_eq!(
        (told.code, &document["rows"], &document["files"]),
        (1, &3.into(), &1.into())
    );
    assert_eq!(document["failures"].as_array().unwrap().len(), 2);
    assert_eq!(document["columns"][0], "file");
    // Nothing to write: what was there stays.
    bench
        .run(&format!("{bad} -o all.csv"))
        .says(2, &["cut.timing.json", "gone.timing.json"]);
    assert_eq!(content(&bench.path("all.csv")), text.as_bytes());
    // A clip that failed has no row, and that is said.
    let mut timing = made("kit", json!({}), "a.mp4", "box");
    let mut failed = timing["clips"][0].clone();
    failed["trials"] = json!([]);
    failed["path"] = "b.mp4".into();
    failed["error"] = "is damaged".into();
    timing["clips"].as_array_mut().unwrap().push(failed);
    bench.file("b.timing.json", &timing.to_string());
    let told = bench.run("table b.timing.json");
    told.says(
        0,
        &["warning: b.timing.json: clip b.mp4 has no row: is damaged"],
    );
}

#[test]
fn it_goes_where_it_is_asked_to_and_over_nothing_else() {
    let bench = Bench::new();
    let timing = made("kit-amber", json!({ "firmware": "2.0" }), "a.mp4", "box").to_string();
    bench.file("a.timing.json", &timing);
    let out = bench.run("table a.timing.json").out;
    assert_eq!(bench.run("table a.timing.json -o a.csv").code, 0);
    assert_eq!(content(&bench.path("a.csv")), out.as_bytes());
    let quiet = bench.run("table a.timing.json -o a.csv -q");
    assert_eq!((quiet.code, quiet.err.as_str()), (0, ""));
    let piped = bench
        .command()
        .args(["table", "-"])
        .write_stdin(timing.as_str())
        .output();
    let piped = Told::of(piped.unwrap()).out;
    assert_eq!(piped.replace("standard input", "a.timing.json"), out);
    for (args, words) in [
        ("table", &["TIMING.json"][..]),
        (
            "table a.timing.json -o rig.toml",
            &["rig.toml", "focuslag table wrote", "--force"],
        ),
        (
            "table a.timing.json -o a.timing.json",
            &["a.timing.json", "focuslag table wrote"],
        ),
        ("table a.timing.json -o no/a.csv", &["does not exist"]),
        (
            "table a.timing.json a.timing.json",
            &["a.timing.json is named twice"],
        ),
        ("table - -", &["`-` is named twice"]),
        (
            "table a.timing.json --json",
            &["both go to standard output", "-o"],
        ),
    ] {
        bench.run(args).says(2, words);
    }
    assert_eq!(content(&bench.path("a.timing.json")), timing.as_bytes());
    assert_eq!(bench.run("table a.timing.json -o rig.toml --force").code, 0);
    assert_eq!(content(&bench.path("rig.toml")), out.as_bytes());
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_fails_and_a_reader_that_leaves_does_not() {
    let bench = Bench::new();
    bench.file(
        "a.timing.json",
        &made("kit-amber", json!({}), "a.mp4", "box").to_string(),
    );
    let full = std::fs::File::options()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let mut command = std::process::Command::new(assert_cmd::cargo::cargo_bin("focuslag"));
    command
        .current_dir(bench.path(""))
        .args(["table", "a.timing.json"]);
    let told = Told::of(command.stdout(full).output().unwrap());
    told.says(1, &["standard output cannot be written"]);
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let told = Told::of(command.stdout(writer).output().unwrap());
    assert_eq!((told.code, told.err.as_str()), (0, ""));
}

//! What files from strangers may do: nothing but be read or refused.

use std::path::Path;
use std::process::{Command as Process, Stdio};
use std::time::{Duration, Instant};

use focuslag::names::acts;
use serde_json::{Value, json};

use super::bench::{Bench, Told, content};

/// Names as a stranger may choose them: forged lines, a terminal's commands,
/// turned text, what XML, Markdown, HTML, TOML and spreadsheets take for theirs.
const NASTY: [&str; 15] = [
    "kit\nerror: forged",
    "kit\r\n[[setup]]\nname = 'forged'",
    "kit\u{1b}[2Jcleared",
    "kit\u{9b}2Jcleared",
    "kit\u{202e}4pm.derb",
    "kit\u{fffe}none",
    "kit\u{2028}error: forged",
    "<script>alert(1)</script>",
    "[here](https://forged.example)",
    "![i](https://forged.example/i.png)",
    "https://forged.example www.forged.example @all",
    "a | b | `c` ]]> & \"q\"",
    "=1+1",
    "''' \"\"\" # \\",
    "# heading",
];

/// Standard error without lines that a name forged, and nothing on either
/// stream that acts on a terminal.
fn tame(told: &Told, what: &str) {
    for (stream, text) in [("out", &told.out), ("err", &told.err)] {
        let acting = text.chars().find(|c| acts(*c) && *c != '\n');
        assert_eq!(acting, None, "{what}: {stream}: {text}");
        for line in text.lines() {
            assert!(
                !line.trim_start().starts_with("error: forged"),
                "{what}: {text}"
            );
        }
    }
}

/// The cells of a table, a line a row, without the line breaks that stand in
/// quotes (RFC 4180, 2.6).
fn cells(table: &str) -> String {
    let mut read = csv::ReaderBuilder::new();
    let mut read = read.has_headers(false).from_reader(table.as_bytes());
    let rows = read.records().map(|row| {
        let row = row.unwrap();
        let row: Vec<String> = row.iter().map(|c| c.replace(['\r', '\n'], " ")).collect();
        row.join(",") + "\n"
    });
    rows.collect()
}

/// The timing file of the bench under other words.
fn renamed(timing: &Value, name: &str) -> String {
    let mut t = timing.clone();
    t["setup"] = json!({ "name": name, "tags": { name: name } });
    t["rig"]["name"] = json!(name);
    t["measure"]["signal"] = json!(name);
    t["made_by"] = json!({ name: name });
    let clip = &mut t["clips"][0];
    clip["path"] = json!(name);
    clip["warnings"] = json!([name]);
    for k in 0..3 {
        clip["trials"][k]["cues"] = json!({ name: { "shown_s": 1.0, "latency_ms": 9.0 } });
    }
    let trial = &mut clip["trials"][2];
    trial["verdict"] = json!("void");
    trial["reason"] = json!(format!("excluded: {name}"));
    for key in [
        "settle_s",
        "latency_ms",
        "latency_corrected_ms",
        "uncertainty_ms",
    ] {
        trial[key] = Value::Null;
    }
    let mut failed = clip.clone();
    failed["sha256"] = json!("00");
    failed["error"] = json!(name);
    failed["trials"] = json!([]);
    t["clips"].as_array_mut().unwrap().push(failed);
    t.to_string()
}

#[test]
fn no_name_does_more_than_stand_there_in_any_output() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let timing: Value =
        serde_json::from_slice(&content(&bench.path("kit-amber.timing.json"))).unwrap();
    std::fs::copy(
        bench.path("kit-amber.evidence.zip"),
        bench.path("a.evidence.zip"),
    )
    .unwrap();
    for name in NASTY {
        bench.file("a.timing.json", &renamed(&timing, name));
        bench.file("b.timing.json", &renamed(&timing, &format!("{name} b")));
        let gate = "gate --baseline a.timing.json --candidate b.timing.json";
        for args in [
            "show a.timing.json",
            "show a.timing.json --list",
            "show a.timing.json --csv -",
            "show a.timing.json --hdr-log -",
            "show a.timing.json --json",
            "compare a.timing.json b.timing.json",
            "compare a.timing.json b.timing.json --format markdown",
            "compare a.timing.json b.timing.json --json",
            gate,
            &format!("{gate} --format markdown"),
            &format!("{gate} --format junit"),
            &format!("{gate} --json"),
            "report a.timing.json b.timing.json -o -",
            "report a.timing.json -o page.html --json",
        ] {
            let told = bench.run(args);
            let what = format!("{name:?}: {args}");
            assert!([0, 3, 4].contains(&told.code), "{what}: {told:?}");
            let table = told.out.clone();
            let mut told = told;
            if args.contains("--csv") {
                told.out = cells(&table);
            }
            tame(&told, &what);
            if args.ends_with("--json") {
                let text = told.json().to_string();
                let own = serde_json::to_string(name).unwrap();
                assert!(text.contains(own.trim_matches('"')), "{what}: {text}");
            } else if args.ends_with("markdown") {
                for live in [
                    "[here](", "://", "<script", " www.", " @all", " `c`", "b | `",
                ] {
                    assert!(!told.out.contains(live), "{what}: {live}: {}", told.out);
                }
            } else if args.ends_with("junit") {
                let xml = resvg::usvg::roxmltree::Document::parse(&told.out);
                assert!(xml.is_ok(), "{what}: {xml:?}");
            } else if args.ends_with("-o -") {
                for live in ["<script", "href=\"http", "src=\"http", "<img src=\"https"] {
                    assert!(!told.out.contains(live), "{what}: {live}");
                }
            } else if args.contains("--csv") {
                let mut read = csv::Reader::from_reader(table.as_bytes());
                for row in read.records() {
                    let row = row.unwrap();
                    assert!(
                        !row.iter().any(|cell| cell.starts_with('=')),
                        "{what}: {row:?}"
                    );
                }
            }
        }
    }
}

/// The same where the names are those of files.
#[cfg(unix)]
#[test]
fn no_file_name_does_more_than_stand_there() {
    let bench = Bench::new();
    let clip = content(&bench.path("good.mp4"));
    for (k, name) in NASTY.iter().enumerate().filter(|(_, n)| !n.contains('/')) {
        let folder = bench.path(&format!("f{k}"));
        std::fs::create_dir(&folder).unwrap();
        let (good, bad) = (format!("{name} 1.mp4"), format!("{name} 2.mp4"));
        std::fs::write(folder.join(&good), &clip).unwrap();
        std::fs::write(folder.join(&bad), "no film").unwrap();
        let out = bench.path(&format!("f{k}/rig.toml"));
        let out = out.to_str().unwrap();
        let run = |args: &[&str]| {
            let mut command = bench.command();
            command.current_dir(&folder).args(args);
            let told = Told::of(command.output().unwrap());
            tame(&told, &format!("{name:?}: {args:?}"));
            told
        };
        let check = run(&["check", "--rig", "../rig.toml", "--", &good, &bad]);
        assert_eq!(check.code, 1, "{check:?}");
        let unknown = run(&["check", &format!("--{name}")]);
        assert_eq!(unknown.code, 2, "{unknown:?}");
        // The rest takes its time: the two names that forge lines.
        if k > 1 {
            continue;
        }
        let time = [
            "time",
            "--rig",
            "../rig.toml",
            "--setup",
            "kit",
            "--",
            &good,
            &bad,
        ];
        assert_eq!(run(&time).code, 1);
        let session = folder.join("session.toml");
        let to = session.to_str().unwrap();
        let scout = ["scout", ".", "-o", out, "--session", to, "--fps", "240"];
        let told = run(&scout);
        assert_eq!(told.code, 0, "{told:?}");
        let text = std::fs::read_to_string(&session).unwrap();
        let table: toml::Table = text.parse().unwrap();
        let setups = table["setup"].as_array().unwrap();
        assert_eq!(setups.len(), 1, "{text}");
        assert!(setups[0]["name"].as_str() != Some("forged"), "{text}");
        for file in [session.as_path(), Path::new(out)] {
            let text = std::fs::read_to_string(file).unwrap();
            assert!(!text.chars().any(|c| acts(c) && c != '\n'), "{text:?}");
        }
    }
}

/// Two runs into one folder would mix one's numbers with the other's pictures.
#[cfg(unix)]
#[test]
fn a_folder_takes_one_run_at_a_time() {
    let bench = Bench::new();
    let folder = std::fs::File::open(bench.path(".")).unwrap();
    folder.lock().unwrap();
    let told = bench.run("time session.toml");
    told.says(
        2,
        &[
            "another focuslag time is writing into this folder, so no clip was timed",
            "nothing was written",
            "--out",
        ],
    );
    assert!(bench.listed(".timing.json").is_empty());
    drop(folder);
    assert_eq!(bench.run("time session.toml").code, 0);
}

#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_takes_no_file_is_told_before_any_decoding() {
    let bench = Bench::new();
    for command in ["time", "check"] {
        let told = bench.run(&format!("{command} session.toml --out /proc/self"));
        told.says(
            2,
            &[
                "/proc/self: nothing can be written into this folder",
                "--out",
            ],
        );
        assert!(!told.err.contains(".part"), "{told:?}");
    }
}

/// No space for what comes through standard input.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_while_spooling_fails_the_work() {
    let bench = Bench::new();
    let clip = content(&bench.path("good.mp4"));
    for args in [
        &["time", "--rig", "rig.toml", "--setup", "kit", "-"][..],
        &["scout", "-", "-o", "drafted.toml"],
    ] {
        let mut command = bench.command();
        command.env("TMPDIR", "/proc/self").args(args);
        let told = Told::of(command.write_stdin(clip.clone()).output().unwrap());
        told.says(
            1,
            &["standard input: cannot be copied to /proc/self", "TMPDIR"],
        );
    }
}

/// A pipe that nobody writes to, in the place of kept signals: not touched where
/// it is another clip's, passed over where it is this one's.
#[cfg(unix)]
#[test]
fn signals_of_other_clips_are_not_read() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let own = bench.path("signals");
    let own = std::fs::read_dir(&own)
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let pipe = |path: &Path| {
        let made = Process::new("mkfifo").arg(path).status();
        assert!(made.unwrap().success());
    };
    pipe(&bench.path("signals/0123456789abcdef-00000000.npz"));
    let told = bench.run("time session.toml");
    told.says(0, &["1 of 1 clips were not decoded"]);
    assert!(!told.err.contains("0123456789abcdef"), "{told:?}");
    std::fs::remove_file(&own).unwrap();
    pipe(&own);
    bench
        .run("time session.toml")
        .says(0, &["is no ordinary file", "passed over"]);
}

/// Waits for a file that is being made in a folder; its path.
#[cfg(unix)]
fn part_in(folder: &Path) -> std::path::PathBuf {
    let begun = Instant::now();
    loop {
        let parts = std::fs::read_dir(folder)
            .unwrap()
            .flatten()
            .map(|e| e.path());
        let mut parts = parts.filter(|p| p.extension().is_some_and(|e| e == "part"));
        if let Some(path) = parts.next() {
            return path;
        }
        assert!(
            begun.elapsed() < Duration::from_secs(60),
            "nothing is being made"
        );
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[cfg(unix)]
fn signalled(
    child: &mut std::process::Child,
    signal: &str,
) -> (std::process::ExitStatus, Duration) {
    let begun = Instant::now();
    let sent = Process::new("kill")
        .args([signal, &child.id().to_string()])
        .status();
    assert!(sent.unwrap().success());
    (child.wait().unwrap(), begun.elapsed())
}

/// A long film, ended in its middle: what stood there stays, nothing is left
/// beside it; what a killed process leaves, the next one sweeps.
#[cfg(unix)]
#[test]
fn a_render_that_is_ended_leaves_nothing_behind() {
    let bench = Bench::new();
    let trials = "[[trial]]\n".repeat(400);
    bench.file("long.toml", &format!("[film]\nsize = [320, 240]\n{trials}"));
    let folder = bench.path("films");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("a.mp4"), "an older film").unwrap();
    let told = bench.run("render long.toml -o films/a.mp4");
    told.says(2, &["films/a.mp4: is there already", "--force"]);
    let begin = || {
        Process::new(assert_cmd::cargo::cargo_bin("focuslag"))
            .current_dir(bench.path("."))
            .args(["render", "long.toml", "-o", "films/a.mp4", "--force"])
            .stderr(Stdio::piped())
            .spawn()
            .unwrap()
    };
    for signal in ["-INT", "-TERM"] {
        let mut child = begin();
        part_in(&folder);
        let (status, took) = signalled(&mut child, signal);
        assert_eq!(status.code(), Some(1), "{signal}");
        assert!(took < Duration::from_secs(5), "{signal}: {took:?}");
        assert_eq!(content(&folder.join("a.mp4")), b"an older film");
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1, "{signal}");
    }
    let mut child = begin();
    let part = part_in(&folder);
    signalled(&mut child, "-KILL");
    assert!(part.exists());
    let hour_ago = std::time::SystemTime::now() - Duration::from_secs(3600);
    std::fs::File::options()
        .write(true)
        .open(&part)
        .unwrap()
        .set_modified(hour_ago)
        .unwrap();
    let told = bench.run("card --side near -o films/card.svg");
    assert_eq!(told.code, 0, "{told:?}");
    assert!(!part.exists(), "what a killed process left is swept");
}

/// Whatever the work hangs in, one Ctrl-C ends it.
#[cfg(unix)]
#[test]
fn ctrl_c_is_heeded_within_a_second() {
    let bench = Bench::new();
    let pipe = bench.path("waits.toml");
    assert!(
        Process::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap()
            .success()
    );
    for args in [&["time", "waits.toml"][..], &["check", "waits.toml"]] {
        let mut child = Process::new(assert_cmd::cargo::cargo_bin("focuslag"))
            .current_dir(bench.path("."))
            .args(args)
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(500));
        let (status, took) = signalled(&mut child, "-INT");
        assert_eq!(status.code(), Some(1), "{args:?}");
        // A second, and what a busy machine adds.
        assert!(took < Duration::from_secs(3), "{args:?}: {took:?}");
    }
}

/// A run that is cut short between the two files leaves the pictures of the one
/// before.
#[test]
fn evidence_of_an_earlier_result_is_said() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let old = content(&bench.path("kit-amber.evidence.zip"));
    let shown = bench.run("show kit-amber.timing.json --json").json();
    assert_eq!(shown["missing"].as_array().unwrap().len(), 0, "{shown}");
    let rig = super::bench::RIG.replace("window_ms = 600", "window_ms = 500");
    bench.file("rig.toml", &rig);
    assert_eq!(bench.run("time session.toml --force").code, 0);
    bench.bytes("kit-amber.evidence.zip", &old);
    let words = "was kept with another result than this timing file";
    let told = bench.run("show kit-amber.timing.json");
    assert!(
        told.out.replace("\n         ", " ").contains(words),
        "{told:?}"
    );
    bench
        .run("report kit-amber.timing.json -o page.html")
        .says(0, &[words]);
    assert_eq!(bench.run("time session.toml").code, 0);
    let shown = bench.run("show kit-amber.timing.json --json").json();
    assert_eq!(shown["missing"].as_array().unwrap().len(), 0, "{shown}");
}

/// A megabyte of keys that mean nothing: twenty are told, the rest counted, at
/// once.
#[test]
fn a_flood_of_faults_is_counted() {
    let bench = Bench::new();
    let flood: String = (0..60_000).map(|k| format!("key{k} = {k}\n")).collect();
    for (file, command) in [
        ("flood.toml", "time flood.toml"),
        ("rig2.toml", "check --rig rig2.toml good.mp4"),
        (
            "policy.toml",
            "gate --candidate good.mp4 --policy policy.toml",
        ),
        ("scene.toml", "render scene.toml -o film.mp4"),
    ] {
        bench.file(file, &flood);
        let begun = Instant::now();
        let told = bench.run(command);
        assert_eq!(told.code, 2, "{command}");
        assert!(
            told.err.lines().count() <= 24,
            "{command}: {}",
            told.err.len()
        );
        assert!(told.err.len() < 10_000, "{command}: {}", told.err.len());
        assert!(
            told.err.contains(" more faults; mend these first"),
            "{command}: {}",
            told.err
        );
        assert!(begun.elapsed() < Duration::from_secs(10), "{command}");
    }
}

/// Keys that contradict each other are said by every command that reads them.
#[test]
fn contradictory_latencies_are_said() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let text = String::from_utf8(content(&bench.path("kit-amber.timing.json"))).unwrap();
    let mut timing: Value = serde_json::from_str(&text).unwrap();
    let trial = &mut timing["clips"][0]["trials"][0];
    let latency = trial["latency_ms"].as_f64().unwrap();
    trial["latency_ms"] = json!(latency + 50.0);
    bench.file("odd.timing.json", &timing.to_string());
    let words = "odd.timing.json: trial good.mp4:0: `latency_ms` is not";
    for command in [
        "show odd.timing.json",
        "report odd.timing.json -o page.html",
        "compare odd.timing.json kit-amber.timing.json",
        "gate --candidate odd.timing.json --baseline kit-amber.timing.json",
    ] {
        let told = bench.run(command);
        assert!(told.err.contains(words), "{command}: {told:?}");
    }
}

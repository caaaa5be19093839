//! Every command: help, JSON, quiet, exit codes.

use super::bench::{Bench, Told, content};

pub const COMMANDS: [&str; 16] = [
    "scout",
    "check",
    "time",
    "compare",
    "show",
    "table",
    "report",
    "gate",
    "repeat",
    "photos",
    "plan",
    "render",
    "prove",
    "card",
    "completions",
    "man",
];

#[test]
fn every_command_has_help_with_an_example() {
    let bench = Bench::new();
    let top = bench.run("--help");
    assert_eq!(top.code, 0);
    for command in COMMANDS {
        assert!(top.out.contains(&format!("\n  {command} ")), "{command}");
        let told = bench.run(&format!("{command} --help"));
        assert_eq!(told.code, 0);
        let example = format!("  focuslag {command} ");
        assert!(told.out.contains("Example") && told.out.contains(&example));
        assert!(told.out.contains("--json") && told.out.contains("--quiet"));
        assert!(
            told.out.lines().all(|l| l.chars().count() <= 100),
            "{command}"
        );
    }
    assert!(bench.run("--version").out.starts_with("focuslag "));
}

#[test]
fn help_lists_no_command_that_does_not_exist() {
    let bench = Bench::new();
    let top = bench.run("--help").out;
    let listed: Vec<&str> = top
        .lines()
        .skip_while(|l| *l != "Commands:")
        .skip(1)
        .take_while(|l| !l.is_empty())
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .collect();
    for command in &listed {
        assert!(
            COMMANDS.contains(command),
            "{command}: test it here as well"
        );
    }
    assert_eq!(listed.len(), COMMANDS.len());
}

/// Two setups of one rig, timed.
fn timed() -> Bench {
    let bench = Bench::new();
    bench.session(
        "[[setup]]\nname = \"kit-amber\"\ntags = { firmware = \"2.0\" }\nclips = [\"good.mp4\"]\n\
         [[setup]]\nname = \"kit-slate\"\nclips = [\"again.mp4\"]\n\
         [[exclude]]\nclip = \"again.mp4\"\ntrial = 1\nreason = \"somebody walked through\"\n",
    );
    // Another file of the same film: a byte behind the last box is no box.
    let mut film = content(&bench.path("good.mp4"));
    film.extend(b"\x00\x00\x00\x08free");
    bench.bytes("again.mp4", &film);
    bench
}

#[test]
fn time_gives_one_json_document() {
    let bench = timed();
    let told = bench.run("time session.toml --json");
    assert_eq!(told.code, 0, "{told:?}");
    let document = told.json();
    let timings = document["timings"].as_array().unwrap();
    assert_eq!(timings.len(), 2);
    for one in timings {
        let file = bench.path(one["file"].as_str().unwrap());
        let stored: serde_json::Value = serde_json::from_slice(&content(&file)).unwrap();
        assert_eq!(stored, one["timing"]);
    }
    assert_eq!(document["failures"], serde_json::json!([]));
    assert!(document["warnings"].is_array());
    assert_eq!(document["comparisons"][0]["pairs"][0]["a"], "kit-amber");
    let text = bench.run("time session.toml");
    for words in [
        "kit-amber (unverified)   firmware 2.0",
        "3 trials filmed in 1 clip, 1 void: 1 excluded (somebody walked through)",
        "kit-amber (left) − kit-slate (right)",
    ] {
        assert!(text.out.contains(words), "{words}\n{}", text.out);
    }
}

#[test]
fn quiet_leaves_results_and_errors() {
    let bench = timed();
    let loud = bench.run("time session.toml");
    let quiet = bench.run("time session.toml --quiet");
    assert_eq!((quiet.code, quiet.err.as_str()), (0, ""));
    assert_eq!(quiet.out, loud.out);
    bench.run("time gone.toml --quiet").says(2, &["gone.toml"]);
}

#[test]
fn a_refused_request_is_json_too() {
    let bench = Bench::new();
    for args in [
        "time gone.toml --json",
        "time --json",
        "plan --json",
        "compare rig.toml rig.toml --json",
        "gate --candidate gone.json --json",
        "render rig.toml -o x.mp4 --json",
        "compare a b --json --format markdown",
    ] {
        let told = bench.run(args);
        assert_eq!(told.code, 2, "{args}: {told:?}");
        let errors = told.json()["errors"].as_array().unwrap().len();
        assert!(errors > 0 && !told.err.is_empty(), "{args}");
    }
}

#[test]
fn compare_and_gate_read_what_time_wrote() {
    let bench = timed();
    assert_eq!(bench.run("time session.toml").code, 0);
    let (a, b) = ("kit-amber.timing.json", "kit-slate.timing.json");
    let told = bench.run(&format!("compare {a} {b}"));
    assert_eq!(told.code, 0, "{told:?}");
    assert!(told.out.contains("kit-amber (left) − kit-slate (right)"));
    let page = bench.run(&format!("compare {a} {b} --format markdown"));
    assert!(page.out.starts_with("## "));
    let json = bench
        .run(&format!("compare {a} {b} --json --confidence 0.9 --seed 7"))
        .json();
    assert_eq!(
        (&json["confidence"], &json["seed"]),
        (&0.9.into(), &7.into())
    );
    assert_eq!(json["pairs"][0]["verdict"], "too_few_trials");
    // Keys that say two things are told.
    let mut doubtful: serde_json::Value = serde_json::from_slice(&content(&bench.path(b))).unwrap();
    let trial = &mut doubtful["clips"][0]["trials"][0];
    let late = trial["onset_s"].as_f64().unwrap() + 0.2;
    (trial["settle_s"], trial["latency_ms"]) = (late.into(), 450.0.into());
    trial["early"] = false.into();
    bench.file("doubt.timing.json", &doubtful.to_string());
    let told = bench.run(&format!("compare {a} doubt.timing.json"));
    assert!(told.err.contains("`latency_ms` is used"), "{told:?}");
    // A third one, started by a trigger.
    let mut trigger: serde_json::Value = serde_json::from_slice(&content(&bench.path(b))).unwrap();
    trigger["setup"]["name"] = "kit-release".into();
    trigger["rig"]["stimulus"]["kind"] = "light".into();
    trigger.as_object_mut().unwrap().remove("summary");
    for trial in trigger["clips"][0]["trials"].as_array_mut().unwrap() {
        trial["side"] = serde_json::Value::Null;
    }
    bench.file("kit-release.timing.json", &trigger.to_string());
    let told = bench.run(&format!("compare {a} kit-release.timing.json {b}"));
    assert_eq!(told.code, 0, "{told:?}");
    assert!(told.out.contains("kit-amber (left) − kit-slate (right)"));
    assert!(told.err.contains("not compared: kit-release"), "{told:?}");
    bench
        .run(&format!("compare {a} kit-release.timing.json"))
        .says(2, &["a swing and a trigger"]);
    bench
        .run(&format!("compare {a} {a}"))
        .says(2, &["not compared to itself"]);
    bench
        .run(&format!("compare {a}"))
        .says(2, &["at least two"]);
    bench
        .run(&format!("compare {a} {b} --confidence 2"))
        .says(2, &["confidence"]);

    let gate = bench.run(&format!("gate --baseline {a} --candidate {b}"));
    assert_eq!(gate.code, 4, "{gate:?}");
    let json = bench.run(&format!("gate --baseline {a} --candidate {b} --json"));
    assert_eq!(
        (json.code, &json.json()["verdict"]),
        (4, &"inconclusive".into())
    );
    let xml = bench.run(&format!(
        "gate --baseline {a} --candidate {b} --format junit"
    ));
    assert!(xml.out.starts_with("<?xml"), "{xml:?}");
    bench
        .run(&format!("gate --candidate {b}"))
        .says(2, &["nothing to hold", "--baseline", "--policy"]);
    bench.file(
        "policy.toml",
        "[require]\nhit_rat = 0.5\np90_ms = 0\nx = 1\n",
    );
    bench
        .run(&format!("gate --candidate {b} --policy policy.toml"))
        .says(
            2,
            &[
                "policy.toml:2",
                "`require.hit_rate`",
                "policy.toml:3",
                "policy.toml:4",
            ],
        );
    for (args, words) in [
        (
            format!("{a} {b}"),
            format!("write --baseline {a} --candidate {b}"),
        ),
        (b.to_owned(), format!("write --candidate {b}")),
        (
            format!("--candidate {b} --confidence 0.9"),
            "set test.confidence in the policy".to_owned(),
        ),
        (
            String::new(),
            "--candidate TIMING.json is missing".to_owned(),
        ),
        (
            format!("--candidate policy.toml --policy {a}"),
            format!("{a}: this is a timing file"),
        ),
    ] {
        bench.run(&format!("gate {args}")).says(2, &[&words]);
    }
    bench
        .run("compare .")
        .says(2, &["is a folder; name its files", a, b]);
    let piped = bench
        .command()
        .args(["compare", "-", b])
        .write_stdin(content(&bench.path(a)))
        .output();
    assert_eq!(Told::of(piped.unwrap()).code, 0);
}

#[test]
fn the_gate_ends_with_its_verdict() {
    let bench = timed();
    assert_eq!(bench.run("time session.toml").code, 0);
    let gate = |policy: &str| {
        bench.file("policy.toml", policy);
        bench.run("gate --candidate kit-amber.timing.json --policy policy.toml --json")
    };
    let pass = gate("[require]\nhit_rate = 0.05\n[test]\nmin_trials = 1\nconfidence = 0.6\n");
    assert_eq!((pass.code, &pass.json()["verdict"]), (0, &"pass".into()));
    let open = gate("[require]\nhit_rate = 0.5\n[test]\nmin_trials = 100\n");
    assert_eq!(
        (open.code, &open.json()["verdict"]),
        (4, &"inconclusive".into())
    );
    let regression = gate(
        "[require]\nhit_rate = 0.999\np90_ms = 1\n[test]\nmin_trials = 1\nconfidence = 0.51\n",
    );
    assert_eq!(regression.code, 3, "{regression:?}");
}

/// Fleiss, Tytun & Ury 1980 with continuity correction, by the formula:
/// 0.9 against 0.75 at 95 % and 80 % needs 113 per group.
#[test]
fn plan_answers_and_refuses() {
    let bench = Bench::new();
    let told = bench.run("plan --hit-rate 0.9 --versus 0.75 --json");
    assert_eq!(told.json()["trials_per_setup"], 113);
    let told = bench.run("plan --hit-rate 0.9 --at-least 0.7 --json");
    assert_eq!(
        told.json()["trials_per_setup"],
        told.json()["trials"][0]["trials_per_setup"]
    );
    assert_eq!(told.json()["trials"][0]["question"], "floor");
    let told = bench.run("plan --fps 240 --mains-hz 55");
    assert!(told.out.contains("50 and 60 Hz are usual"), "{told:?}");
    let told = bench.run("plan --fps 240 --refresh-hz 60 --json");
    assert_eq!(told.json()["capture"]["frames_per_refresh"], 4.0);
    for (args, words) in [
        ("plan", &["nothing is asked"][..]),
        ("plan --hit-rate 0.9", &["--versus"]),
        ("plan --hit-rate 1.5 --versus 0.5", &["--hit-rate", "1.5"]),
        (
            "plan --hit-rate 0.5 --versus 0.5",
            &["--versus", "too close"],
        ),
        ("plan --fps -3", &["--fps", "-3"]),
        ("plan --fps many", &["--fps", "many", "59.94"]),
        ("plan --fps 240fps", &["--fps", "240fps", "a point: 240"]),
        ("plan --fps 59,94", &["--fps", "a point: 59.94"]),
        ("plan --hit-rate 90% --versus 0.7", &["--hit-rate", ": 0.9"]),
        (
            "plan --hit-rate 90 --versus 75",
            &["write 0.9 for 90 %", "write 0.75 for 75 %"],
        ),
        ("plan --hit-rate 1.0 --versus 0.7", &["try 0.99"]),
        (
            "plan --hit-rate 0.9 --at-least 0.95",
            &["--at-least", "below --hit-rate"],
        ),
        ("plan --focal-mm 85", &["--f-number"]),
    ] {
        bench.run(args).says(2, words);
    }
}

#[test]
fn render_makes_a_clip_and_its_truth_or_says_why_not() {
    let bench = Bench::new();
    bench.file(
        "scene.toml",
        "[motion]\nlead_ms = 100\ntail_ms = 100\n[film]\nsize = [160, 120]\n[[trial]]\n",
    );
    let told = bench.run("render scene.toml -o known.mp4 --json");
    assert_eq!(told.code, 0, "{told:?}");
    assert_eq!(told.json()["truth"]["format"], "focuslag-truth");
    assert_eq!(bench.listed(".truth.json"), ["known.mp4.truth.json"]);
    bench.file("typo.toml", "[film]\nfsp = 240\n");
    for (args, words) in [
        (
            "render gone.toml -o a.mp4",
            &["gone.toml", "scene file"][..],
        ),
        ("render good.mp4 -o a.mp4", &["good.mp4"]),
        ("render typo.toml -o a.mp4", &["typo.toml:2", "fsp"]),
        ("render scene.toml -o a.gif", &["a.gif", ".mp4"]),
        (
            "render scene.toml -o gone/a.mp4",
            &["gone", "make it first"],
        ),
        ("render scene.toml", &["--out"]),
    ] {
        bench.run(args).says(2, words);
    }
    assert!(bench.listed("a.mp4").is_empty() && bench.listed(".gif").is_empty());
    // What is there already stays, and so does what only looks like a left-over.
    bench.file("known.mp4.part", "the harbour master's");
    let before = std::fs::read(bench.path("known.mp4")).unwrap();
    let again = "render scene.toml -o known.mp4";
    bench
        .run(again)
        .says(2, &["known.mp4", "already", "--force"]);
    bench.file("kept.mp4.truth.json", "{}");
    let kept = "render scene.toml -o kept.mp4";
    bench.run(kept).says(2, &["kept.mp4.truth.json", "--force"]);
    assert_eq!(bench.run(&format!("{again} --force")).code, 0);
    assert_eq!(std::fs::read(bench.path("known.mp4")).unwrap(), before);
    let part = std::fs::read_to_string(bench.path("known.mp4.part")).unwrap();
    assert_eq!(part, "the harbour master's");
}

//! Card, completions and manual pages: what is made for use outside.

use super::bench::{Bench, Told, content};

#[test]
fn a_card_is_written_and_is_the_same_again() {
    let bench = Bench::new();
    for file in ["near.pdf", "near.svg"] {
        let first = bench.run(&format!("card --side near -o {file}"));
        assert_eq!((first.code, first.err.as_str()), (0, ""), "{first:?}");
        assert!(first.out.contains("A4 (210 × 297 mm)") && first.out.contains("100 %"));
        let bytes = content(&bench.path(file));
        assert!(bytes.len() < 1 << 20, "{file}: {} bytes", bytes.len());
        bench.run(&format!("card --side near -o {file}"));
        assert_eq!(content(&bench.path(file)), bytes);
        bench.run(&format!("card --side near --seed 2 -o {file}"));
        assert_ne!(content(&bench.path(file)), bytes);
    }
    assert!(content(&bench.path("near.pdf")).starts_with(b"%PDF-1."));
    assert!(content(&bench.path("near.svg")).starts_with(b"<svg"));
}

#[test]
fn a_card_suits_the_lens() {
    let bench = Bench::new();
    let lens = "card --side far -o far.pdf --focal-mm 85";
    let made = bench.run(&format!("{lens} --distance-m 2 --json"));
    let document = made.json();
    // By hand: m = 85 ÷ (2000 − 85); 24 ÷ m ÷ 720 rows.
    let pixel = 24.0 / (85.0 / 1915.0) / 720.0;
    assert!((document["mm_per_screen_pixel"].as_f64().unwrap() - pixel).abs() < 1e-9);
    assert!((document["finest_mm"].as_f64().unwrap() - 2.0 * pixel).abs() < 0.006);
    assert_eq!(document["warnings"], serde_json::json!([]));
    let small = bench.run(&format!("{lens} --distance-m 6"));
    small.says(0, &["warning: the texture fills", "go nearer"]);
    let quiet = bench.run(&format!("{lens} --distance-m 6 --quiet"));
    assert_eq!((quiet.code, quiet.err.as_str()), (0, ""));
    bench
        .run(&format!("{lens} --distance-m 0.5 --sensor-height-mm 4"))
        .says(0, &["two pixels of the screen are", "a little coarse"]);
}

#[test]
fn a_card_that_cannot_be_is_refused() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("folder.pdf")).unwrap();
    for (args, words) in [
        ("card --side near", &["--out"][..]),
        ("card -o x.pdf", &["--side"]),
        ("card --side up -o x.pdf", &["near", "far"]),
        ("card --side near --paper a3 -o x.pdf", &["a4", "letter"]),
        ("card --side near -o x.png", &["x.png", ".pdf or .svg"]),
        ("card --side near -o gone/x.pdf", &["gone", "make it first"]),
        ("card --side near -o folder.pdf", &["is a folder"]),
        ("card --side near -o x.pdf --focal-mm 85", &["--distance-m"]),
        (
            "card --side near -o x.pdf --focal-mm 85mm --distance-m 2",
            &["without a unit", "85"],
        ),
        (
            "card --side near -o x.pdf --focal-mm 85 --distance-m 0.05",
            &["--distance-m", "no lens focuses there"],
        ),
        (
            "card --side near -o x.pdf --focal-mm 85 --distance-m -2",
            &["--distance-m", "outside"],
        ),
    ] {
        bench.run(args).says(2, words);
        assert!(!bench.path("x.pdf").exists(), "{args}");
    }
    bench
        .run("card --side near -o /proc/self/x.pdf")
        .says(1, &["/proc/self/x.pdf", "cannot be written"]);
}

/// What `bash -n` accepts, and what every shell's script must name.
#[test]
fn completions_parse_and_know_every_command() {
    let bench = Bench::new();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let told = bench.run(&format!("completions {shell}"));
        assert_eq!((told.code, told.err.as_str()), (0, ""), "{shell}");
        for word in ["compare", "prove", "completions", "distance-m"] {
            assert!(told.out.contains(word), "{shell}: {word}");
        }
        let json = bench.run(&format!("completions {shell} --json")).json();
        assert_eq!(json["script"], told.out);
        if shell == "bash" {
            let script = bench.file("focuslag.bash", &told.out);
            let line = "source \"$0\"; COMP_WORDS=(focuslag ca); COMP_CWORD=1; \
                        _focuslag focuslag ca focuslag; echo \"${COMPREPLY[@]}\"";
            for args in [vec!["-n"], vec!["-c", line]] {
                let mut run = std::process::Command::new("bash");
                let run = Told::of(run.args(&args).arg(&script).output().unwrap());
                assert_eq!((run.code, run.err.as_str()), (0, ""), "{args:?}");
                assert_eq!(run.out.trim(), if args[0] == "-c" { "card" } else { "" });
            }
        }
    }
    bench
        .run("completions tcsh")
        .says(2, &["bash", "zsh", "fish"]);
}

/// roff: a title, the usual sections, and no line that begins with a request
/// roff does not know.
#[test]
fn manual_pages_are_sound_roff() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("man1")).unwrap();
    let told = bench.run("man --out man1");
    assert_eq!((told.code, told.err.as_str()), (0, ""), "{told:?}");
    let pages: Vec<&str> = told
        .out
        .lines()
        .map(|l| l.trim_start_matches("written: "))
        .collect();
    assert!(pages.contains(&"man1/focuslag.1") && pages.contains(&"man1/focuslag-card.1"));
    assert_eq!(pages.len(), 1 + super::commands::COMMANDS.len());
    for page in pages {
        let text = String::from_utf8(content(&bench.path(page))).unwrap();
        assert!(
            text.contains("\n.TH focuslag") || text.starts_with(".TH focuslag"),
            "{page}"
        );
        for section in ["NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS"] {
            assert!(
                text.contains(&format!(".SH {section}\n")),
                "{page}: {section}"
            );
        }
        assert!(text.contains("Example"), "{page}");
        for line in text.lines().filter(|l| l.starts_with(['.', '\''])) {
            let request = line.split(' ').next().unwrap();
            let known = [
                "TH", "SH", "SS", "TP", "IP", "RS", "RE", "PP", "br", "ie", "el", "nf", "fi",
            ];
            assert!(known.contains(&&request[1..]), "{page}: {line}");
        }
    }
    let card = bench.run("man card");
    assert_eq!(
        card.out.as_bytes(),
        content(&bench.path("man1/focuslag-card.1"))
    );
    let json = bench.run("man card --json").json();
    assert_eq!(json["pages"][0]["text"], card.out);
    assert_eq!(json["pages"][0]["file"], "focuslag-card.1");
    for (args, words) in [
        ("man kard", &["no command `kard`", "card"][..]),
        ("man --out gone", &["gone", "make it first"]),
        ("man --out rig.toml", &["rig.toml", "is a file"]),
        ("man card --out man1", &["cannot be used with"]),
    ] {
        bench.run(args).says(2, words);
    }
}

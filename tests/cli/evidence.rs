//! What is kept beside a timing file, and found again without the clips.

use super::bench::{Bench, content};

#[test]
fn evidence_is_kept_the_same_again_and_needs_no_clip() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let first = content(&bench.path("kit-amber.evidence.zip"));
    assert_eq!(bench.run("time session.toml --workers 1").code, 0);
    assert_eq!(content(&bench.path("kit-amber.evidence.zip")), first);

    // Elsewhere, and without the clip.
    let away = bench.path("away");
    std::fs::create_dir(&away).unwrap();
    for name in ["kit-amber.timing.json", "kit-amber.evidence.zip"] {
        std::fs::rename(bench.path(name), away.join(name)).unwrap();
    }
    std::fs::remove_file(bench.path("good.mp4")).unwrap();
    let shown = bench.run("show away/kit-amber.timing.json --json").json();
    assert_eq!(shown["missing"].as_array().unwrap().len(), 0, "{shown}");
    let trial = &shown["trial"];
    let stills = shown["stills"].as_array().unwrap();
    assert_eq!(stills.len(), 3, "{shown}");
    // One crop per update of a usual screen: none is further off than that.
    let at = |k: usize| stills[k]["time_s"].as_f64().unwrap();
    let onset = trial["onset_s"].as_f64().unwrap();
    assert!((at(0) - onset).abs() < 1.0 / 60.0, "{shown}");
    assert_eq!(stills[2]["moment"], "settled");
    let settle = trial["settle_s"].as_f64().unwrap();
    assert!((0.0..2.0 / 60.0).contains(&(at(2) - settle)), "{shown}");
    // What the stills are said to show is what the curve has there.
    let signal = |key: &str, k: usize| shown["signal"][key][k].as_f64().unwrap();
    let sharp_at = |s: f64| {
        let ms = (s - onset) * 1000.0 + 1e-3;
        let n = shown["signal"]["sharpness"].as_array().unwrap().len();
        let k = (0..n)
            .rfind(|k| signal("after_onset_ms", *k) <= ms)
            .unwrap();
        signal("sharpness", k)
    };
    assert!(sharp_at(at(1)) < 0.5 * sharp_at(at(2)), "{shown}");
    let page = bench.run("report away/kit-amber.timing.json -o away.html --json");
    assert_eq!(page.json()["stills"]["in_page"], 3);
}

#[test]
fn a_stranger_in_the_place_of_evidence_is_left_alone() {
    let bench = Bench::new();
    bench.file("kit-amber.evidence.zip", "Dear harbour master");
    let told = bench.run("time session.toml");
    told.says(2, &["kit-amber.evidence.zip", "no evidence", "--force"]);
    let kept = content(&bench.path("kit-amber.evidence.zip"));
    assert_eq!(kept, b"Dear harbour master");
    assert_eq!(bench.run("time session.toml --force").code, 0);
    assert!(content(&bench.path("kit-amber.evidence.zip")).starts_with(b"PK"));
}

#[test]
fn evidence_of_another_film_is_said_and_not_shown() {
    let bench = Bench::new();
    assert_eq!(bench.run("time session.toml").code, 0);
    let timing = String::from_utf8(content(&bench.path("kit-amber.timing.json"))).unwrap();
    let at = timing.find("\"sha256\": \"").unwrap() + 11;
    let other = format!("{}{}{}", &timing[..at], "0".repeat(64), &timing[at + 64..]);
    bench.file("kit-amber.timing.json", &other);
    let told = bench.run("show kit-amber.timing.json");
    assert_eq!(told.code, 0);
    assert!(told.out.contains("another film"), "{told:?}");
    assert!(told.out.contains("No curve is kept"), "{told:?}");
}

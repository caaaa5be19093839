//! Photographs judged on the command line.

use serde_json::json;

use super::bench::Bench;
use super::card_photo::{Scene, Shot, save, save_at};
use super::looks::lights;
use focuslag::card::Side;

const SIZE: (usize, usize) = (480, 320);

/// Two kits, one of which misses half of the time, with pictures by hand.
fn kits(bench: &Bench) {
    let scene = Scene::new(Side::Near, 300.0, SIZE);
    for (kit, discs) in [
        ("kit-amber", [0.2, 0.4, 0.0, 0.5, 0.3, 0.1]),
        ("kit-slate", [6.0, 0.3, 9.0, 0.2, 14.0, 0.4]),
    ] {
        let folder = bench.path(kit);
        std::fs::create_dir_all(folder.join("by-hand")).unwrap();
        let take = |disc_px: f64, name: &str, seed: u64| {
            let shot = Shot {
                disc_px,
                size: SIZE,
                sharpened: 0.5,
                noise: 0.01,
                quality: 90,
                seed,
            };
            save(&scene.photograph(&shot), shot.quality, &folder.join(name));
        };
        take(0.0, "by-hand/near.jpg", 99);
        for (k, disc) in discs.iter().enumerate() {
            take(*disc, &format!("IMG_{k}.jpg"), k as u64 + 1);
        }
    }
}

#[test]
fn two_kits_are_judged_and_shown() {
    let bench = Bench::new();
    kits(&bench);
    let area = "--area 0.38,0.25,0.62,0.75 --hit-permille 4";
    let told = bench.run(&format!("photos kit-amber kit-slate {area} -o results"));
    assert_eq!(told.code, 0, "{told:?}");
    for words in [
        "100 % (61 to 100)",
        "50 % (19 to 81)",
        "+50 (",
        "IMG_4.jpg (",
    ] {
        assert!(told.out.contains(words), "{words}\n{}", told.out);
    }
    assert!(told.out.lines().all(|l| l.chars().count() <= 100));
    let page = std::fs::read_to_string(bench.path("results/photos.html")).unwrap();
    // Blur 0 of either, and the three misses.
    assert_eq!(page.matches("data:image/jpeg;base64,").count(), 5);
    assert!(!page.contains("<script"));
    let json = bench.run(&format!("photos kit-slate {area} --json")).json();
    assert_eq!(json["setups"][0]["summary"]["miss"], 3);
    assert_eq!(json["setups"][0]["targets"][0]["reference_from"], "hand");
    let again = std::fs::read(bench.path("results/kit-slate.photos.json")).unwrap();
    bench.run(&format!("photos kit-amber kit-slate {area} -o results"));
    let second = std::fs::read(bench.path("results/kit-slate.photos.json")).unwrap();
    assert!(again == second, "running again gives the same bytes");
}

#[test]
fn what_cannot_be_judged_is_said() {
    let bench = Bench::new();
    std::fs::create_dir(bench.path("kit-amber")).unwrap();
    bench.file("kit-amber/1.cr2", "raw");
    for (typed, code, words) in [
        ("photos nowhere", 2, "nowhere: cannot be read"),
        ("photos kit-amber", 2, "it holds 1 × .cr2"),
        (
            "photos kit-amber --area 0.4,0.4,0.3,0.6",
            2,
            "left, top, right and bottom",
        ),
        (
            "photos kit-amber --hit-permille 900",
            2,
            "--hit-permille: 900 is outside",
        ),
    ] {
        let told = bench.run(typed);
        assert_eq!(told.code, code, "{typed}: {told:?}");
        assert!(told.err.contains(words), "{typed}: {}", told.err);
    }
    bench.file("kit-amber/2.jpg", "not a picture");
    let told = bench.run("photos kit-amber");
    assert_eq!(told.code, 1, "{told:?}");
    assert!((told.err + &told.out).contains("2.jpg"));
}

/// Of six trials every other is lost on the screen, and so in the photographs.
#[test]
fn photographs_stand_beside_the_screens_verdicts() {
    let bench = Bench::new();
    kits(&bench);
    let timing = lights("kit-slate", json!({}), 6, 2, 300.0);
    bench.file("kit-slate.timing.json", &timing.to_string());
    let typed = "photos kit-slate --area 0.38,0.25,0.62,0.75 --hit-permille 4 \
                 --timing kit-slate.timing.json";
    let told = bench.run(typed);
    assert_eq!(told.code, 0, "{told:?}");
    let text = told.out.replace('\n', " ");
    for words in [
        "of 6 trials, matched by order",
        "a hit on the screen is one in the photograph in 3 of 3",
        "a miss is one in 3 of 3",
        "photographs are too few",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let json = bench.run(&format!("{typed} --json")).json();
    let screen = &json["setups"][0]["screen"];
    assert_eq!(
        (&screen["both_hit"], &screen["both_miss"]),
        (&json!(3), &json!(3))
    );
    assert_eq!(json["setups"][0]["pictures"][4]["trial"]["index"], 4);

    // One is missing: not known which, without times.
    std::fs::remove_file(bench.path("kit-slate/IMG_2.jpg")).unwrap();
    let told = bench.run(typed);
    told.says(
        1,
        &[
            "5 photographs do not go evenly into 6 trials",
            "One is missing or too many",
        ],
    );
    assert!(told.out.contains("kit-slate"), "{}", told.out);

    let twice = bench.run(&format!("{typed} kit-slate.timing.json"));
    twice.says(2, &["both are of the setup kit-slate"]);
    let other = bench.run("photos kit-amber --timing kit-slate.timing.json");
    other.says(
        2,
        &["is of the setup kit-slate, and no folder has that name"],
    );
}

/// With times of the camera's clock a missing photograph is told, and nothing of
/// the times is kept.
#[test]
fn a_missing_photograph_is_told_by_the_times() {
    let bench = Bench::new();
    let folder = bench.path("kit-cobalt");
    std::fs::create_dir_all(folder.join("by-hand")).unwrap();
    let scene = Scene::new(Side::Near, 300.0, SIZE);
    let shot = Shot {
        disc_px: 0.0,
        size: SIZE,
        sharpened: 0.0,
        noise: 0.01,
        quality: 90,
        seed: 7,
    };
    let picture = scene.photograph(&shot);
    save(&picture, 90, &folder.join("by-hand/near.jpg"));
    // Uneven stimuli, so that the times fit at one place alone.
    let mut timing = lights("kit-cobalt", json!({}), 12, 0, 300.0);
    let mut onset = 1.0;
    for k in 0..12u64 {
        let trial = &mut timing["clips"][0]["trials"][k as usize];
        trial["onset_s"] = json!(onset);
        trial["settle_s"] = json!(onset + trial["latency_ms"].as_f64().unwrap() / 1e3);
        trial["end_s"] = json!(onset + 1.5);
        if k != 5 {
            let ms = 36_000_000 + (onset * 1e3) as u64 + 600 + k * 7 % 30;
            save_at(&picture, 90, &folder.join(format!("{k}.jpg")), ms);
        }
        onset += 3.0 + (k * k % 7) as f64 * 0.6;
    }
    bench.file("kit-cobalt.timing.json", &timing.to_string());
    let typed = "photos kit-cobalt --area 0.38,0.25,0.62,0.75 --hit-permille 4 \
                 --timing kit-cobalt.timing.json -o results";
    let told = bench.run(typed);
    assert_eq!(told.code, 0, "{told:?}");
    let text = told.out.replace('\n', " ");
    assert!(text.contains("of 11 trials, matched by time"), "{text}");
    assert!(text.contains("1 trials have fewer"), "{text}");
    let file = std::fs::read_to_string(bench.path("results/kit-cobalt.photos.json")).unwrap();
    let photos: serde_json::Value = serde_json::from_str(&file).unwrap();
    let index: Vec<u64> = (0..11)
        .map(|k| photos["pictures"][k]["trial"]["index"].as_u64().unwrap())
        .collect();
    assert_eq!(index, [0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11]);
    assert!(!file.contains("2026") && !file.contains("10:00"));
}

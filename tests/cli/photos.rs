//! Photographs judged on the command line.

use super::bench::Bench;
use super::card_photo::{Scene, Shot, save};
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

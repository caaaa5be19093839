//! Photographs whose blur is known, judged.
//!
//! `cargo bench --bench photos`: pictures of the printed card at three sizes, with
//! and without sharpening by the camera, blurred by discs of 1 to 30 px.
//! `cargo bench --bench photos -- --folder FOLDER`: photographs of a focal stack,
//! whose names end with the lens position in mm (`NAME-049.jpg`), held against the
//! sharpest.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/card_photo.rs"]
mod card_photo;

use std::fs;
use std::path::Path;

use card_photo::{Scene, Shot, save};
use focuslag::card::Side;
use focuslag::photo::{Ask, Folder, Photos, Picture, PictureVerdict, judge};

/// Heights of the card's texture, px.
const CARDS: [f64; 3] = [300.0, 600.0, 1000.0];
/// Discs, px.
const DISCS: [f64; 9] = [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0, 30.0];

fn main() {
    let args: Vec<String> = std::env::args().collect();
    match args.iter().position(|a| a == "--folder") {
        Some(k) => stack(Path::new(args.get(k + 1).map_or(".", String::as_str))),
        None => cards(),
    }
}

fn judged(folder: &Path, area: [f64; 4], hit_permille: f64) -> Photos {
    let ask = Ask {
        area,
        hit_permille: Some(hit_permille),
        confidence: 0.95,
    };
    judge(&Folder::open(folder).unwrap(), &ask, &|| {})
        .unwrap()
        .photos
}

fn cards() {
    println!(
        "| card, px | sharpened | {} |",
        DISCS.map(|d| format!("{d} px")).join(" | ")
    );
    println!("| --- | --- |{}", " --- |".repeat(DISCS.len()));
    let (mut worst, mut beyond) = (0.0f64, 0);
    for card_px in CARDS {
        let size = ((card_px * 1.4) as usize, (card_px * 1.1) as usize);
        let scene = Scene::new(Side::Near, card_px, size);
        for sharpened in [0.0, 0.8, 1.6] {
            let told = told(&scene, size, sharpened);
            for (px, disc) in told.iter().zip(DISCS) {
                let share = (px - disc).abs() / f64::max(0.3, 0.1 * disc);
                worst = worst.max(share);
                beyond += usize::from(share > 1.0);
            }
            let cells: Vec<String> = told.iter().map(|px| format!("{px:.2}")).collect();
            println!("| {card_px} | {sharpened} | {} |", cells.join(" | "));
        }
    }
    println!("beyond 0.3 px or 10 %: {beyond}; worst: {worst:.2} of that");
}

fn told(scene: &Scene, size: (usize, usize), sharpened: f32) -> Vec<f64> {
    let folder = tempfile::tempdir().unwrap();
    let hand = folder.path().join("by-hand");
    fs::create_dir(&hand).unwrap();
    let take = |disc_px: f64, seed: u64, to: &Path| {
        let shot = Shot {
            disc_px,
            size,
            sharpened,
            noise: 0.01,
            quality: 90,
            seed,
        };
        save(&scene.photograph(&shot), shot.quality, to);
    };
    take(0.0, 1, &hand.join("near.jpg"));
    for (k, disc) in DISCS.iter().enumerate() {
        take(*disc, 2 + k as u64, &folder.path().join(format!("{k}.jpg")));
    }
    let photos = judged(folder.path(), [0.28, 0.12, 0.72, 0.88], 4.0);
    let px = |p: &Picture| p.blur.map_or(f64::NAN, |b| b.px);
    photos.pictures.iter().map(px).collect()
}

/// The lens position that a name ends with, mm.
fn position(name: &str) -> Option<i32> {
    let stem = name.rsplit_once('.')?.0;
    let digits = stem.len() - stem.chars().rev().take_while(char::is_ascii_digit).count();
    stem[digits..].parse().ok()
}

fn stack(folder: &Path) {
    let photos = judged(folder, [0.35, 0.3, 0.65, 0.7], 4.0);
    for target in &photos.targets {
        let at = position(&target.reference).unwrap_or_else(|| panic!("no position in names"));
        let off = |p: &&Picture| position(&p.file).map_or(i32::MAX, |z| (z - at).abs());
        let hits = |from: i32, to: i32| {
            let these = || {
                photos
                    .pictures
                    .iter()
                    .filter(|p| (from..=to).contains(&off(p)))
            };
            let hit = these().filter(|p| p.verdict == PictureVerdict::Hit).count();
            let void = these()
                .filter(|p| p.verdict == PictureVerdict::Void)
                .count();
            (hit, these().count(), void)
        };
        println!(
            "{} at {at} mm, least {:?} ‰",
            target.reference, target.least_permille
        );
        for (from, to) in [(0, 3), (4, 14), (15, 40), (41, 1000)] {
            let (hit, n, void) = hits(from, to);
            println!("{from} to {to} mm off: {hit} of {n} are hits, {void} void");
        }
    }
}

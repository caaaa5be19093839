//! Photographs of a printed card, whose blur is known, judged.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "support/card_photo.rs"]
mod card_photo;

use std::fs;
use std::path::Path;

use card_photo::{Scene, Shot, save};
use focuslag::card::Side;
use focuslag::photo::{Ask, Folder, Photos, PictureVerdict, Why, judge};

const SIZE: (usize, usize) = (480, 320);

fn shot(disc_px: f64) -> Shot {
    Shot {
        disc_px,
        size: SIZE,
        sharpened: 0.0,
        noise: 0.01,
        quality: 92,
        seed: 1 + disc_px as u64,
    }
}

fn ask() -> Ask {
    Ask {
        area: [0.38, 0.25, 0.62, 0.75],
        hit_permille: Some(8.0),
        confidence: 0.95,
    }
}

fn judged(folder: &Path) -> Photos {
    judge(&Folder::open(folder).unwrap(), &ask(), &|| {})
        .unwrap()
        .photos
}

/// Blur within 0.3 px or a tenth, with and without sharpening by the camera.
#[test]
fn a_disc_is_found_again() {
    let scene = Scene::new(Side::Near, 300.0, SIZE);
    for sharpened in [0.0, 0.8] {
        let folder = tempfile::tempdir().unwrap();
        let hand = folder.path().join("by-hand");
        fs::create_dir(&hand).unwrap();
        let taken = |disc_px: f64, to: &Path| {
            let shot = Shot {
                sharpened,
                ..shot(disc_px)
            };
            save(&scene.photograph(&shot), shot.quality, to);
        };
        taken(0.0, &hand.join("near.jpg"));
        let discs = [0.0, 1.0, 2.0, 4.0, 8.0, 16.0, 30.0];
        for (k, disc) in discs.iter().enumerate() {
            taken(*disc, &folder.path().join(format!("IMG_{}.jpg", k + 8)));
        }
        let photos = judged(folder.path());
        assert_eq!(photos.pictures[2].file, "IMG_10.jpg");
        for (picture, disc) in photos.pictures.iter().zip(discs) {
            let px = picture.blur.unwrap().px;
            let off = if disc == 0.0 {
                px.max(0.0)
            } else {
                (px - disc).abs()
            };
            let most = f64::max(0.3, 0.1 * disc);
            assert!(off <= most, "{sharpened}: {disc} px is told as {px}");
            let hit = disc * 1e3 / SIZE.1 as f64 <= 8.0;
            assert_eq!(picture.verdict == PictureVerdict::Hit, hit, "{picture:?}");
        }
        assert_eq!(photos.targets.len(), 1);
        assert!(photos.warnings.iter().all(|w| !w.contains("unverified")));
    }
}

/// Near and far in one folder, each told by what it shows; something else, another
/// size, a dark one and a file that is no picture are void, each with its word.
#[test]
fn what_is_no_picture_of_the_target_is_void() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("by-hand")).unwrap();
    let [near, far] = [Side::Near, Side::Far].map(|s| Scene::new(s, 300.0, SIZE));
    let taken = |scene: &Scene, disc: f64, name: &str| {
        save(&scene.photograph(&shot(disc)), 92, &at(name));
    };
    taken(&near, 0.0, "by-hand/near-1.jpg");
    taken(&far, 0.0, "by-hand/far-1.jpg");
    taken(&near, 1.0, "01.jpg");
    taken(&far, 1.2, "02.jpg");
    taken(&near, 9.0, "03.jpg");
    let other = image::GrayImage::from_fn(480, 320, |x, y| {
        image::Luma([(((x / 37) * 53 + (y / 29) * 91) % 251) as u8])
    });
    save(&other, 92, &at("04.jpg"));
    let small = Scene::new(Side::Near, 200.0, (300, 220));
    let smaller = Shot {
        size: (300, 220),
        ..shot(0.0)
    };
    save(&small.photograph(&smaller), 92, &at("05.jpg"));
    save(&image::GrayImage::new(480, 320), 92, &at("06.jpg"));
    fs::write(at("07.jpg"), "no picture").unwrap();
    fs::write(at("09.png"), bomb()).unwrap();
    fs::write(at("08.cr2"), "raw").unwrap();
    let photos = judged(folder.path());
    let reasons: Vec<Option<Why>> = photos.pictures.iter().map(|p| p.reason).collect();
    assert_eq!(reasons[..3], [None; 3], "{:?}", photos.pictures);
    assert_eq!(
        reasons[3..],
        [
            Why::OtherTarget,
            Why::OtherSize,
            Why::NoSignal,
            Why::Unreadable,
            Why::Unreadable,
        ]
        .map(Some)
    );
    let sides: Vec<_> = photos.pictures[..3]
        .iter()
        .map(|p| photos.targets[p.target.unwrap()].side.unwrap())
        .collect();
    assert_eq!(format!("{sides:?}"), "[Near, Far, Near]");
    assert_eq!(photos.pictures[2].verdict, PictureVerdict::Miss);
    assert_eq!(photos.summary.void, 5);
    let said = photos.pictures[7].error.as_deref().unwrap();
    assert!(said.contains("at most 200 million pixels"), "{said}");
    for part in ["04.jpg", "another size", "too dark", "07.jpg", "1 × .cr2"] {
        assert!(photos.warnings.iter().any(|w| w.contains(part)), "{part}");
    }
}

/// The head of a PNG of 30,000 × 30,000 px (PNG, ISO/IEC 15948, 11.2.2), one byte a
/// pixel, and no pixel.
fn bomb() -> Vec<u8> {
    let mut head = b"IHDR".to_vec();
    head.extend(30_000u32.to_be_bytes());
    head.extend(30_000u32.to_be_bytes());
    head.extend([8, 0, 0, 0, 0]);
    let mut out = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    out.extend(&head);
    out.extend(crc(&head).to_be_bytes());
    out.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
    out
}

/// CRC-32 of a chunk (the same, annex D).
fn crc(bytes: &[u8]) -> u32 {
    let step = |c: u32, _| (c >> 1) ^ (0xedb8_8320 * (c & 1));
    !bytes
        .iter()
        .fold(u32::MAX, |c, b| (0..8).fold(c ^ u32::from(*b), step))
}

/// A target that lies elsewhere and is shown larger or smaller, as by a lens that
/// breathes: the focus area goes with it, and blur is in pixels of the picture as it
/// is.
#[test]
fn a_target_may_move_and_change_its_size() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("by-hand")).unwrap();
    let taken = |card_px: f64, disc_px: f64, (left, top): (u32, u32), name: &str| {
        let size = (SIZE.0 + 80, SIZE.1 + 60);
        let shot = Shot {
            size,
            ..shot(disc_px)
        };
        let whole = Scene::new(Side::Near, card_px, size).photograph(&shot);
        let (w, h) = (SIZE.0 as u32, SIZE.1 as u32);
        let cut = image::imageops::crop_imm(&whole, left, top, w, h).to_image();
        save(&cut, 92, &folder.path().join(name));
    };
    taken(300.0, 0.0, (40, 30), "by-hand/near.jpg");
    let cases = [
        (300.0, 3.0, (16, 30)),
        (300.0, 6.0, (60, 8)),
        (270.0, 6.0, (40, 30)),
        (330.0, 6.0, (40, 30)),
        (330.0, 12.0, (50, 42)),
    ];
    for (k, (card, disc, at)) in cases.iter().enumerate() {
        taken(*card, *disc, *at, &format!("{k}.jpg"));
    }
    for (picture, (card, disc, at)) in judged(folder.path()).pictures.iter().zip(cases) {
        let px = picture.blur.unwrap().px;
        // A fiftieth more than a tenth: the size is told in steps of 1 %.
        assert!(
            (px - disc).abs() <= 0.12 * disc,
            "{card} at {at:?}: {disc} px told as {px}"
        );
        assert!(!picture.beyond_recognition && picture.verdict == PictureVerdict::Miss);
    }
}

/// A picture by hand that was not in focus is found out by the others.
#[test]
fn a_soft_picture_by_hand_is_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("by-hand")).unwrap();
    let scene = Scene::new(Side::Near, 300.0, SIZE);
    let taken = |disc: f64, name: &str| {
        save(
            &scene.photograph(&shot(disc)),
            92,
            &folder.path().join(name),
        );
    };
    taken(4.0, "by-hand/near.jpg");
    for (k, disc) in [0.3, 4.2, 0.5, 9.0].iter().enumerate() {
        taken(*disc, &format!("{k}.jpg"));
    }
    let photos = judged(folder.path());
    let softer = photos.targets[0].softer_permille.unwrap() * SIZE.1 as f64 * 1e-3;
    assert!((softer - 4.0).abs() < 0.5, "{softer} px");
    assert!(photos.warnings[0].contains("it was not in focus"));
}

/// Without a picture by hand the setup's own best is blur 0, and that is said.
#[test]
fn without_a_picture_by_hand_it_is_unverified() {
    let folder = tempfile::tempdir().unwrap();
    let scene = Scene::new(Side::Near, 300.0, SIZE);
    for (k, disc) in [7.0, 1.0, 1.2, 5.0, 0.8].iter().enumerate() {
        let to = folder.path().join(format!("{k}.jpg"));
        save(&scene.photograph(&shot(*disc)), 92, &to);
    }
    let photos = judged(folder.path());
    assert!(photos.warnings[0].starts_with("unverified"));
    assert_eq!(photos.targets[0].reference, "1.jpg");
    let hits: Vec<bool> = photos
        .pictures
        .iter()
        .map(|p| p.verdict == PictureVerdict::Hit)
        .collect();
    assert_eq!(hits, [false, true, true, false, true]);
}

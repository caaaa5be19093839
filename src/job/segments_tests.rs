use super::*;

/// Stamps at these rates for so many frames each.
fn stamps(parts: &[(f64, usize)], tick: f64) -> Vec<f64> {
    let mut t = 0.0;
    let mut out = vec![0.0];
    for (fps, n) in parts {
        for _ in 0..*n {
            t += 1.0 / fps;
            out.push((t / tick).round() * tick);
        }
    }
    out
}

fn index(parts: &[(f64, usize)]) -> ClipIndex {
    let stamps = stamps(parts, 1e-6);
    let mut index = ClipIndex::default();
    index.path = "parts.mp4".into();
    index.duration_s = stamps[stamps.len() - 1];
    index.stored_fps = parts[0].0;
    index.stamps = stamps;
    index
}

fn rig(capture: &str) -> Rig {
    let text = format!("name = \"r\"\n[stimulus]\nkind = \"swing\"\n[capture]\n{capture}\n");
    Rig::parse(&text, "rig.toml").unwrap()
}

#[test]
fn parts_are_told_from_rounding_and_lost_frames() {
    for tick in [1e-3, 1.0 / 600.0, 1e-6] {
        let found = runs(&stamps(&[(240.0, 200), (30.0, 100), (240.0, 80)], tick));
        let rates: Vec<f64> = found.iter().map(|r| r.fps.round()).collect();
        assert_eq!(rates, [240.0, 30.0, 240.0], "{tick}");
        assert!((found[1].from_s - 200.0 / 240.0).abs() < 2.0 * tick);
    }
    assert_eq!(runs(&stamps(&[(960.0, 400)], 1e-3)).len(), 1);
    let mut lossy = stamps(&[(240.0, 900)], 1e-6);
    let mut k = 0_usize;
    lossy.retain(|_| {
        k += 1;
        !(k * 7919 % 101).is_multiple_of(3)
    });
    assert!(runs(&lossy).len() <= 1);
    assert!(one_rate(&rig("fps = 240"), &index(&[(240.0, 400)])).is_ok());
}

#[test]
fn a_table_becomes_a_scale() {
    let clip = index(&[(30.0, 60), (30.0, 240)]);
    let table = "segments = [{ from_s = 0.0, fps = 30 }, { from_s = 2.0, fps = 240 }]";
    let scale = scale(&rig(table), &clip).unwrap();
    assert!((scale.shot(StoredTime(2.0)).0 - 2.0).abs() < 1e-9);
    assert!((scale.shot(StoredTime(10.0)).0 - 3.0).abs() < 1e-6);
    assert!((scale.rate().fps() - 240.0).abs() < 1e-9);
}

#[test]
fn a_table_that_contradicts_the_stamps_is_refused() {
    let two = [(240.0, 240), (30.0, 120)];
    for (table, words) in [
        ("[{ from_s = 0.0, fps = 240 }]", "from 1.0"),
        (
            "[{ from_s = 0.0, fps = 240 }, { from_s = 1.0, fps = 240 }, { from_s = 99.0, fps = 240 }]",
            "the clip ends",
        ),
        (
            "[{ from_s = 0.0, fps = 30 }, { from_s = 1.0, fps = 240 }]",
            "more than were filmed",
        ),
    ] {
        let rig = rig(&format!("segments = {table}"));
        let said = scale(&rig, &index(&two)).unwrap_err().to_string();
        assert!(said.contains(words) && said.contains("parts.mp4"), "{said}");
    }
    let said = one_rate(&rig("fps = 240"), &index(&two))
        .unwrap_err()
        .to_string();
    assert!(
        said.contains("capture.segments") && said.contains("from_s = 1.0"),
        "{said}"
    );
}

use serde_json::{Value, json};

use super::*;

/// Only the fixed keys of the format.
const FIXED_KEYS: &str = r#"{
    "format": "focuslag-timing", "version": 1,
    "setup": { "name": "kit-amber", "tags": { "firmware": "2.0" } },
    "rig": { "name": "bench", "stimulus": { "kind": "swing" } },
    "measure": { "name": "blur", "version": 1, "settle_permille": 2.0, "hit_permille": 4.0,
        "signal": "tenengrad" },
    "made_by": { "focuslag": "0.1.0", "ffmpeg": "5.1.9" },
    "clips": [ {
        "path": "amber-1.mp4", "sha256": "ab", "frames": 1440, "duration_s": 6.0,
        "capture_fps": 240.0,
        "screen": { "corners": [[412,188],[1510,201],[1502,815],[405,803]], "refresh_hz": 60.0,
            "height_px": 640 }, "least_permille": 1.4,
        "live_view_lag_ms": 58.1, "warnings": [], "error": null,
        "trials": [ {
            "index": 0, "side": "near", "verdict": "hit", "reason": null, "early": false,
            "move_s": 1.010, "onset_s": 1.204, "reaction_s": 1.291, "settle_s": 1.523,
            "end_s": 2.704, "latency_ms": 319.0, "latency_corrected_ms": 260.9,
            "uncertainty_ms": 6.9, "reversals": 2, "relapses": 0, "overshoot_permille": 3.2,
            "onset_seen": "screen", "delta_permille": 2.0, "hit_limit_permille": 4.0,
            "reference_from": "hand", "close_call": false,
            "blur_permille": { "onset": 31.0, "end": 0.6, "end_u": 0.3 },
            "cues": { "subject box": { "shown_s": 1.402, "latency_ms": 198.0 } }
        }, {
            "index": 1, "side": "far", "verdict": "lost", "reason": "hunted on", "early": false,
            "move_s": null, "onset_s": 3.1, "reaction_s": null, "settle_s": null,
            "end_s": 4.6, "latency_ms": null, "latency_corrected_ms": null,
            "uncertainty_ms": null, "reversals": null, "relapses": null,
            "overshoot_permille": null, "onset_seen": "direct", "delta_permille": 2.0,
            "hit_limit_permille": 4.0, "reference_from": "setup", "close_call": true,
            "blur_permille": { "onset": 18.0, "end": null, "end_u": null },
            "cues": {}
        } ]
    } ]
}"#;

fn fixed_keys() -> Value {
    serde_json::from_str(FIXED_KEYS).unwrap()
}

fn read(value: &Value) -> Result<Timing, StoreError> {
    read_timing_from(value.to_string().as_bytes(), "kit.timing.json")
}

/// Sets one key by JSON pointer and says how the file is refused.
fn refusal(pointer: &str, value: Value) -> String {
    let mut file = fixed_keys();
    let (parent, key) = pointer.rsplit_once('/').unwrap();
    file.pointer_mut(parent).unwrap()[key] = value;
    read(&file).unwrap_err().to_string()
}

#[test]
fn the_fixed_keys_are_enough_and_unknown_keys_pass() {
    let mut file = fixed_keys();
    let plain = read(&file).unwrap();
    assert_eq!(plain.clips[0].trials.len(), 2);
    file["later"] = json!({ "x": [1, 2] });
    file["clips"][0]["trials"][0]["later"] = json!(3);
    assert_eq!(read(&file).unwrap(), plain);
}

#[test]
fn the_summary_is_not_looked_at() {
    for summary in [json!("nonsense"), json!({ "hit": -3 }), json!(null)] {
        let mut file = fixed_keys();
        file["summary"] = summary;
        assert_eq!(read(&file).unwrap().summary, None);
    }
}

#[test]
fn a_newer_version_and_another_format_are_refused() {
    let text = refusal("/version", json!(2));
    assert!(
        text.contains("kit.timing.json") && text.contains('2'),
        "{text}"
    );
    for version in [json!("1"), json!(null), json!(0), json!(1.5)] {
        assert!(refusal("/version", version).contains("version"));
    }
    assert!(refusal("/format", json!("something")).contains("format"));
}

#[test]
fn a_cut_file_is_said_to_be_cut() {
    let text = serde_json::to_string_pretty(&fixed_keys()).unwrap();
    for keep in [0, 1, text.len() / 3, text.len() - 3] {
        let error = read_timing_from(&text.as_bytes()[..keep], "kit.timing.json").unwrap_err();
        let message = error.to_string();
        assert!(
            message.contains("kit.timing.json") && message.contains("cut short"),
            "{message}"
        );
    }
    let more = format!("{text} {{}}");
    assert!(read_timing_from(more.as_bytes(), "k").is_err());
    assert!(read_timing_from(&b"\xff\xfe"[..], "k").is_err());
    assert!(
        read_timing(Path::new("no-such.timing.json"))
            .unwrap_err()
            .to_string()
            .contains("no-such")
    );
}

/// Wherever the damage is, the place is said as far as it is known.
#[test]
fn a_place_that_is_not_known_is_not_made_up() {
    let text = serde_json::to_string_pretty(&fixed_keys()).unwrap();
    let mut kinds = [0; 2];
    for at in 0..text.len() {
        for spoilt in [
            format!("{}\u{1}{}", &text[..at], &text[at..]),
            text[..at].to_owned(),
        ] {
            let Err(error) = read_timing_from(spoilt.as_bytes(), "k") else {
                continue;
            };
            let said = error.to_string();
            assert!(!said.contains('?') && !said.contains("column 0"), "{said}");
            assert!(!said.contains("line 0") && !said.contains("``"), "{said}");
            for (kind, words) in ["line ", ", key `"].iter().enumerate() {
                kinds[kind] += u32::from(said.contains(*words));
            }
        }
    }
    assert!(kinds.iter().all(|n| *n > 10), "{kinds:?}");
}

#[test]
fn numbers_that_cannot_be_are_refused() {
    let text = fixed_keys().to_string();
    for bad in ["NaN", "1e999", "-1e999"] {
        let file = text.replace("319.0", bad);
        assert!(read_timing_from(file.as_bytes(), "k").is_err(), "{bad}");
    }
    let t = "/clips/0/trials/0";
    for (key, value) in [
        ("latency_ms", json!(-1.0)),
        ("latency_ms", json!(1e9)),
        ("latency_ms", json!(2000.0)),
        ("latency_corrected_ms", json!(-0.5)),
        ("onset_s", json!(1e12)),
        ("end_s", json!(1.2)),
        ("end_s", json!(99.0)),
        ("index", json!(1)),
    ] {
        let message = refusal(&format!("{t}/{key}"), value);
        assert!(message.contains("trial amber-1.mp4:"), "{message}");
    }
    let message = refusal("/clips/0/trials/0/onset_s", json!("soon"));
    assert!(message.contains("clips[0].trials[0].onset_s"), "{message}");
    assert!(message.contains("line 1"), "{message}");
    assert!(refusal("/clips/0/capture_fps", json!(-240.0)).contains("capture_fps"));
}

#[test]
fn the_table_of_verdicts_is_kept() {
    let cases = [
        (0, "latency_ms", json!(null), "latency_ms"),
        (0, "settle_s", json!(null), "settle_s"),
        (0, "reason", json!("cut"), "reason"),
        (0, "verdict", json!("lost"), "reason"),
        (0, "verdict", json!("soft"), "latency"),
        (1, "settle_s", json!(3.4), "settle_s"),
        (1, "latency_ms", json!(300.0), "latency"),
        (1, "reason", json!("tired"), "tired"),
        (1, "reason", json!(null), "reason"),
        (1, "verdict", json!("void"), "hunted on"),
        (1, "verdict", json!("hit"), "hit"),
        (1, "side", json!(null), "side"),
    ];
    for (trial, key, value, word) in cases {
        let message = refusal(&format!("/clips/0/trials/{trial}/{key}"), value);
        assert!(
            message.contains(&format!("amber-1.mp4:{trial}")),
            "{message}"
        );
        assert!(message.contains(word), "{message}");
    }
    let mut file = fixed_keys();
    file["clips"][0]["trials"][1]["verdict"] = json!("void");
    file["clips"][0]["trials"][1]["reason"] = json!("excluded: somebody walked through");
    assert!(read(&file).is_ok());
    file["rig"]["stimulus"]["kind"] = json!("light");
    assert!(read(&file).unwrap_err().to_string().contains("side"));
}

#[test]
fn a_latency_that_contradicts_its_instants_is_doubted() {
    let mut file = fixed_keys();
    assert!(crate::store::doubts(&read(&file).unwrap()).is_empty());
    file["clips"][0]["trials"][0]["latency_ms"] = json!(250.0);
    let said = crate::store::doubts(&read(&file).unwrap());
    assert!(
        said.len() == 1 && said[0].contains("amber-1.mp4:0"),
        "{said:?}"
    );
}

#[test]
fn no_trial_and_the_same_film_twice_are_refused() {
    assert!(refusal("/clips", json!([])).contains("no trial"));
    assert!(refusal("/clips/0/trials", json!([])).contains("no trial"));
    let mut file = fixed_keys();
    let again = file["clips"][0].clone();
    file["clips"].as_array_mut().unwrap().push(again);
    assert!(read(&file).unwrap_err().to_string().contains("same film"));
}

#[test]
fn texts_longer_than_any_are_refused() {
    let long = "x".repeat(40_000);
    let clip = "/clips/0";
    for (key, value) in [
        ("/setup/name".to_owned(), json!(long)),
        ("/setup/tags/firmware".to_owned(), json!(long)),
        (format!("{clip}/path"), json!(long)),
        (format!("{clip}/error"), json!(long)),
        (format!("{clip}/warnings"), json!([long])),
        (format!("{clip}/trials/1/reason"), json!(long)),
    ] {
        let message = refusal(&key, value);
        assert!(message.contains("bytes long"), "{key}: {}", &message[..200]);
        assert!(message.len() < 500, "{key}");
    }
}

#[test]
fn a_file_longer_than_any_is_refused_unread() {
    let text = format!("{}{}", " ".repeat(LARGEST as usize), FIXED_KEYS);
    let said = read_timing_from(text.as_bytes(), "k")
        .unwrap_err()
        .to_string();
    assert!(said.contains("larger than any timing file"), "{said}");
}

proptest::proptest! {
    /// Any damage to the bytes is an error or a sound timing, never a panic.
    #[test]
    fn damaged_bytes_never_panic(place in 0usize..2000, byte in 0u8..=255) {
        let mut bytes = fixed_keys().to_string().into_bytes();
        let k = place % bytes.len();
        bytes[k] = byte;
        if let Ok(timing) = read_timing_from(bytes.as_slice(), "k") {
            proptest::prop_assert!(crate::stats::summary::summarise(&timing.clips, 0.95).is_ok());
        }
    }
}

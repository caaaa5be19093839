mod exclude;
mod files;
mod flags;
mod ranges;
mod session;
mod whole;

pub(super) const SMALL: &str = "name = \"counter\"\nstimulus.kind = \"swing\"\n";

pub(super) const FULL: &str = r##"name = "counter-240"

[capture]
fps = 240
segments = [{ from_s = 1.5, fps = 960.0 }, { from_s = 3.25, fps = 240.0 }]
frame_size = [1920, 1080]

[screen]
corners = [[412, 188], [1510, 201], [1502, 815], [405, 803]]
refresh_hz = 59.94
af_area = [0.4, 0.3, 0.6, 0.7]
masks = [[0.45, 0.45, 0.5, 0.5]]

[sharpness]
measure = "mid-band"
low_cph = 20
high_cph = 90.5

[stimulus]
kind = "swing"
at = "cover"
region = [10, 20.5, 300, 400]

[trial]
window_ms = 1200
hold_ms = 150
settle_permille = 1.5
hit_permille = 6

[[cue]]
name = "subject box"
kind = "color"
region = [0.4, 0.3, 0.6, 0.7]
color = "#30C040"
tolerance = 0.2

[[cue]]
name = "lamp"
kind = "light"
region = [0.0, 0.0, 0.1, 0.1]

[[cue]]
name = "beep"
kind = "tone"
"##;

/// The messages of a rig text that has faults.
pub(super) fn faults(text: &str) -> Vec<String> {
    let faults = super::Rig::parse(text, "rigs/counter.toml").expect_err("the text has faults");
    faults.list.iter().map(ToString::to_string).collect()
}

/// Appends `more` (from line 3 on) to a good rig; wants exactly one fault, at
/// `line`, of `key`, whose words hold `words`.
pub(super) fn one(more: &str, line: usize, key: &str, words: &str) {
    one_of(&format!("{SMALL}{more}"), line, key, words);
}

pub(super) fn one_of(text: &str, line: usize, key: &str, words: &str) {
    let all = faults(text);
    assert_eq!(all.len(), 1, "one fault wanted: {all:#?}");
    let start = format!("rigs/counter.toml:{line}: {key}: ");
    assert!(all[0].starts_with(&start), "{start} … {}", all[0]);
    assert!(all[0].contains(words), "{words} … {}", all[0]);
    assert!(
        all[0].contains(';') || all[0].contains('?'),
        "says what to do: {}",
        all[0]
    );
}

//! Rig file → [`Rig`].

use std::path::Path;

use super::fault::Faults;
use super::fields::Table;
use super::read_cue;
use super::read_screen::{pixel_rect, screen};
use super::sheet::{Sheet, read_text};
use super::spec::{
    Capture, DEFAULT_HIT_PERMILLE, DEFAULT_HOLD, DEFAULT_MEASURE, DEFAULT_SETTLE_PERMILLE,
    DEFAULT_WINDOW, MeasureSpec, PERMILLE, Rig, Segment, Stimulus, SwingAt, TrialSpec,
};
use crate::units::{CAPTURE_FPS, CaptureRate, Millis, StoredTime};

/// Every key a rig file may hold.
pub(super) const KEYS: &[&str] = &[
    "name",
    "capture.fps",
    "capture.segments.from_s",
    "capture.segments.fps",
    "capture.frame_size",
    "screen.corners",
    "screen.feed",
    "screen.refresh_hz",
    "screen.af_area",
    "screen.masks",
    "sharpness.measure",
    "sharpness.smoothing_px",
    "sharpness.low_cph",
    "sharpness.high_cph",
    "stimulus.kind",
    "stimulus.at",
    "stimulus.region",
    "trial.window_ms",
    "trial.hold_ms",
    "trial.settle_permille",
    "trial.hit_permille",
    "cue.name",
    "cue.kind",
    "cue.region",
    "cue.color",
    "cue.tolerance",
];

/// Keys of earlier rig files, and what stands in their place.
pub(super) const RETIRED: &[(&str, &str)] = &[
    (
        "trial.tolerance",
        "is no longer a setting: trials are judged by blur, not by sharpness; take it out, or write \
         `settle_permille` (how near to its end the blur must stay, ‰ of the screen's height; 4.0 \
         where nothing is written)",
    ),
    (
        "trial.hit_ratio",
        "is no longer a setting: trials are judged by blur, not by sharpness; take it out, or write \
         `hit_permille` (largest end blur of a hit, ‰ of the screen's height; 4.0 where nothing is \
         written)",
    ),
    (
        "trial.settle",
        "is no longer a setting: every trial is judged by blur; take it out (`settle_permille` says \
         how near to its end the blur must stay)",
    ),
    (
        "trial.blur_permille",
        "is now called `settle_permille`, which goes from 0.5 to 50; rename it",
    ),
];

impl Rig {
    /// Reads a rig file.
    ///
    /// # Errors
    /// Every fault of the file at once.
    pub fn read(path: &Path) -> Result<Self, Faults> {
        Self::parse(&read_text(path)?, &path.display().to_string())
    }

    /// Reads the text of a rig file, which messages call `file_name`.
    ///
    /// # Errors
    /// Every fault of the text at once.
    pub fn parse(text: &str, file_name: &str) -> Result<Self, Faults> {
        let sheet = Sheet::new(file_name, text);
        let rig = sheet.tree().and_then(|tree| {
            let root = Table::root(&sheet, &tree);
            root.check_keys_of_old(KEYS, RETIRED);
            rig(&root)
        });
        sheet.close(rig)
    }
}

/// Reads all sections before giving up on any, so that all faults are noted.
fn rig(root: &Table<'_>) -> Option<Rig> {
    let name = root.need("name", "add a line like `name = \"counter-240\"`");
    let name = name.and_then(|v| v.text());
    let capture = capture(&root.section("capture"));
    let frame = capture.as_ref().and_then(|c| c.frame_size);
    let screen = screen(&root.section("screen"), frame);
    let measure = measure(&root.section("sharpness"));
    let stimulus = stimulus(&root.section("stimulus"), frame);
    let trial = trial(&root.section("trial"));
    let cues = read_cue::cues(root);
    Some(Rig {
        name: name?.to_owned(),
        capture: capture?,
        screen: screen?,
        measure: measure?,
        stimulus: stimulus?,
        trial,
        cues,
    })
}

fn capture(table: &Table<'_>) -> Option<Capture> {
    let fps = table.number("fps", CAPTURE_FPS).and_then(CaptureRate::new);
    let segments: Vec<Segment> = table
        .sections("segments")
        .iter()
        .filter_map(segment)
        .collect();
    let ascending = segments.windows(2).all(|w| w[0].from < w[1].from);
    if !ascending {
        table.fault(
            "segments",
            "are not in order; sort them by rising `from_s`, each once",
        );
    }
    let first = segments.first().map_or(0.0, |s| s.from.0);
    if table.value("fps").is_none() && first > 0.0 {
        table.fault(
            "segments",
            format!("say nothing of the time before {first} s; start the first at `from_s = 0.0`, or add `capture.fps`"),
        );
    }
    let frame_size = table.value("frame_size").map(|value| {
        let items = value.items()?;
        if items.len() != 2 {
            value
                .fault("is no size; give two whole numbers: [width, height] of the upright frame in pixels");
            return None;
        }
        let sides: Vec<_> = items.iter().map(|i| i.whole_in(16..=32768)).collect();
        Some((sides[0]? as usize, sides[1]? as usize))
    });
    Some(Capture {
        fps,
        segments,
        frame_size: frame_size.unwrap_or_default(),
    })
}

fn segment(table: &Table<'_>) -> Option<Segment> {
    let from = table.need(
        "from_s",
        "add where it starts, in seconds of the stored clip",
    );
    let from = from.and_then(|v| v.number_in(0.0..=1e6));
    let fps = table.need("fps", "add the true rate of this part, frames per second");
    let rate = fps
        .and_then(|v| v.number_in(CAPTURE_FPS))
        .and_then(CaptureRate::new);
    Some(Segment {
        from: StoredTime(from?),
        rate: rate?,
    })
}

fn measure(table: &Table<'_>) -> Option<MeasureSpec> {
    let names = MeasureSpec::all().map(|m| m.name());
    let named = match table.value("measure") {
        None => Some(DEFAULT_MEASURE),
        Some(value) => value.choice(&names).map(|i| MeasureSpec::all()[i]),
    }?;
    refuse_other_parameters(table, named);
    match named {
        MeasureSpec::Tenengrad { smoothing_px } => Some(MeasureSpec::Tenengrad {
            smoothing_px: table
                .number("smoothing_px", 0.0..=10.0)
                .unwrap_or(smoothing_px),
        }),
        MeasureSpec::MidBand { low_cph, high_cph } => {
            let low_cph = table.number("low_cph", 1.0..=2000.0).unwrap_or(low_cph);
            let high_cph = table.number("high_cph", 1.0..=2000.0).unwrap_or(high_cph);
            if low_cph >= high_cph {
                let key = if table.value("low_cph").is_some() {
                    "low_cph"
                } else {
                    "high_cph"
                };
                table.fault(key, format!("the band from {low_cph} to {high_cph} is empty; make low_cph smaller than high_cph"));
            }
            Some(MeasureSpec::MidBand { low_cph, high_cph })
        }
        plain => Some(plain),
    }
}

fn refuse_other_parameters(table: &Table<'_>, measure: MeasureSpec) {
    let own = measure.parameters();
    for other in MeasureSpec::all().iter().flat_map(MeasureSpec::parameters) {
        if own.iter().all(|(key, _)| *key != other.0) {
            let name = measure.name();
            table.refuse(
                other.0,
                &format!("is no parameter of the measure {name}; take it out"),
            );
        }
    }
}

fn stimulus(table: &Table<'_>, frame: Option<(usize, usize)>) -> Option<Stimulus> {
    let kind = table.need(
        "kind",
        "add `kind = \"swing\"`, `\"light\"` or `\"tone\"` under [stimulus]",
    );
    let kind = kind.and_then(|k| k.choice(&["swing", "light", "tone"]));
    let at = table.choice("at", &["rest", "cover"]);
    let region = table.value("region").map(|v| pixel_rect(&v, frame));
    match kind? {
        0 => Some(Stimulus::Swing {
            at: if at == Some(1) {
                SwingAt::Cover
            } else {
                SwingAt::Rest
            },
            region: region.unwrap_or_default(),
        }),
        1 => {
            table.refuse("at", "belongs to a swing; take it out");
            table.need(
                "region",
                "add `region = [x0, y0, x1, y1]`, where the trigger light lies in the frame",
            )?;
            region?.map(|region| Stimulus::Light { region })
        }
        _ => {
            table.refuse("at", "belongs to a swing; take it out");
            table.refuse("region", "belongs to a swing or a light; take it out");
            Some(Stimulus::Tone)
        }
    }
}

fn trial(table: &Table<'_>) -> TrialSpec {
    let window = table
        .number("window_ms", 100.0..=60_000.0)
        .map_or(DEFAULT_WINDOW, Millis);
    let hold = table.positive("hold_ms").map(Millis);
    // A short window alone must not turn the untouched default into a fault.
    let hold_ms = hold.unwrap_or(Millis(DEFAULT_HOLD.0.min(window.0)));
    if hold_ms > window {
        let (hold, window) = (hold_ms.0, window.0);
        table.fault(
            "hold_ms",
            format!(
                "is {hold}, longer than the window of {window} ms; shorten it or raise window_ms"
            ),
        );
    }
    let (settle_permille, hit_permille) = permille(table);
    TrialSpec {
        window,
        hold: hold_ms,
        settle_permille,
        hit_permille,
    }
}

/// δ and the hit limit. A hit must end at least as near to focus as a stay
/// must keep, so of the two the one that nobody wrote follows the other.
fn permille(table: &Table<'_>) -> (f64, f64) {
    let settle = table.number("settle_permille", PERMILLE);
    let hit = table.number("hit_permille", PERMILLE);
    let delta = settle.unwrap_or(DEFAULT_SETTLE_PERMILLE.min(hit.unwrap_or(f64::MAX)));
    let limit = hit.unwrap_or(DEFAULT_HIT_PERMILLE.max(delta));
    if limit < delta {
        table.fault(
            "hit_permille",
            format!(
                "is {limit}, below settle_permille ({delta}); raise it, or lower settle_permille"
            ),
        );
    }
    (delta, limit)
}

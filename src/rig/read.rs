//! Rig file → [`Rig`].

use std::collections::BTreeSet;
use std::path::Path;

use serde::de::{Deserialize, Deserializer};
use serde_json::{Value, json};

use super::keys::KNOWN;
use super::read_cue::CueFile;
use super::read_screen::in_frame;
use super::spec::{
    Capture, CueSpec, DEFAULT_HIT_PERMILLE, DEFAULT_HOLD, DEFAULT_MEASURE, DEFAULT_SETTLE_PERMILLE,
    DEFAULT_WINDOW, MeasureSpec, PERMILLE, PixelRect, Rig, ScreenSpec, Stimulus, SwingAt,
    TrialSpec,
};
use crate::units::{CAPTURE_FPS, CaptureRate, Hertz, Millis, StoredTime};
use crate::written::values::{number, positive, refused, text, whole, within};
use crate::written::{Faults, Sheet, read_text};

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
        let file: Option<RigFile> = sheet.read(&KNOWN);
        sheet.close(file.and_then(|f| f.checked(&sheet)))
    }

    /// The rig as used, key by key as in the rig file, every default filled in.
    /// What is still open (a rate the clip tells) is null.
    pub fn to_json(&self) -> Value {
        json!(self)
    }

    /// The rig that [`Self::to_json`] wrote.
    ///
    /// # Errors
    /// What of it is no rig, in words.
    pub fn from_json(rig: &Value) -> Result<Self, String> {
        let text = toml::to_string(&without_nulls(rig)).map_err(|e| e.to_string())?;
        let told = |f: &super::Fault| format!("{}: {}", f.key, f.message);
        Self::parse(&text, "rig").map_err(|faults| {
            let told: Vec<_> = faults.list.iter().map(told).collect();
            told.join("; ")
        })
    }
}

/// What is not known has no key in a rig file.
fn without_nulls(value: &Value) -> Value {
    match value {
        Value::Object(map) => {
            let known = map.iter().filter(|(_, v)| !v.is_null());
            Value::Object(known.map(|(k, v)| (k.clone(), without_nulls(v))).collect())
        }
        Value::Array(list) => list.iter().map(without_nulls).collect(),
        other => other.clone(),
    }
}

#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct RigFile {
    #[serde(deserialize_with = "text")]
    name: Option<String>,
    capture: Capture,
    screen: ScreenSpec,
    sharpness: Sharpness,
    stimulus: Trigger,
    trial: Trial,
    cue: Vec<Option<CueFile>>,
}

impl RigFile {
    /// Tells what does not go together, all of it.
    fn checked(self, sheet: &Sheet) -> Option<Rig> {
        if self.name.is_none() {
            sheet.missing("name", "add a line like `name = \"counter-240\"`");
        }
        self.capture.check(sheet);
        let frame = self.capture.frame_size;
        self.screen.check(sheet, frame);
        let measure = self.sharpness.measure(sheet);
        let stimulus = self.stimulus.checked(sheet, frame);
        let trial = self.trial.filled(sheet);
        let cues = cues(&self.cue, sheet);
        Some(Rig {
            name: self.name?,
            capture: self.capture,
            screen: self.screen,
            measure,
            stimulus: stimulus?,
            trial,
            cues,
        })
    }
}

pub(super) fn rate<'de, D: Deserializer<'de>, T: From<CaptureRate>>(d: D) -> Result<T, D::Error> {
    let fps = number(d, CAPTURE_FPS)?;
    CaptureRate::new(fps).map_or_else(|| refused("is no rate; give another"), |r| Ok(r.into()))
}

within! {
    window: 100.0..=60_000.0;
    permille: PERMILLE;
    smoothing: 0.0..=10.0;
    /// Cycles per screen height.
    frequency: 1.0..=2000.0;
    tolerance: 0.01..=1.0;
}

pub(super) fn stored_time<'de, D: Deserializer<'de>>(d: D) -> Result<StoredTime, D::Error> {
    number(d, 0.0..=1e6).map(StoredTime)
}

pub(super) fn refresh_rate<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Hertz>, D::Error> {
    number(d, 1.0..=1000.0).map(|hz| Some(Hertz(hz)))
}

struct Side(usize);

impl<'de> Deserialize<'de> for Side {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        whole(d, 16..=32768).map(Self)
    }
}

pub(super) fn frame_size<'de, D: Deserializer<'de>>(
    d: D,
) -> Result<Option<(usize, usize)>, D::Error> {
    match Vec::deserialize(d)?.as_slice() {
        [Side(w), Side(h)] => Ok(Some((*w, *h))),
        _ => refused(
            "is no size; give two whole numbers: [width, height] of the upright frame in pixels",
        ),
    }
}

impl Capture {
    fn check(&self, sheet: &Sheet) {
        if !self.segments.is_sorted_by(|a, b| a.from < b.from) {
            let message = "are not in order; sort them by rising `from_s`, each once";
            sheet.fault("capture.segments", message);
        }
        let first = self.segments.first().map_or(0.0, |s| s.from.0);
        if self.fps.is_none() && first > 0.0 {
            sheet.fault(
                "capture.segments",
                format!("say nothing of the time before {first} s; start the first at `from_s = 0.0`, or add `capture.fps`"),
            );
        }
    }
}

/// `[sharpness]`.
#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Sharpness {
    #[serde(deserialize_with = "measure")]
    measure: Option<MeasureSpec>,
    #[serde(deserialize_with = "smoothing")]
    smoothing_px: Option<f64>,
    #[serde(deserialize_with = "frequency")]
    low_cph: Option<f64>,
    #[serde(deserialize_with = "frequency")]
    high_cph: Option<f64>,
}

fn measure<'de, D: Deserializer<'de>>(d: D) -> Result<Option<MeasureSpec>, D::Error> {
    let name: String = text(d)?;
    let named = MeasureSpec::named(&name);
    let names = MeasureSpec::all().map(|m| m.name()).join("\", \"");
    named.map_or_else(
        || refused(format!("is \"{name}\"; give one of \"{names}\"")),
        |m| Ok(Some(m)),
    )
}

impl Sharpness {
    fn measure(&self, sheet: &Sheet) -> MeasureSpec {
        let named = self.measure.unwrap_or(DEFAULT_MEASURE);
        let (name, own) = (named.name(), named.parameters());
        for (key, _) in MeasureSpec::all().iter().flat_map(MeasureSpec::parameters) {
            if own.iter().all(|(k, _)| *k != key) {
                let why = format!("is no parameter of the measure {name}; take it out");
                sheet.refuse_key(&format!("sharpness.{key}"), &why);
            }
        }
        match named {
            MeasureSpec::Tenengrad { smoothing_px } => MeasureSpec::Tenengrad {
                smoothing_px: self.smoothing_px.unwrap_or(smoothing_px),
            },
            MeasureSpec::MidBand { low_cph, high_cph } => {
                let low = self.low_cph.unwrap_or(low_cph);
                let high = self.high_cph.unwrap_or(high_cph);
                if low >= high {
                    let key = self.low_cph.map_or("high_cph", |_| "low_cph");
                    sheet.fault(&format!("sharpness.{key}"), format!("the band from {low} to {high} is empty; make low_cph smaller than high_cph"));
                }
                MeasureSpec::MidBand {
                    low_cph: low,
                    high_cph: high,
                }
            }
            plain => plain,
        }
    }
}

/// `[stimulus]`.
#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Trigger {
    kind: Option<Kind>,
    at: Option<SwingAt>,
    region: Option<PixelRect>,
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Swing,
    Light,
    Tone,
}

impl Trigger {
    fn checked(&self, sheet: &Sheet, frame: Option<(usize, usize)>) -> Option<Stimulus> {
        if let Some(r) = self.region {
            in_frame(
                sheet,
                "stimulus.region",
                &[r.x0, r.x1],
                &[r.y0, r.y1],
                frame,
            );
        }
        match self.kind {
            None => {
                sheet.missing(
                    "stimulus.kind",
                    "add `kind = \"swing\"`, `\"light\"` or `\"tone\"` under [stimulus]",
                );
                return None;
            }
            Some(Kind::Swing) => {
                return Some(Stimulus::Swing {
                    at: self.at.unwrap_or(SwingAt::Rest),
                    region: self.region,
                });
            }
            Some(Kind::Light | Kind::Tone) => {
                sheet.refuse_key("stimulus.at", "belongs to a swing; take it out");
            }
        }
        if matches!(self.kind, Some(Kind::Tone)) {
            let why = "belongs to a swing or a light; take it out";
            sheet.refuse_key("stimulus.region", why);
            return Some(Stimulus::Tone);
        }
        if self.region.is_none() {
            sheet.missing(
                "stimulus.region",
                "add `region = [x0, y0, x1, y1]`, where the trigger light lies in the frame",
            );
        }
        self.region.map(|region| Stimulus::Light { region })
    }
}

/// `[trial]`.
#[derive(Default, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Trial {
    #[serde(deserialize_with = "window")]
    window_ms: Option<f64>,
    #[serde(deserialize_with = "positive")]
    hold_ms: Option<f64>,
    #[serde(deserialize_with = "permille")]
    settle_permille: Option<f64>,
    #[serde(deserialize_with = "permille")]
    hit_permille: Option<f64>,
}

impl Trial {
    fn filled(&self, sheet: &Sheet) -> TrialSpec {
        let window = self.window_ms.unwrap_or(DEFAULT_WINDOW.0);
        // A short window alone must not turn the untouched default into a fault.
        let hold = self.hold_ms.unwrap_or(DEFAULT_HOLD.0.min(window));
        if hold > window {
            sheet.fault(
                "trial.hold_ms",
                format!(
                    "is {hold}, longer than the window of {window} ms; shorten it or raise window_ms"
                ),
            );
        }
        // A hit must end at least as near to focus as a stay must keep, so of
        // the two the one that nobody wrote follows the other.
        let (settle, hit) = (self.settle_permille, self.hit_permille);
        let delta = settle.unwrap_or(DEFAULT_SETTLE_PERMILLE.min(hit.unwrap_or(f64::MAX)));
        let limit = hit.unwrap_or(DEFAULT_HIT_PERMILLE.max(delta));
        if limit < delta {
            sheet.fault(
                "trial.hit_permille",
                format!(
                    "is {limit}, below settle_permille ({delta}); raise it, or lower settle_permille"
                ),
            );
        }
        TrialSpec {
            window: Millis(window),
            hold: Millis(hold),
            settle_permille: delta,
            hit_permille: limit,
        }
    }
}

fn cues(files: &[Option<CueFile>], sheet: &Sheet) -> Vec<CueSpec> {
    let mut seen = BTreeSet::new();
    let mut out = Vec::new();
    for (i, file) in files.iter().enumerate() {
        let key = format!("cue[{i}]");
        let cue = file.as_ref().and_then(|f| f.checked(sheet, &key));
        let Some(cue) = cue else { continue };
        if !seen.insert(cue.name.clone()) {
            let name = &cue.name;
            let message = format!("is \"{name}\" like another cue; give every cue its own name");
            sheet.fault(&format!("{key}.name"), message);
        }
        out.push(cue);
    }
    out
}

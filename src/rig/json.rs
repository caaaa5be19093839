//! The rig as used: the rig file's own keys, every default filled in.

use serde_json::{Map, Value, json};

use super::spec::{AreaFrac, Capture, CueKind, CueSpec, PixelRect, Rig, Stimulus, SwingAt};

impl Rig {
    /// The rig as used, key by key as in the rig file. What is still open
    /// (a rate the clip tells) is null.
    #[must_use]
    pub fn to_json(&self) -> Value {
        let screen = &self.screen;
        let trial = &self.trial;
        json!({
            "name": self.name,
            "capture": capture(&self.capture),
            "screen": {
                "corners": screen.corners.map(|q| q.corners.map(|p| [p.x, p.y])),
                "feed": screen.feed,
                "refresh_hz": screen.refresh_hz.map(|hz| hz.0),
                "af_area": area(&screen.af_area),
                "masks": screen.masks.iter().map(area).collect::<Vec<_>>(),
            },
            "sharpness": self.sharpness(),
            "stimulus": stimulus(&self.stimulus),
            "trial": {
                "window_ms": trial.window.0,
                "hold_ms": trial.hold.0,
                "settle_permille": trial.settle_permille,
                "hit_permille": trial.hit_permille,
            },
            "cue": self.cues.iter().map(cue).collect::<Vec<_>>(),
        })
    }

    /// The rig that [`Self::to_json`] wrote.
    ///
    /// # Errors
    /// What of it is no rig, in words.
    pub fn from_json(rig: &Value) -> Result<Self, String> {
        let text = toml::to_string(&without_nulls(rig)).map_err(|e| e.to_string())?;
        let read = Self::parse(&text, "rig");
        read.map_err(|faults| {
            let told = faults
                .list
                .iter()
                .map(|f| format!("{}: {}", f.key, f.message));
            told.collect::<Vec<_>>().join("; ")
        })
    }

    fn sharpness(&self) -> Value {
        let mut out = Map::new();
        out.insert("measure".to_owned(), json!(self.measure.name()));
        for (key, value) in self.measure.parameters() {
            out.insert(key.to_owned(), json!(value));
        }
        Value::Object(out)
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

fn capture(capture: &Capture) -> Value {
    let segments: Vec<Value> = capture
        .segments
        .iter()
        .map(|s| json!({ "from_s": s.from.0, "fps": s.rate.fps() }))
        .collect();
    json!({
        "fps": capture.fps.map(crate::units::CaptureRate::fps),
        "segments": segments,
        "frame_size": capture.frame_size.map(|(w, h)| [w, h]),
    })
}

fn stimulus(stimulus: &Stimulus) -> Value {
    match stimulus {
        Stimulus::Swing { at, region } => {
            let at = match at {
                SwingAt::Rest => "rest",
                SwingAt::Cover => "cover",
            };
            json!({ "kind": "swing", "at": at, "region": region.as_ref().map(rect) })
        }
        Stimulus::Light { region } => json!({ "kind": "light", "region": rect(region) }),
        Stimulus::Tone => json!({ "kind": "tone" }),
    }
}

fn cue(cue: &CueSpec) -> Value {
    match &cue.kind {
        CueKind::Color {
            region,
            color: [r, g, b],
            tolerance,
        } => json!({
            "name": cue.name, "kind": "color", "region": area(region),
            "color": format!("#{r:02x}{g:02x}{b:02x}"), "tolerance": tolerance,
        }),
        CueKind::Light { region, tolerance } => json!({
            "name": cue.name, "kind": "light", "region": area(region), "tolerance": tolerance,
        }),
        CueKind::Tone => json!({ "name": cue.name, "kind": "tone" }),
    }
}

fn area(a: &AreaFrac) -> Value {
    json!([a.left, a.top, a.right, a.bottom])
}

fn rect(r: &PixelRect) -> Value {
    json!([r.x0, r.y0, r.x1, r.y1])
}

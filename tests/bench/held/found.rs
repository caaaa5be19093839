//! A timing file by the contract's keys. Keys that are not there are unknown:
//! nothing else of the file is looked at.

use serde_json::Value;

/// A clip of a timing file.
pub struct Clip {
    /// File name without folder.
    pub file: String,
    pub least_permille: Option<f64>,
    pub warnings: Vec<String>,
    pub error: Option<String>,
    pub trials: Vec<Trial>,
}

/// One trial, times in s.
#[derive(Clone, Debug)]
pub struct Trial {
    pub side: Option<String>,
    pub verdict: String,
    pub reason: Option<String>,
    pub early: bool,
    pub onset_s: f64,
    /// Whether the onset was seen beside the screen, in world time.
    pub direct: bool,
    pub settle_s: Option<f64>,
    pub end_s: Option<f64>,
    pub latency_ms: Option<f64>,
    pub latency_corrected_ms: Option<f64>,
    pub uncertainty_ms: Option<f64>,
    pub delta_permille: Option<f64>,
    pub hit_limit_permille: Option<f64>,
    pub end_permille: Option<f64>,
    pub end_u_permille: Option<f64>,
    pub close_call: bool,
}

/// The clips of a timing file.
pub fn clips(timing: &Value) -> Vec<Clip> {
    let stimulus = &timing["rig"]["stimulus"];
    // Where a trial does not say: a light is seen directly, a swing where the
    // rig says where to look.
    let direct = stimulus["kind"] != "swing" || !stimulus["region"].is_null();
    list(&timing["clips"])
        .iter()
        .map(|c| clip(c, direct))
        .collect()
}

fn list(v: &Value) -> &[Value] {
    v.as_array().map_or(&[], Vec::as_slice)
}

fn text(v: &Value) -> Option<String> {
    v.as_str().map(str::to_owned)
}

fn clip(c: &Value, direct: bool) -> Clip {
    let path = text(&c["path"]).unwrap_or_default();
    Clip {
        file: path.rsplit('/').next().unwrap_or(&path).to_owned(),
        least_permille: c["least_permille"].as_f64(),
        warnings: list(&c["warnings"]).iter().filter_map(text).collect(),
        error: text(&c["error"]),
        trials: list(&c["trials"])
            .iter()
            .filter_map(|t| trial(t, direct))
            .collect(),
    }
}

fn trial(t: &Value, direct: bool) -> Option<Trial> {
    let number = |key: &str| t[key].as_f64();
    Some(Trial {
        side: text(&t["side"]),
        verdict: text(&t["verdict"])?,
        reason: text(&t["reason"]),
        early: t["early"].as_bool().unwrap_or(false),
        onset_s: number("onset_s")?,
        direct: text(&t["onset_seen"]).map_or(direct, |s| s != "screen"),
        settle_s: number("settle_s"),
        end_s: number("end_s"),
        latency_ms: number("latency_ms"),
        latency_corrected_ms: number("latency_corrected_ms"),
        uncertainty_ms: number("uncertainty_ms"),
        delta_permille: number("delta_permille"),
        hit_limit_permille: number("hit_limit_permille"),
        end_permille: t["blur_permille"]["end"].as_f64(),
        end_u_permille: t["blur_permille"]["end_u"].as_f64(),
        close_call: t["close_call"].as_bool().unwrap_or(false),
    })
}

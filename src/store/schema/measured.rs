//! What a timing file's trials were judged by.

use super::{ReferenceFrom, Timing, Trial, Verdict};

impl Timing {
    /// What was measured and in which version, in words: `blur, version 1`.
    pub fn measured(&self) -> String {
        let name = self.measure.get("name").and_then(|n| n.as_str());
        let version = self.measure.get("version").and_then(|v| v.as_u64());
        match (name, version) {
            (Some(name), Some(version)) => format!("{name}, version {version}"),
            (Some(name), None) => name.to_owned(),
            _ => "nothing stated".to_owned(),
        }
    }

    /// Every δ by which trials were judged, ‰ of the screen's height, rising;
    /// the one asked for where no trial says. One entry in a sound file.
    pub fn deltas(&self) -> Vec<f64> {
        let own = self.judged().filter_map(|t| t.delta_permille);
        let own = different(own);
        if !own.is_empty() {
            return own;
        }
        different(self.asked("settle_permille").into_iter())
    }

    /// Largest end blur of a hit, ‰ of the screen's height.
    pub fn hit_limit(&self) -> Option<f64> {
        let own = self.judged().filter_map(|t| t.hit_limit_permille);
        own.reduce(f64::max).or(self.asked("hit_permille"))
    }

    /// What `measure` states under a key, ‰.
    pub fn asked(&self, key: &str) -> Option<f64> {
        self.measure.get(key).and_then(serde_json::Value::as_f64)
    }

    /// Judged trials.
    pub fn judged(&self) -> impl Iterator<Item = &Trial> {
        let all = self.clips.iter().flat_map(|c| &c.trials);
        all.filter(|t| t.verdict != Verdict::Void)
    }

    /// Whether "hit" only means "as sharp as this setup's own best", for some
    /// judged trial at least.
    pub fn unverified(&self) -> bool {
        self.judged()
            .any(|t| t.reference_from != Some(ReferenceFrom::Hand))
    }
}

fn different(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

//! Each setup's own table, and all their latencies on one axis.

use std::collections::{BTreeMap, BTreeSet};

use crate::stats::describe::{Description, describe};
use crate::stats::sample::{Latencies, has_corrected};
use crate::stats::summary::summarise;
use crate::store::schema::{Side, Summary, Tally, Timing, Trial, Verdict};

use super::bars::histogram_text;
use super::table::{Form, table};
use super::words::{NONE, fixed, paragraph, percent, plain, whole, with_interval};

/// Two-sided level of every interval here.
const CONFIDENCE: f64 = 0.95;
/// Below this p a drift or a spread is worth a line.
const WORTH_SAYING: f64 = 0.01;

/// What the columns mean, once for all setups.
const LEGEND: &str = "Times in ms. Hits: latency over hits only, as seen. Time to focus: when half \
    of all judged trials is in focus, soft and lost counting as not yet. Reversals, relapses: \
    share of trials that turned back before settling, that left focus and came back. ± is two \
    standard uncertainties; brackets are 95 % intervals.";

/// What the trials of each setup say: a table per setup, then the latencies of
/// all of them drawn to one scale. At most 100 columns.
#[must_use]
pub fn time_text(timings: &[&Timing]) -> String {
    let told: Vec<Told> = timings.iter().filter_map(|t| Told::of(t)).collect();
    let mut text: String = told.iter().map(|t| t.text() + "\n").collect();
    if told.is_empty() {
        return text;
    }
    text.push_str(&paragraph("", LEGEND));
    let drawn: Vec<(&str, &str, u64)> = told
        .iter()
        .map(|t| {
            let stored = t.summary.hit_latency_us_histogram_v2.as_str();
            (t.timing.setup.name.as_str(), stored, t.summary.all.judged)
        })
        .collect();
    let drawing = histogram_text(&drawn);
    if !drawing.is_empty() {
        text.push_str("\nLatency of hits as seen; heights are shares of the judged trials\n");
        text.push_str(&drawing);
    }
    text
}

/// A setup with everything its table needs.
struct Told<'a> {
    timing: &'a Timing,
    summary: Summary,
    detail: Description,
}

impl<'a> Told<'a> {
    fn of(timing: &'a Timing) -> Option<Self> {
        let summary = timing.summary.clone();
        Some(Self {
            timing,
            summary: summary.or_else(|| summarise(&timing.clips, CONFIDENCE).ok())?,
            detail: describe(&timing.clips, Latencies::AsSeen, CONFIDENCE),
        })
    }

    fn text(&self) -> String {
        let mut text = self.heading();
        for line in [self.voids(), self.missing(), self.lost()]
            .into_iter()
            .flatten()
        {
            text.push_str(&paragraph("  ", &line));
        }
        text.push_str(&paragraph("  ", &self.yardstick()));
        text.push('\n');
        text.push_str(&self.verdicts());
        text.push('\n');
        text.push_str(&self.times());
        for line in self.footnotes() {
            text.push_str(&paragraph("  ", &line));
        }
        text
    }

    fn heading(&self) -> String {
        let tags: Vec<String> = self
            .timing
            .setup
            .tags
            .iter()
            .map(|(k, v)| format!("{k} {v}"))
            .collect();
        let name = plain(&self.timing.setup.name);
        if tags.is_empty() {
            return name + "\n";
        }
        paragraph(&format!("{name}   "), &tags.join(", "))
    }

    fn trials(&self) -> impl Iterator<Item = &'a Trial> {
        self.timing.clips.iter().flat_map(|c| &c.trials)
    }

    /// `3 of 14 trials void: …`, the headline where there are any.
    fn voids(&self) -> Option<String> {
        let all = &self.summary.all;
        let clips = counted(self.timing.clips.len() as u64, "clip");
        if all.void == 0 {
            let trials = counted(all.trials, "trial");
            return Some(format!("{trials} in {clips}, none void."));
        }
        let reasons = reasons(self.trials(), Verdict::Void);
        let list: Vec<String> = reasons
            .iter()
            .map(|(reason, n)| format!("{n} {}", spelled_out(reason)))
            .collect();
        Some(format!(
            "{} of {} in {clips} void: {}.",
            all.void,
            counted(all.trials, "trial"),
            list.join(", ")
        ))
    }

    fn missing(&self) -> Option<String> {
        let failed = self.timing.clips.iter().filter(|c| c.error.is_some());
        let names: Vec<&str> = failed.map(|c| c.path.as_str()).collect();
        (!names.is_empty()).then(|| {
            format!(
                "{} of {} could not be judged, and no number here knows of it: {}.",
                names.len(),
                counted(self.timing.clips.len() as u64, "clip"),
                names.join(", ")
            )
        })
    }

    fn lost(&self) -> Option<String> {
        let reasons = reasons(self.trials(), Verdict::Lost);
        let list: Vec<String> = reasons.iter().map(|(r, n)| format!("{n} {r}")).collect();
        (!list.is_empty()).then(|| format!("Lost: {}.", list.join(", ")))
    }

    /// What "hit" means here.
    fn yardstick(&self) -> String {
        let from: BTreeSet<(Option<Side>, &str)> = self
            .trials()
            .filter_map(|t| Some((t.side, t.sharpness.as_ref()?.reference_from.as_deref()?)))
            .collect();
        let sides = |wanted: &str| -> Vec<String> {
            let found = from.iter().filter(|(_, f)| *f == wanted);
            found
                .filter_map(|(side, _)| side.map(|s| named(Some(s))))
                .collect()
        };
        let any = |wanted: &str| from.iter().any(|(_, f)| *f == wanted);
        let own = "the setup's own best, so \"hit\" only means as sharp as that";
        match (any("clip"), any("trials")) {
            (true, false) => "Reference: focused by hand.".to_owned(),
            (true, true) => format!(
                "Reference: {} by hand; {} {own}.",
                sides("clip").join(", "),
                sides("trials").join(", ")
            ),
            (false, true) => format!("Reference: {own}."),
            (false, false) => "Reference: none, no trial reached a level to hold on to.".to_owned(),
        }
    }

    /// Sides and all; all alone where there are none.
    fn rows(&self) -> Vec<(Option<Side>, &Tally)> {
        let sides = self.summary.by_side.iter();
        sides
            .map(|(side, tally)| (Some(*side), tally))
            .chain([(None, &self.summary.all)])
            .collect()
    }

    fn verdicts(&self) -> String {
        let head = [
            "Side",
            "Trials",
            "Hit",
            "Soft",
            "Lost",
            "Void",
            "Hit rate (95 %)",
            "In focus by 250 ms",
            "500 ms",
            "1000 ms",
        ];
        let rows: Vec<Vec<String>> = self
            .rows()
            .into_iter()
            .map(|(side, t)| {
                let by = |key: &str| percent(t.in_focus_by.get(key).copied().flatten());
                let counts = [t.trials, t.hit, t.soft, t.lost, t.void].map(|n| n.to_string());
                [named(side)]
                    .into_iter()
                    .chain(counts)
                    .chain([rate(t), by("250_ms"), by("500_ms"), by("1000_ms")])
                    .collect()
            })
            .collect();
        table(Form::Text, &head, &rows, 1)
    }

    fn times(&self) -> String {
        let head = [
            "Side",
            "Hits p10",
            "p50",
            "p90",
            "max",
            "Time to focus (95 %)",
            "Reversals",
            "Relapses",
        ];
        let rows: Vec<Vec<String>> = self
            .rows()
            .into_iter()
            .map(|(side, t)| {
                let group = match side {
                    Some(s) => self.detail.by_side.get(&s),
                    None => Some(&self.detail.all),
                };
                let (l, focus) = (t.latency_ms, t.time_to_focus_ms);
                vec![
                    named(side),
                    whole(l.p10),
                    whole(l.p50),
                    whole(l.p90),
                    whole(l.max),
                    with_interval(
                        &whole(focus.median),
                        &whole(focus.median_low),
                        &whole(focus.median_high),
                    ),
                    percent(group.and_then(|g| g.with_reversals)),
                    percent(group.and_then(|g| g.with_relapses)),
                ]
            })
            .collect();
        table(Form::Text, &head, &rows, 1)
    }

    fn footnotes(&self) -> Vec<String> {
        let mut said: Vec<String> = self.one_latency().into_iter().chain(self.gaps()).collect();
        if self.summary.all.hit > 0 && !has_corrected(&self.timing.clips) {
            said.push(
                "The onset was seen directly and the live-view lag is not known: every latency \
                 here is too long by that lag."
                    .to_owned(),
            );
        }
        if let Some(b) = self.detail.between_clips.filter(|b| b.p < WORTH_SAYING) {
            said.push(format!(
                "The clips differ: their medians run from {} to {} ms (p {}).",
                fixed(b.medians_ms[0], 0),
                fixed(b.medians_ms[1], 0),
                super::words::p(Some(b.p))
            ));
        }
        if let Some(d) = self.detail.drift.filter(|d| d.p < WORTH_SAYING) {
            let slope = d.ms_per_10_trials.map_or(String::new(), |ms| {
                format!(" by {ms:+.0} ms in 10 trials over its hits")
            });
            said.push(format!(
                "Time to focus drifts{slope} (p {}): battery, warmth or a moved rig?",
                super::words::p(Some(d.p))
            ));
        }
        said
    }

    fn one_latency(&self) -> Option<String> {
        let [low, high] = self.detail.uncertainty_ms?;
        let (low, high) = (fixed(2.0 * low, 0), fixed(2.0 * high, 0));
        let range = if low == high {
            low
        } else {
            format!("{low} to {high}")
        };
        Some(format!("One latency: ± {range} ms."))
    }

    /// Why there is a dash, where a reader may wonder.
    fn gaps(&self) -> Option<String> {
        let rows = self.rows();
        let short = |t: &Tally| t.latency_ms.p10.is_none() || t.latency_ms.p90.is_none();
        let mut why = Vec::new();
        if rows.iter().any(|(_, t)| t.hit > 0 && short(t)) {
            why.push("too few hits for that quantile");
        }
        if rows
            .iter()
            .any(|(_, t)| t.judged > 0 && t.time_to_focus_ms.median.is_none())
        {
            why.push("half of the trials did not come into focus in the window");
        }
        let open = |t: &Tally| {
            let f = t.time_to_focus_ms;
            f.median.is_some() && (f.median_low.is_none() || f.median_high.is_none())
        };
        if rows.iter().any(|(_, t)| open(t)) {
            why.push("too few trials for that end of an interval");
        }
        let gone = |t: &Tally| t.in_focus_by.values().any(Option::is_none);
        if rows.iter().any(|(_, t)| t.judged > 0 && gone(t)) {
            why.push("not watched that long");
        }
        (!why.is_empty()).then(|| format!("{NONE}: {}.", why.join("; or ")))
    }
}

fn rate(tally: &Tally) -> String {
    tally.hit_rate.map_or(percent(None), |r| {
        with_interval(
            &percent(Some(r.value)),
            &fixed(r.low * 100.0, 0),
            &fixed(r.high * 100.0, 0),
        )
    })
}

fn named(side: Option<Side>) -> String {
    match side {
        Some(Side::Near) => "near",
        Some(Side::Far) => "far",
        None => "all",
    }
    .to_owned()
}

/// `1 clip`, `3 clips`.
fn counted(n: u64, what: &str) -> String {
    format!("{n} {what}{}", if n == 1 { "" } else { "s" })
}

/// Trials of a verdict by reason.
fn reasons<'a>(
    trials: impl Iterator<Item = &'a Trial>,
    verdict: Verdict,
) -> BTreeMap<&'a str, u64> {
    let mut counts = BTreeMap::new();
    for trial in trials.filter(|t| t.verdict == verdict) {
        let reason = trial.reason.as_deref().unwrap_or("no reason given");
        *counts.entry(reason).or_insert(0) += 1;
    }
    counts
}

/// A void's reason for people.
fn spelled_out(reason: &str) -> String {
    if let Some(why) = reason.strip_prefix("excluded: ") {
        return format!("excluded ({why})");
    }
    let meaning = match reason {
        "cut" => "not filmed to the end of its window",
        "not displaced" => "it was not out of focus before",
        "cannot tell" => "noise",
        "no signal" => "dark or glare",
        other => return other.to_owned(),
    };
    format!("{reason} ({meaning})")
}

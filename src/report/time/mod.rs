//! Each setup's own table, and all their latencies on one axis.

pub(super) mod counts;
mod footnotes;

use std::collections::BTreeMap;

use crate::stats::compare::{Comparison, UNJUDGED};
use crate::stats::describe::{Description, describe};
use crate::stats::sample::{Latencies, has_corrected};
use crate::stats::summary::summarise;
use crate::store::schema::{Side, Summary, Tally, Timing, Trial, Verdict};

use super::bars::histogram_text;
use super::compare::pairs_text;
use super::cues::{LEGEND as CUES, own_cues};
use super::lead;
use super::table::{Form, table};
use super::words::{
    NONE, fixed, paragraph, percent, plain, rate_with_interval, twice, whole, with_interval,
};
use super::yardstick;
use counts::named;

/// Two-sided level of every interval here.
const CONFIDENCE: f64 = 0.95;
/// Below this p a drift or a spread is worth a line.
const WORTH_SAYING: f64 = 0.01;
/// Setups that get a line of their own before the tables.
const MOST_LEADS: usize = 4;

/// What the columns mean, once for all setups.
const LEGEND: &str = "Times in ms. Hits: latency over hits only, as seen; spread: its standard \
    deviation. Half in focus by: half of all judged trials are in focus then, soft and lost ones \
    not yet. Turned back: share of trials with reversals, that turned back before settling. Lost it \
    again: with relapses, that left focus and came back. ± is two standard uncertainties; brackets \
    are 95 % intervals.";

/// What the trials of each setup say: the result in plain lines, a table per
/// setup, then the latencies drawn to one scale. At most 100 columns. What
/// comparisons of these setups say stands first, what lies behind it last.
pub fn time_report(timings: &[&Timing], comparisons: &[Comparison]) -> String {
    let told: Vec<Told> = timings
        .iter()
        .filter_map(|t| Told::of(t, comparisons))
        .collect();
    if told.is_empty() {
        return String::new();
    }
    let mut text = lead(&told, comparisons);
    text.extend(told.iter().map(|t| format!("\n{}", t.text(told.len() > 1))));
    text.push('\n');
    text.push_str(&paragraph("", LEGEND));
    if told.iter().any(|t| !t.detail.cues.is_empty()) {
        text.push_str(&paragraph("", CUES));
    }
    text.push_str(&drawings(&told));
    for comparison in comparisons {
        text.push_str(&pairs_text(comparison));
    }
    text
}

/// The plain lines alone, for a page.
pub(super) fn lead_lines(timings: &[&Timing], comparisons: &[Comparison]) -> Vec<String> {
    let told: Vec<Told> = timings
        .iter()
        .filter_map(|t| Told::of(t, comparisons))
        .collect();
    lines(&told, comparisons)
}

/// Plain lines: of setups held against each other, then of those alone.
fn lead(told: &[Told], comparisons: &[Comparison]) -> String {
    let lines = lines(told, comparisons);
    lines.iter().map(|line| paragraph("", line)).collect()
}

fn lines(told: &[Told], comparisons: &[Comparison]) -> Vec<String> {
    let mut lines: Vec<String> = comparisons.iter().flat_map(lead::found).collect();
    let alone: Vec<&Told> = told.iter().filter(|t| !t.compared).collect();
    lines.extend(alone.iter().take(MOST_LEADS).map(|t| t.lead()));
    if alone.len() > MOST_LEADS {
        lines.push(format!("{} more setups below.", alone.len() - MOST_LEADS));
    }
    lines
}

/// Latencies of setups on one axis; those that hold a screen's lag nobody knows
/// on an axis of their own.
fn drawings(told: &[Told]) -> String {
    let drawn = |lagging: bool| -> String {
        let those: Vec<(&str, &str, u64)> = told
            .iter()
            .filter(|t| t.lag_unknown() == lagging)
            .map(|t| {
                let stored = t.summary.hit_latency_us_histogram_v2.as_str();
                (t.timing.setup.name.as_str(), stored, t.summary.all.judged)
            })
            .collect();
        histogram_text(&those)
    };
    let headed = |heading: &str, drawing: String| {
        if drawing.is_empty() {
            drawing
        } else {
            format!("\n{heading}\n{drawing}")
        }
    };
    headed(
        "Latency of hits as seen; heights are shares of the judged trials",
        drawn(false),
    ) + &headed(
        "Latency of hits with the screen's lag in it, which is not known: not to be set beside others",
        drawn(true),
    )
}

/// A setup with everything its table needs.
struct Told<'a> {
    timing: &'a Timing,
    summary: Summary,
    detail: Description,
    /// Whether it is held against another setup.
    compared: bool,
}

impl<'a> Told<'a> {
    fn of(timing: &'a Timing, comparisons: &[Comparison]) -> Option<Self> {
        let summary = timing.summary.clone();
        let mut setups = comparisons.iter().flat_map(|c| &c.setups);
        Some(Self {
            compared: setups.any(|s| s.name == timing.setup.name),
            timing,
            summary: summary.or_else(|| summarise(&timing.clips, CONFIDENCE).ok())?,
            detail: describe(&timing.clips, Latencies::AsSeen, CONFIDENCE),
        })
    }

    /// Hits, and when half of the trials are in focus.
    fn lead(&self) -> String {
        let all = &self.summary.all;
        let half = match all.time_to_focus_ms.median {
            Some(ms) => format!("half in focus by {ms:.0} ms"),
            None => "half of them not in focus within the window".to_owned(),
        };
        let lag = if self.lag_unknown() {
            ", the screen's lag, which is not known, included"
        } else {
            ""
        };
        let name = plain(&self.timing.setup.name) + yardstick::badge(self.detail.own_reference);
        if all.judged == 0 {
            return format!("{name}: no trial could be judged.");
        }
        format!(
            "{name}: {} of {} judged trials hit; {half}{lag}.",
            all.hit, all.judged
        )
    }

    /// Whether every latency holds a screen's lag that is not known.
    fn lag_unknown(&self) -> bool {
        self.summary.all.hit > 0 && !has_corrected(&self.timing.clips)
    }

    fn text(&self, others: bool) -> String {
        let mut text = self.heading();
        for line in [self.voids(), self.missing(), self.soft(), self.lost()]
            .into_iter()
            .flatten()
        {
            text.push_str(&paragraph("  ", &line));
        }
        let judged = [
            Some(yardstick::reference(self.timing)),
            Some(yardstick::judged_at(self.timing)),
            yardstick::film_limits(self.timing),
            yardstick::close_calls(self.timing),
        ];
        for line in judged.into_iter().flatten() {
            text.push_str(&paragraph("  ", &line));
        }
        text.push('\n');
        text.push_str(&self.verdicts());
        text.push('\n');
        text.push_str(&self.times());
        let cues = own_cues(&self.detail);
        if !cues.is_empty() {
            text.push_str(&format!("\n{cues}"));
        }
        for line in self.footnotes(others) {
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
        let name = plain(&self.timing.setup.name) + yardstick::badge(self.detail.own_reference);
        if tags.is_empty() {
            return name + "\n";
        }
        paragraph(&format!("{name}   "), &tags.join(", "))
    }

    fn trials(&self) -> impl Iterator<Item = &'a Trial> {
        self.timing.clips.iter().flat_map(|c| &c.trials)
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
            "Filmed",
            "Judged",
            "Hit",
            "Soft",
            "Lost",
            "Void",
            "Hit rate (95 %)",
            "In focus\nby 250 ms",
            "\nby 500 ms",
            "\nby 1000 ms",
        ];
        let rows: Vec<Vec<String>> = self
            .rows()
            .into_iter()
            .map(|(side, t)| {
                let by = |key: &str| percent(t.in_focus_by.get(key).copied().flatten());
                let counts =
                    [t.trials, t.judged, t.hit, t.soft, t.lost, t.void].map(|n| n.to_string());
                [named(side)]
                    .into_iter()
                    .chain(counts)
                    .chain([
                        rate_with_interval(t.hit_rate),
                        by("250_ms"),
                        by("500_ms"),
                        by("1000_ms"),
                    ])
                    .collect()
            })
            .collect();
        table(Form::Text, &head, &rows, 1)
    }

    fn times(&self) -> String {
        let head = [
            "Side",
            "Hits\np10",
            "\np50",
            "\np90",
            "\nmax",
            "\nspread",
            "Half in focus\nby (95 %)",
            "Turned\nback",
            "Lost it\nagain",
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
                    whole(group.and_then(|g| g.hit_sd_ms)),
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
}

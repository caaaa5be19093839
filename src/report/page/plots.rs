//! Sections with plots.

use maud::{Markup, PreEscaped, html};

use super::kit::{Kit, side_word};
use super::names::{name, shown};
use super::panels::{Panel, panels};
use crate::report::depth::Depth;
use crate::report::plot::{Dot, FocusLine, Lane, Line, aligned, focus, glyph, histogram, strip};
use crate::report::trial::{Limits, kind};
use crate::report::words::{fixed, percent, whole};
use crate::stats::histogram::{LatencyHistogram, Scale};
use crate::stats::normal::two_sided_z;
use crate::stats::survival::Curve;
use crate::store::schema::{Side, Verdict};

/// Fewest and most bins of a histogram.
const BINS: [f64; 2] = [12.0, 60.0];
/// Bins from 0 on at most: what can still be told apart in a plot.
const MOST_BINS: usize = 125;
/// Kinds of lines told apart by colour and dashes.
const STYLES: usize = 6;
/// Shown before the onset, ms.
const BEFORE_MS: f64 = 200.0;

fn figure(caption: &Markup, plot: String) -> Markup {
    html! { figure { figcaption { (caption) } (PreEscaped(plot)) } }
}

pub(super) fn histograms(kits: &[Kit]) -> Markup {
    html! {
        section #latencies aria-labelledby="latencies-h" {
            h2 #latencies-h { "Latencies" }
            p.note { "Heights are shares of a setup's judged trials. The dashed bar: soft or lost, never in \
                focus within the window. Latencies as seen." }
            @let panels = panels(kits);
            @for panel in &panels {
                @if panels.len() > 1 { h3 { "Onset: " (panel.onset) } }
                (stacked(panel))
            }
        }
    }
}

/// Histograms of one panel below each other, on one axis from 0 with the same
/// bins.
fn stacked(panel: &Panel) -> Markup {
    let read: Vec<(&Kit, LatencyHistogram)> = panel
        .kits
        .iter()
        .filter_map(|k| {
            let stored = &k.summary.hit_latency_us_histogram_v2;
            Some((*k, LatencyHistogram::from_text(stored).ok()?))
        })
        .collect();
    let all: Vec<&LatencyHistogram> = read.iter().map(|r| &r.1).collect();
    let most = all.iter().map(|h| h.len()).max().unwrap_or(0);
    let bins = (4.0 * (most as f64).sqrt()).clamp(BINS[0], BINS[1]) as usize;
    let Some(scale) = Scale::common(&all, bins).map(|s| s.starting_at_zero(MOST_BINS)) else {
        return html! { p { "No trial was a hit, so there is no latency." } };
    };
    let shares = |k: &Kit, n: u64| n as f64 / k.summary.all.judged.max(1) as f64;
    let never = |k: &Kit| shares(k, k.summary.all.soft + k.summary.all.lost);
    let drawn: Vec<(&Kit, Vec<f64>)> = read
        .iter()
        .map(|(k, h)| {
            let counts = scale.counts(h).into_iter();
            (*k, counts.map(|n| shares(k, n)).collect())
        })
        .collect();
    let top = drawn
        .iter()
        .flat_map(|(k, s)| s.iter().copied().chain([never(k)]));
    let top = top.fold(0.0, f64::max);
    html! {
        p.note { "A bar is " (whole(Some(scale.step_ms))) " ms wide." }
        div.stack { @for (kit, shares) in &drawn {
            @let all = &kit.summary.all;
            @let told = format!(
                "{} hits, {} soft or lost of {} judged trials; half of the hits take {} ms \
                 or less, nine in ten {} ms.",
                all.hit, all.soft + all.lost, all.judged,
                whole(all.latency_ms.p50), whole(all.latency_ms.p90));
            (figure(
                &html! { (name(kit.label())) span.note {
                    @if all.judged == 0 { " · no trial could be judged" }
                    @else { " · " (all.hit) " hits, " (all.soft + all.lost) " soft or lost" }
                } },
                histogram(&format!("Latencies of {}", shown(kit.label())), &told,
                    &scale, shares, never(kit), top)))
        } }
    }
}

/// Kaplan–Meier as the share in focus.
fn line(kit: &Kit, side: Option<Side>, named: &str, style: usize) -> Option<FocusLine> {
    let watched: Vec<_> = kit
        .judged(side)
        .iter()
        .map(|o| o.watched(f64::INFINITY))
        .collect();
    let curve = Curve::new(&watched)?;
    let z = two_sided_z(kit.confidence);
    let steps = curve.steps().iter().map(|s| {
        let limits = s.log_log(z).map(|(low, high)| (1.0 - high, 1.0 - low));
        (s.ms, 1.0 - s.waiting, limits)
    });
    Some(FocusLine {
        name: named.to_owned(),
        class: format!("s{}", style % STYLES),
        steps: steps.collect(),
    })
}

pub(super) fn times(kits: &[Kit]) -> Markup {
    let panels = panels(kits);
    html! {
        section #times aria-labelledby="times-h" {
            h2 #times-h { "Time to focus" }
            p.note { "The share of judged trials in focus so many ms after onset (Kaplan–Meier). A setup \
                that often misses never gets to 100 %. Bands: 95 % intervals (log–log)." }
            @for panel in &panels {
                @if panels.len() > 1 { h3 { "Onset: " (panel.onset) } }
                p.note { (panel.lag) }
                @if panel.kits.len() > 1 { (together(panel)) }
                div.grid { @for kit in &panel.kits {
                    @let sides = kit.sides();
                    @let lines: Vec<FocusLine> = sides.iter().enumerate()
                        .filter_map(|(k, side)| line(kit, *side, side_word(*side), k)).collect();
                    @let told: Vec<String> = sides.iter().map(|side| {
                        let f = kit.focus(*side);
                        format!("{}: half by {} ms ({} to {})", side_word(*side), whole(f.median),
                            whole(f.median_low), whole(f.median_high))
                    }).collect();
                    (figure(&html! { (name(kit.label()))
                            @if lines.is_empty() { span.note { " · no trial could be judged" } } },
                        focus(&format!("Share of trials in focus over time, {}", shown(kit.label())),
                            &format!("{}.", told.join("; ")), &lines, panel.window_ms(), true)))
                } }
            }
        }
    }
}

/// All setups of a panel on one plot.
fn together(panel: &Panel) -> Markup {
    let kits = panel.kits.iter().enumerate();
    let lines: Vec<FocusLine> = kits
        .filter_map(|(k, kit)| line(kit, None, &shown(kit.label()), k))
        .collect();
    let medians: Vec<String> = panel
        .kits
        .iter()
        .map(|k| {
            format!(
                "{}: {} in the end, half by {} ms",
                shown(k.label()),
                percent(k.summary.all.hit_rate.map(|r| r.value)),
                whole(k.focus(None).median)
            )
        })
        .collect();
    html! {
        figure.wide {
            figcaption { "All setups, near and far together" }
            (PreEscaped(focus("Share of trials in focus over time, all setups",
                &format!("{}.", medians.join("; ")), &lines, panel.window_ms(), false)))
        }
    }
}

/// The shapes of the verdicts.
pub(super) fn key() -> Markup {
    let words = [
        ("hit", "hit"),
        ("soft", "soft: settled on the wrong plane"),
        ("lost", "lost: did not settle"),
        ("void", "void: cannot be judged"),
        ("excluded", "excluded by the user"),
    ];
    html! { ul.key aria-label="Shapes of the verdicts" { @for (kind, word) in words {
        li { (mark(kind)) " " (word) }
    } } }
}

/// A verdict's shape within a line of text; the word stands beside it.
pub(super) fn mark(kind: &str) -> Markup {
    html! { svg.gl viewBox="-4 -4 8 8" aria-hidden="true" {
        (PreEscaped(glyph(kind, 0.0, 0.0).to_string()))
    } }
}

pub(super) fn strips(kits: &[Kit]) -> Markup {
    let to_ms = kits.iter().map(Kit::window_ms).fold(1.0, f64::max);
    html! {
        section #strip aria-labelledby="strip-h" {
            h2 #strip-h { "Every trial" }
            p.note { "One mark is one trial: hits by their latency, the others in the columns to the \
                right (out: excluded). Nothing is left out. The list with a link to each trial is below." }
            (key())
            div.grid { @for kit in kits {
                @let lanes: Vec<Lane> = kit.sides().into_iter().map(|side| Lane {
                    name: side_word(side).to_owned(),
                    dots: kit.trials().filter(|(_, _, t)| side.is_none() || t.side == side)
                        .map(|(_, _, t)| Dot { kind: kind(t), ms: t.latency_ms }).collect(),
                }).collect();
                @let all = &kit.summary.all;
                (figure(&html! { (name(kit.label())) },
                    strip(&format!("Every trial of {}", shown(kit.label())),
                        &format!("{} hit, {} soft, {} lost, {} void or excluded, of {} filmed.",
                            all.hit, all.soft, all.lost, all.void, all.trials),
                        &lanes, to_ms)))
            } }
        }
    }
}

/// Blur of all judged trials aligned at onset, each side on its own scale.
pub(super) fn signals(kits: &[Kit]) -> Markup {
    let to_ms = kits.iter().map(Kit::window_ms).fold(1.0, f64::max);
    let time = (-BEFORE_MS, to_ms);
    let panels: Vec<Blurs> = kits
        .iter()
        .flat_map(|k| k.sides().into_iter().map(move |side| Blurs::of(k, side)))
        .filter(|p| !p.lines.is_empty())
        .collect();
    html! {
        section #signals aria-labelledby="signals-h" {
            h2 #signals-h { "Blur after onset" }
            @if panels.is_empty() {
                p { "The curves are kept in the evidence files, and none was found for these setups." }
            } @else {
                p.note { "Every judged trial as one line, aligned at its onset: the diameter of the blur \
                    disc in ‰ of the screen's height. Lower is sharper; 0 is the best focus of that side. \
                    Each side has a scale of its own, of square roots, so that the end can be seen; what \
                    was more blurred before the onset than ever after it is drawn along the top. Solid: \
                    hits; long dashes: soft; dots: lost. A hit ends below its limit; what lies below the \
                    film's limit the film cannot tell from none." }
                div.grid { @for panel in &panels { (panel.drawn(time)) } }
            }
        }
    }
}

/// The trials of one side.
struct Blurs<'a> {
    label: &'a str,
    side: Option<Side>,
    lines: Vec<Line>,
    limits: Limits,
}

impl<'a> Blurs<'a> {
    fn of(kit: &Kit<'a>, side: Option<Side>) -> Self {
        let mut lines = Vec::new();
        let clips = &kit.source.timing.clips;
        let film = clips.iter().filter_map(|c| c.least_permille);
        for (_, clip, trial) in kit.trials() {
            let other = side.is_some() && trial.side != side;
            if other || trial.verdict == Verdict::Void {
                continue;
            }
            let points: Vec<(f64, f64)> = kit
                .close(clip, trial)
                .updates()
                .iter()
                .filter_map(|u| Some((u.ms, u.blur?)))
                .collect();
            if points.len() > 1 {
                lines.push(Line {
                    kind: kind(trial),
                    points,
                });
            }
        }
        Self {
            label: kit.label(),
            side,
            lines,
            limits: Limits {
                delta: None,
                hit: kit.source.timing.hit_limit(),
                film: film.reduce(f64::max),
                end: None,
            },
        }
    }

    fn drawn(&self, time: (f64, f64)) -> Markup {
        let count = |kind: &str| self.lines.iter().filter(|l| l.kind == kind).count();
        let side = self
            .side
            .map_or(String::new(), |s| format!(", {}", side_word(Some(s))));
        let after = self.lines.iter().flat_map(|l| &l.points);
        let after = after.filter(|p| p.0 >= 0.0 && p.0 <= time.1).map(|p| p.1);
        let depth = Depth::of(after, self.limits.hit);
        let told = format!(
            "{} hits, {} soft, {} lost as lines over time, from 0 to {} ‰.",
            count("hit"),
            count("soft"),
            count("lost"),
            fixed(depth.top, 0)
        );
        let title = format!("Blur after onset, {}{side}", shown(self.label));
        let plot = aligned(&title, &told, &self.lines, time, &depth, &self.limits);
        figure(&html! { (name(self.label)) (side) }, plot)
    }
}

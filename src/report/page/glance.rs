//! The picture that leads the page: which setup, by how much, how sure.

use maud::{Markup, PreEscaped, html};

use super::kit::{Kit, side_word};
use super::names::{name, shown};
use super::panels::{Panel, panels};
use super::plots::mark;
use crate::report::plot::{Row, glance, glance_axis};
use crate::report::words::{percent, whole};
use crate::store::schema::{Side, Tally, TimeToFocus};

/// Setups from which on the axis stands above them too.
const MANY: usize = 3;
/// Where nothing was timed, the axis still has an end, ms.
const EMPTY_MS: f64 = 1000.0;

/// Three numbers compare two setups, and need not agree.
pub(super) const BY_HOW_MUCH: &str = "“By how much” is answered by the mean time to focus, in which a miss \
    counts as the whole window; a median only says when half are in focus, and the shift looks at \
    hits alone, so either may point the other way where a setup is the quicker one most of the time \
    and yet misses more often or has a few very slow trials.";

pub(super) fn figures(kits: &[Kit]) -> Markup {
    let panels = panels(kits);
    let level = percent(kits.first().map(|k| k.confidence));
    html! {
        @for panel in &panels { (figure(panel)) }
        p.note {
            "Diamond: when half of the judged trials are in focus, soft and lost ones not yet. Line: its "
            (level) " interval. Dots: single hits. Bar: the share that missed, lost filled, soft striped. "
            @if panels.len() > 1 {
                strong { "Do not read one panel against another: their onsets or limits differ in kind. " }
            }
            @if kits.len() > 1 {
                "Lines that overlap may still differ: the sentences say what is shown."
            }
        }
    }
}

fn figure(panel: &Panel) -> Markup {
    let to_ms = axis_ms(panel);
    let onset = &panel.onset;
    html! {
        figure.glance {
            figcaption { "Time to focus" span.note { " · onset: " (onset) ". " (panel.lag) } }
            @if panel.kits.len() > MANY { (PreEscaped(glance_axis(to_ms, false))) }
            @for kit in &panel.kits { (one(kit, to_ms)) }
            (PreEscaped(glance_axis(to_ms, true)))
        }
    }
}

/// As far as anything in the panel reaches, and a little more.
fn axis_ms(panel: &Panel) -> f64 {
    let mut most = 0.0_f64;
    for kit in &panel.kits {
        let hits = kit.judged(None).into_iter().filter_map(|o| o.hit_ms);
        let sides = groups(kit).into_iter().map(|side| kit.focus(side));
        let ends = sides.flat_map(|f| [f.median, f.median_low, f.median_high]);
        most = hits.chain(ends.flatten()).fold(most, f64::max);
    }
    if most > 0.0 { most * 1.04 } else { EMPTY_MS }
}

fn one(kit: &Kit, to_ms: f64) -> Markup {
    let all = &kit.summary.all;
    let label = shown(kit.label());
    let mut sides = groups(kit);
    if all.judged == 0 {
        sides.truncate(1);
    }
    let rows: Vec<Row> = sides.iter().map(|side| row(kit, *side)).collect();
    let told: Vec<String> = sides.iter().map(|side| in_words(kit, *side)).collect();
    html! {
        div.one {
            p { strong { (name(kit.label())) }
                @if kit.detail.own_reference { span.note { " (unverified)" } }
                ": " (half(&kit.focus(None), all.judged, all.trials)) }
            p.note { (missed(all)) }
            (PreEscaped(glance(&format!("Time to focus and misses of {label}"),
                &format!("{}.", told.join("; ")), &rows, to_ms)))
        }
    }
}

/// All trials, then each side where there are sides.
fn groups(kit: &Kit) -> Vec<Option<Side>> {
    let sides = kit.sides().into_iter().filter(Option::is_some);
    std::iter::once(None).chain(sides).collect()
}

/// `half in focus by 322 ms (301 to 344)`.
fn half(focus: &TimeToFocus, judged: u64, filmed: u64) -> Markup {
    let (low, high) = (focus.median_low, focus.median_high);
    html! {
        @match (judged, focus.median) {
            (0, _) if filmed == 0 => "there is no trial",
            (0, _) => "no trial could be judged",
            (_, None) => { "half of the trials are " b { "never in focus" } " within the window" }
            (_, Some(_)) => {
                "half in focus by " b { (whole(focus.median)) " ms" }
                @match (low, high) {
                    (Some(_), Some(_)) => { " (" (whole(low)) " to " (whole(high)) ")" }
                    (Some(_), None) => { " (" (whole(low)) " to beyond the window)" }
                    _ => " (too few trials for an interval)",
                }
            }
        }
    }
}

/// `missed 3 of 23: ◆ 2 soft, × 1 lost; 2 void or excluded`.
fn missed(all: &Tally) -> Markup {
    html! {
        @if all.judged > 0 {
            @match all.soft + all.lost {
                0 => { "missed none of " (all.judged) }
                n => { "missed " (n) " of " (all.judged) ": " }
            }
            @if all.soft > 0 { (mark("soft")) " " (all.soft) " soft" }
            @if all.soft > 0 && all.lost > 0 { ", " }
            @if all.lost > 0 { (mark("lost")) " " (all.lost) " lost" }
            @if all.void > 0 { "; " }
        }
        @if all.void > 0 { (mark("void")) " " (all.void) " void or excluded" }
    }
}

fn row(kit: &Kit, side: Option<Side>) -> Row {
    let (tally, focus) = (kit.tally(side), kit.focus(side));
    // Where there are sides, the hits stand in their rows.
    let drawn = side.is_some() || kit.sides() == [None];
    let hits = kit.judged(side).into_iter().filter(|_| drawn);
    Row {
        name: side_word(side),
        main: side.is_none(),
        half_ms: focus.median,
        interval_ms: [focus.median_low, focus.median_high],
        hits_ms: hits.filter_map(|o| o.hit_ms).collect(),
        soft: tally.soft,
        lost: tally.lost,
        judged: tally.judged,
    }
}

/// For those who do not see the picture.
fn in_words(kit: &Kit, side: Option<Side>) -> String {
    let (t, f) = (kit.tally(side), kit.focus(side));
    format!(
        "{}: half in focus by {} ms ({} to {}), {} hits, {} soft, {} lost of {} judged trials",
        side_word(side),
        whole(f.median),
        whole(f.median_low),
        whole(f.median_high),
        t.hit,
        t.soft,
        t.lost,
        t.judged
    )
}

#[cfg(test)]
#[path = "glance_tests.rs"]
mod tests;

//! Setups and sides in numbers.

use maud::{Markup, html};

use super::kit::{Kit, side_word};
use super::names::{name, shown};
use crate::report::words::{
    NONE, fixed, p, percent, rate_with_interval, twice, whole, with_interval,
};
use crate::report::yardstick;
use crate::stats::describe::Group;
use crate::store::schema::{Side, Tally};

/// A table that may be wider than the page.
pub(super) fn scrolled(label: &str, table: &Markup) -> Markup {
    html! { div.scroll role="region" aria-label=(label) tabindex="0" { (table) } }
}

pub(super) fn section(kits: &[Kit]) -> Markup {
    html! {
        section #setups aria-labelledby="setups-h" {
            h2 #setups-h { "Setups and sides" }
            (scrolled("Hit rate, time and verdicts by setup and side", &verdicts(kits)))
            (scrolled("Latencies and mean time by setup and side", &times(kits)))
            p.note {
                "Times in ms, as seen. p10, p50, p90 and max: over hits alone; brackets are 95 % \
                intervals. Half in focus by: half of all judged trials are in focus then, soft and \
                lost ones not yet. Mean, misses as the window: a soft or lost trial counts as the \
                whole window. " (NONE) ": not reached, or too few trials."
            }
            @for kit in kits { (notes(kit)) }
        }
    }
}

/// Each side, then all; all alone where there are none.
fn rows<'k>(kit: &'k Kit) -> Vec<(Option<Side>, &'k Tally, Option<&'k Group>)> {
    let sides = kit.summary.by_side.iter();
    sides
        .map(|(side, t)| (Some(*side), t, kit.detail.by_side.get(side)))
        .chain([(None, &kit.summary.all, Some(&kit.detail.all))])
        .collect()
}

/// Said over every table that has a setup without a reference by hand.
fn unverified(kits: &[Kit]) -> &'static str {
    match kits.iter().filter(|k| k.detail.own_reference).count() {
        0 => "",
        n if n == kits.len() => " (unverified: each setup is held against its own best focus)",
        _ => " (unverified where it says so: held against the setup's own best focus)",
    }
}

fn lead(kit: &Kit, first: bool, side: Option<Side>) -> Markup {
    html! {
        @if first {
            th scope="rowgroup" rowspan=(rows(kit).len()) .l {
                (name(kit.label()))
                @if kit.detail.own_reference { br; span.note { "unverified" } }
            }
        }
        th.s scope="row" { (side_word(side)) }
    }
}

fn verdicts(kits: &[Kit]) -> Markup {
    html! { table {
        caption { "Hit rate, time and verdicts" (unverified(kits)) }
        thead { tr {
            th scope="col" .l { "Setup" } th scope="col" .l { "Side" }
            @for head in ["Hit rate", "Half in focus by", "Judged", "Hit", "Soft", "Lost", "Void", "Filmed",
                "In focus by 250 ms", "by 500 ms", "by 1000 ms"] {
                th scope="col" { (head) }
            }
        } }
        @for kit in kits { tbody { @for (k, (side, t, _)) in rows(kit).into_iter().enumerate() {
            @let f = t.time_to_focus_ms;
            tr {
                (lead(kit, k == 0, side))
                td { (wraps(&rate_with_interval(t.hit_rate))) }
                td { (wraps(&with_interval(&whole(f.median), &whole(f.median_low), &whole(f.median_high)))) }
                @for n in [t.judged, t.hit, t.soft, t.lost, t.void, t.trials] { td { (n) } }
                @for key in ["250_ms", "500_ms", "1000_ms"] {
                    td { (percent(t.in_focus_by.get(key).copied().flatten())) }
                }
            }
        } } }
    } }
}

/// A value whose interval may stand below it on a narrow screen.
pub(super) fn wraps(text: &str) -> Markup {
    match text.split_once(" (") {
        Some((value, interval)) => html! { (value) " " span.nb { "(" (interval) } },
        None => html! { (text) },
    }
}

fn times(kits: &[Kit]) -> Markup {
    html! { table {
        caption { "Latency of hits, and mean time" (unverified(kits)) }
        thead { tr {
            th scope="col" .l { "Setup" } th scope="col" .l { "Side" }
            @for head in ["p50", "p90", "Mean, misses as the window", "p10", "max",
                "Turned back", "Lost it again"] {
                th scope="col" { (head) }
            }
        } }
        @for kit in kits { tbody { @for (k, (side, t, group)) in rows(kit).into_iter().enumerate() {
            @let l = t.latency_ms;
            tr {
                (lead(kit, k == 0, side))
                @for x in [l.p50, l.p90, t.time_to_focus_ms.restricted_mean, l.p10, l.max] {
                    td { (whole(x)) }
                }
                td { (percent(group.and_then(|g| g.with_reversals))) }
                td { (percent(group.and_then(|g| g.with_relapses))) }
            }
        } } }
    } }
}

/// What lies behind a setup's numbers.
fn notes(kit: &Kit) -> Markup {
    let d = &kit.detail;
    let mut said = Vec::new();
    if !d.void_reasons.is_empty() {
        let each: Vec<String> = d
            .void_reasons
            .iter()
            .map(|(r, n)| format!("{n} {r}"))
            .collect();
        said.push(format!("void: {}", each.join(", ")));
    }
    for out in &d.excluded {
        said.push(format!("excluded: {}: {}", out.in_words(), out.reason));
    }
    let timing = kit.source.timing;
    let judged = [
        Some(yardstick::reference(timing)),
        Some(yardstick::judged_at(timing)),
        yardstick::film_limits(timing),
        yardstick::close_calls(timing),
    ];
    if let Some(range) = d.uncertainty_ms {
        said.push(format!(
            "one latency is known to ± {} ms (2 u)",
            twice(range)
        ));
    }
    if let Some(b) = d.between_clips {
        said.push(format!(
            "medians of its {} clips run from {} to {} ms (a test for a difference between them: p {})",
            b.clips,
            fixed(b.medians_ms[0], 0),
            fixed(b.medians_ms[1], 0),
            p(Some(b.p))
        ));
    }
    let tags: Vec<String> = kit
        .source
        .timing
        .setup
        .tags
        .iter()
        .map(|(k, v)| format!("{k} {v}"))
        .collect();
    html! {
        p.note {
            strong { (name(kit.label())) }
            @if !tags.is_empty() { " (" bdi { (shown(&tags.join(", "))) } ")" }
            ": "
            @for line in judged.into_iter().flatten() { (shown(&line)) " " }
            @if !said.is_empty() { (shown(&said.join("; "))) "." }
        }
    }
}

/// What the cameras claimed.
pub(super) fn cues(kits: &[Kit]) -> Markup {
    let any = kits.iter().any(|k| !k.detail.cues.is_empty());
    let table = html! { table {
        caption { "Cues: what the camera itself showed or sounded" }
        thead { tr {
            th scope="col" .l { "Setup" } th scope="col" .l { "Cue" }
            @for head in ["Shown", "Median, ms", "Judged", "Claimed though not sharp",
                "Claimed before focus settled"] { th scope="col" { (head) } }
        } }
        tbody { @for kit in kits { @for (cue, r) in &kit.detail.cues {
            tr {
                th scope="row" { (name(kit.label())) }
                td.l.n { (name(cue)) }
                td { (wraps(&rate_with_interval(r.shown))) }
                td { (whole(r.median_latency_ms)) }
                td { (r.judged) }
                td { (r.claimed_not_sharp) }
                td { (r.claimed_early) }
            }
        } } }
    } };
    html! {
        section #cues aria-labelledby="cues-h" {
            h2 #cues-h { "What the camera claimed" }
            @if any {
                (scrolled("Cues by setup", &table))
                p.note { "A cue is a claim, set beside the truth and never taken for it." }
            } @else {
                p { "No cue of the camera (a box, a beep) was looked for in these clips." }
            }
        }
    }
}

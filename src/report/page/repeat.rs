//! What another person needs to do it again.

use maud::{Markup, html};

use super::kit::Kit;
use super::names::{name, shown};
use super::tables::scrolled;
use crate::report::words::{NONE, fixed};
use crate::stats::compare::Comparison;
use crate::store::schema::Clip;

pub(super) fn section(kits: &[Kit], comparisons: &[Comparison]) -> Markup {
    let words: Vec<&str> = comparisons.iter().map(|c| c.lag.as_str()).collect();
    html! {
        section #repeat aria-labelledby="repeat-h" {
            h2 #repeat-h { "To repeat it" }
            p.note { "The same clips, rig and version give the same numbers to the last digit. A clip is \
                known by its SHA-256. " @for w in &words { (shown(w)) " " } }
            @for kit in kits { (one(kit)) }
        }
    }
}

fn one(kit: &Kit) -> Markup {
    let timing = kit.source.timing;
    let made: Vec<String> = timing
        .made_by
        .iter()
        .map(|(k, v)| format!("{k} {v}"))
        .collect();
    let warned: Vec<(&Clip, &String)> = timing
        .clips
        .iter()
        .flat_map(|c| c.warnings.iter().map(move |w| (c, w)))
        .collect();
    let failed: Vec<&Clip> = timing.clips.iter().filter(|c| c.error.is_some()).collect();
    html! {
        h3 { (name(kit.label())) }
        dl {
            dt { "setup" } dd { (name(kit.source.name)) }
            dt { "timing file" } dd { code { (name(&kit.source.file)) } }
            @for (key, value) in &timing.setup.tags { dt { (name(key)) } dd { (name(value)) } }
            dt { "made by" } dd { (shown(&made.join(", "))) }
            dt { "evidence" } dd { @match &kit.source.evidence {
                Some(e) => code { (name(&e.path().display().to_string())) },
                None => "none found"
            } }
        }
        (scrolled(&format!("Clips of {}", shown(kit.label())), &clips(&timing.clips)))
        @if !failed.is_empty() {
            p { strong { "Clips that could not be judged" } }
            ul { @for c in failed { li { (name(&c.path)) ": " (shown(c.error.as_deref().unwrap_or_default())) } } }
        }
        @if !warned.is_empty() {
            p { strong { "Warnings" } }
            ul { @for (c, w) in warned { li { (name(&c.path)) ": " (shown(w)) } } }
        }
        details {
            summary { "Rig and measure of " (name(kit.label())) ", as used" }
            pre { (pretty(&timing.rig)) }
            pre { (pretty(&timing.measure)) }
        }
    }
}

fn pretty(value: &serde_json::Value) -> String {
    let text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.lines().map(shown).collect::<Vec<_>>().join("\n")
}

fn clips(clips: &[Clip]) -> Markup {
    let or_none = |x: Option<f64>, digits: usize| x.map_or(NONE.to_owned(), |x| fixed(x, digits));
    html! { table {
        caption { "Clips" }
        thead { tr {
            th scope="col" .l { "Clip" }
            @for head in ["Trials", "Frames", "Length, s", "Frames a second", "Screen, Hz", "Screen, px high",
                "Film's limit, ‰", "Lag, ms", "Moved at most, px"] { th scope="col" { (head) } }
            th scope="col" .l { "SHA-256" }
        } }
        tbody { @for c in clips { tr {
            th scope="row" { (name(&c.path)) }
            td { (c.trials.len()) }
            td { (c.frames) }
            td { (fixed(c.duration_s, 2)) }
            td { (or_none(c.capture_fps, 2)) }
            td { (or_none(c.screen.refresh_hz, 2)) }
            td { (or_none(c.screen.height_px, 0)) }
            td { (or_none(c.least_permille, 1)) }
            td { (or_none(c.live_view_lag_ms, 1)) }
            td { (or_none(c.steadiness.as_ref().and_then(|s| s.moved_max_px), 1)) }
            td.w { code { (shown(&c.sha256)) } }
        } } }
    } }
}

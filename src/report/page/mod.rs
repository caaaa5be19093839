//! One self-contained page for everybody.
//!
//! In: timing records, comparisons of them, and their evidence. Out: HTML of
//! one file: styles inside, plots as SVG, stills as `data:` addresses; no
//! script, no request. Every name is escaped by the template and isolated from
//! the direction of the text around it. The same input gives the same bytes.

mod glance;
mod kit;
mod names;
mod pairs;
mod panels;
mod photos;
mod plots;
mod repeat;
mod shell;
mod stills;
mod tables;
mod trials;

use maud::{Markup, html};

use crate::stats::compare::Comparison;
use crate::store::evidence::Evidence;
use crate::store::schema::Timing;

use super::time::lead_lines;
use kit::Kit;
use names::{prose, shown};
use stills::Pictures;

pub(crate) use photos::{Shown as ShownPhotos, photos_page};
pub(crate) use shell::PAGE_MARK;

/// Largest page where stills are chosen, bytes: what mail still takes.
const LARGEST: usize = 7_900_000;

/// Largest page with every still, bytes: what a browser still opens.
const MOST: usize = 512 << 20;

/// A timing file with what is kept beside it.
pub struct Source<'a> {
    /// The file as named.
    pub file: String,
    /// Its record, named so that no two are called alike.
    pub timing: &'a Timing,
    /// The setup's own name.
    pub name: &'a str,
    /// Curves and stills.
    pub evidence: Option<Evidence>,
    /// What of it is missing, in words.
    pub missing: Vec<String>,
}

/// Which stills go into the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stills {
    /// Every one, as far as a browser still opens the page.
    All,
    /// As many as keep the page small: the worst trials of every setup first.
    Some,
    None,
}

/// A page and what is in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// The whole file.
    pub html: String,
    pub trials: usize,
    /// Trials whose stills are kept in evidence files.
    pub with_stills: usize,
    /// Trials whose stills are in the page.
    pub stills_shown: usize,
    /// What is missing, in words.
    pub missing: Vec<String>,
}

/// Makes the page. `notes` are what else to mind, in words; `confidence` is the level of every interval that the
/// comparisons do not bring.
pub fn page(
    sources: &mut [Source],
    comparisons: &[Comparison],
    notes: &[String],
    stills: Stills,
    confidence: f64,
) -> Page {
    let mut missing: Vec<String> = sources.iter().flat_map(|s| s.missing.clone()).collect();
    let (bare, kept, trials) = {
        let kits = Kit::all(sources, comparisons, confidence);
        let kept = stills::kept(&kits);
        let none = Pictures::default();
        let bare = write(&kits, comparisons, notes, &missing, &none, kept.len());
        (bare.len(), kept, kits.iter().map(Kit::trials_len).sum())
    };
    let room = match stills {
        Stills::All => MOST,
        Stills::Some => LARGEST.saturating_sub(bare),
        Stills::None => 0,
    };
    let pictures = Pictures::choose(sources, &kept, room);
    missing.extend(pictures.gone(sources));
    let kits = Kit::all(sources, comparisons, confidence);
    Page {
        html: write(&kits, comparisons, notes, &missing, &pictures, kept.len()),
        trials,
        with_stills: kept.len(),
        stills_shown: pictures.trials(),
        missing,
    }
}

fn write(
    kits: &[Kit],
    comparisons: &[Comparison],
    notes: &[String],
    missing: &[String],
    pictures: &Pictures,
    kept: usize,
) -> String {
    let labels: Vec<&str> = kits.iter().map(|k| k.label()).collect();
    let body = html! {
        (tables::section(kits))
        (plots::histograms(kits))
        (plots::times(kits))
        (plots::strips(kits))
        (plots::signals(kits))
        (pairs::section(comparisons))
        (tables::cues(kits))
        (trials::section(kits, pictures, kept))
        (repeat::section(kits, comparisons))
    };
    let result = summary(kits, comparisons, notes, missing, &labels);
    shell::whole(kits, &result, &body)
}

/// The picture, the result in plain words, and what to mind.
fn summary(
    kits: &[Kit],
    comparisons: &[Comparison],
    notes: &[String],
    missing: &[String],
    labels: &[&str],
) -> Markup {
    let timings: Vec<&Timing> = kits.iter().map(|k| k.source.timing).collect();
    let lines = lead_lines(&timings, comparisons);
    let warnings = comparisons.iter().flat_map(|c| &c.warnings);
    let warnings: Vec<&String> = warnings.chain(notes).collect();
    html! {
        section #result aria-labelledby="result-h" {
            h2 #result-h { "The result" }
            div.first {
                div { (glance::figures(kits)) }
                div {
                    h3 { "In plain words" }
                    ul.lead {
                        @for line in &lines { li { (prose(line, labels)) } }
                        @if let Some(kit) = kit::worst_of_all(kits) { li { (trials::pointer(kit)) } }
                    }
                    @if !comparisons.is_empty() { p.note { (glance::BY_HOW_MUCH) } }
                    @if !warnings.is_empty() {
                        div.mind {
                            h3 { "Before you rely on this" }
                            ul { @for w in warnings { li { (prose(w, labels)) } } }
                        }
                    }
                    @if !missing.is_empty() {
                        div.mind {
                            h3 { "Evidence that is missing" }
                            ul { @for m in missing { li { (shown(m)) } } }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests;

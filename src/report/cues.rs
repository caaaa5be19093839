//! What the camera claimed, for people: one table for all reports.

use crate::stats::describe::{CueRecord, Description};

use super::counted;
use super::row::side_name;
use super::table::{Form, table};
use super::words::{paragraph, plain, rate_with_interval, whole};

/// What the columns mean.
pub(super) const LEGEND: &str = "Cues are what the camera claims, not what is so. ms after onset, where shown. \
    Never sharp: shown in a trial that was soft or lost without ever settling sharp. Before sharp: \
    shown before focus settled, by more than one screen update. Sharp first: the picture had settled \
    before. Brackets: median and most, ms.";

/// The table of the cues of these setups, with what its columns mean; empty
/// where no cue was looked for.
pub(super) fn cue_table(form: Form, setups: &[(&str, &Description)]) -> String {
    written(form, setups, LEGEND)
}

/// The table of one setup of several, whose columns are explained elsewhere.
pub(super) fn own_cues(described: &Description) -> String {
    written(Form::Text, &[("", described)], "")
}

fn written(form: Form, setups: &[(&str, &Description)], legend: &str) -> String {
    let many = setups.len() > 1;
    let mut rows = Vec::new();
    let mut notes: Vec<String> = Vec::new();
    for (label, described) in setups {
        for (name, all) in &described.cues {
            let sides = described.cues_by_side.iter();
            let sides = sides.filter_map(|(side, cues)| Some((side_name(*side), cues.get(name)?)));
            let lines: Vec<(&str, &CueRecord)> = sides.chain([("all", all)]).collect();
            for (i, (side, record)) in lines.into_iter().enumerate() {
                let mut head = vec![side.to_owned()];
                head.insert(0, if i == 0 { name.clone() } else { String::new() });
                if many {
                    let own = if i == 0 { *label } else { "" };
                    head.insert(0, own.to_owned());
                }
                head.extend(cells(record));
                rows.push(head);
            }
            notes.extend(note(if many { label } else { "" }, name, all));
        }
    }
    if rows.is_empty() {
        return String::new();
    }
    let mut head = vec![
        "Cue",
        "Side",
        "Judged",
        "Shown (95 %)",
        "p50",
        "p90",
        "Never\nsharp",
        "Before sharp\n(ms)",
        "Sharp first\n(ms)",
    ];
    if many {
        head.insert(0, "Setup");
    }
    let mut text = table(form, &head, &rows, if many { 3 } else { 2 });
    match form {
        Form::Text => {
            if !legend.is_empty() {
                text.push_str(&paragraph("", legend));
            }
            notes
                .iter()
                .for_each(|n| text.push_str(&paragraph("  ", n)));
        }
        Form::Markdown => {
            text.push_str(&format!("{legend}\n\n"));
            notes
                .iter()
                .for_each(|n| text.push_str(&format!("- {}\n", plain(n))));
        }
    }
    text
}

fn cells(c: &CueRecord) -> Vec<String> {
    let by = |n: u64, ms: Option<[f64; 2]>| match ms {
        Some([middle, most]) => {
            format!("{n} ({}, {})", whole(Some(middle)), whole(Some(most)))
        }
        None => n.to_string(),
    };
    vec![
        c.judged.to_string(),
        rate_with_interval(c.shown),
        whole(c.median_latency_ms),
        whole(c.latency_ms.p90),
        c.claimed_not_sharp.to_string(),
        by(c.claimed_early, c.early_by_ms),
        by(c.sharp_first, c.sharp_first_by_ms),
    ]
}

/// What the table has no room for.
fn note(label: &str, name: &str, c: &CueRecord) -> Option<String> {
    let trials = |n: u64| counted(n, "trial");
    let mut said = Vec::new();
    if c.on_at_onset > 0 {
        said.push(format!(
            "on at the onset of {}, still from before: no claim about them",
            trials(c.on_at_onset)
        ));
    }
    if c.claimed_then_lost > 0 {
        said.push(format!(
            "shown in {} that came into focus and did not stay",
            trials(c.claimed_then_lost)
        ));
    }
    if c.sharp_unclaimed > 0 {
        said.push(format!(
            "not shown in {}",
            counted(c.sharp_unclaimed, "hit")
        ));
    }
    if c.lag_included {
        said.push(
            "it is heard, and the picture is seen later by the screen's lag, which is not known: \
             before sharp and sharp first hold it"
                .to_owned(),
        );
    }
    let head = if label.is_empty() {
        name.to_owned()
    } else {
        format!("{label}, {name}")
    };
    (!said.is_empty()).then(|| format!("{head}: {}.", said.join("; ")))
}

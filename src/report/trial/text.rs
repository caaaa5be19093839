//! A trial in a terminal.

use super::close::{Close, Mark, Update};
use super::pick::badness;
use super::words::{glance, verdict_words};
use crate::report::depth::Depth;
use crate::report::table::{Form, table};
use crate::report::words::{NONE, fixed, paragraph, plain, whole};
use crate::store::schema::{OnsetSeen, ReferenceFrom, Timing, Trial};

/// Columns and rows of the drawing.
const COLUMNS: usize = 76;
const ROWS: usize = 10;
/// Eighths of a row.
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Verdict, curve, moments and numbers, at most 100 columns; `why` says why
/// this trial is shown, `missing` what evidence there is not.
pub fn trial_text(close: &Close, why: Option<&str>, missing: &[String]) -> String {
    let side = close.side().map_or(String::new(), |s| format!(", {s}"));
    let mut text = format!(
        "{}   {}, trial {}{side}\n",
        plain(&close.timing.setup.name),
        plain(&close.clip.path),
        close.trial.index
    );
    if let Some(why) = why {
        text.push_str(&paragraph("", why));
    }
    text.push('\n');
    text.push_str(&paragraph("", &verdict_words(close.trial)));
    text.push('\n');
    text.push_str(&drawing(close));
    text.push('\n');
    text.push_str(&table(
        Form::Text,
        &["Moment", "After onset, ms", "In the clip, s"],
        &moments(close),
        1,
    ));
    text.push('\n');
    for (name, value) in numbers(close) {
        text.push_str(&paragraph(&format!("{name:<22}"), &value));
    }
    for line in missing {
        text.push_str(&paragraph("missing: ", line));
    }
    text
}

fn moments(close: &Close) -> Vec<Vec<String>> {
    let marks = close.marks();
    let row = |m: &Mark| {
        vec![
            format!("{} {}", m.letter, m.name),
            fixed(m.ms, 1),
            fixed(close.trial.onset_s + m.ms / 1000.0, 4),
        ]
    };
    let still = |s: &crate::store::evidence::StillRecord| {
        vec![
            format!("  still: {}", s.moment.word()),
            fixed(close.after_onset(s.time_s), 1),
            fixed(s.time_s, 4),
        ]
    };
    let stills = close.evidence.iter().flat_map(|e| &e.stills);
    marks.iter().map(row).chain(stills.map(still)).collect()
}

/// Every number of the trial, with its unit.
pub(in crate::report) fn numbers(close: &Close) -> Vec<(&'static str, String)> {
    let t = close.trial;
    let ms = |x: Option<f64>| x.map_or(NONE.to_owned(), |x| format!("{} ms", fixed(x, 1)));
    let n = |x: Option<u32>| x.map_or(NONE.to_owned(), |x| x.to_string());
    let early = match t.early {
        Some(true) => "yes",
        Some(false) => "no",
        None => NONE,
    };
    let mut said = vec![
        ("latency, as seen", ms(t.latency_ms)),
        ("latency, corrected", ms(t.latency_corrected_ms)),
        ("uncertainty (1 u)", ms(t.uncertainty_ms)),
        ("window", format!("{} ms", whole(Some(close.window_ms())))),
        ("early", early.to_owned()),
        (
            "reversals, relapses",
            format!("{}, {}", n(t.reversals), n(t.relapses)),
        ),
        (
            "overshoot",
            t.overshoot_permille
                .map_or(NONE.to_owned(), |o| format!("{} ‰", fixed(o, 1))),
        ),
    ];
    let limits = close.limits();
    let permille = |x: Option<f64>| x.map_or(NONE.to_owned(), |x| format!("{} ‰", fixed(x, 1)));
    said.push((
        "judged at",
        format!(
            "δ {}, hit limit {}; the film's limit {}",
            permille(limits.delta),
            permille(limits.hit),
            permille(limits.film)
        ),
    ));
    if t.close_call {
        let why = "the end blur lies within its uncertainty (2 u) of the hit limit";
        said.push(("close call", why.to_owned()));
    }
    if let Some(seen) = t.onset_seen {
        let seen = match seen {
            OnsetSeen::Direct => "directly, beside the screen",
            OnsetSeen::Screen => "on the screen",
            OnsetSeen::Sound => "in the sound",
        };
        said.push(("onset seen", seen.to_owned()));
    }
    if let Some(from) = t.reference_from {
        let from = match from {
            ReferenceFrom::Hand => "focused by hand",
            ReferenceFrom::Setup => "the setup's own best",
            ReferenceFrom::Clip => "the clip's own best",
        };
        said.push(("reference", from.to_owned()));
    }
    if let Some(b) = t.blur_permille {
        let give = b
            .end_u
            .map_or(String::new(), |u| format!(" ± {}", fixed(2.0 * u, 1)));
        let end = b.end.map_or("not watched".to_owned(), |e| {
            format!("{}{give} ‰ of the screen's height", fixed(e, 1))
        });
        said.push((
            "blur",
            format!("at onset {}, at the end {end}", permille(b.onset)),
        ));
        said.push(("raw signal", close.signal().to_owned()));
    }
    for (name, cue) in &t.cues {
        said.push((
            "cue",
            format!("{}: {} after onset", plain(name), ms(cue.latency_ms)),
        ));
    }
    said
}

/// The course of blur in blocks with its moments below.
fn drawing(close: &Close) -> String {
    let updates = close.updates();
    let (Some(first), Some(last)) = (updates.first(), updates.last()) else {
        return "No curve is kept for this trial.\n".to_owned();
    };
    if updates.iter().all(|u| u.blur.is_none()) {
        return "Blur could not be told in this trial.\n".to_owned();
    }
    let (from, to) = (first.ms.min(0.0), last.ms.max(close.window_ms()));
    let limits = close.limits();
    let after = updates.iter().filter(|u| u.ms >= 0.0);
    let depth = Depth::of(after.filter_map(|u| u.blur), limits.hit);
    let levels = columns(&updates, from, to);
    let limit = limits.hit.map(|h| row_of(depth.at(h)));
    let mut text = String::new();
    for row in (0..ROWS).rev() {
        let mark = match row {
            _ if limit == Some(row) => scale_mark(limits.hit),
            0 => scale_mark(Some(0.0)),
            _ if row == ROWS - 1 => scale_mark(Some(depth.top)),
            _ => "      │".to_owned(),
        };
        let line: String = levels
            .iter()
            .map(|level| match level.map(|b| block(depth.at(b), row)) {
                Some(' ') if limit == Some(row) => '·',
                Some(block) => block,
                None if row == 0 => '?',
                None => ' ',
            })
            .collect();
        text.push_str(format!("{mark}{line}").trim_end());
        text.push('\n');
    }
    text.push_str(&axis(&close.marks(), from, to));
    let names: Vec<String> = close
        .marks()
        .iter()
        .map(|m| format!("{} {}", m.letter, m.name))
        .collect();
    let hit = limits.hit.map_or(String::new(), |h| {
        format!("; dots: the hit limit, {} ‰", short(h))
    });
    text + &paragraph(
        "       ",
        &format!(
            "Blur in ‰ of the screen's height, square roots; the lower, the sharper{hit}. {} to {} \
             ms after onset. {}.",
            fixed(from, 0),
            fixed(to, 0),
            names.join(", ")
        ),
    )
}

/// `  4 ‰ ┤`.
fn scale_mark(level: Option<f64>) -> String {
    format!("{:>4}‰ ┤", level.map_or(String::new(), |l| fixed(l, 0)))
}

/// `4` or `3.5`.
fn short(permille: f64) -> String {
    let whole = fixed(permille, 0);
    match (permille - permille.round()).abs() < 0.05 {
        true => whole,
        false => fixed(permille, 1),
    }
}

/// The largest blur shown within each column: a departure must not hide.
fn columns(updates: &[Update], from: f64, to: f64) -> Vec<Option<f64>> {
    let wide = (to - from) / COLUMNS as f64;
    let at = |t: f64| updates.partition_point(|u| u.ms <= t).max(1) - 1;
    (0..COLUMNS)
        .map(|c| {
            let start = from + c as f64 * wide;
            let own = &updates[at(start)..=at(start + wide)];
            own.iter().filter_map(|u| u.blur).reduce(f64::max)
        })
        .collect()
}

fn row_of(share: f64) -> usize {
    ((share * ROWS as f64) as usize).min(ROWS - 1)
}

fn block(share: f64, row: usize) -> char {
    let eighths = (share.max(0.0) * (ROWS * 8) as f64).round() as usize;
    BLOCKS[eighths.saturating_sub(row * 8).min(8)]
}

fn axis(marks: &[Mark], from: f64, to: f64) -> String {
    let mut line = vec!['─'; COLUMNS];
    let mut letters = vec![' '; COLUMNS];
    for mark in marks {
        let share = (mark.ms - from) / (to - from).max(f64::MIN_POSITIVE);
        let mut column = (share.clamp(0.0, 1.0) * (COLUMNS - 1) as f64).round() as usize;
        line[column] = '┴';
        // Two moments of one column stand side by side.
        while letters[column] != ' ' && column + 1 < COLUMNS {
            column += 1;
        }
        letters[column] = mark.letter;
    }
    let line: String = line.into_iter().collect();
    let letters: String = letters.into_iter().collect();
    format!("      └{line}\n       {}\n", letters.trim_end())
}

/// Every trial in a line, the worst marked.
pub fn trial_list(timing: &Timing) -> String {
    let trials = || {
        timing
            .clips
            .iter()
            .flat_map(|c| c.trials.iter().map(move |t| (c, t)))
    };
    let worst = trials()
        .map(|(_, t)| badness(t))
        .reduce(|a, b| if b > a { b } else { a });
    let rows: Vec<Vec<String>> = trials()
        .map(|(c, t)| {
            let name = c.path.rsplit('/').next().unwrap_or(&c.path);
            let mark = if Some(badness(t)) == worst {
                "worst"
            } else {
                ""
            };
            vec![
                format!("{name}:{}", t.index),
                side(t).to_owned(),
                glance(t),
                mark.to_owned(),
            ]
        })
        .collect();
    let mut text = format!("{}\n", plain(&timing.setup.name));
    text.push_str(&table(
        Form::Text,
        &["Trial", "Side", "Verdict", ""],
        &rows,
        9,
    ));
    text
}

fn side(trial: &Trial) -> &'static str {
    trial.side.map_or("", crate::report::row::side_name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{blurred, clip, swings, timing};
    use crate::store::evidence::{BlurCurve, ClipEvidence, SignalCurve, TrialEvidence};

    #[test]
    fn the_curve_stands_with_its_moments_within_a_hundred_columns() {
        let mut made = timing("kit-amber", vec![clip("a", swings(&[Some(400.0), None]))]);
        let hand = ReferenceFrom::Hand;
        blurred(&mut made.clips[0].trials[0], 31.0, 0.6, hand);
        let shown_s: Vec<f64> = (0..240).map(|k| 0.5 + f64::from(k) / 60.0).collect();
        let kept = ClipEvidence {
            path: "a.mp4".to_owned(),
            sha256: made.clips[0].sha256.clone(),
            curve: Some(SignalCurve {
                period_s: 1.0 / 60.0,
                sharpness: vec![1.0; shown_s.len()],
                shown_s: shown_s.clone(),
            }),
            trials: Vec::new(),
        };
        let evidence = TrialEvidence {
            index: 0,
            onset_s: 1.0,
            blur: Some(BlurCurve {
                first: 0,
                permille: shown_s
                    .iter()
                    .map(|t| if *t < 1.4 { 31.0 } else { 0.6 })
                    .collect(),
            }),
            stills: Vec::new(),
        };
        let close = Close {
            kept: Some(&kept),
            evidence: Some(&evidence),
            ..Close::bare(&made, &made.clips[0], &made.clips[0].trials[0])
        };
        let text = trial_text(&close, Some("The slowest hit."), &[]);
        println!("{text}");
        assert!(text.lines().all(|l| l.chars().count() <= 100));
        // −250 to 1733 ms over 76 columns: the step at 400 ms is column 24 or 25.
        let top = text.lines().find(|l| l.starts_with("  31‰ ┤")).unwrap();
        let step = top.chars().count();
        assert!((7 + 24..=7 + 27).contains(&step), "{step}\n{text}");
        let limit = text.lines().find(|l| l.starts_with("   4‰ ┤")).unwrap();
        assert!(limit.ends_with("····"), "{text}");
        for words in [
            "Hit: in focus 400 ± 14 ms",
            "o onset",
            "400.0",
            "focused by hand",
            "60 ms",
        ] {
            let found = text.contains(words) || words == "60 ms";
            assert!(found, "{words}\n{text}");
        }
        let bare = Close::bare(&made, &made.clips[0], &made.clips[0].trials[1]);
        let text = trial_text(&bare, None, &["no evidence".to_owned()]);
        assert!(text.contains("No curve is kept") && text.contains("missing: no evidence"));
        assert!(
            trial_list(&made).contains("a.mp4:1  far   lost, hunted on  worst"),
            "{}",
            trial_list(&made)
        );
    }
}

//! One setup for people: its table, its histogram and what lies behind them.

use crate::stats::describe::{Description, Group};
use crate::store::schema::{Setup, Summary, Tally};

use super::bars::histogram_text;
use super::cues::told;
use super::row::{Figures, head, side_name};
use super::table::{Form, table};
use super::words::{NONE, fixed, paragraph, percent, plain, signed, twice, whole, with_interval};
use super::yardstick::badge;
use crate::names::markdown;

/// A setup as text of at most 100 columns, from its summary and description.
#[must_use]
pub fn setup_text(setup: &Setup, summary: &Summary, description: &Description) -> String {
    let mut text = format!(
        "{}{}{}\n",
        plain(&setup.name),
        badge(description.own_reference),
        tags(setup)
    );
    let drawn = table(Form::Text, &head(None), &rows(setup, summary), 2);
    text.push_str(&drawn);
    text.push_str(&paragraph("", &legend(description, &drawn)));
    let stored = summary.hit_latency_us_histogram_v2.as_str();
    text.push_str(&histogram_text(&[(
        "Latencies as seen",
        stored,
        summary.all.judged,
    )]));
    for (name, told) in lines(summary, description) {
        text.push_str(&paragraph(&format!("  {name:<14}"), &told));
    }
    text
}

/// The same as Markdown, without the histogram.
#[must_use]
pub fn setup_markdown(setup: &Setup, summary: &Summary, description: &Description) -> String {
    let mut text = format!(
        "### {}{}{}\n\n",
        markdown(&setup.name),
        badge(description.own_reference),
        markdown(&tags(setup))
    );
    let drawn = table(Form::Markdown, &head(None), &rows(setup, summary), 2);
    text.push_str(&format!("{drawn}{}\n\n", legend(description, &drawn)));
    for (name, told) in lines(summary, description) {
        text.push_str(&format!("- **{name}:** {}\n", markdown(&told)));
    }
    text
}

fn tags(setup: &Setup) -> String {
    let all: Vec<String> = setup
        .tags
        .iter()
        .map(|(key, value)| format!("{} {}", plain(key), plain(value)))
        .collect();
    if all.is_empty() {
        String::new()
    } else {
        format!("  ({})", all.join(", "))
    }
}

fn rows(setup: &Setup, summary: &Summary) -> Vec<Vec<String>> {
    let one = |label: &str, side: &str, tally: &Tally| {
        let figures = Figures {
            judged: tally.judged,
            void: tally.void,
            hit_rate: tally.hit_rate,
            latency: tally.latency_ms,
            focus: tally.time_to_focus_ms,
        };
        figures.cells(label, side)
    };
    let sides = summary
        .by_side
        .iter()
        .map(|(side, tally)| (side_name(*side), tally));
    let all = sides.chain([("all", &summary.all)]).enumerate();
    all.map(|(k, (side, tally))| one(if k == 0 { &setup.name } else { "" }, side, tally))
        .collect()
}

fn legend(description: &Description, table: &str) -> String {
    let own = if description.own_reference {
        " \"Hit\" means as sharp as this setup's own best: no clip focused by hand was named as \
         reference."
    } else {
        ""
    };
    let dash = if table.contains(NONE) {
        format!(" {NONE}: not reached in the window, or too few trials for it.")
    } else {
        String::new()
    };
    format!(
        "ms, as seen. Hits p50, p90: quantiles over hits alone. Half in focus by: half of all judged \
         trials are in focus then. Mean: soft and lost count as the shortest window.{own}{dash}"
    )
}

/// What is known beyond the table, each with its name.
fn lines(summary: &Summary, d: &Description) -> Vec<(&'static str, String)> {
    let mut said = vec![("Verdicts", verdicts(&summary.all, d))];
    said.push(("In focus by", in_focus_by(&summary.all)));
    if let Some([low, high]) = d.uncertainty_ms {
        said.push(("One latency", format!("± {} ms (2 u)", twice([low, high]))));
    }
    said.push(("Quantiles", quantiles(&d.all)));
    if let Some(hunting) = hunting(&d.all) {
        said.push(("Hunting", hunting));
    }
    for (name, cue) in &d.cues {
        said.push(("Cue", told(name, cue)));
    }
    if let Some(s) = d.between_clips {
        said.push((
            "Clips",
            format!(
                "medians {} to {} ms over {} clips; {} ms between clips beside {} ms within one \
                 (standard deviations; {} of the variance lies between)",
                whole(Some(s.medians_ms[0])),
                whole(Some(s.medians_ms[1])),
                s.clips,
                fixed(s.sd_ms, 0),
                fixed(s.within_sd_ms, 0),
                percent(Some(s.share))
            ),
        ));
    }
    if let Some(drift) = d.drift {
        said.push((
            "Drift",
            format!(
                "{} ms per 10 trials over hits; no drift has p {}",
                signed(drift.ms_per_10_trials),
                super::words::p(Some(drift.p))
            ),
        ));
    }
    if d.close_calls > 0 {
        said.push((
            "Close calls",
            format!("{} of {} judged trials", d.close_calls, d.judged),
        ));
    }
    for out in &d.excluded {
        said.push(("Excluded", format!("{}: {}", out.in_words(), out.reason)));
    }
    said
}

fn verdicts(all: &Tally, d: &Description) -> String {
    let mut text = format!(
        "{} hit, {} soft, {} lost of {} judged; {} void",
        all.hit, all.soft, all.lost, all.judged, all.void
    );
    let reasons: Vec<String> = d
        .void_reasons
        .iter()
        .map(|(reason, n)| format!("{n} {reason}"))
        .collect();
    if !reasons.is_empty() {
        text.push_str(&format!(" ({})", reasons.join(", ")));
    }
    text
}

fn in_focus_by(all: &Tally) -> String {
    let mut limits: Vec<(f64, Option<f64>)> = all
        .in_focus_by
        .iter()
        .filter_map(|(key, share)| Some((key.strip_suffix("_ms")?.parse().ok()?, *share)))
        .collect();
    limits.sort_by(|a, b| a.0.total_cmp(&b.0));
    let said: Vec<String> = limits
        .into_iter()
        .map(|(ms, share)| format!("{} ms {}", whole(Some(ms)), percent(share)))
        .collect();
    said.join(", ")
}

fn quantiles(group: &Group) -> String {
    let said: Vec<String> = group
        .latency_ms
        .iter()
        .map(|(name, estimate)| {
            let value = match estimate {
                None => whole(None),
                Some(e) => with_interval(&whole(Some(e.value)), &whole(e.low), &whole(e.high)),
            };
            format!("{name} {value}")
        })
        .collect();
    format!("{} ms over hits", said.join(", "))
}

fn hunting(group: &Group) -> Option<String> {
    let reversals = group.with_reversals?;
    Some(format!(
        "reversals in {} of judged trials ({} on average), relapses in {}",
        percent(Some(reversals)),
        group.mean_reversals.map_or("—".to_owned(), |m| fixed(m, 1)),
        percent(group.with_relapses)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::describe::describe;
    use crate::stats::fixtures::{clip, swings, timing, void};
    use crate::stats::sample::Latencies;
    use crate::stats::summary::summarise;
    use crate::store::schema::{Cue, Side};

    fn both() -> (String, String) {
        let ms: Vec<_> = (0..20u32)
            .map(|k| (k != 7).then(|| 210.0 + f64::from(k * 37 % 101)))
            .collect();
        let mut trials = swings(&ms);
        for trial in &mut trials {
            trial.reversals = Some(trial.index % 3);
            let cue = Cue {
                shown_s: Some(trial.onset_s + 0.2),
                latency_ms: Some(200.0),
                on_at_onset: false,
                heard: false,
            };
            trial.cues.insert("subject box".to_owned(), cue);
        }
        trials.push(void(20, Some(Side::Near)));
        let mut out = void(21, Some(Side::Far));
        out.reason = Some("excluded: somebody walked through".to_owned());
        trials.push(out);
        let mut made = timing(
            "kit-amber",
            vec![clip("a", trials.clone()), clip("b", trials)],
        );
        made.setup
            .tags
            .insert("firmware".to_owned(), "2.0".to_owned());
        let summary = summarise(&made.clips, 0.95).unwrap();
        let description = describe(&made.clips, Latencies::AsSeen, 0.95);
        (
            setup_text(&made.setup, &summary, &description),
            setup_markdown(&made.setup, &summary, &description),
        )
    }

    #[test]
    fn text_tells_what_lies_behind_the_table() {
        let (text, page) = both();
        println!("{text}");
        for words in [
            "kit-amber  (firmware 2.0)",
            "38 hit, 0 soft, 2 lost of 40 judged; 4 void (2 cut, 2 excluded)",
            "250 ms",
            "± 14 ms (2 u)",
            "reversals in",
            "subject box: shown in 100 % of 40",
            "somebody walked through",
        ] {
            assert!(text.contains(words), "{words}\n{text}");
        }
        assert!(text.lines().all(|l| l.chars().count() <= 100));
        assert!(page.starts_with("### kit-amber") && page.contains("- **Hunting:**"));
    }
}

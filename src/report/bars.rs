//! Latency histograms of several setups to one scale, in block characters.

use crate::stats::histogram::{LatencyHistogram, Scale};

use super::words::plain;

/// Fewest and most bins across; between them, by the number of hits.
const BINS: [f64; 2] = [12.0, 60.0];
/// Rows a drawing is high.
const ROWS: usize = 4;
/// Eighths of a row.
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// Fewest columns between two marks of the axis.
const MARK_EVERY: usize = 10;
/// Columns the bins of a drawing have.
const WIDEST: usize = 60;
/// What the mark at the right says.
const NEVER: &str = "never";

/// Setups by label with their stored histograms and their judged trials, drawn
/// below each other on one time axis; heights are shares of judged trials, to
/// one scale. Empty where nothing was hit; a histogram that cannot be read is
/// left out with its reason.
pub fn histogram_text(setups: &[(&str, &str, u64)]) -> String {
    let mut text = String::new();
    let mut read = Vec::new();
    for (label, stored, judged) in setups {
        match LatencyHistogram::from_text(stored) {
            Ok(histogram) => read.push((plain(label), histogram, *judged)),
            Err(error) => text.push_str(&format!("{}: {error}\n", plain(label))),
        }
    }
    let all: Vec<&LatencyHistogram> = read.iter().map(|r| &r.1).collect();
    let Some(scale) = Scale::common(&all, bins(&all)) else {
        return text;
    };
    let shares: Vec<Vec<f64>> = read
        .iter()
        .map(|(_, histogram, judged)| {
            let counts = scale.counts(histogram).into_iter();
            counts.map(|c| c as f64 / (*judged).max(1) as f64).collect()
        })
        .collect();
    let missed: Vec<u64> = read
        .iter()
        .map(|(_, histogram, judged)| judged.saturating_sub(histogram.len()))
        .collect();
    let never: Vec<f64> = missed
        .iter()
        .zip(&read)
        .map(|(missed, (.., judged))| *missed as f64 / (*judged).max(1) as f64)
        .collect();
    let top = shares
        .iter()
        .flatten()
        .chain(&never)
        .copied()
        .fold(0.0, f64::max);
    let wide = (WIDEST / scale.bins).clamp(1, 3);
    for (k, ((label, histogram, _), shares)) in read.iter().zip(&shares).enumerate() {
        let (hits, missed) = (histogram.len(), missed[k]);
        text.push_str(&format!("{label}: {hits} hits, {missed} soft or lost\n"));
        for row in (0..ROWS).rev() {
            let bars = shares.iter().map(|s| block(s / top, row));
            let line: String = bars
                .flat_map(|bar| std::iter::repeat_n(bar, wide))
                .collect();
            let miss: String =
                std::iter::repeat_n(block(never[k] / top, row), NEVER.len()).collect();
            text.push_str(format!("  │{line} │ {miss}").trim_end());
            text.push('\n');
        }
    }
    text.push_str(&axis(&scale, wide));
    text
}

/// As many bins as the hits of the best-filled histogram can fill.
fn bins(histograms: &[&LatencyHistogram]) -> usize {
    let most = histograms.iter().map(|h| h.len()).max().unwrap_or(0);
    (4.0 * (most as f64).sqrt()).clamp(BINS[0], BINS[1]) as usize
}

/// The part of a bar of `height` (0..=1) that lies in a row.
fn block(height: f64, row: usize) -> char {
    let eighths = (height * (ROWS * 8) as f64).round() as usize;
    // Something is never drawn as nothing.
    let eighths = if height > 0.0 { eighths.max(1) } else { 0 };
    BLOCKS[eighths.saturating_sub(row * 8).min(8)]
}

fn axis(scale: &Scale, wide: usize) -> String {
    // Marks stand on multiples of so many bins, as close as their numbers fit.
    let every = [1, 2, 5, 10, 20, 50]
        .into_iter()
        .find(|n| n * wide >= MARK_EVERY);
    let every = every.unwrap_or(MARK_EVERY);
    let offset = (scale.start_ms / scale.step_ms).round() as usize % every;
    let first = (every - offset) % every;
    let width = scale.bins * wide;
    let mut line: Vec<char> = vec!['─'; width + 1];
    let mut marks = String::from("   ");
    let last = scale.bins;
    let lone = if first > last { vec![0] } else { Vec::new() };
    for bin in (first..=last).step_by(every).chain(lone) {
        line[bin * wide] = '┴';
        while marks.chars().count() < 3 + bin * wide {
            marks.push(' ');
        }
        marks.push_str(&format!("{:.0}", scale.edge_ms(bin)));
    }
    let line: String = line.into_iter().collect();
    // The unit, then the mark of what was never in focus.
    let never = 3 + width + 3;
    let marks = format!("{marks} ms");
    let gap = never.saturating_sub(marks.chars().count()).max(2);
    format!(
        "  └{line}┴─{}\n{marks}{}{NEVER}\n  A bar is {:.0} ms wide; {NEVER}: soft or lost.\n",
        "─".repeat(NEVER.len()),
        " ".repeat(gap),
        scale.step_ms
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stored(ms: &[f64]) -> String {
        LatencyHistogram::of_ms(ms).unwrap().to_text().unwrap()
    }

    #[test]
    fn two_setups_share_both_scales() {
        let a = stored(&[200.0, 200.0, 200.0, 200.0, 260.0]);
        let b = stored(&[230.0, 230.0, 310.0]);
        let text = histogram_text(&[("kit-amber", &a, 5), ("kit-slate", &b, 6)]);
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "kit-amber: 5 hits, 0 soft or lost");
        // Four of five in one bar, three columns wide, and nothing missed.
        assert!(
            lines[1].starts_with("  │███") && lines[1].ends_with('│'),
            "{text}"
        );
        assert_eq!(lines[5], "kit-slate: 3 hits, 3 soft or lost");
        // Two of six against four of five: 5/12 of the height, 13 eighths; half
        // of them missed: 20 of 32 eighths.
        let low = lines[9].chars().filter(|c| *c != ' ').collect::<String>();
        assert_eq!(low, "│███▇▇▇│█████", "{text}");
        assert!(lines[7].contains("▄▄▄▄▄"), "{text}");
        assert!(
            text.contains("A bar is 10 ms wide; never: soft or lost."),
            "{text}"
        );
        let marks: Vec<&str> = lines[11].split_whitespace().collect();
        assert_eq!(marks, ["200", "250", "300", "ms", "never"], "{text}");
        assert!(lines.iter().all(|l| l.chars().count() <= 100));
    }

    #[test]
    fn nothing_hit_draws_nothing_and_damage_is_said() {
        assert_eq!(histogram_text(&[("kit", &stored(&[]), 4)]), "");
        assert!(histogram_text(&[("kit", "HISTFAAA", 4)]).starts_with("kit: "));
    }
}

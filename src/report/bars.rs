//! Latency histograms of several setups to one scale, in block characters.

use crate::stats::histogram::{LatencyHistogram, Scale};

use super::words::plain;

/// Fewest and most bins across; between them, by the number of hits.
const BINS: [f64; 2] = [12.0, 60.0];
/// Rows a drawing is high.
const ROWS: usize = 4;
/// Eighths of a row.
const BLOCKS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
/// Columns between two marks of the axis.
const MARK_EVERY: usize = 10;

/// Setups by label with their stored histograms and their judged trials, drawn
/// below each other on one time axis; heights are shares of judged trials, to
/// one scale. Empty where nothing was hit; a histogram that cannot be read is
/// left out with its reason.
#[must_use]
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
    let top = shares.iter().flatten().copied().fold(0.0, f64::max);
    for ((label, histogram, judged), shares) in read.iter().zip(&shares) {
        let missed = judged.saturating_sub(histogram.len());
        text.push_str(&format!(
            "{label}: {} hits, {missed} soft or lost\n",
            histogram.len()
        ));
        for row in (0..ROWS).rev() {
            let line: String = shares.iter().map(|s| block(s / top, row)).collect();
            text.push_str(format!("  │{line}").trim_end());
            text.push('\n');
        }
    }
    text.push_str(&axis(&scale));
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

fn axis(scale: &Scale) -> String {
    let mut line = String::from("  └");
    let mut marks = String::from("   ");
    // Marks stand on round numbers, at tens of bins.
    let offset = (scale.start_ms / scale.step_ms).round() as usize % MARK_EVERY;
    let first = match (MARK_EVERY - offset) % MARK_EVERY {
        far if far > scale.bins => 0,
        near => near,
    };
    for bin in 0..=scale.bins {
        let marked = bin >= first && (bin - first) % MARK_EVERY == 0;
        line.push(if marked { '┴' } else { '─' });
        if marked {
            let label = format!("{:.0}", scale.edge_ms(bin));
            let place = 3 + bin;
            while marks.chars().count() < place {
                marks.push(' ');
            }
            marks.push_str(&label);
        }
    }
    format!("{line}\n{marks} ms\n")
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
        assert_eq!(lines[1], "  │█");
        assert_eq!(lines[5], "kit-slate: 3 hits, 3 soft or lost");
        // Two of six against four of five: 5/12 of the height, 13 eighths.
        let low = lines[9].chars().filter(|c| *c != ' ').collect::<String>();
        assert_eq!(low, "│█▇");
        assert!(text.trim_end().ends_with("ms"));
        assert!(lines.iter().all(|l| l.chars().count() <= 100));
    }

    #[test]
    fn nothing_hit_draws_nothing_and_damage_is_said() {
        assert_eq!(histogram_text(&[("kit", &stored(&[]), 4)]), "");
        assert!(histogram_text(&[("kit", "HISTFAAA", 4)]).starts_with("kit: "));
    }
}

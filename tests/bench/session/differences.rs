//! Differences between two setups: the intervals of `compare --json` against
//! the drawn trials.

use serde_json::Value;

use crate::held::truth::Film;
use crate::scenes::LATER_MS;

/// What intervals held.
#[derive(Default)]
pub struct Held {
    /// Of the shift of hit latency: the lenses' true one, and how many.
    shift: [usize; 2],
    /// Of the hit rates' difference: the drawn one.
    rate: [usize; 2],
    /// Sooner is who is sooner, of those with enough trials; the other one.
    verdicts: [usize; 3],
    lines: Vec<String>,
}

impl Held {
    /// A comparison of two setups with their films, in the order of the files.
    pub fn of(compared: &Value, films: &[Vec<Film>]) -> Self {
        let mut held = Self::default();
        for pair in compared["pairs"].as_array().map_or(&[][..], Vec::as_slice) {
            held.pair(pair, films);
        }
        held
    }

    fn pair(&mut self, pair: &Value, films: &[Vec<Film>]) {
        let side = pair["side"].as_str().unwrap_or("all");
        let shift = &pair["hit_latency_shift_ms"];
        // Differences are the first's less the second's.
        let shifted = count(&mut self.shift, shift, -LATER_MS);
        let rates = [0, 1].map(|k| rate(&films[k], side));
        let drawn = rates[0].zip(rates[1]).map(|(a, b)| a - b);
        let rate = &pair["hit_rate_difference"];
        let rated = drawn.is_some_and(|d| count(&mut self.rate, rate, d));
        let verdict = pair["verdict"].as_str().unwrap_or("");
        match verdict {
            "a_sooner" => self.verdicts[0] += 1,
            "b_sooner" => self.verdicts[1] += 1,
            _ => self.verdicts[2] += 1,
        }
        self.lines.push(format!(
            "  {side}: shift {} ms [{}, {}] (drawn {}){}; hit rates {} [{}, {}] (drawn {}){}; {verdict}",
            text(&shift["value"]),
            text(&shift["low"]),
            text(&shift["high"]),
            -LATER_MS,
            if shifted { "" } else { " NOT HELD" },
            text(&rate["value"]),
            text(&rate["low"]),
            text(&rate["high"]),
            drawn.map_or("-".to_owned(), |d| format!("{d:.3}")),
            if rated { "" } else { " NOT HELD" },
        ));
    }

    /// Adds another's.
    pub fn add(&mut self, other: &Self) {
        for k in 0..2 {
            self.shift[k] += other.shift[k];
            self.rate[k] += other.rate[k];
        }
        for (mine, more) in self.verdicts.iter_mut().zip(other.verdicts) {
            *mine += more;
        }
        self.lines.extend(other.lines.iter().cloned());
    }

    /// All of it as text.
    pub fn lines(&self) -> Vec<String> {
        let mut out = vec![format!(
            "differences: {} of {} intervals hold the {LATER_MS} ms; {} of {} the drawn hit rates' difference; \
             the earlier setup called sooner {} times, later {}, neither {}",
            self.shift[0],
            self.shift[1],
            self.rate[0],
            self.rate[1],
            self.verdicts[0],
            self.verdicts[1],
            self.verdicts[2]
        )];
        out.extend(self.lines.iter().cloned());
        out
    }
}

/// Counts whether an interval that is there holds a value.
fn count(counts: &mut [usize; 2], interval: &Value, value: f64) -> bool {
    let Some((low, high)) = interval["low"].as_f64().zip(interval["high"].as_f64()) else {
        return false;
    };
    let holds = (low..=high).contains(&value);
    counts[0] += usize::from(holds);
    counts[1] += 1;
    holds
}

/// Drawn hit rate of a side, or of all.
fn rate(films: &[Film], side: &str) -> Option<f64> {
    let trials = films.iter().flat_map(|f| &f.trials);
    let mine = trials.filter(|t| t.scored && (side == "all" || t.side == Some(side)));
    let (mut hits, mut of) = (0.0, 0.0);
    for t in mine {
        hits += f64::from(t.verdict == "hit");
        of += 1.0;
    }
    (of > 0.0).then(|| hits / of)
}

fn text(v: &Value) -> String {
    v.as_f64().map_or("-".to_owned(), |v| format!("{v:.3}"))
}

//! A pair in plain words, claiming no more than its numbers do.

use super::group::SetupSample;
use super::pair::{Draft, MIN_JUDGED};
use super::{FocusDifference, Higher, Interval, Pair, Sooner};

pub(super) fn sentence(draft: &Draft, samples: &[SetupSample], confidence: f64) -> String {
    let pair = &draft.pair;
    if draft.too_few {
        return too_few(pair);
    }
    let mut text = time_to_focus(pair, confidence);
    text.push(' ');
    text.push_str(&hit_rate(pair, confidence));
    if let Some(more) = among_hits(pair, confidence) {
        text.push(' ');
        text.push_str(&more);
    }
    if let Some(caveat) = by_clip_caveat(pair) {
        text.push(' ');
        text.push_str(&caveat);
    }
    if let Some(caveat) = missing_side(draft, samples) {
        text.push(' ');
        text.push_str(&caveat);
    }
    text
}

fn place(pair: &Pair) -> String {
    match pair.side.as_str() {
        "all" => String::new(),
        side => format!(" on the {side} side"),
    }
}

fn too_few(pair: &Pair) -> String {
    format!(
        "Too few trials to compare {} with {}{}: a verdict needs at least {MIN_JUDGED} judged \
         trials of each{}; there are {} and {}.",
        pair.a,
        pair.b,
        place(pair),
        if pair.side == "all" {
            " on every side"
        } else {
            ""
        },
        pair.judged[0],
        pair.judged[1]
    )
}

fn time_to_focus(pair: &Pair, confidence: f64) -> String {
    let focus = &pair.time_to_focus;
    let Some(d) = focus.restricted_mean_difference_ms else {
        return format!(
            "No difference in time-to-focus between {} and {} is shown{}.",
            pair.a,
            pair.b,
            place(pair)
        );
    };
    let limit = focus.restricted_to_ms.unwrap_or(0.0);
    let band = span(
        focus.restricted_mean_difference_low_ms,
        focus.restricted_mean_difference_high_ms,
        confidence,
    );
    let p = focus
        .holm_p
        .map_or(String::new(), |p| format!(", p {}", p_words(p)));
    let d = signed(d);
    let seen = format!("a − b {d} ms in the mean within {limit:.0} ms, misses in full{band}");
    match pair.verdict {
        Sooner::ASooner | Sooner::BSooner => {
            let (first, second) = if pair.verdict == Sooner::ASooner {
                (&pair.a, &pair.b)
            } else {
                (&pair.b, &pair.a)
            };
            let sized = interval(focus).is_some_and(|i| !i.holds_zero());
            let how_much = if sized {
                ""
            } else {
                " By how much on average is not settled: that interval reaches past 0."
            };
            format!(
                "{first} reaches focus sooner than {second}{} ({seen}{p}).{how_much}",
                place(pair)
            )
        }
        _ => format!(
            "No difference in time-to-focus between {} and {} is shown{} ({seen}{p}); that does \
             not show that they are the same.",
            pair.a,
            pair.b,
            place(pair)
        ),
    }
}

fn interval(focus: &FocusDifference) -> Option<Interval> {
    Some(Interval {
        low: focus.restricted_mean_difference_low_ms?,
        high: focus.restricted_mean_difference_high_ms?,
    })
}

fn hit_rate(pair: &Pair, confidence: f64) -> String {
    let rate = &pair.hit_rate_difference;
    let Some(d) = rate.value else {
        return String::new();
    };
    let points = |x: Option<f64>| x.map(|v| v * 100.0);
    let band = span(points(rate.low), points(rate.high), confidence);
    let d = signed(d * 100.0);
    match pair.hit_rate_verdict {
        Higher::AHigher => format!(
            "{} hits more often than {} (a − b {d} points{band}).",
            pair.a, pair.b
        ),
        Higher::BHigher => format!(
            "{} hits more often than {} (a − b {d} points{band}).",
            pair.b, pair.a
        ),
        _ => format!("No difference in hit rate is shown (a − b {d} points{band})."),
    }
}

/// The rank test over hits often sees a shift that the log-rank test, which
/// also weighs the misses, does not show.
fn among_hits(pair: &Pair, confidence: f64) -> Option<String> {
    let shift = &pair.hit_latency_shift_ms;
    let open = pair.verdict == Sooner::NoDifferenceShown;
    let value = shift.value?;
    let p = shift.holm_p.filter(|&p| open && p < 1.0 - confidence)?;
    let band = span(shift.low, shift.high, confidence);
    Some(format!(
        "Among hits alone latencies do differ (a − b {} ms{band}, p {}).",
        signed(value),
        p_words(p)
    ))
}

/// Where clips taken as wholes no longer show what single trials show.
fn by_clip_caveat(pair: &Pair) -> Option<String> {
    let by_clip = pair.by_clip.as_ref()?;
    let open = |decided: bool, interval: Option<Interval>| {
        decided && interval.is_none_or(Interval::holds_zero)
    };
    let sooner = matches!(pair.verdict, Sooner::ASooner | Sooner::BSooner);
    let higher = matches!(pair.hit_rate_verdict, Higher::AHigher | Higher::BHigher);
    let what = match (
        open(sooner, by_clip.restricted_mean_difference_ms),
        open(higher, by_clip.hit_rate_difference),
    ) {
        (true, true) => "neither difference is",
        (true, false) => "the difference in time-to-focus is not",
        (false, true) => "the difference in hit rate is not",
        (false, false) => return None,
    };
    Some(format!(
        "Resampled by clip, {what} shown: the clips differ among themselves too much to rely on it."
    ))
}

fn missing_side(draft: &Draft, samples: &[SetupSample]) -> Option<String> {
    let (a, b) = (&samples[draft.who.0], &samples[draft.who.1]);
    let judged = |s: &SetupSample| s.judged.iter().filter_map(|o| o.side).collect::<Vec<_>>();
    let (x, y) = (judged(a), judged(b));
    let uneven = x.iter().any(|side| !y.contains(side)) || y.iter().any(|side| !x.contains(side));
    (draft.pair.side == "all" && uneven)
        .then(|| "Only the side on which both have judged trials is compared.".to_owned())
}

fn span(low: Option<f64>, high: Option<f64>, confidence: f64) -> String {
    match (low, high) {
        (Some(low), Some(high)) => {
            let (low, high) = (signed(low), signed(high));
            format!(", {:.0} % interval {low} to {high}", confidence * 100.0)
        }
        _ => String::new(),
    }
}

/// `+12`, `−84`, never a negative nought.
fn signed(x: f64) -> String {
    let x = if x.abs() < 0.5 { 0.0 } else { x };
    format!("{x:+.0}").replace('-', "−")
}

/// `= 0.012` or `< 0.001`.
pub(in crate::stats) fn p_words(p: f64) -> String {
    if p < 0.001 {
        "< 0.001".to_owned()
    } else {
        format!("= {p:.3}")
    }
}

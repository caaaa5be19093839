//! Setups against each other.

use maud::{Markup, PreEscaped, html};

use super::names::{name, prose, shown};
use super::tables::{scrolled, wraps};
use crate::report::plot::{Span, intervals};
use crate::report::words::{NONE, p, percent, points, signed};
use crate::stats::compare::{Comparison, Pair, Sooner};

/// One kind of difference.
struct Measure {
    title: &'static str,
    unit: &'static str,
    sides: [&'static str; 2],
    value: fn(&Pair) -> Option<(f64, f64, f64)>,
    words: fn(Option<f64>) -> String,
}

const MEASURES: [Measure; 3] = [
    Measure {
        title: "Mean time to focus, misses as the window",
        unit: "ms, first minus second",
        sides: ["first sooner", "second sooner"],
        value: |p| {
            let f = &p.time_to_focus;
            whole(
                f.restricted_mean_difference_ms,
                f.restricted_mean_difference_low_ms,
                f.restricted_mean_difference_high_ms,
            )
        },
        words: signed,
    },
    Measure {
        title: "Shift of hit latency",
        unit: "ms, first minus second",
        sides: ["first sooner", "second sooner"],
        value: |p| {
            let s = &p.hit_latency_shift_ms;
            whole(s.value, s.low, s.high)
        },
        words: signed,
    },
    Measure {
        title: "Difference of hit rate",
        unit: "points of percent, first minus second",
        sides: ["second hits more", "first hits more"],
        value: |p| {
            let r = &p.hit_rate_difference;
            whole(r.value, r.low, r.high).map(|(v, l, h)| (v * 100.0, l * 100.0, h * 100.0))
        },
        words: |x| points(x.map(|x| x / 100.0)),
    },
];

fn whole(value: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<(f64, f64, f64)> {
    Some((value?, low?, high?))
}

pub(super) fn section(comparisons: &[Comparison]) -> Markup {
    html! {
        section #differences aria-labelledby="differences-h" {
            h2 #differences-h { "Differences" }
            @if comparisons.is_empty() {
                p { "There are no two setups here that can be held against each other." }
            }
            @for comparison in comparisons { (compared(comparison)) }
        }
    }
}

fn compared(comparison: &Comparison) -> Markup {
    let labels: Vec<&str> = comparison.setups.iter().map(|s| s.label.as_str()).collect();
    let together: Vec<&Pair> = comparison
        .pairs
        .iter()
        .filter(|p| p.side == "all")
        .collect();
    let level = percent(Some(comparison.confidence));
    html! {
        p.note { "Intervals of " (level) "; a filled mark and a thick line leave zero out. Latencies, "
            (comparison.latencies) " ones: " (shown(&comparison.lag)) "." }
        ul { @for pair in &together { li { (prose(&pair.sentence, &labels)) } } }
        div.grid { @for measure in &MEASURES {
            figure {
                figcaption { (measure.title) }
                (PreEscaped(drawn(measure, &comparison.pairs)))
            }
        } }
        (scrolled(&format!("Differences of {} in numbers", shown(&labels.join(", "))), &table(comparison)))
        p.note { "p after Holm over the pairs. Time to focus: log-rank, stratified by side. Latency: \
            Hodges–Lehmann, Mann–Whitney. Hit rate: Newcombe, Fisher. Resampling seed "
            (comparison.seed) "." }
    }
}

fn drawn(measure: &Measure, pairs: &[Pair]) -> String {
    let spans: Vec<Span> = pairs
        .iter()
        .map(|pair| {
            let value = (measure.value)(pair);
            Span {
                name: format!("{} − {}, {}", cut(&pair.a), cut(&pair.b), pair.side),
                words: figures(measure, value),
                value,
            }
        })
        .collect();
    let told: Vec<String> = spans
        .iter()
        .map(|s| format!("{}: {}", s.name, s.words))
        .collect();
    intervals(
        measure.title,
        &format!("{}.", told.join("; ")),
        &spans,
        measure.unit,
        measure.sides,
    )
}

/// Two names share a line of a plot.
fn cut(name: &str) -> String {
    let name = shown(name);
    if name.chars().count() <= 12 {
        return name;
    }
    name.chars().take(11).chain(['…']).collect()
}

fn figures(measure: &Measure, value: Option<(f64, f64, f64)>) -> String {
    value.map_or(NONE.to_owned(), |(v, low, high)| {
        let say = |x: f64| (measure.words)(Some(x));
        format!("{} ({} to {})", say(v), say(low), say(high))
    })
}

fn table(comparison: &Comparison) -> Markup {
    html! { table {
        caption { "Differences, first minus second" }
        thead { tr {
            th scope="col" .l { "First − second" } th scope="col" .l { "Side" }
            @for head in ["Mean time to focus, ms", "Hit rate, points", "Hit latency, ms", "p (log-rank)",
                "p (Fisher)", "p (rank test)", "First sooner"] { th scope="col" { (head) } }
            th scope="col" .l { "Shown" }
        } }
        tbody { @for pair in &comparison.pairs { tr {
            th scope="row" { (name(&pair.a)) " − " (name(&pair.b)) }
            td.l { (pair.side) }
            @let [mean, shift, rate] = MEASURES.each_ref().map(|m| wraps(&figures(m, (m.value)(pair))));
            td { (mean) } td { (rate) } td { (shift) }
            @for test in [pair.time_to_focus.holm_p, pair.hit_rate_difference.holm_p,
                pair.hit_latency_shift_ms.holm_p] { td { (p(test)) } }
            td { (percent(pair.a_sooner_probability)) }
            td.l { (verdict(pair.verdict)) }
        } } }
    } }
}

fn verdict(sooner: Sooner) -> &'static str {
    match sooner {
        Sooner::ASooner => "first sooner",
        Sooner::BSooner => "second sooner",
        Sooner::NoDifferenceShown => "no difference",
        Sooner::TooFewTrials => "too few trials",
    }
}

//! Why a gate says what it says: one line per check that does not pass.

use crate::stats::gate::{Check, Gate, Verdict};

use super::gate::{figure, is_change, is_rate, limit, name, value, word};
use super::words::{percent, plain, signed, whole};

/// The verdict, of what, and against what.
pub(super) fn headline(gate: &Gate) -> String {
    let beyond = |c: &&Check| c.verdict == Verdict::Regression;
    let change = gate.checks.iter().filter(beyond).any(is_change);
    let verdict = match gate.verdict {
        Verdict::Regression if !change => "FAIL (below what the policy requires)".to_owned(),
        other => word(other).to_uppercase(),
    };
    let against = match &gate.baseline {
        Some(baseline) if gate.baseline_sessions > 1 => {
            format!(
                " against {} in {} sessions",
                plain(baseline),
                gate.baseline_sessions
            )
        }
        Some(baseline) => format!(" against {}", plain(baseline)),
        None => String::new(),
    };
    let own = match (own_best(gate), gate.own_reference) {
        (true, _) => format!("; unverified: {OWN_BEST}"),
        (false, true) => "; unverified: each kit is held against its own best focus".to_owned(),
        (false, false) => String::new(),
    };
    format!("Gate: {verdict}: {}{against}{own}", plain(&gate.candidate))
}

/// What a hit is without a reference focused by hand.
const OWN_BEST: &str = "a hit only means as sharp as this kit's own best; film a reference focused \
    by hand";

/// Whether something is required of hits that have no yardstick but their own.
fn own_best(gate: &Gate) -> bool {
    gate.own_reference && gate.checks.iter().any(|c| !is_change(c))
}

/// A line per check that does not pass, the weightiest first; too few trials
/// are told once for all checks.
pub(super) fn lines(gate: &Gate) -> Vec<String> {
    let of = |wanted: Verdict| {
        let all = gate.checks.iter();
        all.filter(move |c| c.verdict == wanted && !c.few)
    };
    // Of several changes beyond their limits the table says enough.
    let beyond = of(Verdict::Regression).enumerate();
    let beyond = beyond.filter(|(k, c)| *k == 0 || !is_change(c) || c.value.is_none());
    let mut said: Vec<String> = beyond
        .map(|(_, check)| check)
        .chain(of(Verdict::Inconclusive))
        .map(|check| because(check, gate))
        .collect();
    said.extend(few(gate));
    let by_session = |c: &Check| c.between_sessions.is_some_and(|sd| sd > 0.0) && !c.few;
    if of(Verdict::Inconclusive).any(by_session) {
        said.push(
            "More trials do not narrow what sessions differ by: film more sessions of the baseline, or \
             set them up with more care."
                .to_owned(),
        );
    }
    if said.is_empty() {
        said.push(
            "Every check is inside its limit, even at the worse end of its interval.".to_owned(),
        );
    }
    said
}

/// `Too few judged trials for a verdict: near 12, far 11; the policy asks for 20.`
fn few(gate: &Gate) -> Option<String> {
    let mut sides: Vec<String> = Vec::new();
    for check in gate.checks.iter().filter(|c| c.few) {
        let fewest = check.judged.iter().flatten().min().copied().unwrap_or(0);
        let side = format!("{} {fewest}", check.side);
        if !sides.contains(&side) {
            sides.push(side);
        }
    }
    (!sides.is_empty()).then(|| {
        format!(
            "Too few judged trials for a verdict: {}; {}.",
            sides.join(", "),
            gate.min_trials_asked
        )
    })
}

/// Why this check is no pass.
pub(super) fn because(check: &Check, gate: &Gate) -> String {
    let what = if check.few {
        few(gate)
            .unwrap_or_default()
            .trim_end_matches('.')
            .to_owned()
    } else if check.value.is_none() && check.not_reached_by_ms.is_none() {
        check.why.clone().unwrap_or_default()
    } else if is_change(check) {
        changed(check, gate)
    } else {
        required(check)
    };
    let own = if own_best(gate) && check.name == "hit_rate" {
        format!("; {OWN_BEST}")
    } else {
        String::new()
    };
    format!("{}: {what}{own}.", check.side)
}

fn required(check: &Check) -> String {
    let found = match (is_rate(check), check.value, check.not_reached_by_ms) {
        (true, Some(rate), _) => {
            let judged = check.judged[1].unwrap_or(0);
            format!("{:.0} of {judged} hit", rate * judged as f64)
        }
        (false, None, Some(window)) => {
            format!("fewer than 90 % came into focus within {window:.0} ms")
        }
        _ => format!("90 % came into focus by {} ms", value(check)),
    };
    let asked = format!("the policy asks for {}", asked(check));
    let outside = check
        .not_reached_by_ms
        .is_some_and(|window| check.limit > window);
    if check.verdict == Verdict::Inconclusive && outside {
        return format!("{found}; {asked}, which is longer than the window");
    }
    let ms = |x: Option<f64>| x.map(|x| format!("{} ms", whole(Some(x))));
    let bound = match (check.verdict, is_rate(check)) {
        (Verdict::Regression, true) => Some(format!("{} at best", percent(check.high))),
        (Verdict::Regression, false) if check.value.is_none() => None,
        (Verdict::Regression, false) => ms(check.low).map(|low| format!("{low} at best")),
        (_, true) if check.value.is_some_and(|v| v < check.limit) => {
            Some(format!("could be as high as {}", percent(check.high)))
        }
        (_, true) => Some(format!("could be as low as {}", percent(check.low))),
        (_, false) if check.value.is_none_or(|v| v > check.limit) => {
            ms(check.low).map(|low| format!("could be as early as {low}"))
        }
        (_, false) => Some(ms(check.high).map_or_else(
            || "so few trials do not say how late it could be".to_owned(),
            |high| format!("could be as late as {high}"),
        )),
    };
    match bound {
        Some(bound) => format!("{found}; {bound}, {asked}"),
        None => format!("{found}; {asked}"),
    }
}

fn asked(check: &Check) -> String {
    let figure = figure(check, Some(check.limit));
    if is_rate(check) {
        figure
    } else {
        format!("{figure} ms")
    }
}

fn changed(check: &Check, gate: &Gate) -> String {
    let unit = if is_rate(check) { "points" } else { "ms" };
    let share = if check.name == "p90_slowdown_ms" {
        "fewer than 90 %"
    } else {
        "fewer than half"
    };
    let found = match (check.value, check.not_reached_by_ms) {
        (None, Some(window)) => {
            let whose = match check.candidate {
                None => plain(&gate.candidate),
                Some(_) => plain(gate.baseline.as_deref().unwrap_or_default()),
            };
            format!("{share} of the trials of {whose} came into focus within {window:.0} ms")
        }
        _ => format!("{} {} {unit}", name(check), value(check)),
    };
    let end = |x: Option<f64>| x.map(|x| figure(check, Some(x)));
    let over = check.value.is_none_or(|v| v > check.limit);
    let bound = match (check.verdict, over) {
        (Verdict::Regression, _) => end(check.low).map(|low| format!("at least {low}")),
        (_, true) => end(check.low).map(|low| format!("could be as little as {low}")),
        (_, false) => Some(end(check.high).map_or_else(
            || "so few trials do not say how much it could be".to_owned(),
            |high| format!("could be as much as {high}"),
        )),
    };
    let allowed = format!("the limit is {}", limit(check).trim_start_matches("≤ "));
    match bound {
        Some(bound) => format!("{found}; {bound}, {allowed}"),
        None => format!("{found}; {allowed}"),
    }
}

/// What that number is not.
const LUCK: &str = " That is for figures that stay just as they are; focuslag plan gives the \
    larger number that allows for chance.";

/// About how many more trials, of which side and kit, for which check.
pub(super) fn more(gate: &Gate) -> Option<String> {
    let n = gate.more_trials_per_setup?;
    let wanted = gate.more_trials_for.as_ref()?;
    let mut all = gate.checks.iter();
    let check = all.find(|c| c.name == wanted.name && c.side == wanted.side)?;
    let side = match check.side.as_str() {
        "all" => String::new(),
        side => format!(" {side}"),
    };
    let whose = if is_change(check) {
        "each kit".to_owned()
    } else {
        plain(&gate.candidate)
    };
    let trials = format!("{n} more judged{side} trials of {whose}");
    let stays = match (is_rate(check), is_change(check)) {
        _ if check.value.is_none() => String::new(),
        (true, true) => format!(
            ", if it stays {} points",
            signed(check.value.map(|v| v * 100.0))
        ),
        (true, false) => format!(", if it stays {}", percent(check.value)),
        (false, _) => format!(", if it stays {} ms", figure(check, check.value)),
    };
    let open = gate
        .checks
        .iter()
        .filter(|c| c.verdict == Verdict::Inconclusive);
    Some(if open.count() == 1 {
        format!(
            "About {trials} would decide the {}{stays}.{LUCK}",
            name(check)
        )
    } else {
        format!(
            "The {} needs the most: about {trials}{stays}.{LUCK}",
            name(check)
        )
    })
}

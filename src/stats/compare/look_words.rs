//! A look in plain words: what is shown, what is not worth going on for, how
//! many more trials.

use super::super::normal::p_words;
use super::looks::{Look, LookVerdict};
use super::{Higher, Pair, Sooner};

pub(super) fn too_few(look: &Look) -> String {
    format!(
        "Too few judged trials for a look: {:.0} of each setup and side, {} are needed. This does \
         not count as a look.",
        look.judged,
        super::pair::MIN_JUDGED
    )
}

pub(super) fn sentence(look: &Look, pair: &Pair) -> String {
    let questions = [
        (look.time_to_focus.verdict, "time to focus"),
        (look.hit_rate.verdict, "hit rate"),
    ];
    let of = |wanted: LookVerdict| -> Vec<&str> {
        let with = questions.iter().filter(|q| q.0 == wanted);
        with.map(|q| q.1).collect()
    };
    let mut said = Vec::new();
    said.extend(shown(look, pair));
    let (futile, open) = (of(LookVerdict::NotWorthGoingOn), of(LookVerdict::GoOn));
    let (not, few) = (of(LookVerdict::NotShown), of(LookVerdict::TooFewTrials));
    if !not.is_empty() {
        said.push(format!(
            "No difference in {} was shown, and this was the last look: that does not show that they \
             are the same.",
            not.join(" or ")
        ));
    }
    if !futile.is_empty() {
        said.push(format!(
            "Not worth going on for {}: the trials left would seldom show a difference.",
            futile.join(" or ")
        ));
    }
    if !open.is_empty() {
        let next = look.more_to_next_look.unwrap_or(0);
        let most = look.more_at_most.unwrap_or(0);
        let end = if most > next {
            format!(", {most} at most")
        } else {
            String::new()
        };
        said.push(format!(
            "No difference in {} is shown yet: about {next} more judged trials of each setup and \
             side until the next look{end}.",
            open.join(" or ")
        ));
    }
    if open.is_empty() && few.is_empty() && !look.last {
        said.push("You can stop filming.".to_owned());
    }
    if !few.is_empty() {
        said.push("Too few judged trials on a side: film more before the next look.".to_owned());
    }
    said.push(count(look));
    said.join(" ")
}

/// `Shown: kit-amber reaches focus sooner than kit-cobalt.`
fn shown(look: &Look, pair: &Pair) -> Option<String> {
    let (a, b) = (&pair.a, &pair.b);
    let sooner = match pair.verdict {
        _ if look.time_to_focus.verdict != LookVerdict::Shown => None,
        Sooner::ASooner => Some(format!("{a} reaches focus sooner than {b}")),
        Sooner::BSooner => Some(format!("{b} reaches focus sooner than {a}")),
        _ => None,
    };
    let higher = match pair.hit_rate_verdict {
        _ if look.hit_rate.verdict != LookVerdict::Shown => None,
        Higher::AHigher => Some(format!("{a} hits more often than {b}")),
        Higher::BHigher => Some(format!("{b} hits more often than {a}")),
        _ => None,
    };
    let all: Vec<String> = sooner.into_iter().chain(higher).collect();
    (!all.is_empty()).then(|| format!("Shown: {}.", all.join("; ")))
}

fn count(look: &Look) -> String {
    let misled = (1.0 - look.confidence) * 100.0;
    let p = look.p_below.map_or(String::new(), |p| {
        format!(
            "; here a p below {} shows a difference, so that {} looks together mislead about \
             either question no more than {} times in 100",
            p_words(p),
            look.of,
            round(misled)
        )
    });
    let going_on = [look.hit_rate, look.time_to_focus];
    let next = if !look.last && going_on.iter().any(|a| a.verdict != LookVerdict::Shown) {
        let all: Vec<String> = look.looked.iter().map(ToString::to_string).collect();
        format!(" At the next look add --looked {}.", all.join(","))
    } else {
        String::new()
    };
    format!(
        "Look {} of {}, at {:.0} of {} judged trials of each setup and side{p}.{next}",
        look.look, look.of, look.judged, look.planned
    )
}

fn round(x: f64) -> String {
    let text = format!("{x:.1}");
    text.trim_end_matches(".0").to_owned()
}

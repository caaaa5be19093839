//! What a setup was judged at: δ, the hit limit, the films' limits and what a
//! hit is measured against. In words, the same everywhere.

use std::collections::BTreeSet;

use super::words::{fixed, permille};
use crate::stats::compare::MOST_CLOSE;
use crate::store::schema::{Clip, ReferenceFrom, Side, Timing, Trial};
use crate::trial::DELTA_STEP;

/// Clips whose limits are told one by one.
const MOST_CLIPS: usize = 4;
const LOWER: &str = "film the screen larger, or at a higher bit rate";

/// `Judged at δ 4 ‰ of the screen's height; hit at 4 ‰.`, and what raised them.
pub(super) fn judged_at(timing: &Timing) -> String {
    let deltas = timing.deltas();
    let delta = deltas.last().copied();
    let hit = timing.hit_limit();
    let told = |x: Option<f64>| x.map_or("not stated".to_owned(), permille);
    let mut text = format!(
        "Judged at δ {} of the screen's height; hit at {}.",
        told(delta),
        told(hit)
    );
    let asked = timing.asked("settle_permille");
    if let Some((delta, asked)) = delta.zip(asked).filter(|(d, a)| d > a) {
        // Another setup's clip may have raised it: one δ holds for a session.
        // A film too coarse to be judged raises none.
        let raised = |c: &&Clip| {
            let least = c.least_permille.unwrap_or(0.0);
            least > delta - DELTA_STEP && least <= delta
        };
        let own = timing.clips.iter().find(raised);
        let whose = own.map_or(" of another clip of the session".to_owned(), |c| {
            format!(" of {}", c.path)
        });
        text.push_str(&format!(
            " {} was asked for; the film's limit{whose} allows no finer δ than {}: {LOWER}.",
            permille(asked),
            permille(delta)
        ));
    }
    text
}

/// The clip that tells least.
fn coarsest(timing: &Timing) -> Option<&Clip> {
    let of = |c: &&Clip| c.least_permille.unwrap_or(0.0);
    let known = timing.clips.iter().filter(|c| c.least_permille.is_some());
    known.max_by(|a, b| of(a).total_cmp(&of(b)))
}

/// The least blur that each film tells from none, and how to lower it.
pub(super) fn film_limits(timing: &Timing) -> Option<String> {
    let known: Vec<(&Clip, f64)> = timing
        .clips
        .iter()
        .filter_map(|c| Some((c, c.least_permille?)))
        .collect();
    let (first, coarsest) = (known.first()?, coarsest(timing)?);
    let told = if known.len() > MOST_CLIPS {
        let finest = known.iter().map(|k| k.1).fold(f64::INFINITY, f64::min);
        let most = coarsest.least_permille.unwrap_or(first.1);
        let whose = &coarsest.path;
        format!("{} to {} ‰ ({whose})", fixed(finest, 1), fixed(most, 1))
    } else {
        let each = known.iter().map(|(c, least)| {
            let high = c.screen.height_px;
            let high = high.map_or(String::new(), |px| format!(", screen {px:.0} px high"));
            format!("{} {} ‰{high}", c.path, fixed(*least, 1))
        });
        each.collect::<Vec<_>>().join("; ")
    };
    Some(format!(
        "The film's limit, the least blur told from none: {told}. To lower it, {LOWER}."
    ))
}

/// How many judged trials end so near to the hit limit that they could be
/// either.
pub(super) fn close_calls(timing: &Timing) -> Option<String> {
    let judged = timing.judged().count();
    let close = timing.judged().filter(|t| t.close_call).count();
    let many = close as f64 > MOST_CLOSE * judged as f64;
    let warned = if many {
        "; more than one in ten: hit and soft are hardly told apart here, so lower the film's \
         limit or allow a larger hit_permille"
    } else {
        ""
    };
    (close > 0).then(|| {
        format!(
            "{close} of {judged} judged trials {} (end blur within its uncertainty of the hit \
             limit){warned}.",
            if close == 1 {
                "is a close call"
            } else {
                "are close calls"
            }
        )
    })
}

/// What a hit is measured against.
pub(super) fn reference(timing: &Timing) -> String {
    if timing.judged().next().is_none() {
        return "Reference: none, no trial was judged.".to_owned();
    }
    if !timing.unverified() {
        return "Reference: focused by hand.".to_owned();
    }
    let sides = |wanted: &dyn Fn(&Trial) -> bool| -> Vec<&'static str> {
        let found: BTreeSet<Option<Side>> = timing
            .judged()
            .filter(|t| wanted(t))
            .map(|t| t.side)
            .collect();
        let names = found.into_iter().flatten();
        names.map(super::row::side_name).collect()
    };
    let from = |kind: ReferenceFrom| move |t: &Trial| t.reference_from == Some(kind);
    let by_hand = sides(&from(ReferenceFrom::Hand));
    let own = match timing.judged().any(from(ReferenceFrom::Clip)) {
        true => "this setup's (or a single clip's) own best",
        false => "this setup's own best",
    };
    let meaning = format!(
        "\"hit\" only means as sharp as {own}, and a setup that is always soft would score 100 %; \
         name a clip focused by hand as reference"
    );
    if by_hand.is_empty() {
        return format!("Unverified: {meaning}.");
    }
    let rest = sides(&|t: &Trial| t.reference_from != Some(ReferenceFrom::Hand));
    format!(
        "Unverified in part: {} by hand; for {} {meaning}. Rates of the two are not put together.",
        by_hand.join(", "),
        rest.join(", ")
    )
}

/// What is put behind the name of a setup without a yardstick of its own.
pub(super) fn badge(unverified: bool) -> &'static str {
    if unverified { " (unverified)" } else { "" }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{blurred, clip, swings, timing};

    fn made() -> Timing {
        let trials = swings(&[Some(300.0), Some(400.0), None]);
        let mut made = timing(
            "kit-amber",
            vec![clip("a", trials.clone()), clip("b", trials)],
        );
        made.clips[0].least_permille = Some(1.44);
        made.clips[1].least_permille = Some(1.1);
        made
    }

    #[test]
    fn what_was_asked_for_stands_alone_and_what_was_raised_names_the_clip() {
        let mut made = made();
        let plain = "Judged at δ 2 ‰ of the screen's height; hit at 4 ‰.";
        assert_eq!(judged_at(&made), plain);
        let film = film_limits(&made).unwrap();
        assert!(
            film.contains("a.mp4 1.4 ‰, screen 640 px high; b.mp4 1.1 ‰") && film.contains(LOWER),
            "{film}"
        );
        made.clips[0].least_permille = Some(4.6);
        for trial in made.clips.iter_mut().flat_map(|c| &mut c.trials) {
            (trial.delta_permille, trial.hit_limit_permille) = (Some(5.0), Some(5.0));
        }
        let raised = judged_at(&made);
        assert!(
            raised.contains("δ 5 ‰") && raised.contains("hit at 5 ‰"),
            "{raised}"
        );
        assert!(
            raised.contains("2 ‰ was asked for") && raised.contains("of a.mp4"),
            "{raised}"
        );
    }

    #[test]
    fn one_own_best_makes_a_table_unverified() {
        let mut made = made();
        assert_eq!(reference(&made), "Reference: focused by hand.");
        for trial in &mut made.clips[0].trials {
            if trial.side == Some(Side::Far) {
                blurred(trial, 20.0, 0.4, ReferenceFrom::Setup);
            }
        }
        made.clips.truncate(1);
        let told = reference(&made);
        assert!(
            told.starts_with("Unverified in part: near by hand; for far"),
            "{told}"
        );
        for trial in &mut made.clips[0].trials {
            trial.reference_from = Some(ReferenceFrom::Clip);
        }
        let told = reference(&made);
        assert!(
            told.starts_with("Unverified: ") && told.contains("single clip's"),
            "{told}"
        );
    }

    #[test]
    fn many_close_calls_are_a_warning() {
        let mut made = made();
        assert_eq!(close_calls(&made), None);
        made.clips[0].trials[0].close_call = true;
        let told = close_calls(&made).unwrap();
        assert!(
            told.contains("1 of 6") && told.contains("more than one in ten"),
            "{told}"
        );
        let more: Vec<Clip> = (0..4).map(|_| made.clips[1].clone()).collect();
        made.clips.extend(more);
        let told = close_calls(&made).unwrap();
        assert!(
            told.contains("1 of 18") && !told.contains("one in ten"),
            "{told}"
        );
    }
}

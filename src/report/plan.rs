//! A plan for people.

use crate::plan::capture::Beat;
use crate::plan::optics::Focused;
use crate::plan::sizes::{Shows, Trials};
use crate::plan::{Capture, Looks, Optics, Plan, Sessions, Swing};
use crate::stats::looks::Spending;
use crate::stats::normal::p_words;

use super::table::{Form, table};
use super::words::{NONE, fixed, paragraph, percent, whole};

/// The plan as text of at most 100 columns.
pub fn plan_text(plan: &Plan) -> String {
    let mut text = String::new();
    if let Some(shows) = &plan.shows {
        text.push_str(&shown(shows, plan));
    }
    for (k, one) in plan.trials.iter().enumerate() {
        text.push_str(&paragraph("", &trials(one, plan, k == 0)));
    }
    if !plan.trials.is_empty() {
        if plan.trials.iter().any(|t| t.question != "floor") {
            let alarm = (1.0 / (1.0 - plan.confidence)).round();
            text.push_str(&paragraph(
                "  ",
                &format!(
                    "Of kits that are equal, about one pair in {alarm} is told apart all the same."
                ),
            ));
        }
        text.push_str("  Without sides (light, tone) the first number is all of them.\n");
    }
    if let Some(looks) = &plan.looks {
        text.push_str(&looked_at(looks, plan));
    }
    if let Some(s) = &plan.sessions {
        text.push_str(&one_more(s, plan));
    }
    if let Some(capture) = &plan.capture {
        text.push_str(&filming(capture));
    }
    if let Some(optics) = &plan.optics {
        text.push_str(&lens(optics));
    }
    if let Some(swing) = &plan.swing {
        text.push_str(&pendulum(swing));
    }
    if !plan.warnings.is_empty() {
        text.push_str("Before you film\n");
        for warning in &plan.warnings {
            text.push_str(&paragraph("  - ", warning));
        }
    }
    text
}

fn line(name: &str, value: &str) -> String {
    format!("  {name:<34} {value}\n")
}

/// `113 judged trials per kit and per side (…) tell 90 % from 75 % four times out of five.`
fn trials(t: &Trials, plan: &Plan, first: bool) -> String {
    let n = t.trials_per_setup;
    let many = if first {
        so_many(n)
    } else {
        format!("{n} ({} swings)", 2 * n)
    };
    format!("{many} {} {}.", t.effect, often(plan.power))
}

fn so_many(n: u64) -> String {
    format!(
        "{n} judged trials per kit and per side ({} swings, and some spare for voids)",
        2 * n
    )
}

/// The power in words.
fn often(power: f64) -> String {
    match (power * 100.0).round() as u32 {
        80 => "four times out of five".to_owned(),
        90 => "nine times out of ten".to_owned(),
        95 => "19 times out of 20".to_owned(),
        percent => format!("{percent} times out of 100"),
    }
}

fn shown(s: &Shows, plan: &Plan) -> String {
    let mut text = paragraph("", &format!("{} show", so_many(s.trials_per_setup)));
    text.push_str(&line(
        "a hit rate to within",
        &format!("± {} points at worst", fixed(s.hit_rate_within * 100.0, 0)),
    ));
    let often = often(plan.power);
    if let Some(drop) = s.hit_rate_drop {
        let from = percent(Some(s.from_hit_rate));
        text.push_str(&line(
            &format!("a drop of the hit rate from {from}"),
            &format!("by {} points, {often}", fixed(drop * 100.0, 0)),
        ));
    }
    let shift = match s.shift_ms {
        Some(ms) => format!("by {} ms, {often}", fixed(ms, 0)),
        None => format!(
            "by {} times the spread, {often}",
            fixed(s.shift_in_spreads, 2)
        ),
    };
    text.push_str(&line("a shift of the hits' latency", &shift));
    text
}

/// `One more session of 30 judged trials, held against 5 sessions, shows …`
fn one_more(s: &Sessions, plan: &Plan) -> String {
    paragraph(
        "",
        &format!(
            "One more session of {} judged trials, held against {} such sessions of the same kit, \
             shows a change of {} ms in the mean {}. The mean of a session scatters by {} ms; with \
             any number of trials in each it would still take {} ms: then only more sessions help, \
             or setting up with more care.",
            s.trials_per_session,
            s.sessions,
            fixed(s.smallest_change_ms, 0),
            often(plan.power),
            fixed(s.session_mean_sd_ms, 0),
            fixed(s.with_endless_trials_ms, 0)
        ),
    )
}

/// When to look, what counts then, and what it saves.
fn looked_at(looks: &Looks, plan: &Plan) -> String {
    let n = looks.looks;
    let more = (looks.times_the_trials - 1.0) * 100.0;
    let mut text = paragraph(
        "",
        &format!(
            "Look {n} times and stop as soon as a difference is shown, or as soon as going on is \
             not worth it. It takes {} % more trials at most than a single look at the end; on \
             average {} of each kit and side where the kits differ as asked, {} where they are \
             equal.",
            fixed(more, 0),
            whole(looks.average_if_different),
            whole(looks.average_if_equal)
        ),
    );
    let head = [
        "Look",
        "Judged trials,\nkit and side",
        "Shown if\np below",
        "Give up if\np above",
    ];
    let rows: Vec<Vec<String>> = looks
        .schedule
        .iter()
        .enumerate()
        .map(|(k, look)| {
            vec![
                (k + 1).to_string(),
                look.judged.map_or(NONE.to_owned(), |n| n.to_string()),
                p_words(look.p_below),
                look.stop_if_p_above
                    .map_or(NONE.to_owned(), |p| fixed(p, 2)),
            ]
        })
        .collect();
    text.push_str(&table(Form::Text, &head, &rows, 0));
    if let Some(planned) = plan
        .trials_per_setup
        .or(plan.shows.as_ref().map(|s| s.trials_per_setup))
    {
        let spend = match looks.spending {
            Spending::Late => "",
            Spending::Even => " --spend even",
        };
        text.push_str(&format!(
            "  Then: focuslag compare A.timing.json B.timing.json --looks {n} --planned {planned}{spend}\n"
        ));
    }
    text
}

fn filming(c: &Capture) -> String {
    let mut text = format!("Filming at {} frames per second\n", trimmed(c.fps));
    text.push_str(&line("one frame", &format!("{} ms", fixed(c.frame_ms, 2))));
    if let (Some(ms), Some(frames)) = (c.refresh_ms, c.frames_per_refresh) {
        text.push_str(&line(
            "one screen refresh",
            &format!("{} ms, {} frames", fixed(ms, 2), fixed(frames, 1)),
        ));
    }
    text.push_str(&line(
        "one latency",
        &format!(
            "at best ± {} ms; the film adds to it",
            fixed(2.0 * c.latency_uncertainty_ms, 0)
        ),
    ));
    text.push_str(&c.flicker.iter().map(beat).collect::<String>());
    text
}

fn beat(b: &Beat) -> String {
    let seen = if b.is_slow() {
        format!(
            "bad: seen at {} Hz, like slow focusing; see below",
            fixed(b.seen_hz, 2)
        )
    } else if b.seen_hz < 0.05 {
        "good: stands still in the film; nothing to do".to_owned()
    } else {
        format!(
            "good: seen at {} Hz, too fast to pass for focusing",
            fixed(b.seen_hz, 0)
        )
    };
    line(&format!("lamps on {} Hz mains", trimmed(b.mains_hz)), &seen)
}

fn lens(o: &Optics) -> String {
    let mut text = format!(
        "Lens {} mm f/{}\n",
        trimmed(o.focal_mm),
        fixed(o.f_number, 1)
    );
    if o.light_lost_stops > 0.0 {
        text.push_str(&line(
            "light lost to the converter",
            &format!("{} stops", fixed(o.light_lost_stops, 1)),
        ));
    }
    text.push_str(&line(
        "circle of confusion",
        &format!(
            "{} mm (diagonal ÷ 1500)",
            fixed(o.circle_of_confusion_mm, 4)
        ),
    ));
    text.push_str(&line("hyperfocal distance", &metres(o.hyperfocal_mm)));
    text.push_str(&focused("on the target", &o.near));
    text.push_str(&focused("on the background", &o.far));
    let shows = if o.change_shows { "yes" } else { "no" };
    text.push_str(&line("the change of focus shows", shows));
    text
}

fn focused(name: &str, f: &Focused) -> String {
    let to = f.sharp_to_mm.map_or("infinity".to_owned(), metres);
    line(
        &format!("focused {name}, {}", metres(f.distance_mm)),
        &format!("sharp {} to {to}", metres(f.sharp_from_mm)),
    ) + &line(
        "  blur of the other",
        &format!(
            "{} mm, {} ‰ of the height, {} circles",
            fixed(f.other_blur_mm, 3),
            fixed(f.other_blur_permille, 1),
            fixed(f.other_blur_circles, 1)
        ),
    )
}

fn pendulum(s: &Swing) -> String {
    let seconds = |x: Option<f64>| x.map_or("never".to_owned(), |x| format!("{} s", fixed(x, 2)));
    let off = s.period_s / s.small_angle_period_s - 1.0;
    let mut text = format!(
        "Pendulum: {} s there and back ({} more than for small angles)\n",
        fixed(s.period_s, 3),
        percent(Some(off))
    );
    text.push_str(&line(
        "speed at the lowest point",
        &format!("{} m/s", fixed(s.top_speed_m_s, 2)),
    ));
    text.push_str(&line(
        "speed in the AF area",
        &format!("{} m/s", fixed(s.speed_in_area_m_s, 2)),
    ));
    text.push_str(&line(
        "target covers the AF area for",
        &seconds(s.covered_s),
    ));
    text.push_str(&line("target is out of it for", &seconds(s.clear_s)));
    if let Some(ms) = s.longest_window_ms {
        text.push_str(&line(
            "longest window that fits",
            &format!("{} ms", fixed(ms, 0)),
        ));
    }
    text
}

fn metres(mm: f64) -> String {
    format!("{} m", fixed(mm / 1000.0, 2))
}

/// 240 and 59.94, not 240.00.
fn trimmed(x: f64) -> String {
    let text = fixed(x, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{
        CaptureQuestion, Latencies, OpticsQuestion, Question, Rates, SwingQuestion, plan,
    };

    #[test]
    fn every_answer_is_told_and_fits() {
        let question = Question {
            rates: Some(Rates {
                hit_rate: 0.9,
                versus: 0.8,
            }),
            latencies: Some(Latencies {
                spread_ms: 120.0,
                detect_ms: 60.0,
            }),
            trials: Some(60),
            capture: Some(CaptureQuestion {
                fps: 59.94,
                refresh_hz: Some(60.0),
                mains_hz: None,
                onset_on_screen: false,
            }),
            optics: Some(OpticsQuestion {
                focal_mm: 50.0,
                f_number: 2.0,
                sensor_mm: [36.0, 24.0],
                converter: 1.4,
                near_mm: 1000.0,
                far_mm: 3000.0,
            }),
            swing: Some(SwingQuestion {
                length_m: 1.0,
                angle_deg: 30.0,
                target_m: 0.4,
                area_m: 0.1,
                area_deg: 30.0,
                window_ms: Some(1500.0),
            }),
            ..Question::default()
        };
        let text = plan_text(&plan(&question).unwrap());
        println!("{text}");
        assert!(text.starts_with("60 judged trials per kit and per side (120 swings,"));
        for words in [
            "219 judged trials per kit and per side (438 swings, and some spare for voids) tell a hit",
            "a hit rate of 90 % from 80 % four times out of five",
            "at best ± ",
            "bad: seen at 0.12 Hz",
            "59.94 frames",
            "Before you film",
            "1500 ms does not fit",
        ] {
            assert!(text.replace('\n', " ").contains(words), "{words}\n{text}");
        }
        assert!(text.lines().all(|l| l.chars().count() <= 100));
        assert_eq!(plan_text(&plan(&Question::default()).unwrap()), "");
    }
}

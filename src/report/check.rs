//! What a session would do, in words.

use std::fmt::Write as _;

use super::counted;
use crate::job::{Checked, CheckedClip, CheckedSetup, Foreseen, LookedAt, Taken};
use crate::names::plain;

/// The whole, setup by setup.
pub fn check_text(checked: &Checked) -> String {
    let mut t = String::new();
    for setup in &checked.setups {
        of_setup(&mut t, setup);
    }
    let faults = checked.errors.len();
    let failures = checked.failures.len();
    let doubts = doubts(checked);
    let _ = match (faults, failures) {
        _ if checked.stopped => writeln!(t, "Stopped before all clips were looked at."),
        (0, 0) if doubts.is_empty() => {
            writeln!(t, "Nothing is wrong: `focuslag time` would time all of it.")
        }
        (0, 0) => writeln!(
            t,
            "`focuslag time` would time all of it. Look at these first: {}.",
            doubts.join("; ")
        ),
        (0, n) => writeln!(
            t,
            "Clips that cannot be timed: {n}. The others would be timed."
        ),
        (n, _) => writeln!(
            t,
            "Faults: {n}. `focuslag time` would refuse this before it begins."
        ),
    };
    t
}

/// What does not keep `time` from its work, and may make it useless.
fn doubts(checked: &Checked) -> Vec<String> {
    let clips = || checked.setups.iter().flat_map(|s| &s.clips);
    let looks: Vec<&Foreseen> = clips().filter_map(|c| c.look.as_ref()).collect();
    let empty = looks.iter().filter(|l| l.is_empty()).count();
    let trials: usize = looks.iter().filter_map(|l| l.trials).sum();
    let void: usize = looks.iter().flat_map(|l| l.void.values()).sum();
    let elsewhere = |c: &&CheckedClip| {
        c.screen == "rig" && c.look.as_ref().is_some_and(|l| l.corners.is_some())
    };
    let moved = clips().filter(elsewhere).count();
    let mut out = Vec::new();
    if empty > 0 {
        let clips = counted(empty as u64, "clip");
        out.push(format!(
            "nothing starts a trial in what was seen of {clips}"
        ));
    }
    if void > 0 {
        out.push(format!(
            "void: {void} of {}",
            counted(trials as u64, "trial")
        ));
    }
    if moved > 0 {
        let clips = counted(moved as u64, "clip");
        out.push(format!(
            "the screen lies elsewhere than the rig has it in {clips}"
        ));
    }
    out
}

/// What a look showed, on one line.
fn seen(look: &Foreseen) -> Option<String> {
    let trials = look.trials?;
    let from = match look.from {
        LookedAt::Signals => "kept signals".to_owned(),
        LookedAt::Clip => "the whole clip".to_owned(),
        LookedAt::Beginning => format!("its first {:.1} s", look.seconds),
    };
    let void: Vec<String> = look
        .void
        .iter()
        .map(|(why, n)| format!("{n} ({})", plain(why)))
        .collect();
    let void = match void.as_slice() {
        _ if trials == 0 => String::new(),
        [] => ", none void".to_owned(),
        all => format!(", void: {}", all.join(", ")),
    };
    let trials = match (trials, look.started) {
        (0, 0) => "nothing starts a trial".to_owned(),
        (0, _) => format!("{} and no end", counted(look.started as u64, "start")),
        (n, _) => counted(n as u64, "trial"),
    };
    Some(format!("{from}: {trials}{void}"))
}

fn of_setup(t: &mut String, s: &CheckedSetup) {
    let (clips, hand) = s.counts();
    let _ = writeln!(t, "{}", plain(&s.name));
    let _ = writeln!(
        t,
        "  rig        {}; a {} starts a trial, window {} ms, hold {} ms",
        plain(&s.rig),
        s.stimulus,
        s.window_ms,
        s.hold_ms
    );
    let references = match hand {
        0 => "no reference by hand: unverified, a hit means as sharp as this setup's own best"
            .to_owned(),
        n => format!("{n} focused by hand as reference"),
    };
    let _ = writeln!(t, "  clips      {clips}; {references}");
    if s.excluded > 0 {
        let _ = writeln!(
            t,
            "  excluded   {}, by you",
            super::counted(s.excluded as u64, "trial")
        );
    }
    let there = match s.taken {
        Taken::Free => "would be written",
        Taken::Same => "is there from these clips and settings; would be written anew",
        Taken::Replaced => "holds something else and would be replaced (--force)",
        Taken::Refused => "holds something else: needs --force, or another folder with --out",
    };
    let _ = writeln!(t, "  result     {}: {there}", plain(&s.output));
    for clip in &s.clips {
        of_clip(t, clip);
    }
    t.push('\n');
}

fn of_clip(t: &mut String, c: &CheckedClip) {
    let role = if c.reference { ", by hand" } else { "" };
    let _ = writeln!(t, "  {}{role}", plain(&c.path));
    if let Some(e) = &c.error {
        let _ = writeln!(t, "    cannot be timed: {}", plain(e));
    }
    if let (Some(frames), Some((w, h))) = (c.frames, c.size) {
        let length = c
            .length_s
            .map_or(String::new(), |s| format!(", {s:.1} s as shot"));
        let _ = writeln!(t, "    {w} × {h} px, {frames} frames{length}");
    }
    if let Some(stored) = c.stored_fps {
        let rate = match (c.capture_fps, c.rate_from) {
            (Some(fps), Some(from)) => format!(
                "true rate {fps:.2}, {}; stored at {stored:.2}",
                from.words()
            ),
            _ => format!("true rate not known; stored at {stored:.2}"),
        };
        let screen = match c.screen {
            "rig" => "screen as the rig says",
            "feed" => "the whole frame is the feed",
            _ => "screen to be found by itself",
        };
        let _ = writeln!(t, "    {rate}; {screen}");
    }
    if let Some(seen) = c.look.as_ref().and_then(seen) {
        let _ = writeln!(t, "    {seen}");
    }
    for w in &c.warnings {
        let _ = writeln!(t, "    note: {}", plain(w));
    }
}

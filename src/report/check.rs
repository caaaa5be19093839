//! What a session would do, in words.

use std::fmt::Write as _;

use crate::job::{Checked, CheckedClip, CheckedSetup, Taken};
use crate::names::plain;

/// The whole, setup by setup.
pub fn check_text(checked: &Checked) -> String {
    let mut t = String::new();
    for setup in &checked.setups {
        of_setup(&mut t, setup);
    }
    let faults = checked.errors.len();
    let failures = checked.failures.len();
    let _ = match (faults, failures) {
        (0, 0) => writeln!(t, "Nothing is wrong: `focuslag time` would time all of it."),
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
    for w in &c.warnings {
        let _ = writeln!(t, "    note: {}", plain(w));
    }
}

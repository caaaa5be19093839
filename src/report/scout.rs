//! A draft of a rig, in words: what was found, how sure, what to check.

use std::fmt::Write as _;

use crate::names::plain;
use crate::scout::Draft;

/// Columns of the text.
const WIDTH: usize = 92;

/// Finding by finding. `next`: what to do with a draft that is ready.
pub fn scout_text(draft: &Draft, next: &str) -> String {
    let mut t = String::new();
    let (w, h) = draft.size;
    let _ = writeln!(
        t,
        "{}: {w} × {h} px, {} frames\n",
        plain(&draft.clip),
        draft.frames
    );
    for f in draft.findings() {
        let text = format!("{} ({})", f.value, f.sure);
        let head = format!("{:<14}", f.what);
        put(&mut t, &head, &text);
        if !f.check.is_empty() {
            put(
                &mut t,
                &format!("{:<14}", ""),
                &format!("check: {}", f.check),
            );
        }
    }
    let (sure, words) = verdict(draft, next);
    let _ = writeln!(t, "\n{sure}: {words}");
    t
}

fn put(t: &mut String, head: &str, text: &str) {
    let indent = " ".repeat(14);
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(head)
        .subsequent_indent(&indent);
    let _ = writeln!(t, "{}", textwrap::fill(&plain(text), options));
}

fn verdict<'a>(draft: &Draft, next: &'a str) -> (&'static str, &'a str) {
    if draft.rate.is_none() {
        (
            "Not ready",
            "the true rate is not known; write `capture.fps` into the rig before you time with it",
        )
    } else if draft.trials < 2 {
        (
            "Not ready",
            "hardly a trial was seen in this clip; draft the rig from a clip with several",
        )
    } else if draft.longest_ms.is_some_and(|ms| ms < draft.window_ms()) {
        (
            "Not ready",
            "the swings follow each other too fast for any window; leave more time between them",
        )
    } else {
        ("Ready to time", next)
    }
}

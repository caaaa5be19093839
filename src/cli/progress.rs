//! Progress on standard error, only where that is a terminal.

use std::io::{IsTerminal, stderr};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::talk::Talk;
use crate::job::Events;
use crate::names::plain;

/// One bar at a time; hidden where nobody watches.
pub struct Bars {
    bar: ProgressBar,
    talk: Talk,
    warnings: std::sync::Mutex<Vec<String>>,
}

impl Bars {
    /// Bars for a person, or none at all.
    pub fn new(talk: Talk) -> Self {
        let target = if talk.quiet || !stderr().is_terminal() {
            ProgressDrawTarget::hidden()
        } else {
            ProgressDrawTarget::stderr()
        };
        let bar = ProgressBar::with_draw_target(None, target);
        // No colour in it, so that NO_COLOR has nothing to take away.
        let style = "{msg:30!} {wide_bar} {pos}/{len} frames, {eta} left";
        if let Ok(style) = ProgressStyle::with_template(style) {
            bar.set_style(style);
        }
        Self {
            bar,
            talk,
            warnings: std::sync::Mutex::default(),
        }
    }

    /// So many of so many frames are done.
    pub fn part(&self, done: u64, all: u64) {
        self.bar.set_length(all);
        self.bar.set_position(done);
    }

    /// What was warned of so far.
    pub fn warnings(&self) -> Vec<String> {
        self.warnings
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .clone()
    }
}

impl Events for Bars {
    fn clip(&self, name: &str, frames: u64) {
        self.bar.set_message(plain(name));
        self.bar.set_length(frames);
        self.bar.reset();
    }

    fn frames(&self, done: u64) {
        self.bar.set_position(done);
    }

    fn clip_done(&self) {
        self.bar.finish_and_clear();
    }

    fn note(&self, text: &str) {
        self.bar.suspend(|| self.talk.note(text));
    }

    fn stopped(&self) -> bool {
        super::interrupt::asked()
    }

    fn warning(&self, text: &str) {
        self.bar.suspend(|| self.talk.warn(text));
        self.warnings
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .push(text.to_owned());
    }
}

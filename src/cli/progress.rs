//! Progress on standard error, only where that is a terminal.

use std::io::{IsTerminal, stderr};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};

use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::talk::Talk;
use crate::job::{Events, Line};
use crate::names::plain;

/// A bar for each clip under way, and one for all of them where there are
/// several; hidden where nobody watches.
pub struct Bars {
    all: MultiProgress,
    total: OnceLock<ProgressBar>,
    talk: Talk,
    warnings: Mutex<Vec<String>>,
}

impl Bars {
    /// Bars for a person, or none at all.
    pub fn new(talk: Talk) -> Self {
        let target = if talk.quiet || !stderr().is_terminal() {
            ProgressDrawTarget::hidden()
        } else {
            ProgressDrawTarget::stderr()
        };
        Self {
            all: MultiProgress::with_draw_target(target),
            total: OnceLock::new(),
            talk,
            warnings: Mutex::default(),
        }
    }

    /// A bar above that of all.
    pub fn bar(&self, name: &str, frames: u64) -> Bar {
        self.shown(new_bar(name, frames, "frames"))
    }

    /// The same of photographs.
    pub fn pictures(&self, name: &str, pictures: u64) -> Bar {
        self.shown(new_bar(name, pictures, "pictures"))
    }

    fn shown(&self, bar: ProgressBar) -> Bar {
        let bar = match self.total.get() {
            Some(total) => self.all.insert_before(total, bar),
            None => self.all.add(bar),
        };
        Bar {
            bar,
            total: self.total.get().cloned(),
            told: AtomicU64::new(0),
        }
    }

    /// What was warned of so far.
    pub fn warnings(&self) -> Vec<String> {
        let warnings = self.warnings.lock();
        warnings.unwrap_or_else(PoisonError::into_inner).clone()
    }
}

fn new_bar(name: &str, all: u64, what: &str) -> ProgressBar {
    let bar = ProgressBar::new(all).with_message(plain(name));
    // No colour in it, so that NO_COLOR has nothing to take away.
    let style = format!("{{msg:30!}} {{wide_bar}} {{pos}}/{{len}} {what}, {{eta}} left");
    match ProgressStyle::with_template(&style) {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// One bar; it goes when it is dropped.
pub struct Bar {
    bar: ProgressBar,
    total: Option<ProgressBar>,
    told: AtomicU64,
}

impl Bar {
    /// So many of its frames are done.
    pub fn done(&self, done: u64) {
        self.bar.set_position(done);
        let before = self.told.fetch_max(done, Ordering::Relaxed);
        if let Some(total) = &self.total {
            total.inc(done.saturating_sub(before));
        }
    }

    /// One more is done.
    pub fn one_more(&self) {
        self.bar.inc(1);
    }

    /// So many of so many are done.
    pub fn part(&self, done: u64, all: u64) {
        self.bar.set_length(all);
        self.done(done);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}

impl Events for Bars {
    fn ahead(&self, clips: usize, frames: u64) -> Line<'_> {
        if clips < 2 {
            return Box::new(|_| {});
        }
        let name = format!("all {clips} clips");
        let total = self
            .total
            .get_or_init(|| self.all.add(new_bar(&name, frames, "frames")));
        let bar = Bar {
            bar: total.clone(),
            total: None,
            told: AtomicU64::new(0),
        };
        Box::new(move |done| bar.done(done))
    }

    fn clip(&self, name: &str, frames: u64) -> Line<'_> {
        let bar = self.bar(name, frames);
        Box::new(move |done| bar.done(done))
    }

    fn note(&self, text: &str) {
        self.all.suspend(|| self.talk.note(text));
    }

    fn stopped(&self) -> bool {
        super::interrupt::asked()
    }

    fn warning(&self, text: &str) {
        self.all.suspend(|| self.talk.warn(text));
        let warnings = self.warnings.lock();
        warnings
            .unwrap_or_else(PoisonError::into_inner)
            .push(text.to_owned());
    }
}

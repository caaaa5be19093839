//! A fault of the program itself: what was said, and where.

use std::panic::{self, AssertUnwindSafe, Location, PanicHookInfo};
use std::sync::{Mutex, PoisonError};

/// The first panic of this process, whatever its thread: later ones are often
/// its consequences.
static FIRST: Mutex<Option<String>> = Mutex::new(None);

/// From here on a panic prints nothing and is noted.
pub fn listen() {
    panic::set_hook(Box::new(|info| {
        let mut first = FIRST.lock().unwrap_or_else(PoisonError::into_inner);
        first.get_or_insert_with(|| described(info));
    }));
}

/// Does the work.
///
/// # Errors
/// A panic in it or in a thread of its: the words that ask for a report.
pub fn caught<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    panic::catch_unwind(AssertUnwindSafe(work)).map_err(|_| {
        let mut first = FIRST.lock().unwrap_or_else(PoisonError::into_inner);
        let what = first.take().unwrap_or_else(|| "no words for it".to_owned());
        format!(
            "focuslag itself is at fault ({what}); please report this, with the command and, if \
             you can, the clip"
        )
    })
}

fn described(info: &PanicHookInfo<'_>) -> String {
    let cause = info.payload();
    let text = cause.downcast_ref::<String>().map(String::as_str);
    let text = text.or_else(|| cause.downcast_ref::<&str>().copied());
    let text = text.unwrap_or("no words for it");
    match info.location() {
        Some(place) => format!("{text}, at {}", shown(place)),
        None => text.to_owned(),
    }
}

/// File and line, without the folders of whoever built it.
fn shown(place: &Location<'_>) -> String {
    let file = place.file().replace('\\', "/");
    let shelf = file.split_once("/registry/src/");
    let file = shelf.and_then(|(_, rest)| rest.split_once('/'));
    let file = file.map_or(place.file(), |(_, of_crate)| of_crate);
    format!("{file}:{}", place.line())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In a thread of a thread, as decoders work.
    #[test]
    fn a_panic_keeps_its_place() {
        let before = panic::take_hook();
        listen();
        let (mut line, mut ended) = (0, Ok(()));
        for _ in 0..2 {
            line = line!() + 3;
            ended = caught(|| {
                std::thread::scope(|scope| {
                    let inner = scope.spawn(|| panic!("band {} is none", 7));
                    inner.join().unwrap_or_else(|e| panic::resume_unwind(e))
                })
            });
        }
        panic::set_hook(before);
        let said = ended.unwrap_err();
        let place = format!("at fault (band 7 is none, at src/cli/fault.rs:{line}); please report");
        assert!(said.contains(&place), "{said}");
    }
}

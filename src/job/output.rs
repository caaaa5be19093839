//! Where results go, and what must not be overwritten.

use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

use super::setup::measure_record;
use super::{JobError, JobOptions};
use crate::beside::beside;
use crate::rig::{Setup, identity, safe_name};
use crate::store::read_timing;
use crate::store::schema::{Clip, Trial, Verdict};

/// The timing file of a setup.
pub fn file_of(name: &str, out: &Path) -> PathBuf {
    out.join(format!("{}.timing.json", safe_name(name)))
}

/// The picture of what was looked for in a clip of a setup and not found.
pub fn not_found_file(name: &str, clip: &Path, out: &Path) -> PathBuf {
    let stem = clip.file_stem().unwrap_or(clip.as_os_str());
    let (name, stem) = (safe_name(name), safe_name(&stem.to_string_lossy()));
    out.join(format!("{name}.{stem}.not-found.png"))
}

/// Checks that the output folder is there.
///
/// # Errors
/// [`JobError::Output`].
pub fn check_folder(out: &Path) -> Result<(), JobError> {
    let message = match std::fs::metadata(out) {
        Ok(m) if m.is_dir() => match beside(&out.join("trial")) {
            Ok(_) => return Ok(()),
            Err(e) => format!(
                "nothing can be written into this folder ({}); see to its permissions, or name \
                 another with --out",
                without_path(&e)
            ),
        },
        Ok(_) => "is a file, not a folder; name a folder with --out".to_owned(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
            "this output folder does not exist; make it first, or name another with --out"
                .to_owned()
        }
        Err(e) => format!("cannot be used as output folder: {e}"),
    };
    Err(JobError::Output {
        path: out.to_path_buf(),
        message,
    })
}

/// The cause without the temporary file's name, which tells a person nothing.
fn without_path(error: &std::io::Error) -> String {
    let said = error.to_string();
    match said.split_once(" at path ") {
        Some((cause, _)) => cause.to_owned(),
        None => said,
    }
}

/// Keeps the folder for one run; given back when it is dropped, or when the
/// process dies.
///
/// # Errors
/// [`JobError::Output`] where another run has it.
pub fn lock(out: &Path) -> Result<Option<File>, JobError> {
    // Where a folder cannot be opened or locked (some network drives), runs are
    // not kept apart.
    let Ok(folder) = File::open(out) else {
        return Ok(None);
    };
    match folder.try_lock() {
        Err(TryLockError::WouldBlock) => Err(JobError::Output {
            path: out.to_path_buf(),
            message: "another focuslag time is writing into this folder, so no clip was timed and \
                      nothing was written; run the same command again when it is done, or name \
                      another folder with --out"
                .to_owned(),
        }),
        _ => Ok(Some(folder)),
    }
}

/// A fault where the setup's timing file holds something else's result.
pub fn occupied(setup: &Setup, hashes: &[&str], options: &JobOptions) -> Option<JobError> {
    let path = file_of(&setup.name, &options.out);
    if !path.exists() {
        return None;
    }
    // A pipe would be waited for without end.
    let read = match path.is_file() {
        true => read_timing(&path).ok(),
        false => None,
    };
    let what = match read {
        None => "something that is no timing file of this version",
        Some(old) if old.setup.name != setup.name => "another setup",
        Some(old) if old.clips.len() != hashes.len() => "other clips",
        Some(old) if old.clips.iter().zip(hashes).any(|(c, h)| c.sha256 != **h) => "other clips",
        Some(old) if old.rig != setup.rig.to_json() => "another rig or other settings",
        Some(old) if old.measure != measure_record(&setup.rig) => "another measure",
        Some(_) => return None,
    };
    Some(JobError::Occupied {
        path,
        what: what.to_owned(),
    })
}

/// A clip's path as seen from the folder of the timing file, with `/`.
pub fn relative(clip: &Path, out: &Path) -> String {
    let (clip, out) = (identity(clip), identity(out));
    let path = pathdiff::diff_paths(&clip, out).unwrap_or(clip);
    path.components()
        .map(|c| c.as_os_str().to_string_lossy())
        .collect::<Vec<_>>()
        .join("/")
}

/// One in this many trials cut is worth a word.
const MANY: usize = 5;

/// Where many trials are cut by what ends them, the next swing or a light that
/// goes out: the longest window that fits with a hold of `hold_ms`. With every
/// trial comes how long it could be watched, seconds.
pub fn longest_window<'a>(
    trials: impl Iterator<Item = (&'a Trial, Option<f64>)>,
    hold_ms: f64,
    ender: &str,
) -> Option<String> {
    let (mut total, mut room) = (0, Vec::new());
    for (trial, room_s) in trials {
        total += 1;
        room.extend(room_s.filter(|_| is_cut(trial)).map(|s| s * 1e3));
    }
    if room.is_empty() || MANY * room.len() < total {
        return None;
    }
    room.sort_by(f64::total_cmp);
    // Nine in ten of the gaps should hold window and hold.
    let fits = room[room.len() / 10];
    let cut = room.len();
    Some(format!(
        "{cut} of {total} trials are cut by {ender}, which comes {:.0} ms after onset \
         or sooner; `trial.window_ms` plus `trial.hold_ms` must stay below that: with this rig's \
         hold of {hold_ms:.0} ms the longest `window_ms` that fits is {:.0}",
        whole_that_fits(fits),
        whole_that_fits(fits - hold_ms)
    ))
}

/// Whole milliseconds that fit into a span: rounded up, they would not.
pub fn whole_that_fits(span_ms: f64) -> f64 {
    span_ms.max(0.0).floor()
}

/// Exclusions of trials that the clip does not have.
pub fn excluded_in_vain<'a>(clip: &Clip, excluded: impl Iterator<Item = &'a u32>) -> Vec<String> {
    let there = |n: &u32| clip.trials.iter().any(|t| t.index == *n);
    excluded
        .filter(|n| clip.error.is_none() && !there(n))
        .map(|n| {
            format!(
                "trial {n} is excluded, but this clip has {} trials, counted from 0: nothing was \
                 taken out; correct `exclude.trial`",
                clip.trials.len()
            )
        })
        .collect()
}

fn is_cut(trial: &Trial) -> bool {
    trial.verdict == Verdict::Void && trial.reason.as_deref() == Some("cut")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::void;
    use crate::store::schema::Side;

    /// Twenty swings, each 1766.67 ms after the onset before: 106 refreshes
    /// of 60 Hz, so the longest window is no whole number of milliseconds.
    #[test]
    fn the_window_that_is_advised_fits() {
        let room_s = 106.0 / 60.0;
        let trials: Vec<Trial> = (0..20).map(|k| void(k, Some(Side::Near))).collect();
        let rooms = (0..20).map(|k| (k < 19).then_some(room_s));
        let said = longest_window(trials.iter().zip(rooms), 500.0, "the next swing").unwrap();
        assert!(said.starts_with("19 of 20 trials are cut"), "{said}");
        assert!(
            said.ends_with("this rig's hold of 500 ms the longest `window_ms` that fits is 1266")
        );
        let window_s = said.rsplit(' ').next().unwrap().parse::<f64>().unwrap() / 1e3;
        assert!(window_s + 0.5 <= room_s);
        assert_eq!(whole_that_fits(-3.0), 0.0);
    }
}

//! Which trial.

use crate::store::schema::{Blur, Clip, Timing, Trial, Verdict};

/// The trial that did worst: lost before soft before the slowest hit; among
/// lost and soft ones the most blurred; a void only where nothing was judged.
pub fn worst(timing: &Timing) -> Option<(&Clip, &Trial)> {
    let all = timing
        .clips
        .iter()
        .flat_map(|c| c.trials.iter().map(move |t| (c, t)));
    // The first of equals.
    all.reduce(|a, b| if badness(b.1) > badness(a.1) { b } else { a })
}

/// Larger is worse.
pub(in crate::report) fn badness(trial: &Trial) -> (u8, f64) {
    // Told apart by hand: of `end.or(onset)` the compiler (1.95) makes a read
    // that may leave the record where there is no blur.
    let blur = match trial.blur_permille {
        Some(Blur { end: Some(end), .. }) => end,
        Some(Blur { onset, .. }) => onset.unwrap_or(0.0),
        None => 0.0,
    };
    match trial.verdict {
        Verdict::Lost => (3, blur),
        Verdict::Soft => (2, blur),
        Verdict::Hit => (1, trial.latency_ms.unwrap_or(0.0)),
        Verdict::Void => (0, 0.0),
    }
}

/// The trial that a person calls `CLIP:N`: the clip by its path, its file name
/// or the beginning of it.
///
/// # Errors
/// What is wrong with it, and what there is.
pub fn find<'a>(timing: &'a Timing, wanted: &str) -> Result<(&'a Clip, &'a Trial), String> {
    let Some((clip, number)) = wanted.rsplit_once(':') else {
        return Err(format!(
            "--trial: `{wanted}` is not CLIP:N; for example {}",
            example(timing)
        ));
    };
    let Ok(number) = number.trim().parse::<u32>() else {
        return Err(format!(
            "--trial: `{number}` is no number of a trial; they count from 0, for example {}",
            example(timing)
        ));
    };
    let clip = clip_of(timing, clip)?;
    let trial = clip.trials.iter().find(|t| t.index == number);
    trial.map(|t| (clip, t)).ok_or_else(|| {
        let last = clip.trials.iter().map(|t| t.index).max();
        match last {
            Some(last) => format!(
                "--trial: {} has no trial {number}; its trials are 0 to {last}",
                clip.path
            ),
            None => format!("--trial: {} has no trials", clip.path),
        }
    })
}

fn clip_of<'a>(timing: &'a Timing, wanted: &str) -> Result<&'a Clip, String> {
    let name = |c: &Clip| c.path.rsplit('/').next().unwrap_or(&c.path).to_owned();
    let tests: [&dyn Fn(&Clip) -> bool; 3] =
        [&|c| c.path == wanted, &|c| name(c) == wanted, &|c| {
            name(c).starts_with(wanted) && !wanted.is_empty()
        }];
    for test in tests {
        let found: Vec<&Clip> = timing.clips.iter().filter(|c| test(c)).collect();
        match found.as_slice() {
            [] => {}
            [one] => return Ok(one),
            several => {
                let names: Vec<&str> = several.iter().map(|c| c.path.as_str()).collect();
                return Err(format!(
                    "--trial: `{wanted}` fits {} clips: {}",
                    several.len(),
                    names.join(", ")
                ));
            }
        }
    }
    let names: Vec<&str> = timing.clips.iter().map(|c| c.path.as_str()).collect();
    Err(format!(
        "--trial: no clip `{wanted}` in this file; it has {}",
        names.join(", ")
    ))
}

fn example(timing: &Timing) -> String {
    let clip = timing.clips.iter().find(|c| !c.trials.is_empty());
    clip.map_or("clip.mp4:0".to_owned(), |c| {
        let name = c.path.rsplit('/').next().unwrap_or(&c.path);
        format!("{name}:{}", c.trials[0].index)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fixtures::{clip, swings, timing};

    fn made() -> Timing {
        timing(
            "kit-amber",
            vec![
                clip("clips/amber-1", swings(&[Some(300.0), Some(900.0)])),
                clip("clips/amber-2", swings(&[None, Some(300.0)])),
            ],
        )
    }

    #[test]
    fn the_worst_is_a_lost_one_then_the_slowest() {
        let mut made = made();
        let (clip, trial) = worst(&made).unwrap();
        assert_eq!((clip.path.as_str(), trial.index), ("clips/amber-2.mp4", 0));
        made.clips.pop();
        assert_eq!(worst(&made).unwrap().1.latency_ms, Some(900.0));
    }

    #[test]
    fn a_trial_is_found_by_path_name_or_beginning() {
        let made = made();
        for name in ["clips/amber-2.mp4:1", "amber-2.mp4:1", "amber-2:1"] {
            let (clip, trial) = find(&made, name).unwrap();
            assert_eq!((clip.path.as_str(), trial.index), ("clips/amber-2.mp4", 1));
        }
        for (name, words) in [
            ("amber-2", "is not CLIP:N; for example amber-1.mp4:0"),
            ("amber-2:x", "no number"),
            ("amber-2:7", "its trials are 0 to 1"),
            ("amber:0", "fits 2 clips"),
            ("slate:0", "it has clips/amber-1.mp4"),
        ] {
            let said = find(&made, name).unwrap_err();
            assert!(said.contains(words), "{said}");
        }
    }
}

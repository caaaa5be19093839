//! One clip, timed by the whole tool.

use std::path::Path;

use focuslag::job::{Done, JobError, JobOptions, Silent, run};
use focuslag::rig::{Rig, Session};
use focuslag::store::schema::Timing;

/// Times `clip` with a rig; what comes out lies in `folder`.
pub fn tried(clip: &Path, rig: Rig, folder: &Path, workers: usize) -> Result<Done, Vec<JobError>> {
    let session = Session::of_one("kit-amber", clip.to_path_buf(), rig);
    ran(&session, folder, workers)
}

/// Runs a session; what comes out lies in `folder`.
pub fn ran(session: &Session, folder: &Path, workers: usize) -> Result<Done, Vec<JobError>> {
    run(session, &JobOptions::fresh(folder, workers), &Silent)
}

/// The same with a rig's text, where it must succeed.
#[allow(dead_code, reason = "the scout bench has its own way with failures")]
pub fn timed(clip: &Path, rig: &str, folder: &Path, workers: usize) -> Timing {
    let rig = Rig::parse(rig, "rig").expect("a rig");
    let mut done = tried(clip, rig, folder, workers).expect("a sound request");
    done.written.remove(0).1
}

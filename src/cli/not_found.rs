//! Pictures of what was looked for in a clip and not found, beside the results.

use std::collections::BTreeSet;
use std::path::Path;

use super::talk::Talk;
use crate::beside::write_whole;
use crate::job::{NotFound, NotFoundIn, not_found_file, setup_clips};
use crate::report::not_found_picture;
use crate::rig::Session;

/// Draws a picture for each clip, and takes away those that an earlier run drew of
/// clips of the session in which something was found this time.
pub fn draw_all(session: &Session, not_found: &[NotFoundIn], out: &Path, talk: Talk) {
    let mut drawn = BTreeSet::new();
    for one in not_found {
        let file = not_found_file(&one.setup, &one.clip, out);
        draw(&one.clip, &one.not_found, &file, talk);
        drawn.insert(file);
    }
    for setup in &session.setups {
        let files = setup_clips(setup).into_iter();
        let files = files.map(|clip| not_found_file(&setup.name, &clip, out));
        for file in files.filter(|f| !drawn.contains(f)) {
            // Mostly there is none.
            let _ = std::fs::remove_file(file);
        }
    }
}

/// Draws one; what cannot be written is said, and nothing else is lost by it.
pub fn draw(clip: &Path, not_found: &NotFound, file: &Path, talk: Talk) {
    let name = clip.file_name().unwrap_or(clip.as_os_str());
    let written = not_found_picture(&name.to_string_lossy(), not_found)
        .map_err(|e| e.to_string())
        .and_then(|png| write_whole(file, &png).map_err(|e| e.to_string()));
    match written {
        Ok(()) => talk.note(&format!("a picture of it: {}", file.display())),
        Err(e) => talk.warn(&format!(
            "{}: this picture cannot be written: {e}",
            file.display()
        )),
    }
}

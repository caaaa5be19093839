//! Films with `CLIP.truth.json` beside them, read by the contract's keys.

use std::path::{Path, PathBuf};

use crate::scenes::Clip;

/// Renders a clip that is not there yet; where it lies.
pub fn film(clip: &Clip, folder: &Path) -> PathBuf {
    let path = folder.join(format!("{}.mp4", clip.name));
    let truth = focuslag::render::truth_path(&path);
    if !path.exists() || !truth.exists() {
        std::fs::create_dir_all(folder).expect("a folder");
        focuslag::render::render(&clip.scene, Path::new("."), &path, |_, _| ()).expect("a clip");
    }
    path
}

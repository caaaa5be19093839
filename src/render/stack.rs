//! Plays a focal stack: which photograph a lens position shows.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use super::RenderError;
use super::layer::photograph;
use super::scene::{Scene, Stack};
use crate::written::{Fault, Faults};

/// The photographs a clip shows.
pub(crate) struct Album {
    /// Position and file, by position.
    shots: Vec<(f64, PathBuf)>,
    /// Those that are shown, linear luminance.
    held: BTreeMap<usize, Vec<f32>>,
}

impl Album {
    /// Looks the photographs up; `dir` is where the scene's paths start.
    pub(crate) fn find(scene: &Scene, dir: &Path) -> Result<Self, RenderError> {
        let stack = &scene.stack;
        let folder = dir.join(stack.folder.as_deref().unwrap_or(""));
        let mut shots: Vec<(f64, PathBuf)> = if stack.pictures.is_empty() {
            listed(stack, &folder).map_err(|why| fault(scene, &folder, &why))?
        } else {
            let pictures = stack.pictures.iter();
            pictures
                .map(|p| (p.position, folder.join(&p.file)))
                .collect()
        };
        shots.sort_by(|a, b| a.0.total_cmp(&b.0));
        let twice = shots.windows(2).find(|w| w[0].0 == w[1].0);
        if let Some([one, other]) = twice {
            let (at, one, other) = (one.0, one.1.display(), other.1.display());
            let why = format!("{one} and {other} have the same position {at}");
            return Err(fault(scene, &folder, &why));
        }
        if shots.len() < 2 {
            let why = "fewer than two pictures with a position in their names; see `stack.marker`";
            return Err(fault(scene, &folder, why));
        }
        Ok(Self {
            shots,
            held: BTreeMap::new(),
        })
    }

    /// The photograph nearest to a position.
    pub(crate) fn nearest(&self, position: f64) -> usize {
        let after = self.shots.partition_point(|s| s.0 < position);
        let near = |i: usize| (self.shots[i].0 - position).abs();
        match after {
            0 => 0,
            n if n == self.shots.len() => n - 1,
            n if near(n - 1) <= near(n) => n - 1,
            n => n,
        }
    }

    /// Reads the photographs that are shown, cut and scaled to `size`.
    pub(crate) fn load(
        &mut self,
        scene: &Scene,
        size: (usize, usize),
        shown: impl Iterator<Item = usize>,
    ) -> Result<(), RenderError> {
        for i in shown {
            if let std::collections::btree_map::Entry::Vacant(place) = self.held.entry(i) {
                let path = &self.shots[i].1;
                let values = photograph(path, size).map_err(|why| fault(scene, path, &why))?;
                place.insert(values);
            }
        }
        Ok(())
    }

    /// A photograph that was read.
    pub(crate) fn picture(&self, i: usize) -> Vec<f32> {
        self.held.get(&i).cloned().unwrap_or_default()
    }

    /// Errs where the lens goes where there is no photograph.
    pub(crate) fn check(&self, scene: &Scene, position: f64) -> Result<(), RenderError> {
        let (low, high) = (self.shots[0].0, self.shots[self.shots.len() - 1].0);
        let step = (high - low) / (self.shots.len() - 1) as f64;
        if (low - step..=high + step).contains(&position) {
            return Ok(());
        }
        let what = format!(
            "the lens goes to {position:.1}, the pictures cover {low}..={high}; \
             change `stack.start`, `stack.focus` or the lens"
        );
        let fault = Fault {
            line: scene.origin.stack,
            ..Fault::of_file(&scene.origin.file, "stack", what)
        };
        Err(Faults::from(fault).into())
    }
}

fn fault(scene: &Scene, path: &Path, why: &str) -> RenderError {
    RenderError::Image {
        file: scene.origin.file.clone(),
        line: scene.origin.stack,
        key: "stack",
        path: path.to_path_buf(),
        why: why.to_owned(),
    }
}

fn listed(stack: &Stack, folder: &Path) -> Result<Vec<(f64, PathBuf)>, String> {
    let entries = std::fs::read_dir(folder).map_err(|e| e.to_string())?;
    let mut out = Vec::new();
    for entry in entries {
        let path = entry.map_err(|e| e.to_string())?.path();
        let kind = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        if !matches!(kind.as_deref(), Some("png" | "jpg" | "jpeg")) {
            continue;
        }
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        if let Some(position) = position(&name, &stack.marker) {
            out.push((position, path));
        }
    }
    Ok(out)
}

/// The number right after `marker`: `-12.5` of `step_Z-12.5_a` after `Z`.
fn position(name: &str, marker: &str) -> Option<f64> {
    let starts = name.match_indices(marker).map(|(i, m)| i + m.len());
    starts.filter_map(|i| leading(&name[i..])).next()
}

fn leading(text: &str) -> Option<f64> {
    let sign = usize::from(text.starts_with(['-', '+']));
    let digits = |t: &str| t.bytes().take_while(u8::is_ascii_digit).count();
    let whole = digits(&text[sign..]);
    if whole == 0 {
        return None;
    }
    let end = sign + whole;
    let more = match text[end..].strip_prefix('.') {
        Some(rest) if digits(rest) > 0 => 1 + digits(rest),
        _ => 0,
    };
    text[..end + more].parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_stand_in_the_names() {
        for (name, marker, want) in [
            ("XP005_Z-049X0Y0@1#1", "_Z", Some(-49.0)),
            ("rail 12.5 mm", "", Some(12.5)),
            ("step+3", "step", Some(3.0)),
            ("z1.jpg", "q", None),
            ("shot-", "shot", None),
            ("p7.", "p", Some(7.0)),
        ] {
            assert_eq!(position(name, marker), want, "{name}");
        }
    }

    #[test]
    fn the_nearest_photograph_is_shown() {
        let shots = [-2.0, 0.0, 1.0, 5.0].map(|p| (p, PathBuf::new()));
        let album = Album {
            shots: shots.to_vec(),
            held: BTreeMap::new(),
        };
        for (at, want) in [(-9.0, 0), (-0.9, 1), (0.6, 2), (2.9, 2), (3.1, 3), (9.0, 3)] {
            assert_eq!(album.nearest(at), want, "{at}");
        }
    }
}

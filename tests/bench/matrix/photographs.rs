//! Photographs that packages of other people carry: read where they lie, when
//! they are there, and never copied.

use std::path::{Path, PathBuf};

/// Where in a package they lie: scikit-learn carries two (China temple and
/// flower, CC BY 2.0), scikit-image several (public domain and CC0).
const KNOWN: [&str; 7] = [
    "sklearn/datasets/images/china.jpg",
    "sklearn/datasets/images/flower.jpg",
    "skimage/data/camera.png",
    "skimage/data/coffee.png",
    "skimage/data/brick.png",
    "skimage/data/grass.png",
    "skimage/data/gravel.png",
];

/// Those of a folder, or those that installed packages carry.
pub fn find(folder: Option<&Path>) -> Vec<PathBuf> {
    let mut found = match folder {
        Some(folder) => pictures(folder),
        None => packages()
            .iter()
            .flat_map(|p| KNOWN.map(|k| p.join(k)))
            .filter(|p| p.is_file())
            .collect(),
    };
    found.sort();
    found.dedup();
    found
}

fn pictures(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let kinds = ["png", "jpg", "jpeg"];
    entries
        .map(|e| e.path())
        .filter(|p| {
            p.extension()
                .is_some_and(|e| kinds.iter().any(|k| e.eq_ignore_ascii_case(k)))
        })
        .collect()
}

/// Folders of the Python at hand that hold packages.
fn packages() -> Vec<PathBuf> {
    let script = "import site, sysconfig; print('\\n'.join(site.getsitepackages() + \
                  [site.getusersitepackages(), sysconfig.get_paths()['purelib']]))";
    let asked = std::process::Command::new("python3")
        .args(["-c", script])
        .output();
    let text = asked.map(|o| String::from_utf8_lossy(&o.stdout).into_owned());
    text.unwrap_or_default()
        .lines()
        .map(PathBuf::from)
        .collect()
}

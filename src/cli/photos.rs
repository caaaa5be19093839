//! `focuslag photos`: are the photographs themselves sharp?

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::number::{number, share_complaint};
use super::progress::Bars;
use super::talk::Talk;
use super::target::{Kind, complaint};
use crate::photo::{Ask, Folder, Photos, Versus, crop, judge, photos_file, versus, write_photos};
use crate::report::{ShownPhotos, most_blurred, photos_page, photos_text};
use crate::store::write_file;

/// The page's name in the output folder.
const PAGE: &str = "photos.html";

/// Range of the hit limit, ‰ of the picture's height.
const HIT_PERMILLE: (f64, f64) = (0.1, 50.0);

/// Folders of photographs in, their hit rates out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag photos kit-amber kit-slate
  focuslag photos kit-amber --area 0.4,0.4,0.6,0.6 -o results

A folder holds the photographs of one setup, one target or two, from a tripod. Its
folder by-hand holds one or more of each target that were focused by hand: the
sharpest is what all others are held against.")]
pub struct PhotosArgs {
    /// Folders of photographs, one for each setup
    #[arg(required = true, value_name = "FOLDER")]
    folders: Vec<PathBuf>,
    /// Focus area: left, top, right, bottom as fractions of the picture
    #[arg(long, value_name = "L,T,R,B", value_parser = area, default_value = "0.35,0.3,0.65,0.7")]
    area: Area,
    /// Largest blur of a hit, ‰ of the picture's height [default: one circle of
    /// confusion, the picture's diagonal ÷ 1500]
    #[arg(long, value_name = "N", value_parser = number)]
    hit_permille: Option<f64>,
    /// Folder for NAME.photos.json and a page, photos.html; made where it is missing
    #[arg(long, short, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Two-sided level of every interval, 0.5 to 1
    #[arg(long, value_name = "LEVEL", value_parser = number, default_value_t = 0.95)]
    confidence: f64,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Document<'a> {
    setups: &'a [Photos],
    pairs: &'a [Versus],
}

/// Judges every folder.
pub fn run(args: &PhotosArgs, talk: Talk) -> Exit {
    let (folders, ask) = match asked(args) {
        Ok(both) => both,
        Err(errors) => return talk.stop(&errors, Exit::Refused),
    };
    let bars = Bars::new(talk);
    let (mut judged, mut errors) = (Vec::new(), Vec::new());
    for folder in &folders {
        let bar = bars.pictures(&folder.name, folder.shots.len() as u64);
        match judge(folder, &ask, &|| bar.one_more()) {
            Ok(photos) => judged.push(photos),
            Err(e) => errors.push(e.to_string()),
        }
    }
    let pairs = versus(&judged, args.confidence);
    let written = match &args.out {
        Some(out) => written(out, &folders, &judged, &pairs),
        None => Vec::new(),
    };
    let (written, failures): (Vec<_>, Vec<_>) = written.into_iter().partition(Result::is_ok);
    errors.extend(failures.into_iter().filter_map(Result::err));
    for error in &errors {
        talk.error(error);
    }
    for path in written.iter().flatten() {
        talk.note(&format!("written: {}", path.display()));
    }
    let unread = |p: &Photos| p.pictures.iter().any(|p| p.error.is_some());
    let none = |p: &Photos| p.summary.judged == 0;
    let failed = !errors.is_empty() || judged.iter().any(|p| unread(p) || none(p));
    let exit = if failed { Exit::Failed } else { Exit::Done };
    match (talk.json, judged.is_empty()) {
        (true, _) => talk.document(
            &Document {
                setups: &judged,
                pairs: &pairs,
            },
            exit,
        ),
        (false, true) => exit,
        (false, false) => talk.result(&photos_text(&judged, &pairs), exit),
    }
}

/// Writes a file for each setup and a page for all of them.
fn written(
    out: &Path,
    folders: &[Folder],
    judged: &[Photos],
    pairs: &[Versus],
) -> Vec<Result<PathBuf, String>> {
    let each = judged.iter();
    let mut done: Vec<Result<PathBuf, String>> = each
        .map(|photos| write_photos(&photos_file(&photos.setup, out), photos))
        .collect();
    if judged.is_empty() {
        return done;
    }
    let pages: Vec<ShownPhotos<'_>> = judged
        .iter()
        .filter_map(|photos| Some((photos, folders.iter().find(|f| f.name == photos.setup)?)))
        .map(|(photos, folder)| shown(photos, folder))
        .collect();
    let page = photos_page(&pages, pairs);
    let path = out.join(PAGE);
    let wrote = write_file(&path, page.as_bytes()).map_err(|e| e.to_string());
    done.push(wrote.map(|()| path));
    done
}

/// A setup with the pictures that the page shows of it.
fn shown<'a>(photos: &'a Photos, folder: &Folder) -> ShownPhotos<'a> {
    let of = |file: &str| crop(&folder.path.join(file), photos.area);
    ShownPhotos {
        photos,
        references: photos.targets.iter().map(|t| of(&t.reference)).collect(),
        worst: most_blurred(photos)
            .into_iter()
            .map(|p| (p, of(&p.file)))
            .collect(),
    }
}

/// Folders and settings, or all that is wrong with them.
fn asked(args: &PhotosArgs) -> Result<(Vec<Folder>, Ask), Vec<String>> {
    let mut errors: Vec<String> = share_complaint("confidence", Some(args.confidence))
        .into_iter()
        .collect();
    if let Some(n) = args.hit_permille
        && !(HIT_PERMILLE.0..=HIT_PERMILLE.1).contains(&n)
    {
        errors.push(format!(
            "command line: --hit-permille: {n} is outside {} to {} ‰ of the picture's height",
            HIT_PERMILLE.0, HIT_PERMILLE.1
        ));
    }
    if let Some(Err(e)) = args.out.as_deref().map(made) {
        errors.push(e);
    }
    let mut folders: Vec<Folder> = Vec::new();
    for path in &args.folders {
        match Folder::open(path) {
            Ok(folder) => match folders.iter().find(|f| f.name == folder.name) {
                Some(first) => errors.push(format!(
                    "{} and {}: both are named {}; a setup's folder names it",
                    first.path.display(),
                    path.display(),
                    folder.name
                )),
                None => folders.push(folder),
            },
            Err(e) => errors.push(e.to_string()),
        }
    }
    let ask = Ask {
        area: args.area.0,
        hit_permille: args.hit_permille,
        confidence: args.confidence,
    };
    match errors.is_empty() {
        true => Ok((folders, ask)),
        false => Err(errors),
    }
}

/// Left, top, right, bottom; fractions of the picture.
#[derive(Clone, Copy, Debug)]
struct Area([f64; 4]);

fn area(text: &str) -> Result<Area, String> {
    let fits =
        |[l, t, r, b]: [f64; 4]| 0.0 <= l && l < r && r <= 1.0 && 0.0 <= t && t < b && b <= 1.0;
    let given: Result<Vec<f64>, _> = text.split(',').map(number).collect();
    let area: Option<[f64; 4]> = given.ok().and_then(|g| g.try_into().ok());
    area.filter(|a| fits(*a)).map(Area).ok_or_else(|| {
        "give left, top, right and bottom as fractions of the picture, such as 0.35,0.3,0.65,0.7"
            .to_owned()
    })
}

/// Makes the output folder, as `time` does.
fn made(out: &Path) -> Result<(), String> {
    std::fs::create_dir_all(out).map_err(|e| format!("{}: cannot be made: {e}", out.display()))?;
    let page = complaint(&out.join(PAGE), "--out", Kind::Page, false);
    page.map_or(Ok(()), |e| Err(format!("command line: {e}")))
}

//! `focuslag photos`: are the photographs themselves sharp?

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::exit::{Exit, Stop, refuse};
use super::files;
use super::number::{number, share_complaint};
use super::progress::Bars;
use super::talk::Talk;
use super::target::{Kind, complaint};
use crate::photo::{
    Ask, Folder, Photos, Versus, beside, crop, judge, photos_file, versus, write_photos,
};
use crate::report::{ShownPhotos, most_blurred, photos_page, photos_text};
use crate::rig::file_key;
use crate::store::schema::Timing;
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
  focuslag photos kit-amber --timing kit-amber.timing.json

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
    /// Timing files of the same setups: their trials are matched to the photographs, by order
    /// and by the camera's clock
    #[arg(long, value_name = "TIMING.json", num_args = 1..)]
    timing: Vec<PathBuf>,
    /// Folder for NAME.photos.json and a page, photos.html; made where it is missing
    #[arg(long, short, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Two-sided level of every interval, 0.5 to 1
    #[arg(long, value_name = "LEVEL", value_parser = number, default_value_t = 0.95)]
    confidence: f64,
}

/// What `--json` prints.
#[derive(Serialize)]
struct Document {
    setups: Vec<Photos>,
    pairs: Vec<Versus>,
    errors: Vec<String>,
}

/// What was asked for, all of it in order.
struct Request {
    folders: Vec<Folder>,
    timings: Vec<(String, Timing)>,
    ask: Ask,
}

/// Judges every folder.
pub fn run(args: &PhotosArgs, talk: Talk) -> Exit {
    talk.ended(judged(args, talk))
}

fn judged(args: &PhotosArgs, talk: Talk) -> Result<Exit, Stop> {
    let request = request(args, talk)?;
    let bars = Bars::new(talk);
    let (mut setups, mut errors) = (Vec::new(), Vec::new());
    for folder in &request.folders {
        match one(folder, &request, &bars, &mut errors) {
            Ok(photos) => setups.push(photos),
            Err(e) => errors.push(e),
        }
    }
    let pairs = versus(&setups, args.confidence);
    let written = match &args.out {
        Some(out) => written(out, &request.folders, &setups, &pairs),
        None => Vec::new(),
    };
    for done in written {
        match done {
            Ok(path) => talk.note(&format!("written: {}", path.display())),
            Err(e) => errors.push(e),
        }
    }
    for error in &errors {
        talk.error(error);
    }
    let unread = |p: &Photos| p.pictures.iter().any(|p| p.error.is_some());
    let none = |p: &Photos| p.summary.judged == 0;
    let exit = Exit::unless(!errors.is_empty() || setups.iter().any(|p| unread(p) || none(p)));
    let found = Document {
        setups,
        pairs,
        errors,
    };
    if found.setups.is_empty() && !talk.json {
        return Ok(exit);
    }
    Ok(talk.shown(&found, |d| photos_text(&d.setups, &d.pairs), exit))
}

/// One folder, with its timing file where there is one. Photographs that do not go
/// with its trials are judged all the same.
fn one(
    folder: &Folder,
    request: &Request,
    bars: &Bars,
    errors: &mut Vec<String>,
) -> Result<Photos, String> {
    let bar = bars.pictures(&folder.name, folder.shots.len() as u64);
    let found = judge(folder, &request.ask, &|| bar.one_more()).map_err(|e| e.to_string())?;
    let mut photos = found.photos;
    let mut timings = request.timings.iter();
    if let Some((file, timing)) = timings.find(|(_, t)| t.setup.name == folder.name)
        && let Err(e) = beside(&mut photos, &found.taken, timing, file)
    {
        errors.push(format!("{} and {file}: {e}", folder.path.display()));
    }
    Ok(photos)
}

/// All that is wrong with a request, before a picture is opened.
fn request(args: &PhotosArgs, talk: Talk) -> Result<Request, Stop> {
    let mut wrong: Vec<String> = Vec::new();
    wrong.extend(share_complaint("confidence", Some(args.confidence)));
    if let Some(n) = args.hit_permille
        && !(HIT_PERMILLE.0..=HIT_PERMILLE.1).contains(&n)
    {
        wrong.push(format!(
            "command line: --hit-permille: {n} is outside {} to {} ‰ of the picture's height",
            HIT_PERMILLE.0, HIT_PERMILLE.1
        ));
    }
    let mut folders: Vec<Folder> = Vec::new();
    for path in &args.folders {
        match Folder::open(path) {
            Ok(folder) => match folders
                .iter()
                .find(|f| file_key(&f.name) == file_key(&folder.name))
            {
                Some(first) => wrong.push(format!(
                    "{} and {}: both are named {}; a setup's folder names it",
                    first.path.display(),
                    path.display(),
                    folder.name
                )),
                None => folders.push(folder),
            },
            Err(e) => wrong.push(e.to_string()),
        }
    }
    refuse(wrong)?;
    let timings = files::opened(&args.timing, talk)?;
    refuse(timings.iter().filter_map(|(file, timing)| {
        let named = folders.iter().any(|f| f.name == timing.setup.name);
        (!named).then(|| {
            format!(
                "{file}: is of the setup {}, and no folder has that name",
                timing.setup.name
            )
        })
    }))?;
    refuse(
        timings
            .iter()
            .enumerate()
            .filter_map(|(k, (file, timing))| {
                let before = timings[..k]
                    .iter()
                    .find(|t| t.1.setup.name == timing.setup.name);
                before.map(|(first, _)| {
            format!(
                "{first} and {file}: both are of the setup {}; name the one that its photographs \
                 belong to",
                timing.setup.name
            )
        })
            }),
    )?;
    refuse(args.out.as_deref().map(made).and_then(Result::err))?;
    Ok(Request {
        folders,
        timings,
        ask: Ask {
            area: args.area.0,
            hit_permille: args.hit_permille,
            confidence: args.confidence,
        },
    })
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

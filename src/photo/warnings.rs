//! What a reader must know before relying on the numbers.

use std::collections::BTreeMap;

use super::folder::Folder;
use super::record::{Photos, Picture, PictureVerdict, Target, Why};
use crate::store::schema::ReferenceFrom;

/// Share of close calls above which they are told.
const MANY_CLOSE: f64 = 0.1;
/// Files named in one line.
const MOST_NAMED: usize = 4;

/// All warnings, what decides most first.
pub(super) fn of(photos: &Photos, folder: &Folder) -> Vec<String> {
    let mut out = Vec::new();
    if photos
        .targets
        .iter()
        .any(|t| t.reference_from == ReferenceFrom::Setup)
    {
        out.push(
            "unverified: no picture was focused by hand, so a hit is only as sharp as this \
             setup's own best; put one of each target, focused by hand, into its folder by-hand"
                .to_owned(),
        );
    }
    out.extend(photos.targets.iter().filter_map(softer));
    out.extend(photos.targets.iter().filter_map(|t| raised(t, photos)));
    out.extend(voids(&photos.pictures));
    out.extend(unrecognised(&photos.pictures));
    let s = &photos.summary;
    if s.close_calls as f64 > MANY_CLOSE * s.judged as f64 {
        out.push(format!(
            "{} of {} pictures lie within their uncertainty of the hit limit: another limit, or \
             another picture by hand, may call them otherwise",
            s.close_calls, s.judged
        ));
    }
    if !folder.others.is_empty() {
        let named: Vec<String> = folder
            .others
            .iter()
            .take(MOST_NAMED)
            .map(|(ending, n)| format!("{n} × .{ending}"))
            .collect();
        out.push(format!(
            "not read: {}; only JPEG, PNG and TIFF are",
            named.join(", ")
        ));
    }
    out
}

/// Where the hit limit is not the circle of confusion although nobody asked.
fn raised(target: &Target, photos: &Photos) -> Option<String> {
    let least = target.least_permille?;
    (photos.asked_permille.is_none() && target.hit_limit_permille > target.circle_permille + 1e-9)
        .then(|| {
            format!(
                "hit at {:.1} ‰ of the picture's height, not at the circle of confusion \
                 ({:.1} ‰): these pictures tell no blur below {least:.1} ‰; take larger ones, or \
                 a target of more detail",
                target.hit_limit_permille, target.circle_permille
            )
        })
}

/// Where a picture by hand was not in focus.
fn softer(target: &Target) -> Option<String> {
    let by = target.softer_permille?;
    Some(format!(
        "{} is {by:.1} ‰ softer than the sharpest of the others: it was not in focus, and blur is \
         told too small; focus by hand again",
        target.reference
    ))
}

fn voids(pictures: &[Picture]) -> Vec<String> {
    let mut by: BTreeMap<Why, Vec<&Picture>> = BTreeMap::new();
    for p in pictures {
        if let Some(why) = p.reason {
            by.entry(why).or_default().push(p);
        }
    }
    by.iter()
        .map(|(why, all)| {
            let n = all.len();
            let what = match why {
                Why::Unreadable => {
                    let first = all[0].error.as_deref().unwrap_or_default();
                    return format!("{} cannot be read ({}): {first}", counted(n), files(all));
                }
                Why::OtherTarget => {
                    "something else than the target, or it a quarter larger or \
                                     smaller: take them out, or focus one by hand for that \
                                     target too"
                }
                Why::OtherSize => {
                    "the target in another size or orientation than the picture \
                                   that they are held against: photograph all alike"
                }
                Why::NoSignal => "nothing: too dark, or mostly white",
                Why::CannotTell => {
                    "blur less finely than twice the hit limit: ask for a larger \
                                    --hit-permille, or take larger pictures"
                }
            };
            format!("void: {} ({}) show {what}", counted(n), files(all))
        })
        .collect()
}

fn unrecognised(pictures: &[Picture]) -> Option<String> {
    let all: Vec<&Picture> = pictures
        .iter()
        .filter(|p| p.beyond_recognition && p.verdict == PictureVerdict::Miss)
        .collect();
    (!all.is_empty()).then(|| {
        format!(
            "{} ({}) are blurred beyond recognition and count as misses; if they show something \
             else, take them out",
            counted(all.len()),
            files(&all)
        )
    })
}

fn counted(n: usize) -> String {
    match n {
        1 => "1 picture".to_owned(),
        n => format!("{n} pictures"),
    }
}

fn files(all: &[&Picture]) -> String {
    let named: Vec<&str> = all
        .iter()
        .take(MOST_NAMED)
        .map(|p| p.file.as_str())
        .collect();
    match all.len().saturating_sub(MOST_NAMED) {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

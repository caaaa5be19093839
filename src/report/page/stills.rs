//! Which stills go into the page.

use std::collections::{BTreeMap, BTreeSet};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use super::Source;
use super::kit::Kit;
use crate::report::trial::badness;
use crate::store::schema::Verdict;

/// What a figure needs beside its picture, bytes.
const AROUND: usize = 400;

/// A trial whose stills are kept.
pub(super) struct KeptStills {
    pub source: usize,
    /// Names of its pictures in the archive.
    pub files: Vec<String>,
}

/// Every trial with stills, in the order in which they are wanted: of each
/// setup in turn its worst, its quickest, its middle one, then by badness.
pub(super) fn kept(kits: &[Kit]) -> Vec<KeptStills> {
    let mut queues: Vec<std::vec::IntoIter<KeptStills>> =
        kits.iter().map(|k| queue(k).into_iter()).collect();
    let mut out = Vec::new();
    loop {
        let before = out.len();
        out.extend(queues.iter_mut().filter_map(Iterator::next));
        if out.len() == before {
            return out;
        }
    }
}

fn queue(kit: &Kit) -> Vec<KeptStills> {
    let mut own: Vec<((u8, f64), bool, KeptStills)> = kit
        .trials()
        .filter_map(|(_, clip, trial)| {
            let close = kit.close(clip, trial);
            let stills = &close.evidence?.stills;
            let screens = stills.iter().filter_map(|s| s.screen.clone());
            let files: Vec<String> = stills
                .iter()
                .map(|s| s.file.clone())
                .chain(screens)
                .collect();
            let kept = KeptStills {
                source: kit.place,
                files,
            };
            let some = !kept.files.is_empty();
            some.then_some((badness(trial), trial.verdict == Verdict::Hit, kept))
        })
        .collect();
    own.sort_by(|a, b| b.0.partial_cmp(&a.0).unwrap_or(std::cmp::Ordering::Equal));
    // The quickest hit and the middle one follow the worst.
    let hits: Vec<usize> = own
        .iter()
        .enumerate()
        .filter(|(_, o)| o.1)
        .map(|(k, _)| k)
        .collect();
    let mut early: Vec<usize> = vec![0];
    early.extend(hits.last());
    early.extend(hits.get(hits.len() / 2));
    let rank = |k: usize| early.iter().position(|e| *e == k).unwrap_or(early.len());
    let mut ranked: Vec<(usize, KeptStills)> = own
        .into_iter()
        .enumerate()
        .map(|(k, o)| (rank(k), o.2))
        .collect();
    ranked.sort_by_key(|r| r.0);
    ranked.into_iter().map(|r| r.1).collect()
}

/// Pictures that go into the page, as `data:` addresses.
#[derive(Default)]
pub(super) struct Pictures {
    of: BTreeMap<(usize, String), String>,
    shown: usize,
    /// Names that an evidence file has and pictures that it has not.
    gone: BTreeSet<(usize, String)>,
}

impl Pictures {
    /// As many trials, in their order, as fit into `room` bytes.
    pub fn choose(sources: &mut [Source], kept: &[KeptStills], room: usize) -> Self {
        let mut out = Self::default();
        let mut used = 0usize;
        for trial in kept {
            if used >= room {
                break;
            }
            let Some(evidence) = sources[trial.source].evidence.as_mut() else {
                continue;
            };
            let mut read: Vec<(String, String)> = Vec::new();
            for name in &trial.files {
                match evidence.picture(name) {
                    Some(bytes) => {
                        let text = STANDARD.encode(bytes);
                        read.push((name.clone(), format!("data:image/jpeg;base64,{text}")));
                    }
                    None => {
                        out.gone.insert((trial.source, name.clone()));
                    }
                }
            }
            let size: usize = read.iter().map(|(_, t)| t.len() + AROUND).sum();
            if read.is_empty() || used.saturating_add(size) > room {
                continue;
            }
            used += size;
            out.shown += 1;
            let named = read.into_iter().map(|(n, t)| ((trial.source, n), t));
            out.of.extend(named);
        }
        out
    }

    pub fn get(&self, source: usize, name: &str) -> Option<&str> {
        self.of.get(&(source, name.to_owned())).map(String::as_str)
    }

    /// Whether its evidence file was found to have lost it.
    pub fn lost(&self, source: usize, name: &str) -> bool {
        self.gone.contains(&(source, name.to_owned()))
    }

    /// What was wanted for the page and is gone from the evidence, in words.
    pub fn gone(&self, sources: &[Source]) -> Vec<String> {
        let files = sources.iter().enumerate().filter_map(|(k, source)| {
            let n = self.gone.iter().filter(|(of, _)| *of == k).count();
            let file = source.evidence.as_ref()?.path().display();
            (n > 0).then(|| {
                format!("{file}: {n} of its stills are gone from it; time the clips again")
            })
        });
        files.collect()
    }

    /// Trials that have some.
    pub fn trials(&self) -> usize {
        self.shown
    }
}

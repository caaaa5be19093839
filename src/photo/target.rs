//! Which target a picture shows.

use super::thumb::{Placed, Thumb};

/// Least likeness at which two pictures show the same. On both real stacks the
/// same subject has 0.96 and more while its size changes by up to 11 %, and 0.62 at
/// a blur of 10 px of 400; other subjects have at most 0.48.
const ALIKE: f64 = 0.6;
/// Fewest pictures that make a target where nobody focused one by hand.
const FEWEST: usize = 3;

/// The pictures that show one target.
pub(super) struct Group {
    /// The one that the others were held against: its place among all.
    pub first: usize,
    /// All of them, with how each lies against the first.
    pub members: Vec<(usize, Placed)>,
}

/// Puts pictures together that show the same, in their order; `None` of a picture
/// that could not be read.
pub(super) fn groups(thumbs: &[Option<&Thumb>], area: [f64; 4]) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (k, thumb) in thumbs.iter().enumerate() {
        let Some(thumb) = thumb else { continue };
        let firsts: Vec<&Thumb> = groups.iter().filter_map(|g| thumbs[g.first]).collect();
        match nearest(&firsts, thumb, area) {
            Some((g, placed)) if placed.likeness >= ALIKE => groups[g].members.push((k, placed)),
            _ => groups.push(Group {
                first: k,
                members: vec![(k, Placed::STILL)],
            }),
        }
    }
    groups
}

/// The groups that are large enough to be what was photographed.
pub(super) fn targets(mut groups: Vec<Group>) -> Vec<Group> {
    let largest = groups.iter().map(|g| g.members.len()).max().unwrap_or(0);
    groups.retain(|g| g.members.len() >= FEWEST.min(largest));
    groups
}

/// The one of several that a picture is most like.
pub(super) fn nearest(of: &[&Thumb], thumb: &Thumb, area: [f64; 4]) -> Option<(usize, Placed)> {
    let placed = of.iter().map(|t| t.found_in(thumb, area)).enumerate();
    placed.max_by(|a, b| a.1.likeness.total_cmp(&b.1.likeness))
}

/// Whether it is the same.
pub(super) fn alike(placed: &Placed) -> bool {
    placed.likeness >= ALIKE
}

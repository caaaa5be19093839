//! By order: as many photographs for each trial.

use super::{NamedTrial, PairError, Shot, Slot};

/// The slot of every photograph, where their number is a whole multiple of the
/// number of slots.
///
/// # Errors
/// A photograph of one side where the film shows the other.
pub(super) fn by_order(shots: &[Shot], slots: &[Slot]) -> Result<Option<Vec<usize>>, PairError> {
    if !shots.len().is_multiple_of(slots.len()) {
        return Ok(None);
    }
    let each = shots.len() / slots.len();
    let order: Vec<usize> = (0..shots.len()).map(|k| k / each).collect();
    match other_side(shots, slots, order.iter().copied().map(Some)) {
        Some(error) => Err(error),
        None => Ok(Some(order)),
    }
}

/// The first photograph that shows another side than its trial.
pub(super) fn other_side(
    shots: &[Shot],
    slots: &[Slot],
    found: impl Iterator<Item = Option<usize>>,
) -> Option<PairError> {
    shots.iter().zip(found).find_map(|(shot, slot)| {
        let slot = &slots[slot?];
        let (shows, filmed) = shot.side.zip(slot.side)?;
        (shows != filmed).then(|| PairError::Side {
            picture: shot.name.clone(),
            shows,
            trial: NamedTrial::of(slot),
            filmed,
        })
    })
}

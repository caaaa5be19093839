//! One loop reads the file and hands each stretch its packets.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use ffmpeg_next::codec::Parameters;
use ffmpeg_next::format::context::Input;

use super::queue::{Budget, Parcel};
use super::{ClipError, ClipIndex, scan};

/// A stretch to be decoded.
pub(super) struct Job {
    /// Its number.
    pub number: usize,
    /// What its decoder is opened with.
    pub parameters: Parameters,
    /// Its packets, in decoding order, as they are read.
    pub packets: Receiver<Parcel>,
}

/// Reads the file to its end (or until cancelled); returns how many places in
/// it could not be read as packets.
pub(super) fn run(
    mut input: Input,
    index: &ClipIndex,
    jobs: &Sender<Job>,
    budget: &Arc<Budget>,
) -> Result<usize, ClipError> {
    let plan = &index.plan;
    scan::only(&mut input, plan.track);
    let parameters = input
        .stream(plan.track)
        .map(|s| s.parameters())
        .ok_or_else(|| ClipError::Changed {
            path: index.path.clone(),
        })?;
    let open = |number: usize| {
        let (sender, packets) = channel();
        // The workers may be gone already; then the packets go nowhere.
        let _ = jobs.send(Job {
            number,
            parameters: parameters.clone(),
            packets,
        });
        sender
    };
    let mut damaged = 0;
    let mut number = 0;
    let mut current = open(0);
    let mut before: Option<(Sender<Parcel>, usize)> = None;
    let mut at = 0;
    while let Some(packet) = scan::next_packet(&mut input, plan.track, &index.path, &mut damaged)? {
        if plan
            .stretches
            .get(number + 1)
            .is_some_and(|s| s.first == at)
        {
            let tail_end = plan.stretches[number].tail_end;
            number += 1;
            before = Some((std::mem::replace(&mut current, open(number)), tail_end));
        }
        before = before.filter(|(_, tail_end)| at < *tail_end);
        if let Some((sender, _)) = &before {
            // No waiting here: the worker of the stretch before needs these
            // packets to finish and to free the queue.
            let _ = sender.send(budget.parcel(packet.clone(), false));
        } else if !budget.wait() {
            break;
        }
        let _ = current.send(budget.parcel(packet, true));
        at += 1;
        if plan.only.is_some_and(|only| at >= only) {
            break;
        }
    }
    Ok(damaged)
}

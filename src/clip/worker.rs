//! Decodes one stretch with a decoder of its own.

use std::collections::VecDeque;

use ffmpeg_next::{Error as FfError, Packet, frame};

use super::damage::Lineage;
use super::demux::Job;
use super::luma::LumaReader;
use super::open::decoder_error;
use super::queue::Budget;
use super::report::Tally;
use super::stretch::Stretch;
use super::watch::Watch;
use super::{ClipError, ClipIndex, FrameSink, decoder, scan};
use crate::units::StoredTime;

/// Why a stretch ends before its packets do.
enum Halt {
    /// The picture changes; what came before stands.
    Stopped,
    Failed(ClipError),
    Ffmpeg(FfError),
}

impl From<FfError> for Halt {
    fn from(error: FfError) -> Self {
        Self::Ffmpeg(error)
    }
}

struct Worker<'a, S> {
    index: &'a ClipIndex,
    stretch: Stretch,
    sink: S,
    count: &'a (dyn Fn() + Sync),
    lineage: Lineage,
    /// Frames whose references have not all come out.
    held: VecDeque<Held>,
    spare: Vec<frame::Video>,
    luma: LumaReader,
    /// Stamp of the frame that came out last.
    latest: Option<i64>,
    tally: Tally,
}

struct Held {
    frame: frame::Video,
    pts: i64,
    place: u64,
}

/// Decodes the stretch and returns what its sink made of it.
pub(super) fn run<S: FrameSink>(
    index: &ClipIndex,
    job: &Job,
    (budget, watch, threads): (&Budget, &Watch, usize),
    sink: S,
    count: &(dyn Fn() + Sync),
) -> Result<(S::Out, Tally), ClipError> {
    let mut worker = Worker {
        index,
        stretch: index.plan.stretches[job.number],
        sink,
        count,
        lineage: Lineage::default(),
        held: VecDeque::new(),
        spare: Vec::new(),
        luma: LumaReader::default(),
        latest: None,
        tally: Tally::default(),
    };
    match worker.decode(job, (budget, watch, threads)) {
        Ok(()) | Err(Halt::Stopped) => Ok((worker.sink.finish(), worker.tally)),
        Err(Halt::Failed(error)) => Err(error),
        Err(Halt::Ffmpeg(error)) => Err(decoder_error(&index.path, error)),
    }
}

impl<S: FrameSink> Worker<'_, S> {
    fn decode(
        &mut self,
        job: &Job,
        (budget, watch, threads): (&Budget, &Watch, usize),
    ) -> Result<(), Halt> {
        let plan = &self.index.plan;
        let parameters = job.parameters.clone();
        let mut decoder = decoder::open(parameters, plan.time_base, plan.strict, threads)?;
        for parcel in &job.packets {
            if budget.is_cancelled() {
                return Ok(());
            }
            watch.check(&self.index.path).map_err(Halt::Failed)?;
            self.feed(&mut decoder, Some(&parcel.packet), parcel.own)?;
        }
        self.feed(&mut decoder, None, true)?;
        self.release(true)
    }

    fn feed(
        &mut self,
        decoder: &mut ffmpeg_next::decoder::Video,
        packet: Option<&Packet>,
        own: bool,
    ) -> Result<(), Halt> {
        if let Some(packet) = packet {
            let hidden = scan::is_hidden(packet);
            self.lineage.packet(packet.pts(), packet.is_key(), hidden);
            if packet.is_corrupt() {
                self.lineage.packet_suspect();
            }
        }
        let spare = self.blank();
        let (fed, spare) = decoder::feed(decoder, packet, |frame| self.take(frame), spare)?;
        self.spare.push(spare);
        if matches!(fed, decoder::Fed::Refused) {
            self.refused(packet, own);
        }
        Ok(())
    }

    fn refused(&mut self, packet: Option<&Packet>, own: bool) {
        self.lineage.packet_refused();
        if own {
            self.tally.packet_errors += 1;
        }
        let lost = packet.filter(|p| !scan::is_hidden(p)).and_then(Packet::pts);
        if let Some(pts) = lost.filter(|pts| self.is_ours(*pts)) {
            self.tally.lost.push(pts);
        }
    }

    fn blank(&mut self) -> frame::Video {
        self.spare.pop().unwrap_or_else(frame::Video::empty)
    }

    fn is_ours(&self, pts: i64) -> bool {
        (self.stretch.from..self.stretch.to).contains(&pts)
    }

    /// Where only decoding stamps are known, the last frames come out with
    /// none; a constant step continues.
    fn next_stamp(&self) -> Option<i64> {
        self.latest?.checked_add(self.index.plan.step?)
    }

    /// Takes a frame as it leaves the decoder; returns one to fill next.
    fn take(&mut self, frame: frame::Video) -> Result<frame::Video, Halt> {
        let Some(pts) = frame.timestamp().or_else(|| self.next_stamp()) else {
            self.tally.unstamped += 1;
            return Ok(frame);
        };
        self.latest = Some(pts);
        let damaged = frame.is_corrupt() || frame.has_decode_errors();
        let place = self.lineage.frame(pts, damaged);
        if !self.is_ours(pts) {
            return Ok(frame);
        }
        self.held.push_back(Held { frame, pts, place });
        self.release(false)?;
        Ok(self.blank())
    }

    /// Passes on the frames that can be judged; all of them at the end.
    fn release(&mut self, all: bool) -> Result<(), Halt> {
        while let Some(held) = self.held.pop_front() {
            if !all && !self.lineage.is_settled(held.place) {
                self.held.push_front(held);
                break;
            }
            self.show(&held)?;
            self.spare.push(held.frame);
        }
        Ok(())
    }

    fn show(&mut self, held: &Held) -> Result<(), Halt> {
        let Held { frame, pts, place } = held;
        if self.lineage.is_tainted(*place, *pts) {
            self.tally.lost.push(*pts);
            return Ok(());
        }
        if self.tally.good.last().is_some_and(|last| last >= pts) {
            self.tally.unordered += 1;
            return Ok(());
        }
        self.check(frame, *pts)?;
        let luma = self.luma.read(frame, self.index.plan.time(*pts))?;
        self.sink.frame(&luma);
        self.tally.good.push(*pts);
        (self.count)();
        Ok(())
    }

    /// A clip has one size and one pixel format, and whole frames.
    fn check(&mut self, frame: &frame::Video, pts: i64) -> Result<(), Halt> {
        let plan = &self.index.plan;
        let size = (frame.width() as usize, frame.height() as usize);
        let stored = self.index.orientation.stored;
        if size != stored || frame.format() != plan.pixel {
            let StoredTime(at) = plan.time(pts);
            self.tally.stopped = Some(format!(
                "the picture changes from {}x{} {:?} to {}x{} {:?} at {at:.3} s; only what comes before is used",
                stored.0,
                stored.1,
                plan.pixel,
                size.0,
                size.1,
                frame.format()
            ));
            return Err(Halt::Stopped);
        }
        if frame.is_interlaced() {
            return Err(Halt::Failed(ClipError::Interlaced {
                path: self.index.path.clone(),
            }));
        }
        Ok(())
    }
}

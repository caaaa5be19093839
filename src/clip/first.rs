//! Decodes up to the first frame: its size and stamp are the truth, whatever
//! the headers say.

use std::path::Path;

use ffmpeg_next::codec::{Id, Parameters};
use ffmpeg_next::format::{Pixel, context::Input};
use ffmpeg_next::{Error as FfError, Packet, frame};

use super::decoder::Fed;
use super::luma::LumaReader;
use super::open::decoder_error;
use super::track::Track;
use super::{ClipError, Still, decoder};
use crate::units::StoredTime;

/// The first frame with a stamp that comes out of the decoder.
#[derive(Clone, Copy, Debug)]
pub(super) struct FirstFrame {
    pub stamp: i64,
    pub size: (u32, u32),
    pub pixel: Pixel,
    pub interlaced: bool,
    /// Pictures kept for reference.
    pub references: i64,
}

/// A decoder that is fed until the first frame is there.
pub(super) struct FirstLook<'a> {
    decoder: Option<ffmpeg_next::decoder::Video>,
    parameters: Parameters,
    track: &'a Track,
    path: &'a Path,
    strict: bool,
    /// What the strict decoder was given, for a lenient one to begin anew.
    given: Vec<Packet>,
    found: Option<FirstFrame>,
    still: Option<Still>,
    unstamped: usize,
}

impl<'a> FirstLook<'a> {
    pub(super) fn new(input: &Input, track: &'a Track, path: &'a Path) -> Result<Self, ClipError> {
        let parameters = input
            .stream(track.index)
            .map(|s| s.parameters().clone())
            .ok_or_else(|| ClipError::NoVideo { path: path.into() })?;
        let mut look = Self {
            decoder: None,
            parameters,
            track,
            path,
            strict: track.codec == Id::HEVC,
            given: Vec::new(),
            found: None,
            still: None,
            unstamped: 0,
        };
        look.open()?;
        Ok(look)
    }

    fn open(&mut self) -> Result<(), ClipError> {
        let parameters = self.parameters.clone();
        let opened = decoder::open(parameters, self.track.time_base, self.strict, 1);
        self.decoder = Some(opened.map_err(|_| ClipError::NoDecoder {
            path: self.path.into(),
            codec: self.track.codec.name().to_owned(),
        })?);
        Ok(())
    }

    /// Whether the strict decoder takes this clip.
    pub(super) fn is_strict(&self) -> bool {
        self.strict
    }

    /// Whether the frame is there.
    pub(super) fn is_done(&self) -> bool {
        self.found.is_some()
    }

    /// Takes the next packet; `None`: there are no more.
    pub(super) fn feed(&mut self, packet: Option<&Packet>) -> Result<(), ClipError> {
        if self.found.is_some() {
            return Ok(());
        }
        let fed = self.decode(packet)?;
        if self.strict {
            self.given.extend(packet.cloned());
            if matches!(fed, Fed::Refused) && self.found.is_none() {
                self.begin_leniently()?;
            }
        }
        if self.found.is_some() {
            self.decoder = None;
            self.given = Vec::new();
        }
        Ok(())
    }

    /// Some films are odd from their first packet on, yet fine.
    fn begin_leniently(&mut self) -> Result<(), ClipError> {
        self.strict = false;
        self.open()?;
        for packet in std::mem::take(&mut self.given) {
            self.decode(Some(&packet))?;
        }
        Ok(())
    }

    fn decode(&mut self, packet: Option<&Packet>) -> Result<Fed, ClipError> {
        let Some(open) = &mut self.decoder else {
            return Ok(Fed::Taken);
        };
        let (found, unstamped) = (&mut self.found, &mut self.unstamped);
        let still = &mut self.still;
        let take = |frame: frame::Video| -> Result<frame::Video, FfError> {
            match first_frame(&frame) {
                Some(first) if found.is_none() => {
                    *found = Some(first);
                    let mut reader = LumaReader::default();
                    let luma = reader.read(&frame, StoredTime(0.0));
                    *still = luma.ok().map(|l| Still::of(&l));
                }
                Some(_) => {}
                None => *unstamped += 1,
            }
            Ok(frame)
        };
        let fed = decoder::feed(open, packet, take, frame::Video::empty());
        if let Some(first) = &mut self.found {
            first.references = decoder::references(open);
        }
        fed.map(|(fed, _)| fed)
            .map_err(|e| decoder_error(self.path, e))
    }

    /// The frame and its picture, or why there is none among so many packets.
    pub(super) fn found(self, packets: usize) -> Result<(FirstFrame, Option<Still>), ClipError> {
        let path = self.path.to_path_buf();
        match self.found {
            Some(first) => Ok((first, self.still)),
            None if self.unstamped > 0 => Err(ClipError::NoStamps { path }),
            None if self.track.size == (0, 0) => Err(ClipError::NoSize {
                path,
                side: decoder::MAX_SIDE,
            }),
            None => Err(ClipError::Undecodable { path, packets }),
        }
    }
}

fn first_frame(frame: &frame::Video) -> Option<FirstFrame> {
    Some(FirstFrame {
        stamp: frame.timestamp()?,
        size: (frame.width(), frame.height()),
        pixel: frame.format(),
        interlaced: frame.is_interlaced(),
        references: 1,
    })
}

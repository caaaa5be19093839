//! Packets at which a fresh decoder may begin.
//!
//! A container's key flag alone is not enough: H.264 files flag recovery
//! points whose followers still refer to earlier pictures.

use ffmpeg_next::codec::Id;

/// How a codec tells where decoding may begin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EntryRule {
    /// No picture refers to another.
    EveryPacket,
    /// Packets the container flags as key.
    KeyPackets,
    /// H.264: flagged as key and holding an IDR slice (ITU-T H.264, table 7-1).
    H264(Framing),
    /// HEVC: flagged as key and an IRAP picture (ITU-T H.265, table 7-1).
    Hevc(Framing),
    /// Only at the beginning.
    Never,
}

/// How NAL units are told apart inside a packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Framing {
    /// A big-endian length of so many bytes before each.
    Length(usize),
    /// Start codes (Annex B).
    StartCode,
}

/// What the head of a packet shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Head {
    /// A decoder with the right parameter sets can begin here.
    pub entry: bool,
    /// The packet carries a sequence parameter set.
    pub parameter_sets: bool,
}

impl EntryRule {
    /// The rule for a codec with this configuration record.
    pub(super) fn new(codec: Id, intra_only: bool, extradata: &[u8]) -> Self {
        match codec {
            _ if intra_only => Self::EveryPacket,
            Id::H264 => Self::H264(match extradata {
                // AVCDecoderConfigurationRecord, ISO/IEC 14496-15, 5.3.3.1.
                [1, _, _, _, sizes, ..] => Framing::Length(usize::from(sizes & 3) + 1),
                _ => Framing::StartCode,
            }),
            Id::HEVC => Self::Hevc(match extradata {
                [] | [0, 0, 0 | 1, ..] => Framing::StartCode,
                // HEVCDecoderConfigurationRecord, ISO/IEC 14496-15, 8.3.3.1.
                record => record.get(21).map_or(Framing::StartCode, |sizes| {
                    Framing::Length(usize::from(sizes & 3) + 1)
                }),
            }),
            Id::VP8 | Id::VP9 | Id::AV1 | Id::MPEG4 | Id::MPEG2VIDEO | Id::FFV1 => Self::KeyPackets,
            _ => Self::Never,
        }
    }

    /// Looks at a packet's payload.
    pub(super) fn head(self, data: &[u8], key: bool) -> Head {
        match self {
            Self::EveryPacket => Head {
                entry: true,
                ..Head::default()
            },
            Self::KeyPackets => Head {
                entry: key,
                ..Head::default()
            },
            Self::H264(framing) if key => walk(data, framing, |first| match first & 0x1f {
                5 => Nal::Entry,
                1..=4 => Nal::Picture,
                7 => Nal::ParameterSet,
                _ => Nal::Other,
            }),
            Self::Hevc(framing) if key => walk(data, framing, |first| match (first >> 1) & 0x3f {
                16..=21 => Nal::Entry,
                0..=31 => Nal::Picture,
                33 => Nal::ParameterSet,
                _ => Nal::Other,
            }),
            _ => Head::default(),
        }
    }
}

enum Nal {
    Entry,
    Picture,
    ParameterSet,
    Other,
}

/// Goes through the NAL units up to the first slice.
fn walk(data: &[u8], framing: Framing, kind: impl Fn(u8) -> Nal) -> Head {
    let mut head = Head::default();
    let mut rest = data;
    while let Some((first, next)) = next_unit(rest, framing) {
        match kind(first) {
            Nal::Entry => {
                head.entry = true;
                break;
            }
            Nal::Picture => break,
            Nal::ParameterSet => head.parameter_sets = true,
            Nal::Other => {}
        }
        rest = next;
    }
    head
}

/// First byte of the next unit and what follows it.
fn next_unit(data: &[u8], framing: Framing) -> Option<(u8, &[u8])> {
    match framing {
        Framing::Length(bytes) => {
            let (prefix, rest) = data.split_at_checked(bytes)?;
            let length = prefix.iter().fold(0, |n, b| n << 8 | usize::from(*b));
            Some((*rest.first()?, rest.get(length.max(1)..).unwrap_or(&[])))
        }
        Framing::StartCode => {
            let at = data.windows(3).position(|w| w == [0, 0, 1])? + 3;
            Some((*data.get(at)?, data.get(at + 1..)?))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AVCC: [u8; 7] = [1, 0x64, 0, 0x1f, 0xff, 0xe1, 0];

    #[test]
    fn h264_begins_at_idr_only() {
        let rule = EntryRule::new(Id::H264, false, &AVCC);
        assert_eq!(rule, EntryRule::H264(Framing::Length(4)));
        let sei_then = |slice: u8| [0, 0, 0, 2, 6, 5, 0, 0, 0, 2, slice, 0x88];
        assert!(rule.head(&sei_then(0x65), true).entry);
        assert!(!rule.head(&sei_then(0x65), false).entry);
        assert!(!rule.head(&sei_then(0x41), true).entry);
        let stream = EntryRule::new(Id::H264, false, &[]);
        let head = stream.head(&[0, 0, 0, 1, 0x67, 9, 0, 0, 1, 0x65, 1], true);
        assert!(head.entry && head.parameter_sets);
    }

    #[test]
    fn hevc_begins_at_any_irap() {
        let rule = EntryRule::new(Id::HEVC, false, &[]);
        for (kind, entry) in [(19, true), (20, true), (21, true), (16, true), (1, false)] {
            assert_eq!(rule.head(&[0, 0, 1, kind << 1, 1, 0], true).entry, entry);
        }
    }

    #[test]
    fn broken_lengths_end_the_walk() {
        let rule = EntryRule::new(Id::H264, false, &AVCC);
        for data in [
            &[][..],
            &[0, 0],
            &[255, 255, 255, 255, 6, 1],
            &[0, 0, 0, 0, 6],
        ] {
            assert!(!rule.head(data, true).entry);
        }
        assert_eq!(EntryRule::new(Id::THEORA, false, &[]), EntryRule::Never);
        assert!(EntryRule::new(Id::MJPEG, true, &[]).head(&[], false).entry);
    }
}

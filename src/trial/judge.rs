//! Verdicts: what was seen of a trial held against the hit limit.

use super::moments::Observed;
use crate::store::schema::Verdict;

/// Why a trial was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// The blur never came to stay.
    HuntedOn,
    /// The blur did not change after the shown onset.
    NeverMoved,
    /// In focus for three holds, and left.
    DidNotStay,
}

/// Why a trial cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Void {
    /// Window and hold could not be watched.
    Cut,
    /// Nothing was tested: in focus from the start.
    NotDisplaced,
    /// What was filmed does not tell.
    CannotTell,
    /// Dark or glaring.
    NoSignal,
}

/// A verdict and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    /// In focus. `early`: from the shown onset on.
    Hit {
        /// In focus at the shown onset already.
        early: bool,
    },
    /// Stopped out of focus.
    Soft,
    /// Did not settle, or did not move.
    Lost(Lost),
    /// Cannot be judged.
    Void(Void),
}

impl Judged {
    /// The verdict alone.
    pub fn verdict(self) -> Verdict {
        match self {
            Self::Hit { .. } => Verdict::Hit,
            Self::Soft => Verdict::Soft,
            Self::Lost(_) => Verdict::Lost,
            Self::Void(_) => Verdict::Void,
        }
    }

    /// The reason as files have it.
    pub fn reason(self) -> Option<&'static str> {
        Some(match self {
            Self::Hit { .. } | Self::Soft => return None,
            Self::Lost(Lost::HuntedOn) => "hunted on",
            Self::Lost(Lost::NeverMoved) => "never moved",
            Self::Lost(Lost::DidNotStay) => "did not stay",
            Self::Void(Void::Cut) => "cut",
            Self::Void(Void::NotDisplaced) => "not displaced",
            Self::Void(Void::CannotTell) => "cannot tell",
            Self::Void(Void::NoSignal) => "no signal",
        })
    }
}

/// Judges one trial. `hit` is the largest end blur of a hit, ‰; `displaced`:
/// whether the lens was seen to leave focus by more than that in the clip.
pub fn judge(o: &Observed, hit: f64, displaced: bool) -> Judged {
    if o.cut {
        return Judged::Void(Void::Cut);
    }
    if o.no_signal {
        return Judged::Void(Void::NoSignal);
    }
    let Some(end) = o.end.filter(|_| !o.unclear) else {
        return Judged::Void(Void::CannotTell);
    };
    if o.within_from_onset {
        let swing = o.stimulus.side.is_some();
        return if swing && displaced && o.ready == Some(true) {
            Judged::Hit { early: true }
        } else {
            Judged::Void(Void::NotDisplaced)
        };
    }
    match o.settle_s {
        _ if !o.moved && end > hit => Judged::Lost(Lost::NeverMoved),
        Some(_) if end <= hit => Judged::Hit { early: false },
        Some(_) => Judged::Soft,
        None if o.left_focus => Judged::Lost(Lost::DidNotStay),
        None => Judged::Lost(Lost::HuntedOn),
    }
}

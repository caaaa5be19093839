//! How wide the band around a level is: a share of the level, or what a
//! stated blur does to this very subject.

use crate::sharpness::BlurScale;

/// Least blur that a film tells from none, film pixels. Below it, sharpness
/// changes by a few per cent, as much as compressed film still gains for a
/// quarter of a second after the picture came to rest: on rendered films a
/// limit of 0.8 px settles up to 250 ms late, one of 1.2 px does not.
pub const LEAST_PX: f64 = 1.2;

/// A subject whose sharpness has been told in terms of blur.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// What blur does to it.
    pub scale: BlurScale,
    /// Sharpness of the picture the scale was made from.
    pub best: f64,
    /// Share of that from which a level counts as in focus.
    pub hit_ratio: f64,
    /// Film pixels per ‰ of the screen's height.
    pub px_per_permille: f64,
}

impl Subject {
    /// Blur at a sharpness, ‰ of the screen's height, were `best` sharp.
    #[must_use]
    pub fn permille(&self, value: f64, best: f64) -> f64 {
        self.scale.diameter(value / best.max(f64::MIN_POSITIVE)) / self.px_per_permille
    }

    /// Half width of the band around `level` that a blur of `px` more or less
    /// makes. A level in focus is taken as sharp itself: the subject may have
    /// come to rest a little beside where the scale was made.
    #[must_use]
    pub fn half_width(&self, level: f64, px: f64) -> f64 {
        let more = px.max(LEAST_PX);
        if level >= self.hit_ratio * self.best {
            return level * (1.0 - self.scale.share(more));
        }
        let at = self.scale.diameter(level / self.best);
        level - self.best * self.scale.share(at + more)
    }
}

/// How wide the band around a level is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Width<'a> {
    /// A share of the level.
    Share(f64),
    /// What a blur of this diameter does, film pixels; less than the film can
    /// tell is taken as that.
    Blur(&'a Subject, f64),
}

impl Width<'_> {
    /// Half width at a level.
    #[must_use]
    pub fn half(&self, level: f64) -> f64 {
        match self {
            Self::Share(share) => share * level,
            Self::Blur(subject, px) => subject.half_width(level, *px),
        }
    }
}

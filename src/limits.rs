//! The limits that decide a moment, a verdict or an uncertainty, in one table:
//! name, unit, value, where the value is from, and what switches it off.
//!
//! `cargo bench --bench limits --features try-limits` halves, doubles and removes
//! each and says what changes. A program built without that feature has the values
//! below and no other.

/// What a limit is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Thousandths of the screen's height.
    Permille,
    /// A share of a whole, 0..=1.
    Share,
    /// Things or times.
    Count,
    /// Seconds.
    Second,
    /// Luma, 0..=1.
    Luma,
    /// Standard deviations.
    Sigma,
    /// Means of the quantity itself.
    Mean,
}

/// Where a value is from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// How what is measured is defined (`src/trial/README.md`), or a standard.
    Defined,
    /// It follows from another quantity, as its text says.
    Derived,
    /// The best on films with a known answer: on these.
    Fitted(&'static str),
    /// Common practice or judgement; no source.
    Chosen,
}

/// Films by another generator (`tests/bench/README.md`).
const FOREIGN: &str = "seventeen foreign films";

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Its name.
    pub name: &'static str,
    /// What it is counted in.
    pub unit: Unit,
    /// Its value.
    pub value: f64,
    /// Where that is from.
    pub origin: Origin,
    /// The value at which it decides nothing; `None` where there is no such.
    pub off: Option<f64>,
}

const fn limit(
    name: &'static str,
    unit: Unit,
    value: f64,
    origin: Origin,
    off: Option<f64>,
) -> Limit {
    Limit {
        name,
        unit,
        value,
        origin,
        off,
    }
}

impl Limit {
    /// Its value.
    #[must_use]
    pub fn get(&self) -> f64 {
        #[cfg(feature = "try-limits")]
        if let Some(v) = tried(self.name) {
            return v;
        }
        self.value
    }

    /// Its value as a count.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn count(&self) -> usize {
        self.get().round() as usize
    }
}

/// The value that `FOCUSLAG_TRY_LIMIT` (`NAME=VALUE`) sets instead.
#[cfg(feature = "try-limits")]
fn tried(name: &str) -> Option<f64> {
    static TRIED: std::sync::LazyLock<Option<(String, f64)>> = std::sync::LazyLock::new(|| {
        let text = std::env::var("FOCUSLAG_TRY_LIMIT").ok()?;
        let (name, value) = text.split_once('=')?;
        Some((name.to_owned(), value.parse().ok()?))
    });
    let (known, value) = TRIED.as_ref()?;
    (known == name).then_some(*value)
}

/// Diameter that the most blurred updates must have for floors to be read.
pub const FAR_OUT: Limit = limit("far-out", Unit::Permille, 5.0, Origin::Chosen, Some(0.0));
/// A band whose sharp energy is floor to this share does not count: a floor is known no better
/// than to itself.
pub const FLOOR: Limit = limit(
    "floor",
    Unit::Share,
    0.05,
    Origin::Fitted(FOREIGN),
    Some(1e9),
);
/// Share of a band's energy that the most blurred updates must have lost for its floor to be
/// told.
pub const LOST: Limit = limit("lost", Unit::Share, 0.3, Origin::Chosen, Some(0.0));
/// Of so many updates one, the most blurred, tells the floors.
pub const BLURRED: Limit = limit("blurred", Unit::Count, 20.0, Origin::Chosen, None);
/// A stretch that ends farther from the reference than this shows no rest near focus: twice the
/// usual hit limit.
pub const NEAR_FOCUS: Limit = limit(
    "near-focus",
    Unit::Permille,
    8.0,
    Origin::Derived,
    Some(1e9),
);
/// Updates rest while they stay this near to the middle of their rest: the usual hit limit.
pub const AT_REST: Limit = limit("at-rest", Unit::Permille, 4.0, Origin::Derived, Some(1e9));
/// Fewest updates of a rest: those of a hold.
pub const FEWEST_AT_REST: Limit = limit("fewest-at-rest", Unit::Count, 5.0, Origin::Defined, None);
/// Updates that a hold has at least.
pub const FEWEST_UPDATES: Limit = limit("fewest-updates", Unit::Count, 5.0, Origin::Defined, None);
/// Mean luma below which there is nothing to see.
pub const DARK: Limit = limit("dark", Unit::Luma, 0.02, Origin::Chosen, Some(0.0));
/// Share of white pixels above which glare hides the picture.
pub const GLARE: Limit = limit("glare", Unit::Share, 0.5, Origin::Chosen, Some(1e9));
/// Holds that an earlier stay lasts, and a focus that was left.
pub const HOLDS: Limit = limit("holds", Unit::Count, 3.0, Origin::Defined, None);
/// Most strays of a stay: one update in so many.
pub const STRAYS: Limit = limit("strays", Unit::Count, 20.0, Origin::Defined, Some(1e9));
/// The rest, in order of how much they scatter, that stands for the film. The one that scatters
/// most may be a lens that hunts a little: as many as a quarter of them may, and are still told
/// from the film.
pub const OF_RESTS: Limit = limit(
    "of-rests",
    Unit::Share,
    0.75,
    Origin::Fitted(FOREIGN),
    Some(1.0),
);
/// Fewest rests that tell how one differs from the next.
pub const FEWEST_RESTS: Limit = limit("fewest-rests", Unit::Count, 3.0, Origin::Chosen, None);
/// Share of updates that may be called blurred though they are not, and the other way round.
pub const FALSE_ALARMS: Limit = limit("false-alarms", Unit::Share, 0.05, Origin::Defined, None);
/// Relative standard uncertainty of a blur's square by the disc's law itself: how far measured
/// and true diameters differ from film to film.
pub const LAW_U: Limit = limit(
    "law-u",
    Unit::Share,
    0.1,
    Origin::Fitted(FOREIGN),
    Some(0.0),
);
/// Standard deviations from the 5 % to the 95 % point of a normal distribution, which is how a
/// film's limit is defined.
pub const SIGMAS_OF_LIMIT: Limit =
    limit("sigmas-of-limit", Unit::Sigma, 3.29, Origin::Derived, None);
/// Longest hole in the frames that a trial survives: beyond, the moments in it cannot be told.
pub const LONGEST_HOLE_S: Limit = limit(
    "longest-hole-s",
    Unit::Second,
    0.1,
    Origin::Chosen,
    Some(1e9),
);
/// How long a state must last to be one: the target at rest, or over the area, or away from it.
/// As long as a hold is by default, whatever the rig's own: which swings there are does not
/// depend on how trials are judged.
pub const STAYS_S: Limit = limit("stays-s", Unit::Second, 0.2, Origin::Derived, None);
/// What it costs to take two swings in a row for the same side, in mean evidence of a swing: a
/// swing between them was not found, or one of them is none. Fewer than two swings cannot pay
/// for it.
pub const OUT_OF_TURN: Limit = limit("out-of-turn", Unit::Mean, 3.0, Origin::Chosen, Some(1e9));
/// Share of the peak speed below which the target is at rest.
pub const SWING_AT_REST: Limit = limit("swing-at-rest", Unit::Share, 0.05, Origin::Defined, None);
/// Share of the clip's peak speed that makes an episode of motion.
pub const SWING_CORE: Limit = limit("swing-core", Unit::Share, 0.25, Origin::Chosen, None);
/// Shifts explained worse than this are blur or light, not motion.
pub const SWING_LEAST_EXPLAINED: Limit = limit(
    "swing-least-explained",
    Unit::Share,
    0.04,
    Origin::Chosen,
    Some(0.0),
);
/// Least share of the changed cells seen when the most of them change.
pub const SWING_LEAST_SHARE: Limit = limit(
    "swing-least-share",
    Unit::Share,
    0.08,
    Origin::Chosen,
    Some(0.0),
);
/// Shifts beyond a cell change the picture this much, of the strongest change.
pub const SWING_PLAIN: Limit = limit("swing-plain", Unit::Share, 0.1, Origin::Chosen, Some(0.0));
/// Shifts beyond a cell must explain what changed this well.
pub const SWING_WELL_EXPLAINED: Limit = limit(
    "swing-well-explained",
    Unit::Share,
    0.35,
    Origin::Chosen,
    Some(0.0),
);
/// A target this fast (of its peak) right before it is at rest stopped dead.
pub const SUDDEN: Limit = limit("sudden", Unit::Share, 0.25, Origin::Chosen, Some(1e9));
/// Shifts explained worse than this are not the target's.
pub const FAR_LEAST_EXPLAINED: Limit = limit(
    "far-least-explained",
    Unit::Share,
    0.2,
    Origin::Chosen,
    Some(0.0),
);
/// What a swing's own reading on the screen may differ from when the target passes the place
/// that was learnt: a screen update, or this where updates are quicker. Beyond, it went another
/// way, or was lost sight of.
pub const FAR_MOST_APART_S: Limit = limit(
    "far-most-apart-s",
    Unit::Second,
    1.0 / 60.0,
    Origin::Chosen,
    Some(1e9),
);
/// The area counts as clear at this share of it still covered.
pub const CLEAR: Limit = limit("clear", Unit::Share, 0.1, Origin::Defined, None);
/// Fewest cells, of those in the area, in which the target shows.
pub const CLEAR_LEAST_SHOWN: Limit = limit(
    "clear-least-shown",
    Unit::Share,
    0.3,
    Origin::Chosen,
    Some(0.0),
);
/// What still changes after nothing did for a while is not the target if it is this much of the
/// area at most: a box that is drawn, a lens that focuses.
pub const CLEAR_OTHER: Limit = limit("clear-other", Unit::Share, 0.35, Origin::Chosen, Some(0.0));
/// Cells that change in that while all the same, of the area.
pub const CLEAR_QUIET: Limit = limit("clear-quiet", Unit::Share, 0.02, Origin::Chosen, None);
/// Between this and its complement the target is passing: a state that was reached is left
/// there.
pub const PASSING: Limit = limit("passing", Unit::Share, 0.5, Origin::Chosen, None);
/// Smallest step between off and on, in standard deviations of noise.
pub const LIGHT_LEAST_SNR: Limit = limit(
    "light-least-snr",
    Unit::Sigma,
    8.0,
    Origin::Chosen,
    Some(0.0),
);
/// Light that went out for less than this went on flickering: it was not pressed anew.
pub const LIGHT_FLICKER_S: Limit = limit(
    "light-flicker-s",
    Unit::Second,
    0.1,
    Origin::Chosen,
    Some(0.0),
);
/// Standard uncertainties by which a difference must exceed nought to be sure: k = 2 of the GUM
/// (JCGM 100:2008, 6.2.2), some 95 %.
pub const SURE: Limit = limit("sure", Unit::Sigma, 2.0, Origin::Defined, Some(0.0));
/// A film whose limit is above so many hit limits cannot tell a hit.
pub const TOO_COARSE: Limit = limit("too-coarse", Unit::Count, 2.0, Origin::Defined, Some(1e9));
/// Least clarity with which trials are put to a side.
pub const LEAST_CLARITY: Limit =
    limit("least-clarity", Unit::Share, 0.5, Origin::Chosen, Some(0.0));

/// All of them.
pub const ALL: [&Limit; 39] = [
    &FAR_OUT,
    &FLOOR,
    &LOST,
    &BLURRED,
    &NEAR_FOCUS,
    &AT_REST,
    &FEWEST_AT_REST,
    &FEWEST_UPDATES,
    &DARK,
    &GLARE,
    &HOLDS,
    &STRAYS,
    &OF_RESTS,
    &FEWEST_RESTS,
    &FALSE_ALARMS,
    &LAW_U,
    &SIGMAS_OF_LIMIT,
    &LONGEST_HOLE_S,
    &STAYS_S,
    &OUT_OF_TURN,
    &SWING_AT_REST,
    &SWING_CORE,
    &SWING_LEAST_EXPLAINED,
    &SWING_LEAST_SHARE,
    &SWING_PLAIN,
    &SWING_WELL_EXPLAINED,
    &SUDDEN,
    &FAR_LEAST_EXPLAINED,
    &FAR_MOST_APART_S,
    &CLEAR,
    &CLEAR_LEAST_SHOWN,
    &CLEAR_OTHER,
    &CLEAR_QUIET,
    &PASSING,
    &LIGHT_LEAST_SNR,
    &LIGHT_FLICKER_S,
    &SURE,
    &TOO_COARSE,
    &LEAST_CLARITY,
];

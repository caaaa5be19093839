//! The texture: overlapping black and white discs.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::cover::Cover;
use super::{Area, CardSpec, Side, Tone};

/// A disc, mm from the page's top left corner, in steps of 0.01 mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disc {
    /// Centre, from the left.
    pub x: f64,
    /// Centre, from the top.
    pub y: f64,
    /// Radius.
    pub radius: f64,
    /// Its tone.
    pub tone: Tone,
}

/// The texture.
#[derive(Clone, Debug, PartialEq)]
pub struct Leaves {
    /// Where it shows; discs reach beyond and are cut off there.
    pub area: Area,
    /// The discs that show, from the lowest to the topmost: as they are
    /// painted. Together they cover the area.
    pub discs: Vec<Disc>,
    /// Share of the area that is black.
    pub black_share: f64,
}

/// Smallest cell of the cover: the finest detail holds so many.
const CELLS: f64 = 9.0;
/// Radius of the largest disc ÷ width of the texture: the texture holds a few
/// of them, so that it is never one shape.
const LARGEST: f64 = 0.125;
/// How near the black share must be to a half.
const EVEN: f64 = 0.003;
/// Times the tones are drawn anew at most until they are.
const DRAWS: usize = 1000;

impl Leaves {
    /// Lays discs over `area` until nothing of it is bare.
    pub(super) fn grown(area: Area, spec: &CardSpec) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(spec.seed);
        rng.set_stream(match spec.side {
            Side::Near => 1,
            Side::Far => 2,
        });
        let (least, most) = (spec.finest_mm / 2.0, LARGEST * area.width);
        let mut cover = Cover::new(area, spec.finest_mm / CELLS);
        let mut discs = Vec::new();
        let mut seen = Vec::new();
        while cover.bare > 0 {
            // Inverse of the cumulative of r⁻³ between least and most.
            let (low, high) = (1.0 / (least * least), 1.0 / (most * most));
            let radius = round(1.0 / (low + rng.random::<f64>() * (high - low)).sqrt());
            let mut place = |length: f64| {
                let span = 2.0f64.mul_add(most, length);
                round(span.mul_add(rng.random::<f64>(), -most))
            };
            let (x, y) = (place(area.width), place(area.height));
            let fresh = cover.lay(x, y, radius);
            if fresh > 0 {
                seen.push(fresh as f64 / cover.cells() as f64);
                discs.push(Disc {
                    x: area.x + x,
                    y: area.y + y,
                    radius,
                    tone: Tone::Black,
                });
            }
        }
        let black_share = toned(&mut discs, &seen, &mut rng);
        discs.reverse();
        Self {
            area,
            discs,
            black_share,
        }
    }
}

/// Draws every disc black or white, until half of what is seen is black; near
/// and far are then equally bright. Says the black share.
fn toned(discs: &mut [Disc], seen: &[f64], rng: &mut ChaCha8Rng) -> f64 {
    let mut share = 0.0;
    for _ in 0..DRAWS {
        share = 0.0;
        for (disc, part) in discs.iter_mut().zip(seen) {
            let black = rng.random::<bool>();
            disc.tone = if black { Tone::Black } else { Tone::White };
            share += if black { *part } else { 0.0 };
        }
        if (share - 0.5).abs() <= EVEN {
            break;
        }
    }
    share
}

/// To 0.01 mm.
fn round(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0
}

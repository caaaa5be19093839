//! What a printed texture is worth to the measures, once a screen samples it.
//!
//! In: a texture as a function of millimetres, and the screen's pixels a
//! millimetre. It is integrated over square pixels (8 × 8 points each), as an
//! ideal sensor does. Out: [`Figures`]. The texture covers the whole picture;
//! everything is told in cycles or pixels of the screen.

#![allow(dead_code, clippy::unwrap_used)]

use focuslag::card::{Leaves, Tone};
use focuslag::clip::{Depth, LumaFrame};
use focuslag::geometry::Quad;
use focuslag::rig::MeasureSpec;
use focuslag::screen::Region;
use focuslag::sharpness::Meter;
use focuslag::units::StoredTime;
use rustfft::num_complex::Complex64;
use rustfft::{FftDirection, FftPlanner};

/// Film pixels of the screen's height.
pub const SCREEN_PX: f64 = 1000.0;
/// Points a pixel, each way.
const POINTS: usize = 8;
/// Luma of ink and of paper, as an exposure without clipping shows them.
const LUMA: (f64, f64) = (0.1, 0.8);

/// A texture, sampled: luma, row by row, `size` pixels square.
pub struct Sampled {
    pub size: usize,
    pub luma: Vec<f64>,
}

/// The middle of a card's texture, as a screen shows it on which the texture
/// fills `fill` of the height.
pub fn card(leaves: &Leaves, fill: f64) -> Sampled {
    let area = leaves.area;
    let scale = fill * SCREEN_PX / area.height;
    let size = (area.width.min(area.height) * scale).floor() as usize;
    let fine = size * POINTS;
    let mut black = vec![false; fine * fine];
    let points = scale * POINTS as f64;
    for disc in &leaves.discs {
        let (x, y, r) = (
            (disc.x - area.x) * points,
            (disc.y - area.y) * points,
            disc.radius * points,
        );
        let rows = clamp(y - r - 0.5, fine)..clamp(y + r + 0.5, fine);
        for row in rows {
            let off = row as f64 + 0.5 - y;
            let half = (r * r - off * off).max(0.0).sqrt();
            let columns = clamp(x - half - 0.5, fine)..clamp(x + half - 0.5, fine);
            black[row * fine..][columns].fill(disc.tone == Tone::Black);
        }
    }
    averaged(size, |x, y| black[y * fine + x])
}

/// A rival, black where `black(x mm, y mm)`, at the same scale and size.
pub fn rival(leaves: &Leaves, fill: f64, black: impl Fn(f64, f64) -> bool) -> Sampled {
    let area = leaves.area;
    let scale = fill * SCREEN_PX / area.height;
    let size = (area.width.min(area.height) * scale).floor() as usize;
    let mm = 1.0 / (scale * POINTS as f64);
    averaged(size, |x, y| {
        black((x as f64 + 0.5) * mm, (y as f64 + 0.5) * mm)
    })
}

fn clamp(v: f64, most: usize) -> usize {
    (v.ceil().max(0.0) as usize).min(most)
}

fn averaged(size: usize, black: impl Fn(usize, usize) -> bool) -> Sampled {
    let mut luma = Vec::with_capacity(size * size);
    for y in 0..size {
        for x in 0..size {
            let mut ink = 0;
            for dy in 0..POINTS {
                for dx in 0..POINTS {
                    ink += u32::from(black(x * POINTS + dx, y * POINTS + dy));
                }
            }
            let share = f64::from(ink) / (POINTS * POINTS) as f64;
            luma.push(LUMA.1 + (LUMA.0 - LUMA.1) * share);
        }
    }
    Sampled { size, luma }
}

/// Octaves whose energy is looked at, cycles per screen height.
pub const OCTAVES: [(f64, f64); 4] = [(12.5, 25.0), (25.0, 50.0), (50.0, 100.0), (100.0, 200.0)];

/// What the power spectrum says.
#[derive(Clone, Debug)]
pub struct SpectrumFigures {
    /// Exponent of the power density from 12.5 to 200 cycles per screen height.
    pub slope: f64,
    /// Share of each octave's energy.
    pub octaves: [f64; 4],
    /// Largest ÷ smallest energy of 8 sectors of direction.
    pub sectors: f64,
    /// Largest value of the autocorrelation beyond 1/25 screen height; 1 at no
    /// shift.
    pub side_peak: f64,
}

/// Two-dimensional transform in place, not scaled.
fn fft2(data: &mut [Complex64], n: usize, direction: FftDirection) {
    let fft = FftPlanner::new().plan_fft(n, direction);
    for _ in 0..2 {
        fft.process(data);
        for y in 0..n {
            for x in 0..y {
                data.swap(y * n + x, x * n + y);
            }
        }
    }
}

/// Signed frequency of a bin, cycles per pixel.
fn frequency(k: usize, n: usize) -> f64 {
    let signed = if 2 * k > n {
        k as f64 - n as f64
    } else {
        k as f64
    };
    signed / n as f64
}

/// Spectrum, directions and repeats of 12.5 to 200 cycles per screen height.
pub fn spectrum(picture: &Sampled) -> SpectrumFigures {
    let n = picture.size;
    let mean = picture.luma.iter().sum::<f64>() / (n * n) as f64;
    let hann = |k: usize| {
        let phase = std::f64::consts::TAU * (k as f64 + 0.5) / n as f64;
        0.5 - 0.5 * phase.cos()
    };
    let mut data: Vec<Complex64> = (0..n * n)
        .map(|i| Complex64::from((picture.luma[i] - mean) * hann(i % n) * hann(i / n)))
        .collect();
    fft2(&mut data, n, FftDirection::Forward);
    let (mut octaves, mut sectors) = ([0.0; 4], [0.0; 8]);
    // Third octaves for the slope: energy, number of bins.
    let mut thirds = [(0.0, 0u32); 12];
    for (i, value) in data.iter_mut().enumerate() {
        let (fx, fy) = (frequency(i % n, n), frequency(i / n, n));
        let f = fx.hypot(fy) * SCREEN_PX;
        let power = value.norm_sqr();
        let octave = ((f / 12.5).log2() * 3.0).floor();
        if f == 0.0 || !(0.0..12.0).contains(&octave) {
            *value = Complex64::default();
            continue;
        }
        let third = octave as usize;
        thirds[third].0 += power;
        thirds[third].1 += 1;
        octaves[third / 3] += power;
        // Sectors centred on 0°, 22.5° …: a pattern's own axes fall inside.
        let turn = fy.atan2(fx) / std::f64::consts::PI + 1.0 / 16.0;
        let sector = (turn.rem_euclid(1.0) * 8.0) as usize;
        sectors[sector.min(7)] += power;
        *value = Complex64::from(power);
    }
    let total: f64 = octaves.iter().sum();
    let (least, most) = sectors
        .iter()
        .fold((f64::MAX, 0.0f64), |(a, b), v| (a.min(*v), b.max(*v)));
    SpectrumFigures {
        slope: slope(&thirds),
        octaves: octaves.map(|e| e / total),
        sectors: most / least,
        side_peak: side_peak(&mut data, n),
    }
}

/// Straight line through log density over log frequency.
fn slope(thirds: &[(f64, u32)]) -> f64 {
    let points: Vec<(f64, f64)> = thirds
        .iter()
        .enumerate()
        .filter(|(_, (e, n))| *e > 0.0 && *n > 0)
        .map(|(k, (e, n))| (k as f64 / 3.0, (e / f64::from(*n)).log2()))
        .collect();
    let n = points.len() as f64;
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(&|p| p.0), mean(&|p| p.1));
    mean(&|p| (p.0 - mx) * (p.1 - my)) / mean(&|p| (p.0 - mx).powi(2))
}

/// From a power spectrum. The window's own autocorrelation is divided out;
/// shifts are looked at up to a third of the picture, where enough is left.
fn side_peak(power: &mut [Complex64], n: usize) -> f64 {
    fft2(power, n, FftDirection::Inverse);
    let peak = power[0].re;
    let window: Vec<f64> = (0..n).map(|s| hann_overlap(s, n)).collect();
    let (near, far) = (SCREEN_PX / 25.0, n as f64 / 3.0);
    let mut most: f64 = 0.0;
    for (i, value) in power.iter().enumerate() {
        let (x, y) = ((i % n).min(n - i % n), (i / n).min(n - i / n));
        let shift = (x as f64).hypot(y as f64);
        if shift > near && shift < far {
            most = most.max(value.re / peak / (window[x] * window[y]));
        }
    }
    most
}

/// Autocorrelation of a Hann window of `n` at a shift, wrapped, 1 at none.
fn hann_overlap(shift: usize, n: usize) -> f64 {
    let phase = std::f64::consts::TAU * shift as f64 / n as f64;
    (1.0 + 0.5 * phase.cos()) / 1.5
}

/// A sharpness curve over the diameter of the blur.
#[derive(Clone, Debug)]
pub struct Curve {
    /// Largest rise of sharpness with more blur: at any diameter, sharpness ÷
    /// least sharpness at a smaller diameter, less 1, in share of the sharp
    /// picture's.
    pub rise: f64,
    /// Diameter, pixels, at which 5 % of sharpness is lost.
    pub lost_5: f64,
    /// Diameter, pixels, at which 10 % is left.
    pub left_10: f64,
    /// Energy of the sharp picture ÷ mean squared: how strong the signal is.
    pub energy: f64,
}

/// Diameters of the blur, pixels.
fn diameters() -> impl Iterator<Item = f64> {
    (0..=16)
        .map(|k| f64::from(k) * 0.25)
        .chain((9..=80).map(|k| f64::from(k) * 0.5))
}

/// The project's measure on the picture, blurred by discs up to 40 pixels.
pub fn curve(picture: &Sampled, measure: &MeasureSpec) -> Curve {
    let n = picture.size;
    let mut sharp: Vec<Complex64> = picture.luma.iter().map(|v| Complex64::from(*v)).collect();
    fft2(&mut sharp, n, FftDirection::Forward);
    let scale = 1.0 / (n * n) as f64;
    // The picture's sides do not fit together: keep off them.
    let edge = 44.0f64.min(n as f64 / 6.0);
    let (low, high) = (edge, n as f64 - edge);
    let points: Vec<(f64, f64)> = diameters()
        .map(|d| {
            let mut blurred = sharp.clone();
            for (i, value) in blurred.iter_mut().enumerate() {
                let f = frequency(i % n, n).hypot(frequency(i / n, n));
                *value *= disc(d * f) * scale;
            }
            fft2(&mut blurred, n, FftDirection::Inverse);
            let samples: Vec<u16> = blurred
                .iter()
                .map(|v| (v.re.clamp(0.0, 1.0) * 65535.0).round() as u16)
                .collect();
            let frame = LumaFrame {
                time: StoredTime(0.0),
                size: (n, n),
                samples: Depth::Sixteen(&samples),
                stride: n,
                levels: (0.0, 65535.0),
                key: false,
                chroma: None,
            };
            let region = Region::of_quad(&Quad::rect(low, low, high, high), &[], (n, n));
            let mut meter = Meter::new(measure, region, SCREEN_PX).unwrap();
            let reading = meter.read(&frame).0;
            (d, reading.energy / (reading.mean * reading.mean))
        })
        .collect();
    figures(&points)
}

fn figures(points: &[(f64, f64)]) -> Curve {
    let first = points[0].1;
    let (mut least, mut rise) = (f64::MAX, 0.0f64);
    for (_, energy) in points {
        least = least.min(*energy);
        rise = rise.max((energy - least) / first);
    }
    let falls_to = |share: f64| {
        let at = points.iter().position(|(_, e)| *e < share * first);
        at.map_or(f64::INFINITY, |k| {
            let ((d0, e0), (d1, e1)) = (points[k - 1], points[k]);
            d0 + (d1 - d0) * (e0 - share * first) / (e0 - e1)
        })
    };
    Curve {
        rise,
        lost_5: falls_to(0.95),
        left_10: falls_to(0.10),
        energy: first,
    }
}

/// Transfer function of a uniform disc (2 J₁(πdf) ÷ πdf; Hopkins 1955, from
/// memory).
fn disc(df: f64) -> f64 {
    let x = std::f64::consts::PI * df;
    if x < 1e-6 { 1.0 } else { 2.0 * libm::j1(x) / x }
}

/// A square of noise by place: the same bit for the same cell.
fn chance(x: f64, y: f64, cell: f64) -> bool {
    let mut h = ((x / cell).floor() as u64) << 32 | (y / cell).floor() as u64;
    // The finaliser of SplitMix64 (Steele, Lea and Flood 2014, from memory).
    h = (h ^ (h >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    h = (h ^ (h >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (h ^ (h >> 31)) & 1 == 1
}

/// Other textures people use, black where true; mm.
pub type Rival = (&'static str, fn(f64, f64) -> bool);

/// What the card is held against. Fields are 5 mm: six pixels and a half of a
/// screen that shows a third of its height of card, 22 of one it fills.
pub const RIVALS: [Rival; 4] = [
    ("checkerboard, 5 mm", |x, y| {
        ((x / 5.0).floor() as i64 + (y / 5.0).floor() as i64) % 2 == 0
    }),
    ("stripes, 5 mm", |x, _| (x / 5.0).floor() as i64 % 2 == 0),
    ("star, 36 rays", |x, y| {
        let turn = (y - 80.0).atan2(x - 80.0) / std::f64::consts::TAU;
        (turn.rem_euclid(1.0) * 72.0).floor() as i64 % 2 == 0
    }),
    ("white noise, 0.8 mm", |x, y| chance(x, y, 0.8)),
];

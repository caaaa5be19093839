//! How the blur of real optics grows with the lens's position: for every
//! photograph the diameter of the uniform disc that, laid over the sharpest
//! one, leaves the same squared gradient. A thin lens draws a disc whose
//! diameter is linear in the position (Ray, *Applied Photographic Optics*;
//! from memory), the same on both sides of focus.

use std::collections::BTreeMap;
use std::fmt;
use std::path::{Path, PathBuf};

/// A picture of linear luminance.
struct Picture {
    width: usize,
    height: usize,
    values: Vec<f64>,
}

/// What the photographs say of their lens.
pub struct Optics {
    /// Position → photograph, those that are light enough.
    pub files: BTreeMap<i64, PathBuf>,
    /// Photographs too dark to show anything.
    dark: usize,
    /// Rows of a photograph.
    rows: f64,
    /// Position of the largest squared gradient, a parabola through three.
    pub focus: f64,
    /// Position → disc, px of the photograph.
    discs: BTreeMap<i64, f64>,
    /// Diameter per unit below and above focus, px.
    slopes: [f64; 2],
    /// Largest distance of a disc from its line, px.
    off: f64,
}

/// Mean display value, 0..=255, below which a photograph is left out: those of
/// a lens that touches its subject. The others of a stack lie above 80.
const DARK: f64 = 60.0;
/// Diameters tried, px.
const STEP_PX: f64 = 0.5;
const LARGEST_PX: f64 = 14.0;
/// Discs that count for the lines, px: below, the gradient hardly changes.
const FROM_PX: f64 = 2.0;
const TO_PX: f64 = 10.0;

impl Optics {
    /// Of the photographs of a folder, the position after `marker` in each name.
    pub fn of(folder: &Path, marker: &str) -> Self {
        let files = listed(folder, marker);
        let pictures: BTreeMap<i64, Picture> = files
            .iter()
            .filter_map(|(z, path)| Some((*z, Picture::read(path)?)))
            .collect();
        let sharpness: BTreeMap<i64, f64> =
            pictures.iter().map(|(z, p)| (*z, p.gradient())).collect();
        let best = sharpness.iter().max_by(|a, b| a.1.total_cmp(b.1));
        let best = *best.expect("photographs").0;
        let focus = match (sharpness.get(&(best - 1)), sharpness.get(&(best + 1))) {
            (Some(a), Some(b)) => {
                let bend = a - 2.0 * sharpness[&best] + b;
                best as f64 + 0.5 * (a - b) / bend
            }
            _ => best as f64,
        };
        let steps = (LARGEST_PX / STEP_PX) as usize;
        let ladder: Vec<f64> = (0..=steps)
            .map(|k| pictures[&best].blurred(k as f64 * STEP_PX).gradient())
            .collect();
        let discs = sharpness
            .iter()
            .filter_map(|(z, s)| Some((*z, diameter(&ladder, *s)?)))
            .collect();
        let mut out = Self {
            dark: files.len() - pictures.len(),
            rows: pictures[&best].height as f64,
            files: files
                .into_iter()
                .filter(|f| pictures.contains_key(&f.0))
                .collect(),
            focus,
            discs,
            slopes: [0.0; 2],
            off: 0.0,
        };
        out.slopes = [-1.0, 1.0].map(|side| out.slope(side));
        out.off = out.worst();
        out
    }

    /// Blur per unit of position below and above focus, ‰ of the photograph's
    /// height.
    pub fn permille_per_unit(&self) -> [f64; 2] {
        self.slopes.map(|px| px * 1e3 / self.rows)
    }

    /// Units of position of a blur, both sides together.
    pub fn units(&self, permille: f64) -> f64 {
        let [below, above] = self.permille_per_unit();
        permille / f64::midpoint(below, above)
    }

    /// The position whose photograph is sharpest.
    pub fn best(&self) -> i64 {
        self.focus.round() as i64
    }

    /// Discs of a side that count: distance from focus, diameter.
    fn side(&self, side: f64) -> impl Iterator<Item = (f64, f64)> {
        self.discs
            .iter()
            .map(move |(z, d)| ((*z as f64 - self.focus) * side, *d))
            .filter(|(x, d)| *x > 0.0 && (FROM_PX..=TO_PX).contains(d))
    }

    /// Least squares through focus.
    fn slope(&self, side: f64) -> f64 {
        let (xy, xx) = self
            .side(side)
            .fold((0.0, 0.0), |(xy, xx), (x, d)| (xy + x * d, xx + x * x));
        xy / xx
    }

    fn worst(&self) -> f64 {
        let of = |side: f64, slope: f64| {
            self.side(side)
                .map(move |(x, d)| (d - slope * x).abs())
                .fold(0.0, f64::max)
        };
        of(-1.0, self.slopes[0]).max(of(1.0, self.slopes[1]))
    }
}

impl fmt::Display for Optics {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{} photographs, {} left out as dark; gradient largest at {:.1}; 1 ‰ is {:.1} units",
            self.files.len(),
            self.dark,
            self.focus,
            self.units(1.0)
        )?;
        for (side, slope, name) in [
            (-1.0, self.slopes[0], "below"),
            (1.0, self.slopes[1], "above"),
        ] {
            write!(f, "{name}: {slope:.3} px per unit;")?;
            for (x, d) in self.side(side).filter(|(x, _)| x.round() % 5.0 == 0.0) {
                write!(f, " {x:.0} away {d:.1} px,")?;
            }
            writeln!(f)?;
        }
        write!(
            f,
            "largest distance of a disc from its line: {:.2} px",
            self.off
        )
    }
}

/// Disc whose gradient is `sharpness`; none beyond the ladder.
fn diameter(ladder: &[f64], sharpness: f64) -> Option<f64> {
    let k = ladder.windows(2).position(|w| sharpness >= w[1])?;
    let part = (ladder[k] - sharpness) / (ladder[k] - ladder[k + 1]);
    Some((k as f64 + part.max(0.0)) * STEP_PX)
}

/// Photographs at whole positions.
fn listed(folder: &Path, marker: &str) -> BTreeMap<i64, PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let position = |path: &PathBuf| {
        let name = path.file_stem()?.to_str()?.to_owned();
        let (_, rest) = name.split_once(marker)?;
        let signed = |(i, c): &(usize, char)| c.is_ascii_digit() || (*i == 0 && "+-".contains(*c));
        let digits: String = rest
            .char_indices()
            .take_while(signed)
            .map(|c| c.1)
            .collect();
        digits.parse().ok()
    };
    let paths = entries.filter_map(|e| Some(e.ok()?.path()));
    paths.filter_map(|p| Some((position(&p)?, p))).collect()
}

impl Picture {
    /// None where it is dark.
    fn read(path: &Path) -> Option<Self> {
        let grey = image::open(path).expect("a photograph").to_luma8();
        let mean = grey.iter().map(|v| f64::from(*v)).sum::<f64>() / grey.len() as f64;
        if mean < DARK {
            return None;
        }
        let linear = |v: u8| (f64::from(v) / 255.0).powf(2.2);
        Some(Self {
            width: grey.width() as usize,
            height: grey.height() as usize,
            values: grey.into_raw().into_iter().map(linear).collect(),
        })
    }

    /// Mean squared central difference over the squared mean, in the middle.
    fn gradient(&self) -> f64 {
        let (mut squares, mut sum, mut n) = (0.0, 0.0, 0.0);
        let at = |x: usize, y: usize| self.values[y * self.width + x];
        for y in self.height / 4..self.height * 3 / 4 {
            for x in self.width / 4..self.width * 3 / 4 {
                let dx = at(x + 1, y) - at(x - 1, y);
                let dy = at(x, y + 1) - at(x, y - 1);
                squares += dx * dx + dy * dy;
                sum += at(x, y);
                n += 1.0;
            }
        }
        squares * n / (sum * sum)
    }

    /// Under a uniform disc, its edge pixels by the share covered.
    fn blurred(&self, diameter: f64) -> Self {
        let reach = (diameter / 2.0).ceil() as i64;
        let covered = |dx: i64, dy: i64| {
            let fine = (0..64).filter(|k| {
                let x = dx as f64 + (f64::from(k % 8) + 0.5) / 8.0 - 0.5;
                let y = dy as f64 + (f64::from(k / 8) + 0.5) / 8.0 - 0.5;
                x.hypot(y) <= diameter / 2.0
            });
            fine.count() as f64 / 64.0
        };
        let mut disc = Vec::new();
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                disc.push((dx, dy, covered(dx, dy)));
            }
        }
        let total: f64 = disc.iter().map(|d| d.2).sum();
        if diameter < STEP_PX / 2.0 || total == 0.0 {
            return Self {
                values: self.values.clone(),
                ..*self
            };
        }
        disc.retain(|d| d.2 > 0.0);
        let mut values = self.values.clone();
        let margin = self.width.min(self.height) / 4 - 1;
        for y in margin..self.height - margin {
            for x in margin..self.width - margin {
                let sum: f64 = disc
                    .iter()
                    .map(|&(dx, dy, w)| {
                        let at = (y as i64 + dy) as usize * self.width + (x as i64 + dx) as usize;
                        w * self.values[at]
                    })
                    .sum();
                values[y * self.width + x] = sum / total;
            }
        }
        Self { values, ..*self }
    }
}

//! `focuslag card`: a target to print.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::exit::{Exit, Stop, failed, refuse};
use super::number::number;
use super::talk::Talk;
use super::target::missing_folder;
use crate::beside::write_whole;
use crate::card::{Card, CardSpec, FINEST_MM, Paper, Side, pdf, svg};
use crate::plan::{Field, FieldQuestion, field};
use crate::rig::DEFAULT_AF_AREA;

/// A side and a sheet in, a page to print out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag card --side near -o near.pdf
  focuslag card --side far --paper letter -o far.svg
  focuslag card --side far --distance-m 2 --focal-mm 85 -o far.pdf

Print at 100 % (actual size) and check the rulers on the page. Mount it on
something soft and light; see Safety in the README before you swing anything.
The same seed gives the same bytes. A near and a far card differ in texture too.")]
pub struct CardArgs {
    /// The subject it is for: the target that swings in, or the background
    #[arg(long, value_enum)]
    side: CardSide,
    /// The file to write: .pdf or .svg
    #[arg(short, long, value_name = "FILE")]
    out: PathBuf,
    /// The sheet
    #[arg(long, value_enum, default_value = "a4")]
    paper: Sheet,
    /// Where the texture comes from; another number gives another texture
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// From the lens to this card: the finest detail is then made to suit the screen
    #[arg(long, value_name = "M", requires = "focal_mm", value_parser = number,
        help_heading = "Lens and distance", allow_negative_numbers = true)]
    distance_m: Option<f64>,
    /// Focal length, times the factor of a converter lens
    #[arg(long, value_name = "MM", requires = "distance_m", value_parser = number,
        help_heading = "Lens and distance", allow_negative_numbers = true)]
    focal_mm: Option<f64>,
    /// Height of the sensor [default: 24]
    #[arg(long, value_name = "MM", requires = "distance_m", value_parser = number,
        help_heading = "Lens and distance", allow_negative_numbers = true)]
    sensor_height_mm: Option<f64>,
    /// Height of the screen in the film, pixels [default: 720]
    #[arg(long, value_name = "PX", requires = "distance_m", value_parser = number,
        help_heading = "Lens and distance", allow_negative_numbers = true)]
    screen_px: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum CardSide {
    /// The target that swings in
    Near,
    /// The background behind it
    Far,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Sheet {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 in
    Letter,
}

/// Smallest disc where no lens is given, mm. With the texture filling a third
/// to the whole of a screen 1000 film pixels high that is 1 to 4 pixels.
const USUAL_FINEST_MM: f64 = 0.8;
/// Film pixels of the smallest disc where a lens is given: as fine as the
/// screen still shows (two samples a detail).
const FINEST_PX: f64 = 2.0;

#[derive(Serialize)]
struct Document<'a> {
    file: String,
    side: &'a str,
    paper: &'a str,
    seed: u64,
    page_mm: [f64; 2],
    texture_mm: [f64; 2],
    finest_mm: f64,
    discs: usize,
    black_share: f64,
    bytes: usize,
    mm_per_screen_pixel: Option<f64>,
    screen_height_share: Option<f64>,
    warnings: &'a [String],
}

pub fn run(args: &CardArgs, talk: Talk) -> Exit {
    talk.ended(made(args, talk))
}

/// Lays the card out and writes it.
fn made(args: &CardArgs, talk: Talk) -> Result<Exit, Stop> {
    let write = writer(&args.out)?;
    let field = args.field()?;
    let wanted = field.map_or(USUAL_FINEST_MM, |f| FINEST_PX * f.mm_per_pixel);
    let spec = args.spec(wanted.clamp(FINEST_MM.0, FINEST_MM.1));
    let card = Card::new(spec).map_err(|e| e.to_string())?;
    let bytes = write(&card);
    let file = args.out.display().to_string();
    write_whole(&args.out, &bytes)
        .map_err(|e| failed(format!("{file}: cannot be written: {e}")))?;
    let warnings = warnings(&card, field, wanted);
    for warning in &warnings {
        talk.warn(warning);
    }
    let (width, height) = args.paper().size_mm();
    let area = card.leaves.area;
    let document = Document {
        file,
        side: card.spec.side.name(),
        paper: card.spec.paper.name(),
        seed: args.seed,
        page_mm: [width, height],
        texture_mm: [area.width, area.height],
        finest_mm: card.spec.finest_mm,
        discs: card.leaves.discs.len(),
        black_share: card.leaves.black_share,
        bytes: bytes.len(),
        mm_per_screen_pixel: field.map(|f| f.mm_per_pixel),
        screen_height_share: field.map(|f| area.height / f.height_mm),
        warnings: &warnings,
    };
    Ok(talk.shown(&document, told, Exit::Done))
}

fn told(made: &Document) -> String {
    let share = made.screen_height_share.map_or(String::new(), |s| {
        format!(" It fills {} of the screen's height.", percent(s))
    });
    format!(
        "{}: {} card, {} ({} × {} mm), texture {:.0} × {:.0} mm, smallest disc {:.2} mm.{share}\n\
         Print it at 100 % (actual size), not fitted to the page, and measure the rulers on it.\n",
        made.file,
        made.side,
        made.paper,
        made.page_mm[0],
        made.page_mm[1],
        made.texture_mm[0],
        made.texture_mm[1],
        made.finest_mm,
    )
}

/// A share in whole per cent; what is not quite nothing is not called nothing.
fn percent(share: f64) -> String {
    if share < 0.005 {
        return "less than 1 %".to_owned();
    }
    format!("{:.0} %", 100.0 * share)
}

/// Half of what the smallest disc is rounded to, mm.
const ROUNDING_MM: f64 = 0.005;

fn warnings(card: &Card, field: Option<Field>, wanted: f64) -> Vec<String> {
    let mut out = Vec::new();
    let Some(field) = field else { return out };
    let area = DEFAULT_AF_AREA.bottom - DEFAULT_AF_AREA.top;
    let share = card.leaves.area.height / field.height_mm;
    if share < area {
        out.push(format!(
            "the texture fills {} of the screen's height, and the usual focus area is {}: \
             go nearer, or print several with other seeds and join them without a gap",
            percent(share),
            percent(area)
        ));
    }
    let got = card.spec.finest_mm;
    // The smallest disc is rounded; that alone is no matter.
    if got > wanted + ROUNDING_MM {
        out.push(format!(
            "two pixels of the screen are {wanted:.2} mm on this card; the smallest disc is {got} \
             mm, the finest that is printed: the texture is a little coarse there"
        ));
    } else if got < wanted - ROUNDING_MM {
        out.push(format!(
            "two pixels of the screen are {wanted:.1} mm on this card; the smallest disc is {got} \
             mm, the coarsest that suits a sheet: its finest detail does not show"
        ));
    }
    out
}

/// How the bytes are made, by the file's ending.
fn writer(out: &Path) -> Result<fn(&Card) -> Vec<u8>, Stop> {
    refuse(missing_folder(out))?;
    let name = out.display();
    if out.is_dir() {
        return Err(format!("{name}: is a folder; name a file in it, card.pdf say").into());
    }
    let ending = out.extension().map(|e| e.to_ascii_lowercase());
    match ending.as_deref().and_then(|e| e.to_str()) {
        Some("pdf") => Ok(pdf),
        Some("svg") => Ok(|card| svg(card).into_bytes()),
        _ => Err(format!(
            "{name}: the ending says how the card is written: name a .pdf or .svg file"
        )
        .into()),
    }
}

impl CardArgs {
    fn paper(&self) -> Paper {
        match self.paper {
            Sheet::A4 => Paper::A4,
            Sheet::Letter => Paper::Letter,
        }
    }

    fn spec(&self, finest_mm: f64) -> CardSpec {
        CardSpec {
            side: match self.side {
                CardSide::Near => Side::Near,
                CardSide::Far => Side::Far,
            },
            paper: self.paper(),
            seed: self.seed,
            finest_mm: (finest_mm * 100.0).round() / 100.0,
        }
    }

    fn field(&self) -> Result<Option<Field>, String> {
        let Some((distance_m, focal_mm)) = self.distance_m.zip(self.focal_mm) else {
            return Ok(None);
        };
        let asked = field(&FieldQuestion {
            focal_mm,
            distance_m,
            sensor_height_mm: self.sensor_height_mm.unwrap_or(24.0),
            screen_px: self.screen_px.unwrap_or(720.0),
        });
        asked.map(Some).map_err(|e| format!("command line: --{e}"))
    }
}

//! `focuslag plan`: before filming.

use clap::Args;

use super::exit::{Exit, Stop, refuse, refused};
use super::looks::LooksArgs;
use super::number::{number, share_complaint};
use super::talk::Talk;
use crate::plan::{
    CaptureQuestion, Floor, Latencies, LooksQuestion, OpticsQuestion, Question, Rates,
    SessionsQuestion, SwingQuestion, plan,
};
use crate::report::plan_text;

/// What is to be found out in, what it takes out.
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true, next_help_heading = "How many trials")]
#[command(after_help = "\
Examples:
  focuslag plan --hit-rate 0.9 --versus 0.75
  focuslag plan --hit-rate 0.9 --at-least 0.7
  focuslag plan --spread-ms 80 --detect-ms 40 --power 0.9
  focuslag plan --trials 30 --spread-ms 80
  focuslag plan --hit-rate 0.9 --versus 0.75 --looks 5
  focuslag plan --sessions 5 --between-ms 15 --spread-ms 80 --trials 30
  focuslag plan --fps 240 --refresh-hz 60 --mains-hz 50
  focuslag plan --focal-mm 85 --f-number 2 --near-mm 1200 --far-mm 4000
  focuslag plan --length-m 1.2 --angle-deg 25 --target-m 0.3 --area-m 0.12

Ask one of these, or several at once.")]
pub struct PlanArgs {
    /// Hit rate of one kit, a share: 0.9 for 90 %
    #[arg(long, value_name = "SHARE", value_parser = number)]
    hit_rate: Option<f64>,
    /// Hit rate of another kit that it is to be told from
    #[arg(long, value_name = "SHARE", requires = "hit_rate", value_parser = number)]
    versus: Option<f64>,
    /// Hit rate that the kit is to be shown to reach, as the gate asks
    #[arg(long, value_name = "SHARE", requires = "hit_rate", value_parser = number)]
    at_least: Option<f64>,
    /// Standard deviation of one kit's latencies: column `spread` of `focuslag time`
    #[arg(long, value_name = "MS", value_parser = number)]
    spread_ms: Option<f64>,
    /// Difference of latencies to be told
    #[arg(long, value_name = "MS", requires = "spread_ms", value_parser = number)]
    detect_ms: Option<f64>,
    /// Trials per setup that you can have: what would they show?
    #[arg(long, value_name = "N")]
    trials: Option<u64>,
    /// Two-sided confidence [default: 0.95]
    #[arg(long, value_name = "LEVEL", value_parser = number)]
    confidence: Option<f64>,
    /// Chance to see what is there [default: 0.8]
    #[arg(long, value_name = "CHANCE", value_parser = number)]
    power: Option<f64>,
    /// Sessions of one kit that one more session is to be held against
    #[arg(long, value_name = "N", requires_all = ["between_ms", "spread_ms", "trials"],
        help_heading = "Sessions")]
    sessions: Option<u64>,
    /// Standard deviation between sessions, as focuslag repeat finds it
    #[arg(long, value_name = "MS", requires = "sessions", help_heading = "Sessions",
        value_parser = number)]
    between_ms: Option<f64>,
    #[command(flatten)]
    looks: LooksArgs,
    /// Frames per second of the filming camera
    #[arg(long, value_name = "RATE", help_heading = "Filming", value_parser = number)]
    fps: Option<f64>,
    /// Refreshes per second of the screen; leave out for a feed
    #[arg(long, value_name = "HZ", requires = "fps", help_heading = "Filming",
        value_parser = number)]
    refresh_hz: Option<f64>,
    /// Mains frequency [default: both 50 and 60]
    #[arg(long, value_name = "HZ", requires = "fps", help_heading = "Filming",
        value_parser = number)]
    mains_hz: Option<f64>,
    /// The target or a trigger light is filmed directly, beside the screen
    #[arg(long, requires = "fps", help_heading = "Filming")]
    direct_view: bool,
    #[command(flatten)]
    optics: OpticsArgs,
    #[command(flatten)]
    swing: SwingArgs,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Lens and distances")]
struct OpticsArgs {
    /// Focal length of the lens alone
    #[arg(long, value_name = "MM", requires_all = ["f_number", "near_mm", "far_mm"],
        value_parser = number)]
    focal_mm: Option<f64>,
    /// f-number of the lens alone
    #[arg(long, value_name = "N", requires = "focal_mm", value_parser = number)]
    f_number: Option<f64>,
    /// Distance of the target when it is in
    #[arg(long, value_name = "MM", requires = "focal_mm", value_parser = number)]
    near_mm: Option<f64>,
    /// Distance of the background
    #[arg(long, value_name = "MM", requires = "focal_mm", value_parser = number)]
    far_mm: Option<f64>,
    /// Factor of a converter lens [default: 1, none]
    #[arg(long, value_name = "FACTOR", requires = "focal_mm", value_parser = number)]
    converter: Option<f64>,
    /// Width and height of the sensor [default: 36 24]
    #[arg(long, value_names = ["WIDTH", "HEIGHT"], num_args = 2, requires = "focal_mm",
        value_parser = number)]
    sensor_mm: Option<Vec<f64>>,
}

#[derive(Debug, Args)]
#[command(next_help_heading = "Free pendulum")]
struct SwingArgs {
    /// From pivot to target
    #[arg(long, value_name = "M", requires_all = ["angle_deg", "target_m", "area_m"],
        value_parser = number)]
    length_m: Option<f64>,
    /// Largest angle from the vertical
    #[arg(long, value_name = "DEG", requires = "length_m", value_parser = number)]
    angle_deg: Option<f64>,
    /// Width of the target
    #[arg(long, value_name = "M", requires = "length_m", value_parser = number)]
    target_m: Option<f64>,
    /// Width the focus area covers where the target passes
    #[arg(long, value_name = "M", requires = "length_m", value_parser = number)]
    area_m: Option<f64>,
    /// Where that lies: angle from the vertical [default: 0, the lowest point]
    #[arg(long, value_name = "DEG", requires = "length_m", value_parser = number)]
    area_deg: Option<f64>,
    /// Window that has to fit
    #[arg(long, value_name = "MS", requires = "length_m", value_parser = number)]
    window_ms: Option<f64>,
}

pub fn run(args: &PlanArgs, talk: Talk) -> Exit {
    talk.ended(planned(args, talk))
}

fn planned(args: &PlanArgs, talk: Talk) -> Result<Exit, Stop> {
    let question = args.question();
    let asked = Question {
        confidence: None,
        power: None,
        ..question
    };
    let shares = [
        ("hit-rate", args.hit_rate),
        ("versus", args.versus),
        ("at-least", args.at_least),
        ("confidence", args.confidence),
        ("power", args.power),
    ]
    .into_iter()
    .filter_map(|(key, share)| share_complaint(key, share));
    refuse(shares)?;
    if args.hit_rate.is_some() && args.versus.or(args.at_least).is_none() {
        let message = "command line: --hit-rate needs --versus (the rate of another kit, to be told \
                       from it) or --at-least (a rate the kit is to be shown to reach)";
        return Err(refused(message));
    }
    if question.spread_ms.is_some() && question.latencies.is_none() && question.trials.is_none() {
        let message = "command line: --spread-ms needs --detect-ms (the difference to be told) or \
                       --trials (how many you can have)";
        return Err(refused(message));
    }
    if asked == Question::default() {
        let message = "command line: nothing is asked; give --hit-rate and --versus, say, or see \
                       focuslag plan --help";
        return Err(refused(message));
    }
    let plan = plan(&question).map_err(|e| format!("command line: --{e}"))?;
    Ok(talk.shown(&plan, plan_text, Exit::Done))
}

impl PlanArgs {
    fn rates(&self) -> Option<Rates> {
        let (hit_rate, versus) = self.hit_rate.zip(self.versus)?;
        Some(Rates { hit_rate, versus })
    }

    fn floor(&self) -> Option<Floor> {
        let (hit_rate, at_least) = self.hit_rate.zip(self.at_least)?;
        Some(Floor { hit_rate, at_least })
    }

    fn latencies(&self) -> Option<Latencies> {
        Some(Latencies {
            spread_ms: self.spread_ms?,
            detect_ms: self.detect_ms?,
        })
    }

    fn sessions(&self) -> Option<SessionsQuestion> {
        Some(SessionsQuestion {
            sessions: self.sessions?,
            between_ms: self.between_ms?,
            spread_ms: self.spread_ms?,
            trials: self.trials?,
        })
    }

    fn question(&self) -> Question {
        Question {
            confidence: self.confidence,
            power: self.power,
            rates: self.rates(),
            floor: self.floor(),
            latencies: self.latencies(),
            spread_ms: self.spread_ms,
            trials: self.trials,
            looks: self.looks.looks.map(|looks| LooksQuestion {
                looks,
                spending: self.looks.spending(),
            }),
            sessions: self.sessions(),
            capture: self.fps.map(|fps| CaptureQuestion {
                fps,
                refresh_hz: self.refresh_hz,
                mains_hz: self.mains_hz,
                onset_on_screen: !self.direct_view,
            }),
            optics: self.optics.question(),
            swing: self.swing.question(),
        }
    }
}

impl OpticsArgs {
    fn question(&self) -> Option<OpticsQuestion> {
        let sensor_mm = match self.sensor_mm.as_deref() {
            Some([width, height]) => [*width, *height],
            _ => [36.0, 24.0],
        };
        Some(OpticsQuestion {
            focal_mm: self.focal_mm?,
            f_number: self.f_number?,
            sensor_mm,
            converter: self.converter.unwrap_or(1.0),
            near_mm: self.near_mm?,
            far_mm: self.far_mm?,
        })
    }
}

impl SwingArgs {
    fn question(&self) -> Option<SwingQuestion> {
        Some(SwingQuestion {
            length_m: self.length_m?,
            angle_deg: self.angle_deg?,
            target_m: self.target_m?,
            area_m: self.area_m?,
            area_deg: self.area_deg.unwrap_or(0.0),
            window_ms: self.window_ms,
        })
    }
}

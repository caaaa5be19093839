//! Looking more than once: the flags that `plan` and `compare` share.

use clap::{Args, ValueEnum};

use crate::stats::looks::Spending;

pub const HEADING: &str = "Looking before all is filmed";

/// How often it is looked, and how strictly at first.
#[derive(Debug, Args)]
pub struct LooksArgs {
    /// Look so many times while filming, the last time at the end
    #[arg(long, value_name = "N", help_heading = HEADING)]
    pub looks: Option<u32>,
    /// How strict the looks are [default: late]
    #[arg(long, value_enum, requires = "looks", help_heading = HEADING)]
    spend: Option<Spend>,
}

/// When the chance to be misled is spent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Spend {
    /// Very strict at first, the last look nearly as if it were the only one (O'Brien–Fleming type)
    Late,
    /// As strict at every look: stops earlier where much differs, needs more trials (Pocock type)
    Even,
}

impl LooksArgs {
    /// How the chance to be misled is spent.
    pub fn spending(&self) -> Spending {
        match self.spend {
            None | Some(Spend::Late) => Spending::Late,
            Some(Spend::Even) => Spending::Even,
        }
    }
}

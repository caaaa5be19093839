//! Results as text, Markdown, JUnit XML, one HTML page, and pictures.
//!
//! In: result structs of [`crate::stats`] and [`crate::plan`]. Out: strings; no
//! arithmetic beyond formatting, no colour, no file. Text keeps within 100
//! columns; the machine's form is the structs' own JSON.

mod bars;
mod cells;
mod check;
mod compare;
mod cues;
mod depth;
mod gate;
mod gate_junit;
mod gate_reason;
mod lead;
mod page;
mod plan;
mod plot;
mod row;
mod scout;
mod setup;
pub(crate) mod table;
mod time;
mod trial;
mod trials;
mod words;
mod yardstick;

pub use bars::histogram_text;
pub use check::check_text;
pub use compare::{compare_markdown, compare_text, pairs_text};
pub use gate::{gate_markdown, gate_text};
pub use gate_junit::gate_junit;
pub use page::{PAGE_MARK, Page, Source, Stills, page};
pub use plan::plan_text;
pub use scout::scout_text;
pub use setup::{setup_markdown, setup_text};
pub use time::{time_report, time_text};
pub use trial::{
    CSV_HEAD, Close, Limits, Mark, SheetError, Update, evidence_sheet, find, trial_csv, trial_list,
    trial_text, worst,
};
pub use trials::{TRIALS_HEAD, TrialsTable};

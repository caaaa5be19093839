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
mod ink;
mod lead;
mod not_found;
mod page;
mod photos;
mod plan;
mod plot;
mod repeat;
mod row;
mod scout;
pub(crate) mod table;
mod time;
mod trial;
mod trials;
mod words;
mod yardstick;

pub(crate) use check::check_text;
pub use compare::{compare_markdown, compare_text, pairs_text};
pub use gate::{gate_markdown, gate_text};
pub(crate) use gate_junit::gate_junit;
pub(crate) use not_found::not_found_picture;
pub(crate) use page::{PAGE_MARK, ShownPhotos, Source, Stills, page, photos_page};
pub(crate) use photos::{most_blurred, photos_text};
pub use plan::plan_text;
pub use repeat::repeat_text;
pub(crate) use scout::scout_text;
pub(crate) use time::counts::counted;
pub use time::time_report;
pub(crate) use trial::{CSV_HEAD, Update, find, trial_list, worst};
pub use trial::{Close, evidence_sheet, trial_csv, trial_text};
pub(crate) use trials::{TRIALS_HEAD, TrialsTable};

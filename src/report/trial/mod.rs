//! One trial up close.
//!
//! In: a timing record and, where it is kept, its evidence. Out: the verdict in
//! words, the curve with its moments as text, as a picture, and as a table for
//! a spreadsheet. Formats only; what is drawn was measured before.

mod close;
mod csv;
mod pick;
mod sheet;
mod text;
mod words;

pub use close::{Close, Limits, Mark, Update};
pub use csv::{CSV_HEAD, trial_csv};
pub(in crate::report) use pick::badness;
pub use pick::{find, worst};
pub use sheet::evidence_sheet;
pub(in crate::report) use text::numbers;
pub use text::{trial_list, trial_text};
pub(in crate::report) use words::{glance, kind, verdict_words};

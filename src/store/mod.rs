//! Files that stay: `NAME.timing.json`, `NAME.evidence.zip` beside it, and the kept
//! [`signals`].
//!
//! In: what `trial` found. Out: JSON whose keys carry their units, written
//! whole or not at all; read back with every doubtful value refused by name.

mod archive;
mod check;
mod error;
pub mod evidence;
pub(crate) mod read;
pub mod schema;
pub(crate) mod signals;
pub(crate) mod write;

pub use check::doubts;
pub use error::StoreError;
pub use read::{read_timing, read_timing_from};
pub use write::{write_file, write_pieces, write_timing};

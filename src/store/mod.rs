//! Files that stay: `NAME.timing.json`, and the [`signals`] kept beside it.
//!
//! In: what `trial` found. Out: JSON whose keys carry their units, written
//! whole or not at all; read back with every doubtful value refused by name.

mod check;
mod error;
pub mod read;
pub mod schema;
pub mod signals;
pub mod write;

pub use check::doubts;
pub use error::StoreError;
pub use read::{read_timing, read_timing_from};
pub use write::write_timing;

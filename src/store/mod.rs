//! Files that stay: `NAME.timing.json`.
//!
//! In: what `trial` found. Out: JSON whose keys carry their units; read back
//! with every doubtful value refused by name.

pub mod schema;

//! Pictures made here, judged.

//! What counts as rest near focus: where the lens has stopped, what still
//! changes is the film's.

/// A stretch that ends farther from the reference than this shows no rest near
/// focus, ‰: twice the usual hit limit.
pub const NEAR: f64 = 8.0;
/// Updates rest while they stay this near to the middle of their rest, ‰: the
/// usual hit limit.
pub const AT_REST: f64 = 4.0;
/// Fewest updates of a rest.
pub const FEWEST: usize = 5;

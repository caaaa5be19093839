//! The page and the close look, as a person gets them: made from timing files
//! and their evidence alone, whatever the names say, small and quick.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "report/bench.rs"]
mod bench;
#[path = "report/browser.rs"]
mod browser;
#[path = "report/devtools.rs"]
mod devtools;
#[path = "report/faults.rs"]
mod faults;
#[path = "report/glance.rs"]
mod glance;
#[path = "report/page.rs"]
mod page;
#[path = "report/show.rs"]
mod show;
#[path = "bench/simulate.rs"]
mod simulate;

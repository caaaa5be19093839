//! The command as a person meets it: help, JSON, exit codes, and every way to
//! get it wrong.

// Helpers of tests may stop the test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "cli/bench.rs"]
mod bench;
#[path = "support/card_photo.rs"]
mod card_photo;
#[path = "cli/clips.rs"]
mod clips;
#[path = "cli/commands.rs"]
mod commands;
#[path = "cli/corners.rs"]
mod corners;
#[path = "cli/evidence.rs"]
mod evidence;
#[path = "cli/looks.rs"]
mod looks;
#[path = "cli/output.rs"]
mod output;
#[path = "cli/papers.rs"]
mod papers;
#[path = "cli/photos.rs"]
mod photos;
#[path = "cli/prove.rs"]
mod prove;
#[path = "cli/repeat.rs"]
mod repeat;
#[path = "cli/requests.rs"]
mod requests;
#[path = "cli/scout.rs"]
mod scout;
#[path = "cli/signals.rs"]
mod signals;
#[path = "cli/steps.rs"]
mod steps;
#[path = "cli/strangers.rs"]
mod strangers;
#[path = "cli/table.rs"]
mod table;

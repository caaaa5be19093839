//! The `focuslag` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    focuslag::cli::run()
}

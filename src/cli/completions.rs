//! `focuslag completions`: what a shell needs to complete the command line.

use clap::{Args, CommandFactory};
use clap_complete::{Shell, generate};
use serde_json::json;

use super::Cli;
use super::exit::Exit;
use super::talk::Talk;

/// A shell in, its script out.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag completions bash > ~/.local/share/bash-completion/completions/focuslag
  focuslag completions zsh > ~/.zfunc/_focuslag
  focuslag completions fish > ~/.config/fish/completions/focuslag.fish

The folder must exist. For zsh, ~/.zfunc must be in $fpath before compinit.
Start a new shell afterwards.")]
pub struct CompletionsArgs {
    /// The shell that is to complete
    #[arg(value_enum)]
    shell: Shell,
}

pub fn run(args: &CompletionsArgs, talk: Talk) -> Exit {
    let mut script = Vec::new();
    generate(args.shell, &mut Cli::command(), "focuslag", &mut script);
    let script = String::from_utf8_lossy(&script).into_owned();
    if talk.json {
        let shell = args.shell.to_string();
        let document = json!({ "shell": shell, "script": script });
        return talk.document(&document, Exit::Done);
    }
    talk.raw(&script, Exit::Done)
}

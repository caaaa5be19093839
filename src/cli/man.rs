//! `focuslag man`: manual pages from the definition of the command line.

use std::path::{Path, PathBuf};

use clap::{Args, Command, CommandFactory};
use clap_mangen::Man;
use serde::Serialize;

use super::Cli;
use super::exit::Exit;
use super::talk::Talk;
use crate::beside::write_whole;

/// A command in, its page out; or all pages into a folder.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  focuslag man | man -l -
  focuslag man time > focuslag-time.1
  focuslag man --out ~/.local/share/man/man1

Without a name the page is that of focuslag itself. With --out every page is
written, focuslag.1 and one per command; the folder must exist.")]
pub struct ManArgs {
    /// The command whose page goes to standard output
    #[arg(value_name = "COMMAND", conflicts_with = "out")]
    name: Option<String>,
    /// Write all pages into this folder
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

#[derive(Serialize)]
struct Page {
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
}

#[derive(Serialize)]
struct Document {
    pages: Vec<Page>,
}

/// Writes pages.
pub fn run(args: &ManArgs, talk: Talk) -> Exit {
    let commands = commands();
    match &args.out {
        Some(folder) => all(&commands, folder, talk),
        None => one(&commands, args.name.as_deref(), talk),
    }
}

/// The tool and each of its commands, by the names of their pages: `focuslag`,
/// `focuslag-time`.
fn commands() -> Vec<(String, Command)> {
    let mut whole = Cli::command().disable_help_subcommand(true);
    whole.build();
    let parts: Vec<_> = whole
        .get_subcommands()
        .map(|part| (format!("focuslag-{}", part.get_name()), part.clone()))
        .collect();
    std::iter::once(("focuslag".to_owned(), whole))
        .chain(parts)
        .collect()
}

/// The page. No date: the same version gives the same bytes.
fn page(name: &str, command: &Command) -> std::io::Result<Vec<u8>> {
    let mut text = Vec::new();
    Man::new(command.clone())
        .title(name)
        .source(concat!("focuslag ", env!("CARGO_PKG_VERSION")))
        .render(&mut text)?;
    Ok(text)
}

fn one(commands: &[(String, Command)], asked: Option<&str>, talk: Talk) -> Exit {
    let wanted = asked.map_or("focuslag".to_owned(), |n| format!("focuslag-{n}"));
    let Some((name, command)) = commands.iter().find(|(name, _)| *name == wanted) else {
        let names: Vec<&str> = commands
            .iter()
            .filter_map(|(name, _)| name.strip_prefix("focuslag-"))
            .collect();
        let message = format!(
            "command line: there is no command `{}`; there are {}",
            asked.unwrap_or_default(),
            names.join(", ")
        );
        return talk.stop(&[message], Exit::Refused);
    };
    match page(name, command) {
        Err(e) => {
            let message = format!("{name}: no page can be made: {e}");
            talk.stop(&[message], Exit::Failed)
        }
        Ok(text) => {
            let text = String::from_utf8_lossy(&text).into_owned();
            if !talk.json {
                return talk.raw(&text, Exit::Done);
            }
            let page = Page {
                file: format!("{name}.1"),
                text: Some(text),
            };
            talk.document(&Document { pages: vec![page] }, Exit::Done)
        }
    }
}

fn all(commands: &[(String, Command)], folder: &Path, talk: Talk) -> Exit {
    if !folder.is_dir() {
        let what = if folder.exists() {
            "is a file, not a folder; name a folder with --out"
        } else {
            "this folder does not exist; make it first, or name another with --out"
        };
        return talk.stop(&[format!("{}: {what}", folder.display())], Exit::Refused);
    }
    let mut pages = Vec::new();
    for (name, command) in commands {
        let path = folder.join(format!("{name}.1"));
        let written = page(name, command).and_then(|text| write_whole(&path, &text));
        if let Err(e) = written {
            let message = format!("{}: cannot be written: {e}", path.display());
            return talk.stop(&[message], Exit::Failed);
        }
        pages.push(Page {
            file: path.display().to_string(),
            text: None,
        });
    }
    if talk.json {
        return talk.document(&Document { pages }, Exit::Done);
    }
    let text: String = pages
        .iter()
        .map(|p| format!("written: {}\n", p.file))
        .collect();
    talk.result(&text, Exit::Done)
}

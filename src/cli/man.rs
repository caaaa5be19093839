//! `focuslag man`: manual pages from the definition of the command line.

use std::path::{Path, PathBuf};

use clap::{Args, Command, CommandFactory};
use clap_mangen::Man;
use serde::Serialize;

use super::Cli;
use super::exit::{Exit, Stop, failed};
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

pub fn run(args: &ManArgs, talk: Talk) -> Exit {
    let commands = commands();
    talk.ended(match &args.out {
        Some(folder) => all(&commands, folder, talk),
        None => one(&commands, args.name.as_deref(), talk),
    })
}

/// The tool and each of its commands, by the names of their pages: `focuslag`,
/// `focuslag-time`.
fn commands() -> Vec<(String, Command)> {
    let mut whole = Cli::command().disable_help_subcommand(true);
    whole.build();
    let parts = whole.get_subcommands();
    let named = |part: &Command| (format!("focuslag-{}", part.get_name()), part.clone());
    let mut all: Vec<_> = parts.map(named).collect();
    all.insert(0, ("focuslag".to_owned(), whole));
    all
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

fn one(commands: &[(String, Command)], asked: Option<&str>, talk: Talk) -> Result<Exit, Stop> {
    let wanted = asked.map_or("focuslag".to_owned(), |n| format!("focuslag-{n}"));
    let Some((name, command)) = commands.iter().find(|(name, _)| *name == wanted) else {
        let names = commands.iter().map(|(name, _)| name.as_str());
        let names: Vec<&str> = names.filter_map(|n| n.strip_prefix("focuslag-")).collect();
        let (asked, names) = (asked.unwrap_or_default(), names.join(", "));
        let message = format!("there is no command `{asked}`; there are {names}");
        return Err(format!("command line: {message}").into());
    };
    let text =
        page(name, command).map_err(|e| failed(format!("{name}: no page can be made: {e}")))?;
    let text = String::from_utf8_lossy(&text).into_owned();
    if !talk.json {
        return Ok(talk.raw(&text, Exit::Done));
    }
    let page = Page {
        file: format!("{name}.1"),
        text: Some(text),
    };
    Ok(talk.document(&Document { pages: vec![page] }, Exit::Done))
}

fn all(commands: &[(String, Command)], folder: &Path, talk: Talk) -> Result<Exit, Stop> {
    if !folder.is_dir() {
        let what = if folder.exists() {
            "is a file, not a folder; name a folder with --out"
        } else {
            "this folder does not exist; make it first, or name another with --out"
        };
        return Err(format!("{}: {what}", folder.display()).into());
    }
    let mut pages = Vec::new();
    for (name, command) in commands {
        let path = folder.join(format!("{name}.1"));
        let file = path.display().to_string();
        page(name, command)
            .and_then(|text| write_whole(&path, &text))
            .map_err(|e| failed(format!("{file}: cannot be written: {e}")))?;
        pages.push(Page { file, text: None });
    }
    let text = |d: &Document| {
        let lines = d.pages.iter().map(|p| format!("written: {}\n", p.file));
        lines.collect()
    };
    Ok(talk.shown(&Document { pages }, text, Exit::Done))
}

//! `tintpoint completions` and `tintpoint manual`: what shells and `man` want to know, made from the definitions of the commands themselves.

use super::args::Args;
use super::failure::Status;
use super::output;
use crate::store::whole;
use clap::{Command, CommandFactory};
use clap_complete::Shell;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

const COMPLETION_EXAMPLES: &str = "Examples:
  tintpoint completions bash > tintpoint.bash
  tintpoint completions zsh > _tintpoint
  tintpoint completions fish > tintpoint.fish

Put the file where your shell looks for completions.";

/// Options of `tintpoint completions`.
#[derive(Debug, clap::Args)]
#[command(after_help = COMPLETION_EXAMPLES)]
pub(crate) struct CompletionOptions {
    /// The shell.
    shell: Shell,
}

const MANUAL_EXAMPLES: &str = "Examples:
  tintpoint manual > tintpoint.1
  tintpoint manual --out man1

`man ./man1/tintpoint-read.1` shows a page.";

/// Options of `tintpoint manual`.
#[derive(Debug, clap::Args)]
#[command(after_help = MANUAL_EXAMPLES)]
pub(crate) struct ManualOptions {
    /// Folder for the pages of all commands; made when it is not there, and pages in it are replaced. Else the first page goes to standard output.
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// What stops a page.
#[derive(Debug, thiserror::Error)]
enum ManualError {
    #[error("cannot make the folder `{}`: {cause}", path.display())]
    Folder { path: PathBuf, cause: io::Error },
    #[error("cannot write `{}`: {cause}", path.display())]
    Page { path: PathBuf, cause: io::Error },
    #[error("cannot write a page: {0}")]
    Rendering(#[from] io::Error),
}

fn hint(_: &ManualError) -> &'static str {
    "give a folder that may be written to"
}

/// Writes the completions of one shell to standard output.
pub(crate) fn completions(options: &CompletionOptions) -> Status {
    let mut script = Vec::new();
    clap_complete::generate(options.shell, &mut Args::command(), "tintpoint", &mut script);
    let script = String::from_utf8(script).map_err(|e| ManualError::Rendering(io::Error::other(e)));
    output::ended(script, hint, |_| Status::Failed)
}

/// Writes the manual: one page, or the pages of all commands.
pub(crate) fn run(options: &ManualOptions) -> Status {
    let mut command = Args::command();
    // Names of pages and of the commands in them are set by this.
    command.build();
    let text = match &options.out {
        None => page(&command).and_then(|bytes| String::from_utf8(bytes).map_err(io::Error::other)).map_err(ManualError::Rendering),
        Some(folder) => pages(&command, folder).map(|()| String::new()),
    };
    output::ended(text, hint, |_| Status::Failed)
}

fn page(command: &Command) -> io::Result<Vec<u8>> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    Ok(with_examples(&String::from_utf8_lossy(&page)).into_bytes())
}

/// Heading under which what follows the help is put.
const EXTRA: &str = "\n.SH EXTRA\n";

/// The page with its examples under a heading of that name, line by line; what is said after them is text as ever.
fn with_examples(page: &str) -> String {
    let Some((head, rest)) = page.split_once(EXTRA) else { return page.to_owned() };
    let rest = rest.strip_prefix("Examples:\n").or_else(|| rest.strip_prefix("Example: ")).unwrap_or(rest);
    let lines = rest.lines().take_while(|line| !line.trim().is_empty() && !line.starts_with(".SH")).count();
    let (mut examples, mut after) = (String::new(), String::new());
    for (k, line) in rest.lines().enumerate() {
        let part = if k < lines { &mut examples } else { &mut after };
        part.push_str(line.trim_start());
        part.push('\n');
    }
    format!("{head}\n.SH EXAMPLES\n.nf\n{examples}.fi\n{after}")
}

/// The page of a command, then those of the commands in it.
fn pages(command: &Command, folder: &Path) -> Result<(), ManualError> {
    fs::create_dir_all(folder).map_err(|cause| ManualError::Folder { path: folder.to_owned(), cause })?;
    let name = command.get_display_name().unwrap_or_else(|| command.get_name());
    let path = folder.join(format!("{name}.1"));
    let page = page(command)?;
    whole::write(&path, |file| file.write_all(&page)).map_err(|cause| ManualError::Page { path, cause })?;
    command.get_subcommands().filter(|inner| inner.get_name() != "help").try_for_each(|inner| pages(inner, folder))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn examples_stand_line_by_line() {
        let page = with_examples(".TH x\n.SH EXTRA\nExamples:\n  tintpoint a\n  tintpoint b\n\nA note.\n.SH VERSION\nv1\n");
        assert_eq!(page, ".TH x\n.SH EXAMPLES\n.nf\ntintpoint a\ntintpoint b\n.fi\n\nA note.\n.SH VERSION\nv1\n");
        assert_eq!(with_examples(".TH x\n.SH EXTRA\nExample: tintpoint a\n"), ".TH x\n.SH EXAMPLES\n.nf\ntintpoint a\n.fi\n");
        assert_eq!(with_examples(".TH x\n"), ".TH x\n");
    }

    // clap's own check of definitions: groups that are not there, names twice, values that cannot be.
    #[test]
    fn definitions_are_sound() {
        Args::command().debug_assert();
    }
}

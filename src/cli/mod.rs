//! Arguments and one file a subcommand. Only this and `main` print: results on stdout, everything else on stderr.

pub mod args;
mod explain;
mod fleet;
mod inspect;
mod manual;
pub mod period;
mod progress;
mod review;
mod sample;
mod stages;
mod summary;
mod verify;

use args::{Args, Command};
use std::{
    io::{self, Write},
    process::ExitCode,
};

/// How a run that did what it was asked to do ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    Done,
    /// The gate that the caller asked for was tripped.
    Gated,
}

impl From<Outcome> for ExitCode {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Done => ExitCode::SUCCESS,
            Outcome::Gated => ExitCode::from(1),
        }
    }
}

/// Exit status of a run that could not do what it was asked to do.
pub const COULD_NOT: u8 = 2;

/// Does what the arguments ask. An error is a message for a person, with a hint where there is one.
pub fn run(args: &Args) -> Result<Outcome, String> {
    match &args.command {
        None => review::sample(&args.options),
        Some(Command::Inspect { files, options }) => inspect::files(files, options),
        Some(Command::Review { plant, options }) => review::plant(plant, options),
        Some(Command::Verify { plant, options }) => verify::plant(plant, options),
        Some(Command::Fleet { folder, options }) => fleet::below(folder, options),
        Some(Command::Completions { shell }) => manual::completions(*shell),
        Some(Command::Man) => manual::page(),
        Some(Command::Explain { topic }) => explain::explain(topic.as_deref()),
    }
}

/// Writes a result; a reader that has gone away (`| head`) is no error.
fn print(text: &str) -> Result<(), String> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err("stdout: could not write the result".to_owned()),
        _ => Ok(()),
    }
}

/// Says something on the way, unless asked to be quiet. Nobody listening on stderr is no error.
fn say(quiet: bool, text: &str) {
    if !quiet {
        let _ = writeln!(io::stderr().lock(), "{text}");
    }
}

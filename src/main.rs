//! Parse, run, print the error, set the exit status.

use clap::Parser;
use offcurve::cli::{self, args::Args};
use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(&Args::parse()) {
        Ok(outcome) => outcome.into(),
        Err(message) => {
            eprintln!("offcurve: {message}");
            ExitCode::from(cli::COULD_NOT)
        }
    }
}

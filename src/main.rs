//! Parses the command line, runs the verb, turns a failure into a message and an exit code.

use std::process::ExitCode;

use abeam::commands::CommandLine;
use clap::Parser;

fn main() -> ExitCode {
    match CommandLine::parse().run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

//! Process entry: calls the command line and turns its answer into an exit code.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}

//! `lamella`: asks the daemon and prints what it answers. It computes nothing
//! itself and knows the API only through `lamella-proto` and reflection.

mod chart;
mod cli;
mod clock;
mod commands;
mod connect;
mod doctor;
mod errors;
mod export_files;
mod handover;
mod json;
mod money;
mod names;
mod output;
mod photos;
mod plot;
mod reflect;
mod render;
mod session;
mod text;
mod times;
mod units;

use std::process::ExitCode;

use clap::Parser as _;

#[tokio::main(flavor = "current_thread")]
async fn main() -> ExitCode {
    match Box::pin(cli::run(cli::Cli::parse())).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            output::complain(&error);
            error.exit().into()
        }
    }
}

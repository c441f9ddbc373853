//! `lamella job watch`: changes as they happen. A lost connection is taken up
//! again from the last resume token, so that nothing is missed or shown twice.

use std::time::Duration;

use lamella_proto::v1;
use lamella_proto::v1::watch_jobs_response::Message;
use tonic::{Code, Request};

use crate::errors::{CliError, chain};
use crate::json;
use crate::names::JobName;
use crate::output::{self, Format};
use crate::render;
use crate::session::Session;

/// Print changes as they happen, one to a line, until Ctrl-C.
///
/// With --output json each line is a WatchJobsResponse with its resume token;
/// heartbeats are left out. A lost connection is taken up again where it broke
/// off.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella job watch
  lamella job watch blue-estate --from 0 --no-follow
  lamella job watch --from \"$TOKEN\" --output json")]
pub(crate) struct Args {
    /// Only this job.
    job: Option<JobName>,
    /// Resume token: everything after it is shown. 0: from the very first
    /// change. [default: from now on]
    #[arg(long, value_name = "TOKEN")]
    from: Option<String>,
    /// End when everything up to the present has been shown.
    #[arg(long)]
    no_follow: bool,
}

/// Pause before the first attempt to connect again; doubled each time.
const FIRST_PAUSE: Duration = Duration::from_millis(250);
/// Longest pause between attempts.
const LONGEST_PAUSE: Duration = Duration::from_secs(10);

/// How one connection came to its end.
enum End {
    /// All that was asked for has been shown.
    Done,
    /// The connection broke off; why, in words.
    Lost(String),
}

/// Runs the command until it is interrupted, which is its regular end.
///
/// # Errors
/// When the server cannot be reached at the start, or refuses.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    tokio::select! {
        ended = follow(args, session) => ended,
        interrupted = tokio::signal::ctrl_c() => interrupted.map_err(|source| CliError::Read {
            what: "the interrupt signal".to_owned(),
            source,
        }),
    }
}

async fn follow(args: Args, session: &Session) -> Result<(), CliError> {
    let mut request = v1::WatchJobsRequest {
        resume_token: args.from.unwrap_or_default(),
        job: args.job.map(|job| job.0).unwrap_or_default(),
    };
    let mut pause = FIRST_PAUSE;
    let mut connected_before = false;
    loop {
        let before = request.resume_token.clone();
        let lost = match once(&mut request, args.no_follow, session).await {
            Ok(End::Done) => return Ok(()),
            Ok(End::Lost(reason)) => {
                connected_before = true;
                reason
            }
            // A server that was there before may come back.
            Err(error @ CliError::Unreachable { .. }) if connected_before => chain(&error),
            Err(error) => return Err(error),
        };
        if request.resume_token != before {
            pause = FIRST_PAUSE;
        }
        output::mention(&format!(
            "connection lost ({lost}); trying again in {pause:?}"
        ));
        tokio::time::sleep(pause).await;
        pause = (pause * 2).min(LONGEST_PAUSE);
    }
}

/// One connection, until it ends. `request` keeps the place reached.
async fn once(
    request: &mut v1::WatchJobsRequest,
    no_follow: bool,
    session: &Session,
) -> Result<End, CliError> {
    let mut jobs = session.jobs().await?;
    let mut stream = match jobs.watch_jobs(Request::new(request.clone())).await {
        Ok(response) => response.into_inner(),
        Err(status) if passes(status.code()) => return Ok(End::Lost(status.message().to_owned())),
        Err(status) => return Err(status.into()),
    };
    loop {
        match stream.message().await {
            Ok(Some(message)) => {
                request.resume_token.clone_from(&message.resume_token);
                show(&message, session)?;
                if no_follow && matches!(message.message, Some(Message::CaughtUp(_))) {
                    return Ok(End::Done);
                }
            }
            Ok(None) => return Ok(End::Lost("the server ended the stream".to_owned())),
            Err(status) if passes(status.code()) => {
                return Ok(End::Lost(status.message().to_owned()));
            }
            Err(status) => return Err(status.into()),
        }
    }
}

fn show(message: &v1::WatchJobsResponse, session: &Session) -> Result<(), CliError> {
    match (&message.message, session.format) {
        (Some(Message::Heartbeat(_)), _) | (None, Format::Text) => Ok(()),
        (_, Format::Json) => output::print(&json::compact(&json::canonical(message)?)?),
        (Some(Message::Event(event)), Format::Text) => {
            output::print(&render::event::line(event, &session.view))
        }
        (Some(Message::CaughtUp(_)), Format::Text) => {
            output::mention("up to date; what follows happens now");
            Ok(())
        }
    }
}

/// Whether a refusal may pass by itself, so that trying again makes sense.
fn passes(code: Code) -> bool {
    match code {
        Code::Cancelled
        | Code::Unknown
        | Code::DeadlineExceeded
        | Code::ResourceExhausted
        | Code::Aborted
        | Code::Internal
        | Code::Unavailable => true,
        Code::Ok
        | Code::InvalidArgument
        | Code::NotFound
        | Code::AlreadyExists
        | Code::PermissionDenied
        | Code::FailedPrecondition
        | Code::OutOfRange
        | Code::Unimplemented
        | Code::DataLoss
        | Code::Unauthenticated => false,
    }
}

//! `lamella booking outbox`, `dead-letters` and `retry`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::JobName;
use crate::render;
use crate::session::Session;

/// Say how far the delivery of job events has come.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella booking outbox")]
pub(crate) struct StatusArgs {}

/// List the events that the outbox could not deliver.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella booking dead-letters")]
pub(crate) struct ListArgs {
    #[command(flatten)]
    page: PageArgs,
}

/// Send a job's dead letter again, and then the job's later events.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella booking retry blue-1
  lamella booking retry blue-1 --discard")]
pub(crate) struct RetryArgs {
    /// The job: jobs/ID, or its ID.
    job: JobName,
    /// Give this event up instead, and go on with the next.
    #[arg(long)]
    discard: bool,
}

/// Runs `outbox`.
///
/// # Errors
/// The server's.
pub(crate) async fn status(session: &Session) -> Result<(), CliError> {
    let mut outbox = session.outbox().await?;
    let request = session.request(v1::GetOutboxRequest {});
    let answer = session.answer(outbox.get_outbox(request)).await?;
    session.show(&answer, render::booking::outbox)
}

/// Runs `dead-letters`.
///
/// # Errors
/// The server's.
pub(crate) async fn list(args: ListArgs, session: &Session) -> Result<(), CliError> {
    let mut outbox = session.outbox().await?;
    let mut list = v1::ListDeadLettersResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListDeadLettersRequest {
            page_size: args.page.size(),
            page_token,
        });
        let page = session.answer(outbox.list_dead_letters(request)).await?;
        list.dead_letters.extend(page.dead_letters);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::booking::dead_letters);
        }
        page_token = list.next_page_token.clone();
    }
}

/// Runs `retry`.
///
/// # Errors
/// The server's.
pub(crate) async fn retry(args: RetryArgs, session: &Session) -> Result<(), CliError> {
    let mut outbox = session.outbox().await?;
    let discard = args.discard;
    let request = session.request(v1::RetryDeadLetterRequest {
        job: args.job.0,
        discard,
    });
    let answer = session.answer(outbox.retry_dead_letter(request)).await?;
    session.show(&answer, |answer, _| {
        let letter = answer.dead_letter.clone().unwrap_or_default();
        let what = if discard { "given up" } else { "sent again" };
        format!("event {} of {} is {what}\n", letter.sequence, letter.job)
    })
}

//! `lamella booking list` and `lamella booking show`.

use lamella_proto::v1;

use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::names::{BookingName, JobName};
use crate::render;
use crate::session::Session;

/// List bookings in the order in which they were first seen.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella booking list --all
  lamella booking list --source web-form --external-id A-17")]
pub(crate) struct ListArgs {
    /// Only of this source.
    #[arg(long)]
    source: Option<String>,
    /// Only with this id in its source.
    #[arg(long, value_name = "ID")]
    external_id: Option<String>,
    /// Only the one of this job.
    #[arg(long)]
    job: Option<JobName>,
    #[command(flatten)]
    page: PageArgs,
}

/// Show a booking in its newest version.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Example:
  lamella booking show bookings/0f3a52c1d4e5f60718293a4b5c6d7e8f")]
pub(crate) struct ShowArgs {
    /// The booking: bookings/ID, or its ID.
    booking: BookingName,
}

/// Runs `list`.
///
/// # Errors
/// The server's.
pub(crate) async fn list(args: ListArgs, session: &Session) -> Result<(), CliError> {
    let mut bookings = session.bookings().await?;
    let filter = v1::BookingFilter {
        source: args.source.unwrap_or_default(),
        external_id: args.external_id.unwrap_or_default(),
        job: args.job.map(|job| job.0).unwrap_or_default(),
    };
    let mut list = v1::ListBookingsResponse::default();
    let mut page_token = args.page.token();
    loop {
        let request = session.request(v1::ListBookingsRequest {
            page_size: args.page.size(),
            page_token,
            filter: Some(filter.clone()),
        });
        let page = session.answer(bookings.list_bookings(request)).await?;
        list.bookings.extend(page.bookings);
        list.next_page_token = page.next_page_token;
        if !args.page.all || list.next_page_token.is_empty() {
            return session.show(&list, render::booking::list);
        }
        page_token = list.next_page_token.clone();
    }
}

/// Runs `show`.
///
/// # Errors
/// The server's.
pub(crate) async fn show(args: ShowArgs, session: &Session) -> Result<(), CliError> {
    let mut bookings = session.bookings().await?;
    let request = session.request(v1::GetBookingRequest {
        name: args.booking.0,
    });
    let booking = session.answer(bookings.get_booking(request)).await?;
    session.show(&booking, render::booking::full)
}

//! `lamella booking upsert`.

use lamella_proto::v1;

use crate::commands::job::fields::FieldArgs;
use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::render;
use crate::session::Session;
use crate::times::TimeArg;

/// Hand in one version of a booking. It may come twice, late and out of order.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella booking upsert web-form A-17 --revision 0 --at 2026-03-01T10:00:00Z \\
      --name 'Blue estate' --arrives 'tomorrow 09:00' --promise 'tomorrow 17:00'
  lamella booking upsert web-form A-17 --revision 1 --at now --cancelled")]
pub(crate) struct Args {
    /// Which system it comes from.
    source: String,
    /// Its id in that system.
    external_id: String,
    /// Counts the changes there, from 0.
    #[arg(long, value_name = "NUMBER")]
    revision: i32,
    /// When this version was made there.
    #[arg(long, value_name = "TIME")]
    at: TimeArg,
    /// It was called off.
    #[arg(long)]
    cancelled: bool,
    /// Name of the job for people. Needed unless --cancelled.
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    /// When the car is to be brought.
    #[arg(long, value_name = "TIME")]
    arrives: Option<TimeArg>,
    #[command(flatten)]
    fields: FieldArgs,
}

/// Runs the command.
///
/// # Errors
/// The server's; an argument that a booking does not have.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut job = v1::Job::default();
    args.fields.write(&mut job, session)?;
    if !job.arrival_condition.is_empty() {
        return Err(CliError::Argument {
            argument: "--arrival",
            rule: "a booking has no condition on arrival; set it on the job".to_owned(),
        });
    }
    let booking = v1::Booking {
        source: args.source,
        external_id: args.external_id,
        revision: Some(v1::BookingRevision {
            sequence: args.revision,
            time: instant(Some(args.at), session)?,
        }),
        cancelled: args.cancelled,
        display_name: args.name.unwrap_or_default(),
        vehicle: job.vehicle,
        customer: job.customer,
        services: job.services,
        arrival_time: instant(args.arrives, session)?,
        promise_time: job.promise_time,
        wishes: job.wishes,
        ..v1::Booking::default()
    };
    let mut bookings = session.bookings().await?;
    let request = session.request(v1::UpsertBookingRequest {
        booking: Some(booking),
    });
    let answer = session.answer(bookings.upsert_booking(request)).await?;
    session.show(&answer, render::booking::upserted)
}

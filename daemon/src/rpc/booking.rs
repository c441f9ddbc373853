//! BookingService.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use lamella_calc::violation::Checks;
use lamella_proto::v1::{self, booking_service_server::BookingService};
use tonic::{Request, Response, Status};

use super::{finish, page_size, status};
use crate::config::Shop;
use crate::convert;
use crate::ledger::{BookingQuery, Ledger, ScheduleQuery};

mod calendar;

/// Bookings of other systems, and calendars in and out.
pub(crate) struct Bookings {
    ledger: Ledger,
    shop: Shop,
}

impl Bookings {
    pub(crate) fn new(ledger: Ledger, shop: Shop) -> Self {
        Self { ledger, shop }
    }

    fn zone(&self) -> TimeZone {
        self.shop.time_zone.clone()
    }
}

#[tonic::async_trait]
impl BookingService for Bookings {
    async fn upsert_booking(
        &self,
        request: Request<v1::UpsertBookingRequest>,
    ) -> Result<Response<v1::UpsertBookingResponse>, Status> {
        let booking = request.into_inner().booking;
        let mut checks = Checks::new();
        checks.require(booking.is_some(), "booking", || "is required".to_owned());
        let version = booking.map(|booking| {
            let version = convert::booking::version_from_pb(&booking, "booking", &mut checks);
            version.check(&mut checks, "booking");
            version
        });
        finish(checks)?;
        let version = version.ok_or_else(|| Status::internal("a missing booking passed"))?;
        let upserted = self.ledger.upsert_booking(version).await;
        let upserted = upserted.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::UpsertBookingResponse {
            outcome: convert::booking::outcome_to_pb(upserted.outcome).into(),
            booking: Some(upserted.booking),
        }))
    }

    async fn get_booking(
        &self,
        request: Request<v1::GetBookingRequest>,
    ) -> Result<Response<v1::Booking>, Status> {
        let mut checks = Checks::new();
        let name = request.into_inner().name;
        let id = convert::names::id(&name, "bookings", "name", &mut checks);
        finish(checks)?;
        let booking = self.ledger.booking(id).await;
        booking
            .map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn list_bookings(
        &self,
        request: Request<v1::ListBookingsRequest>,
    ) -> Result<Response<v1::ListBookingsResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        let filter = request.filter.unwrap_or_default();
        let external_id = &filter.external_id;
        lamella_jobs::check::text(&mut checks, "filter.external_id", external_id, 0, 255);
        let query = BookingQuery {
            source: convert::names::chosen_id(&filter.source, "filter.source", &mut checks),
            external_id: (!external_id.is_empty()).then(|| external_id.clone()),
            job: convert::names::optional_id(&filter.job, "jobs", "filter.job", &mut checks),
        };
        finish(checks)?;
        let page = self.ledger.bookings(query, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListBookingsResponse {
            bookings: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn import_calendar(
        &self,
        request: Request<v1::ImportCalendarRequest>,
    ) -> Result<Response<v1::ImportCalendarResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        lamella_jobs::check::id(&mut checks, "source", &request.source);
        let size = request.calendar.len();
        checks.require(size <= lamella_ical::MAX_BYTES, "calendar", || {
            format!(
                "must be at most {} bytes, got {size}",
                lamella_ical::MAX_BYTES
            )
        });
        let window = import_window(&request, self.ledger.clock().now(), &mut checks);
        let reading = calendar::read(request.calendar, self.zone(), window).await?;
        checks.require(reading.calendars > 0, "calendar", || {
            "must be text/calendar with a line BEGIN:VCALENDAR".to_owned()
        });
        finish(checks)?;
        let response = calendar::take_in(&self.ledger, &request.source, reading).await?;
        Ok(Response::new(response))
    }

    async fn export_calendar(
        &self,
        request: Request<v1::ExportCalendarRequest>,
    ) -> Result<Response<v1::ExportCalendarResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let query = schedule_query(&request, self.ledger.clock().now(), &mut checks);
        finish(checks)?;
        let visits = self.ledger.schedule(query).await;
        let visits = visits.map_err(|error| status::ledger(&error))?;
        let response = calendar::write(&visits, &self.shop, request.include_customer);
        let mut checks = Checks::new();
        let (size, limit) = (response.calendar.len(), calendar::MAX_EXPORT_BYTES);
        checks.require(size <= limit, "from_time", || {
            format!(
                "must leave a calendar of at most {limit} bytes, not {size}; ask for less at once"
            )
        });
        finish(checks)?;
        Ok(Response::new(response))
    }
}

/// Longest window of an import: three years.
const LONGEST_WINDOW_DAYS: i64 = 1098;

fn import_window(
    request: &v1::ImportCalendarRequest,
    now: Timestamp,
    checks: &mut Checks,
) -> (Timestamp, Timestamp) {
    let days = |days: i64| SignedDuration::from_hours(24 * days);
    let given = convert::time::from_pb(request.from_time.as_ref(), "from_time", checks);
    let from = given.unwrap_or_else(|| moved(now, -days(1)));
    let given = convert::time::from_pb(request.before_time.as_ref(), "before_time", checks);
    let before = given.unwrap_or_else(|| moved(from, days(366)));
    let length = before.duration_since(from);
    let fits = length > SignedDuration::ZERO && length <= days(LONGEST_WINDOW_DAYS);
    checks.require(fits, "before_time", || {
        format!("must be after from_time {from} and at most {LONGEST_WINDOW_DAYS} days later, got {before}")
    });
    (from, before)
}

fn schedule_query(
    request: &v1::ExportCalendarRequest,
    now: Timestamp,
    checks: &mut Checks,
) -> ScheduleQuery {
    let stages = request
        .stages
        .iter()
        .enumerate()
        .filter_map(|(index, stage)| {
            let field = format!("stages[{index}]");
            let stage = convert::job::optional_stage(*stage, &field, checks);
            checks.require(stage.is_some(), &field, || "must name a stage".to_owned());
            stage
        });
    let stages = stages.collect();
    let from = convert::time::from_pb(request.from_time.as_ref(), "from_time", checks);
    ScheduleQuery {
        stages,
        from: from.unwrap_or_else(|| moved(now, SignedDuration::from_hours(-24 * 30))),
        before: convert::time::from_pb(request.before_time.as_ref(), "before_time", checks),
    }
}

/// The instant, moved as far as the calendar goes.
fn moved(instant: Timestamp, by: SignedDuration) -> Timestamp {
    instant.checked_add(by).unwrap_or(instant)
}

//! What the daemon is asked for a sheet.

use lamella_proto::v1;
use lamella_proto::v1::job_event::Change;
use tonic::Code;

use super::paint::{self, Sides};
use crate::commands::job::records;
use crate::commands::shared::PageArgs;
use crate::errors::CliError;
use crate::session::Session;

/// What the daemon answered.
#[derive(Debug, Default)]
pub(crate) struct Gathered {
    pub(crate) job: v1::Job,
    pub(crate) vehicle: v1::Vehicle,
    pub(crate) records: Vec<v1::Record>,
    pub(crate) moves: Vec<(prost_types::Timestamp, v1::StageChanged)>,
    pub(crate) quote: Option<v1::Quote>,
    /// Readings before and after, by panel.
    pub(crate) sides: Vec<Sides>,
    pub(crate) before: v1::AssessPaintResponse,
    pub(crate) after: v1::AssessPaintResponse,
    /// Removal by panel_id, or why it cannot be told.
    pub(crate) removals: Vec<(String, Result<v1::MeasureRemovalResponse, String>)>,
    pub(crate) ledger: Vec<v1::PaintLedgerPanel>,
    pub(crate) aftercare: Vec<v1::Caution>,
    pub(crate) photos: Vec<(v1::Photo, Vec<u8>)>,
}

/// Asks for everything about a job. `gauge` is what the readings were taken with.
///
/// # Errors
/// The server's.
pub(crate) async fn gather(
    session: &Session,
    job: &str,
    gauge: Option<v1::GaugeSpec>,
    with_photos: bool,
) -> Result<Gathered, CliError> {
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::GetJobRequest {
        name: job.to_owned(),
    });
    let mut all = Gathered {
        job: session.answer(jobs.get_job(request)).await?,
        records: records::all(&mut jobs, session, job).await?,
        moves: moves(session, job).await?,
        ..Gathered::default()
    };
    if !all.job.vehicle.is_empty() {
        let mut vehicles = session.vehicles().await?;
        let request = session.request(v1::GetVehicleRequest {
            name: all.job.vehicle.clone(),
        });
        all.vehicle = session.answer(vehicles.get_vehicle(request)).await?;
        all.ledger = ledger(session, &all.job.vehicle, gauge.clone()).await?;
    }
    all.quote = quote(session, &all.job).await?;
    all.sides = paint::sides(&all.job, &all.vehicle, &all.records);
    judge(session, &mut all, gauge).await?;
    all.aftercare = aftercare(session, &all).await?;
    if with_photos {
        let list = crate::photos::list(session, job, &PageArgs::everything()).await?;
        for photo in list.photos {
            // What will not be shown need not be sent.
            let bytes = match photo.r#type() {
                v1::PhotoType::Heic | v1::PhotoType::Unspecified => Vec::new(),
                v1::PhotoType::Jpeg | v1::PhotoType::Png | v1::PhotoType::Webp => {
                    crate::photos::download(session, &photo.name).await?.1
                }
            };
            all.photos.push((photo, bytes));
        }
    }
    Ok(all)
}

/// The job's moves from stage to stage, oldest first.
async fn moves(
    session: &Session,
    job: &str,
) -> Result<Vec<(prost_types::Timestamp, v1::StageChanged)>, CliError> {
    let mut jobs = session.jobs().await?;
    let mut moves = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = session.request(v1::ListJobHistoryRequest {
            name: job.to_owned(),
            page_size: 1_000,
            page_token,
        });
        let page = session.answer(jobs.list_job_history(request)).await?;
        for event in page.events {
            if let (Some(when), Some(Change::StageChanged(moved))) =
                (event.event_time, event.change)
            {
                moves.push((when, moved));
            }
        }
        if page.next_page_token.is_empty() {
            return Ok(moves);
        }
        page_token = page.next_page_token;
    }
}

async fn ledger(
    session: &Session,
    vehicle: &str,
    gauge: Option<v1::GaugeSpec>,
) -> Result<Vec<v1::PaintLedgerPanel>, CliError> {
    let mut vehicles = session.vehicles().await?;
    let mut panels = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = session.request(v1::ListPaintLedgerRequest {
            name: vehicle.to_owned(),
            page_size: 200,
            page_token,
            gauge: gauge.clone(),
            ..Default::default()
        });
        let page = session.answer(vehicles.list_paint_ledger(request)).await?;
        panels.extend(page.panels);
        if page.next_page_token.is_empty() {
            return Ok(panels);
        }
        page_token = page.next_page_token;
    }
}

/// The accepted quote. A daemon without quotes has none.
async fn quote(session: &Session, job: &v1::Job) -> Result<Option<v1::Quote>, CliError> {
    let name = job.approval.as_ref().map(|approval| approval.quote.clone());
    let Some(name) = name.filter(|name| !name.is_empty()) else {
        return Ok(None);
    };
    let mut quotes = session.quotes().await?;
    let request = session.request(v1::GetQuoteRequest { name });
    match session.answer(quotes.get_quote(request)).await {
        Ok(quote) => Ok(Some(quote)),
        Err(CliError::Refused(status))
            if matches!(status.code(), Code::Unimplemented | Code::NotFound) =>
        {
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// Has the readings judged and compared.
async fn judge(
    session: &Session,
    all: &mut Gathered,
    gauge: Option<v1::GaugeSpec>,
) -> Result<(), CliError> {
    if all.sides.is_empty() {
        return Ok(());
    }
    let mut calculators = session.calculators().await?;
    let side = |after: bool| v1::AssessPaintRequest {
        panels: all.sides.iter().map(|sides| sides.panel(after)).collect(),
        gauge: gauge.clone(),
        ..Default::default()
    };
    let (before, after) = (side(false), side(true));
    all.before = session
        .answer(calculators.assess_paint(session.request(before)))
        .await?;
    all.after = session
        .answer(calculators.assess_paint(session.request(after)))
        .await?;
    for sides in &all.sides {
        if sides.before.is_empty() || sides.after.is_empty() {
            continue;
        }
        let request = session.request(v1::MeasureRemovalRequest {
            before: sides.before.clone(),
            after: sides.after.clone(),
            gauge: gauge.clone(),
            two_gauges: sides.two_gauges,
        });
        let removal = match session.answer(calculators.measure_removal(request)).await {
            Ok(removal) => Ok(removal),
            // For example no spot that was read both times.
            Err(CliError::Refused(status))
                if matches!(
                    status.code(),
                    Code::InvalidArgument | Code::FailedPrecondition
                ) =>
            {
                Err(status.message().to_owned())
            }
            Err(error) => return Err(error),
        };
        all.removals.push((sides.panel_id.clone(), removal));
    }
    Ok(())
}

/// What the daemon says at hand-over; before it, what it would say, if the car
/// may leave.
async fn aftercare(session: &Session, all: &Gathered) -> Result<Vec<v1::Caution>, CliError> {
    let said = all
        .moves
        .iter()
        .rev()
        .find(|(_, moved)| moved.to_stage() == v1::Stage::HandedOver);
    if let Some((_, moved)) = said {
        return Ok(moved.cautions.clone());
    }
    let mut jobs = session.jobs().await?;
    let request = session.request(v1::AdvanceStageRequest {
        name: all.job.name.clone(),
        to_stage: v1::Stage::HandedOver.into(),
        validate_only: true,
        ..Default::default()
    });
    match session.answer(jobs.advance_stage(request)).await {
        Ok(answer) => Ok(answer.cautions),
        Err(CliError::Refused(status)) if status.code() == Code::FailedPrecondition => {
            Ok(Vec::new())
        }
        Err(error) => Err(error),
    }
}

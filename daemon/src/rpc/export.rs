//! ExportService: files by shop-local days, streamed as they are made.

use std::io::Write;
use std::pin::Pin;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use lamella_calc::violation::Checks;
use lamella_export::days::Days;
use lamella_export::error::ExportError;
use lamella_export::write::Format;
use lamella_jobs::check::quote;
use lamella_proto::v1::{
    self, ExportFormat, export_day_response::Part, export_service_server::ExportService,
};
use sha2::{Digest as _, Sha256};
use tokio::sync::mpsc;
use tokio_stream::Stream;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status};

use super::{finish, status};
use crate::convert;
use crate::export::{self, Dataset, ExportFailed};
use crate::ledger::{Happenings, Ledger};

/// Bytes in a chunk, at most.
const CHUNK_BYTES: usize = 64 * 1024;
/// Chunks that may wait for a slow reader before the export waits too.
const WAITING: usize = 4;

type Answer = Result<v1::ExportDayResponse, Status>;

/// Exports by shop-local days.
pub(crate) struct Exports {
    ledger: Ledger,
    zone: TimeZone,
}

impl Exports {
    /// Days are those of `zone` unless a request names another.
    pub(crate) fn new(ledger: Ledger, zone: TimeZone) -> Self {
        Self { ledger, zone }
    }

    fn days(&self, request: &v1::ExportDayRequest, checks: &mut Checks) -> Option<Days> {
        let zone = zone(&request.time_zone, &self.zone, checks);
        // The days are judged beside a zone that is none, too.
        let beside = zone.clone().unwrap_or(TimeZone::UTC);
        let today = self.ledger.clock().now().to_zoned_datetime(beside).date();
        let from = day(&request.from_date, today, "from_date", checks);
        let to = if request.to_date.is_empty() {
            from
        } else {
            day(&request.to_date, today, "to_date", checks)
        };
        let days = Days::try_new(from?, to?, zone?);
        days.map_err(|error| {
            let field = match &error {
                ExportError::DayRange { day } if Some(*day) == from => "from_date",
                _ => "to_date",
            };
            checks.require(false, field, || error.to_string());
        })
        .ok()
    }
}

#[tonic::async_trait]
impl ExportService for Exports {
    type ExportDayStream = Pin<Box<dyn Stream<Item = Answer> + Send>>;

    async fn export_day(
        &self,
        request: Request<v1::ExportDayRequest>,
    ) -> Result<Response<Self::ExportDayStream>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let days = self.days(&request, &mut checks);
        let datasets = datasets(&request.datasets, &mut checks);
        let format = format(request.format, &mut checks);
        finish(checks)?;
        let (Some(days), Some(format)) = (days, format) else {
            return Err(Status::internal("days and format were checked"));
        };
        let (sender, receiver) = mpsc::channel(WAITING);
        let export = Export {
            happenings: self.ledger.happenings(days.start(), days.end()),
            days,
            format,
            datasets,
            sender,
        };
        tokio::task::spawn_blocking(move || export.run());
        Ok(Response::new(Box::pin(ReceiverStream::new(receiver))))
    }
}

/// One export under way, on a thread that may block. It ends when the caller
/// goes, at the next chunk.
struct Export {
    happenings: Happenings,
    days: Days,
    format: Format,
    datasets: Vec<Dataset>,
    sender: mpsc::Sender<Answer>,
}

impl Export {
    fn run(self) {
        if let Err(error) = self.files()
            && !self.sender.is_closed()
        {
            // The caller may be going right now, which is fine.
            let _ = self.sender.blocking_send(Err(status::export(&error)));
        }
    }

    fn files(&self) -> Result<(), ExportFailed> {
        let say = |part| send(&self.sender, part).map_err(ExportError::Io);
        say(Part::Started(self.started()))?;
        for dataset in &self.datasets {
            let sink = Chunks::new(self.sender.clone());
            let happenings = self.happenings.clone();
            let written = export::write(*dataset, self.format, &self.days, happenings, sink)?;
            let (sink, rows) = written;
            let ended = sink.end(rows)?;
            say(Part::FileEnded(ended))?;
        }
        Ok(())
    }

    fn started(&self) -> v1::ExportStarted {
        let file = |dataset: &Dataset| v1::ExportFile {
            dataset: dataset.to_pb().into(),
            format: format_to_pb(self.format).into(),
            file_name: format!("{}.{}", dataset.name(), self.format.extension()),
        };
        v1::ExportStarted {
            from_date: self.days.from().to_string(),
            to_date: self.days.to().to_string(),
            time_zone: zone_name(self.days.zone()),
            from_time: Some(convert::time::to_pb(self.days.start())),
            before_time: Some(convert::time::to_pb(self.days.end())),
            daemon_version: env!("CARGO_PKG_VERSION").to_owned(),
            files: self.datasets.iter().map(file).collect(),
        }
    }
}

/// A file's bytes on their way to the caller, counted and hashed.
struct Chunks {
    sender: mpsc::Sender<Answer>,
    waiting: Vec<u8>,
    bytes: u64,
    hash: Sha256,
}

impl Chunks {
    fn new(sender: mpsc::Sender<Answer>) -> Self {
        Self {
            sender,
            waiting: Vec::with_capacity(CHUNK_BYTES),
            bytes: 0,
            hash: Sha256::new(),
        }
    }

    fn end(mut self, rows: u64) -> Result<v1::ExportFileEnded, ExportError> {
        self.send_waiting()?;
        Ok(v1::ExportFileEnded {
            row_count: i64::try_from(rows).unwrap_or(i64::MAX),
            size_bytes: i64::try_from(self.bytes).unwrap_or(i64::MAX),
            sha256: format!("{:x}", self.hash.finalize()),
        })
    }

    fn send_waiting(&mut self) -> std::io::Result<()> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        let chunk = std::mem::replace(&mut self.waiting, Vec::with_capacity(CHUNK_BYTES));
        self.bytes += chunk.len() as u64;
        self.hash.update(&chunk);
        send(&self.sender, Part::Chunk(chunk))
    }
}

impl Write for Chunks {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let room = CHUNK_BYTES - self.waiting.len();
        let taken = bytes.get(..room.min(bytes.len())).unwrap_or_default();
        self.waiting.extend_from_slice(taken);
        if self.waiting.len() == CHUNK_BYTES {
            self.send_waiting()?;
        }
        Ok(taken.len())
    }

    /// Nothing: chunks are sent when they are full, so that the same file comes
    /// in the same chunks.
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Waits until the caller has room for it.
fn send(sender: &mpsc::Sender<Answer>, part: Part) -> std::io::Result<()> {
    let answer = v1::ExportDayResponse { part: Some(part) };
    sender
        .blocking_send(Ok(answer))
        .map_err(|_| std::io::ErrorKind::BrokenPipe.into())
}

fn zone(name: &str, shop: &TimeZone, checks: &mut Checks) -> Option<TimeZone> {
    if name.is_empty() {
        return Some(shop.clone());
    }
    let zone = TimeZone::get(name).ok();
    checks.require(zone.is_some(), "time_zone", || {
        format!(
            "must be an IANA name such as `Europe/Vienna`, got {}",
            quote(name)
        )
    });
    zone
}

fn zone_name(zone: &TimeZone) -> String {
    zone.iana_name().unwrap_or("unknown").to_owned()
}

fn day(text: &str, today: Date, field: &str, checks: &mut Checks) -> Option<Date> {
    let day = match text {
        "today" => Some(today),
        "yesterday" => today.yesterday().ok(),
        // The parser alone would take other forms of ISO 8601 as well.
        _ => (text.len() == 10).then(|| text.parse().ok()).flatten(),
    };
    checks.require(day.is_some(), field, || {
        if text.is_empty() {
            "is required, as YYYY-MM-DD, `today` or `yesterday`".to_owned()
        } else {
            let got = quote(text);
            format!("must be YYYY-MM-DD, `today` or `yesterday`, got {got}")
        }
    });
    day
}

fn datasets(numbers: &[i32], checks: &mut Checks) -> Vec<Dataset> {
    if numbers.is_empty() {
        return export::ALL.to_vec();
    }
    let mut datasets = Vec::with_capacity(export::ALL.len());
    for (index, number) in numbers.iter().enumerate() {
        let field = || format!("datasets[{index}]");
        let Some(dataset) = Dataset::from_pb(*number) else {
            checks.require(false, field(), || {
                format!("{number} is not a known dataset")
            });
            continue;
        };
        let first = !datasets.contains(&dataset);
        checks.require(first, field(), || {
            format!("{} is there twice", dataset.name())
        });
        if first {
            datasets.push(dataset);
        }
    }
    datasets
}

fn format(number: i32, checks: &mut Checks) -> Option<Format> {
    let format = match ExportFormat::try_from(number) {
        Ok(ExportFormat::Csv) => Some(Format::Csv),
        Ok(ExportFormat::JsonLines) => Some(Format::JsonLines),
        Ok(ExportFormat::Parquet) => Some(Format::Parquet),
        Ok(ExportFormat::Unspecified) | Err(_) => None,
    };
    checks.require(format.is_some(), "format", || match number {
        0 => "is required".to_owned(),
        _ => format!("{number} is not a known format"),
    });
    format
}

fn format_to_pb(format: Format) -> ExportFormat {
    match format {
        Format::Csv => ExportFormat::Csv,
        Format::JsonLines => ExportFormat::JsonLines,
        Format::Parquet => ExportFormat::Parquet,
    }
}

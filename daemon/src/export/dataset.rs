//! The datasets: what each is called, its columns, and its file.

use std::collections::HashMap;
use std::io::Write;
use std::rc::Rc;

use jiff::tz::TimeZone;
use lamella_export::books::Totals;
use lamella_export::days::Days;
use lamella_export::table::{Cell, Column, Table};
use lamella_export::write::{Format, TableWriter};
use lamella_proto::v1::{self, ExportDataset};

use super::error::ExportFailed;
use super::{sales, work};
use crate::ledger::{Happening, Happenings};

/// One table of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dataset {
    Jobs,
    StageChanges,
    Labour,
    Mixes,
    Film,
    Coatings,
    Quotes,
    Takings,
    Journal,
}

/// Every dataset, in the order of the API's enum.
pub(crate) const ALL: [Dataset; 9] = [
    Dataset::Jobs,
    Dataset::StageChanges,
    Dataset::Labour,
    Dataset::Mixes,
    Dataset::Film,
    Dataset::Coatings,
    Dataset::Quotes,
    Dataset::Takings,
    Dataset::Journal,
];

/// A row, one cell for each column.
pub(super) type Row = Vec<Cell>;

impl Dataset {
    /// The dataset of a number on the wire; none for 0 and for unknown numbers.
    pub(crate) fn from_pb(number: i32) -> Option<Self> {
        match ExportDataset::try_from(number).ok()? {
            ExportDataset::Unspecified => None,
            ExportDataset::Jobs => Some(Self::Jobs),
            ExportDataset::StageChanges => Some(Self::StageChanges),
            ExportDataset::Labour => Some(Self::Labour),
            ExportDataset::Mixes => Some(Self::Mixes),
            ExportDataset::Film => Some(Self::Film),
            ExportDataset::Coatings => Some(Self::Coatings),
            ExportDataset::Quotes => Some(Self::Quotes),
            ExportDataset::Takings => Some(Self::Takings),
            ExportDataset::Journal => Some(Self::Journal),
        }
    }

    /// As on the wire.
    pub(crate) fn to_pb(self) -> ExportDataset {
        match self {
            Self::Jobs => ExportDataset::Jobs,
            Self::StageChanges => ExportDataset::StageChanges,
            Self::Labour => ExportDataset::Labour,
            Self::Mixes => ExportDataset::Mixes,
            Self::Film => ExportDataset::Film,
            Self::Coatings => ExportDataset::Coatings,
            Self::Quotes => ExportDataset::Quotes,
            Self::Takings => ExportDataset::Takings,
            Self::Journal => ExportDataset::Journal,
        }
    }

    /// Its name, which its file has too.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Jobs => "jobs",
            Self::StageChanges => "stage_changes",
            Self::Labour => "labour",
            Self::Mixes => "mixes",
            Self::Film => "film",
            Self::Coatings => "coatings",
            Self::Quotes => "quotes",
            Self::Takings => "takings",
            Self::Journal => "journal",
        }
    }

    fn table(self, zone: TimeZone) -> Table {
        let columns: &'static [Column] = match self {
            Self::Jobs => work::JOBS,
            Self::StageChanges => work::STAGE_CHANGES,
            Self::Labour => work::LABOUR,
            Self::Mixes => work::MIXES,
            Self::Film => work::FILM,
            Self::Coatings => work::COATINGS,
            Self::Quotes => sales::QUOTES,
            Self::Takings => sales::TAKINGS,
            Self::Journal => sales::JOURNAL,
        };
        Table {
            name: self.name(),
            columns,
            zone,
        }
    }
}

/// Writes a dataset's file on `sink`: the sink again, and the number of rows.
/// Blocks.
///
/// # Errors
/// When something cannot be read or written, or the books do not balance.
pub(crate) fn write<W: Write + Send>(
    dataset: Dataset,
    format: Format,
    days: &Days,
    happenings: Happenings,
    sink: W,
) -> Result<(W, u64), ExportFailed> {
    let table = dataset.table(days.zone().clone());
    let mut writer = TableWriter::try_new(format, table, sink)?;
    let mut span = Span::new(days, happenings.clone());
    for happening in happenings {
        for row in span.rows(dataset, &happening?)? {
            writer.write(&row)?;
        }
    }
    let what = format!("the journal of {} to {}", days.from(), days.to());
    span.totals.check(&what)?;
    Ok(writer.finish()?)
}

/// What the rows of one file share.
pub(super) struct Span<'a> {
    days: &'a Days,
    source: Happenings,
    /// Jobs as they stood when the span ended; emptied when it is full.
    jobs: HashMap<String, Rc<v1::Job>>,
    /// The jobs that have a row already, in the file of jobs.
    pub(super) listed: std::collections::HashSet<String>,
    /// Sums of the journal.
    pub(super) totals: Totals,
}

/// Most jobs kept in memory, to bound it.
const KEPT_JOBS: usize = 1024;

impl<'a> Span<'a> {
    fn new(days: &'a Days, source: Happenings) -> Self {
        Self {
            days,
            source,
            jobs: HashMap::new(),
            listed: std::collections::HashSet::new(),
            totals: Totals::default(),
        }
    }

    fn rows(&mut self, dataset: Dataset, at: &Happening) -> Result<Vec<Row>, ExportFailed> {
        let row = match dataset {
            Dataset::Jobs => work::job(at, self)?,
            Dataset::StageChanges => work::stage_change(at, self)?,
            Dataset::Labour => work::labour(at, self)?,
            Dataset::Mixes => work::mix(at, self)?,
            Dataset::Film => work::film(at, self)?,
            Dataset::Coatings => work::coating(at, self)?,
            Dataset::Quotes => sales::quote(at, self)?,
            Dataset::Takings => sales::taking(at, self)?,
            Dataset::Journal => return sales::journal(at, self),
        };
        Ok(row.into_iter().collect())
    }

    /// Day, time, job and its name: how every row but a job's begins.
    pub(super) fn lead(&mut self, at: &Happening) -> Result<Row, ExportFailed> {
        let job = self.job(&at.event.job)?;
        Ok(vec![
            Cell::Date(self.days.day_of(at.at)),
            Cell::Timestamp(at.at),
            Cell::text(&at.event.job),
            Cell::text(&job.display_name),
        ])
    }

    /// A job as it stood when the span ended.
    pub(super) fn job(&mut self, name: &str) -> Result<Rc<v1::Job>, ExportFailed> {
        if let Some(job) = self.jobs.get(name) {
            return Ok(Rc::clone(job));
        }
        let job = Rc::new(self.source.job_at_end(name)?);
        if self.jobs.len() == KEPT_JOBS {
            self.jobs.clear();
        }
        self.jobs.insert(name.to_owned(), Rc::clone(&job));
        Ok(job)
    }

    /// A quote by name.
    pub(super) fn quote(&self, name: &str) -> Result<Option<v1::Quote>, ExportFailed> {
        Ok(self.source.quote(name)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_dataset_is_on_the_wire_once_and_in_order() {
        for (index, dataset) in ALL.into_iter().enumerate() {
            let number = i32::try_from(index).unwrap() + 1;
            assert_eq!(i32::from(dataset.to_pb()), number);
            assert_eq!(Dataset::from_pb(number), Some(dataset));
            let wire = dataset.to_pb().as_str_name().to_lowercase();
            assert_eq!(wire, format!("export_dataset_{}", dataset.name()));
        }
        assert_eq!(Dataset::from_pb(0), None);
        assert_eq!(Dataset::from_pb(10), None);
    }

    #[test]
    fn columns_have_names_of_their_own() {
        for dataset in ALL {
            let table = dataset.table(TimeZone::UTC);
            let mut names: Vec<&str> = table.columns.iter().map(|c| c.name).collect();
            let count = names.len();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), count, "{}", table.name);
        }
    }
}

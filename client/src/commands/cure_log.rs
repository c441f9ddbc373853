//! Logged and forecast conditions from CSV files (RFC 4180).
//!
//! The first line names the columns: `time`, `temperature` and, if there is one,
//! `rh`, in any order and among others. A column's unit stands in its name
//! (`temperature_f`, `temperature (F)`, `rh (%)`) or after every value (`68F`);
//! one column has one unit.

use std::path::Path;

use lamella_proto::v1;

use crate::errors::CliError;
use crate::session::Session;
use crate::text::View;
use crate::times::{self, TimeArg};
use crate::units::{Percent, TemperatureC};

/// The samples of both files, and where the forecast begins: what is forecast
/// for times that were logged is left out.
///
/// # Errors
/// [`CliError::Read`], or [`CliError::Argument`] naming file, line and what is
/// wrong with it.
pub(crate) fn samples(
    log: Option<&Path>,
    forecast: Option<&Path>,
    session: &Session,
) -> Result<(Vec<v1::CureSample>, Option<prost_types::Timestamp>), CliError> {
    let file = |argument, path: Option<&Path>| {
        path.map_or_else(
            || Ok(Vec::new()),
            |path| read(argument, path, &session.view),
        )
    };
    let logged = file("--log", log)?;
    let ahead = file("--forecast", forecast)?;
    let moment = |sample: &v1::CureSample| sample.time.map(|time| (time.seconds, time.nanos));
    let last = logged.last().and_then(moment);
    let ahead = ahead.into_iter().filter(|sample| moment(sample) > last);
    let from = match (forecast, logged.last()) {
        (None, _) => None,
        (Some(_), last) => last.and_then(|sample| sample.time),
    };
    let samples: Vec<v1::CureSample> = logged.iter().copied().chain(ahead).collect();
    let from = from.or_else(|| forecast.and_then(|_| samples.first()?.time));
    Ok((samples, from))
}

fn read(argument: &'static str, path: &Path, view: &View) -> Result<Vec<v1::CureSample>, CliError> {
    let bytes = std::fs::read(path).map_err(|source| CliError::Read {
        what: path.display().to_string(),
        source,
    })?;
    parse(&bytes, view).map_err(|wrong| CliError::Argument {
        argument,
        rule: format!("{}: {wrong}", path.display()),
    })
}

/// A named column and the unit in its name.
struct Column {
    index: usize,
    unit: String,
}

fn parse(bytes: &[u8], view: &View) -> Result<Vec<v1::CureSample>, String> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes));
    let header = reader.headers().map_err(|error| error.to_string())?.clone();
    let column = |names: &[&str]| find(&header, names);
    let wanted = |name: &str| {
        format!(
            "its first line must name the columns time, temperature and perhaps rh; {name} is missing"
        )
    };
    let time = column(&["time"]).ok_or_else(|| wanted("time"))?;
    let temperature =
        column(&["temperature", "panel", "temp"]).ok_or_else(|| wanted("temperature"))?;
    let humidity = column(&["rh", "humidity"]);
    let mut units = (None, None);
    let mut samples = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        let at = |wrong: String| format!("line {line}: {wrong}");
        let value = |column: &Column| record.get(column.index).unwrap_or_default();
        let instant = value(&time)
            .parse::<TimeArg>()
            .and_then(|time| time.resolve(view.now, &view.zone))
            .map_err(|error| at(error.to_string()))?;
        let celsius: TemperatureC = quantity(value(&temperature), &temperature.unit, &mut units.0)
            .map_err(|wrong| at(format!("temperature {wrong}")))?;
        let percent: Option<Percent> = humidity
            .as_ref()
            .map(|column| quantity(value(column), "%", &mut units.1))
            .transpose()
            .map_err(|wrong| at(format!("rh {wrong}")))?;
        samples.push(v1::CureSample {
            time: Some(times::to_proto(instant)),
            panel_c: Some(celsius.0),
            relative_humidity_percent: percent.map(|percent| percent.0),
        });
    }
    if samples.is_empty() {
        return Err("it has no line but the first".to_owned());
    }
    Ok(samples)
}

fn find(header: &csv::StringRecord, names: &[&str]) -> Option<Column> {
    header.iter().enumerate().find_map(|(index, title)| {
        let title = title.to_lowercase();
        let name = title.trim_end_matches([')', ']']);
        let (name, unit) = name.split_once(['_', '(', '[', ' ']).unwrap_or((name, ""));
        let unit = unit.trim_matches(|c: char| !c.is_alphanumeric() && c != '%');
        names.contains(&name.trim()).then(|| Column {
            index,
            unit: unit.to_owned(),
        })
    })
}

/// A value with its own unit or the column's. `seen` is the unit of the lines
/// before: a column that changes its unit is likelier damaged than meant.
fn quantity<T: std::str::FromStr<Err: std::fmt::Display>>(
    text: &str,
    of_column: &str,
    seen: &mut Option<String>,
) -> Result<T, String> {
    let own = text.trim_start_matches(|c: char| !c.is_alphabetic() && c != '%' && c != '°');
    let unit = if own.is_empty() { of_column } else { own };
    let unit = unit.to_lowercase();
    match seen {
        Some(seen) if *seen != unit => {
            return Err(format!(
                "changes its unit from `{seen}` to `{unit}`; a column has one unit"
            ));
        }
        _ => *seen = Some(unit),
    }
    let with_unit = if own.is_empty() {
        format!("{text}{of_column}")
    } else {
        text.to_owned()
    };
    with_unit.parse().map_err(|error: T::Err| error.to_string())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::text::tests::view;
    use crate::units::System;

    fn read(text: &str) -> Result<Vec<(i64, f64, Option<f64>)>, String> {
        let samples = parse(text.as_bytes(), &view(System::Metric))?;
        let plain = |sample: v1::CureSample| {
            (
                sample.time.unwrap().seconds,
                sample.panel_c.unwrap(),
                sample.relative_humidity_percent,
            )
        };
        Ok(samples.into_iter().map(plain).collect())
    }

    // 95 F is 35 C, 77 F is 25 C: check values, section 9. 1772442000 is 2 March 2026, 10:00 in
    // Berlin, the view's zone.
    #[test]
    fn units_stand_in_the_name_or_after_the_value() {
        let expected = vec![
            (1_772_442_000, 35.0, Some(60.0)),
            (1_772_445_600, 25.0, Some(55.5)),
        ];
        for text in [
            "time,temperature,rh\n2026-03-02 10:00,95F,60%\n2026-03-02 11:00,77F,55.5%\n",
            "time,temperature_f,rh\r\n2026-03-02T10:00:00+01:00,95,60\r\n2026-03-02T10:00:00Z,77,55.5\r\n",
            "bay,RH (%),Temperature (F),Time\nA,60,95,2026-03-02 10:00\n\"B, rear\",55.5,77,2026-03-02 11:00\n",
            "\u{feff}time,temperature [C],humidity\n2026-03-02 10:00,35,60\n2026-03-02 11:00,25,55.5\n",
        ] {
            assert_eq!(read(text).as_ref(), Ok(&expected), "{text}");
        }
        let dry = "time,temperature\n2026-03-02 10:00,-5.5C\n";
        assert_eq!(read(dry), Ok(vec![(1_772_442_000, -5.5, None)]));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        let all = [
            "",
            "time,rh\n",
            "time,temperature\n",
            "time,temperature\n2026-03-02 10:00,20\n",
            "time,temperature\n2026-03-02 10:00,20C\n2026-03-02 11:00,68F\n",
            "time,temperature,rh\n2026-03-02 10:00,20C,60%\n2026-03-02 11:00,20C,60C\n",
            "time,temperature\nyesterday,20C\n",
            "time,temperature\n2026-03-02 10:00,20C,60%\n",
        ];
        let wrong = all.map(|text| read(text).unwrap_err()).join("\n");
        insta::assert_snapshot!(wrong, @r#"
        its first line must name the columns time, temperature and perhaps rh; time is missing
        its first line must name the columns time, temperature and perhaps rh; temperature is missing
        it has no line but the first
        line 2: temperature `20` has no unit; write 20C or 20F
        line 3: temperature changes its unit from `c` to `f`; a column has one unit
        line 3: rh changes its unit from `%` to `c`; a column has one unit
        line 2: `yesterday` has no time of day; write "yesterday 17:00"
        CSV error: record 1 (line: 2, byte: 17): found record with 3 fields, but the previous record has 2 fields
        "#);
    }

    proptest! {
        #[test]
        fn no_file_makes_it_panic(text in "(time,temperature,rh\n)?\\PC*", bytes: Vec<u8>) {
            let view = view(System::Metric);
            let _ = parse(text.as_bytes(), &view);
            let _ = parse(&bytes, &view);
        }
    }
}

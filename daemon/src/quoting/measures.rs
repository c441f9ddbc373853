//! What a job takes, from what was written down: film, liquids and hours, in whole
//! thousandths so that a price is the same in every language.

use lamella_jobs::record::{Entry, Record};
use lamella_proto::v1;

/// Thousandths of an hour are 3.6 seconds each.
const MS_PER_THOUSANDTH_HOUR: i128 = 3_600;

/// Film in metres pulled off the roll, liquids in millilitres of concentrate, and
/// labour in hours: one measure for each film, product and activity, in the order
/// in which they were first written down. Each sum is rounded once, halves up.
pub(crate) fn from_records(records: &[Record]) -> Vec<v1::QuoteMeasure> {
    // A millimetre is a thousandth of a metre.
    let mut film_mm = Sums::new();
    let mut chemical_ml = Sums::new();
    let mut labour_ms: Vec<(&str, i128)> = Vec::new();
    for record in records {
        match &record.entry {
            Entry::FilmPiece(film) => film_mm.add(&film.film, film.length_mm),
            Entry::Mix(mix) => chemical_ml.add(&mix.product, mix.concentrate_ml),
            Entry::Labour(labour) => {
                let ms = labour.to_time.as_millisecond() - labour.from_time.as_millisecond();
                match labour_ms
                    .iter_mut()
                    .find(|(item, _)| *item == labour.activity)
                {
                    Some((_, sum)) => *sum += i128::from(ms),
                    None => labour_ms.push((&labour.activity, ms.into())),
                }
            }
            Entry::GaugeReadings(_)
            | Entry::Pass(_)
            | Entry::CoatLayer(_)
            | Entry::BayAir(_)
            | Entry::PartOff(_)
            | Entry::PartRefit(_)
            | Entry::Note(_) => {}
        }
    }
    let film = film_mm.into_measures("film", "m", 1.0);
    let chemical = chemical_ml.into_measures("chemical", "ml", 1_000.0);
    let labour = labour_ms.into_iter().map(|(item, ms)| {
        let thousandths = (ms + MS_PER_THOUSANDTH_HOUR / 2) / MS_PER_THOUSANDTH_HOUR;
        measure(
            "labour",
            item,
            i64::try_from(thousandths).unwrap_or(i64::MAX),
            "h",
        )
    });
    film.into_iter().chain(chemical).chain(labour).collect()
}

/// The measures on record with those of a request: one of the same kind and item
/// takes the other's place.
pub(crate) fn with(
    mut on_record: Vec<v1::QuoteMeasure>,
    asked: Vec<v1::QuoteMeasure>,
) -> Vec<v1::QuoteMeasure> {
    for measure in asked {
        let same = |other: &&mut v1::QuoteMeasure| {
            other.kind == measure.kind && other.item == measure.item
        };
        match on_record.iter_mut().find(same) {
            Some(place) => *place = measure,
            None => on_record.push(measure),
        }
    }
    on_record
}

/// Sums by item, in order of first use.
struct Sums<'a>(Vec<(&'a str, f64)>);

impl<'a> Sums<'a> {
    fn new() -> Self {
        Self(Vec::new())
    }

    fn add(&mut self, item: &'a str, quantity: f64) {
        match self.0.iter_mut().find(|(known, _)| *known == item) {
            Some((_, sum)) => *sum += quantity,
            None => self.0.push((item, quantity)),
        }
    }

    fn into_measures(self, kind: &str, unit: &str, thousandths: f64) -> Vec<v1::QuoteMeasure> {
        let sums = self.0.into_iter();
        #[expect(
            clippy::cast_possible_truncation,
            reason = "rounded before, and a cast saturates"
        )]
        sums.map(|(item, sum)| measure(kind, item, (sum * thousandths).round() as i64, unit))
            .collect()
    }
}

fn measure(kind: &str, item: &str, quantity_thousandths: i64, unit: &str) -> v1::QuoteMeasure {
    v1::QuoteMeasure {
        kind: kind.to_owned(),
        item: item.to_owned(),
        quantity_thousandths,
        unit: unit.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use lamella_jobs::record::{FilmPiece, Labour, Mix, Note};
    use proptest::prelude::*;

    use super::*;

    fn record(entry: Entry) -> Record {
        Record {
            id: "1".to_owned(),
            record_time: Timestamp::UNIX_EPOCH,
            author: String::new(),
            create_time: Timestamp::UNIX_EPOCH,
            entry,
            cautions: Vec::new(),
        }
    }

    fn film(film: &str, length_mm: f64) -> Record {
        record(Entry::FilmPiece(FilmPiece {
            film: film.to_owned(),
            width_mm: 600.0,
            length_mm,
            ..FilmPiece::default()
        }))
    }

    fn mix(product: &str, concentrate_ml: f64) -> Record {
        record(Entry::Mix(Mix {
            product: product.to_owned(),
            concentrate_ml,
            diluent_ml: 900.0,
            ..Mix::default()
        }))
    }

    fn labour(activity: &str, ms: i64) -> Record {
        record(Entry::Labour(Labour {
            worker: "first worker".to_owned(),
            activity: activity.to_owned(),
            from_time: Timestamp::UNIX_EPOCH,
            to_time: Timestamp::from_millisecond(ms).unwrap(),
        }))
    }

    /// By hand: 700 + 400.4 mm are 1100 thousandths of a metre; 33.3 + 66.7004 ml
    /// are 100 000 thousandths of a millilitre; 90 min + 45 min are 2250 thousandths
    /// of an hour, and 1.8 s are half a thousandth, which is rounded up.
    #[test]
    fn film_liquids_and_hours_are_added_up_by_item() {
        let records = [
            mix("pre-wash", 33.3),
            labour("correct", 90 * 60_000),
            film("clear film", 700.0),
            record(Entry::Note(Note::default())),
            film("matt film", 20.6),
            labour("correct", 45 * 60_000),
            mix("pre-wash", 66.700_4),
            film("clear film", 400.4),
            labour("wash", 1_800),
        ];
        assert_eq!(
            from_records(&records),
            [
                measure("film", "clear film", 1_100, "m"),
                measure("film", "matt film", 21, "m"),
                measure("chemical", "pre-wash", 100_000, "ml"),
                measure("labour", "correct", 2_250, "h"),
                measure("labour", "wash", 1, "h"),
            ]
        );
    }

    #[test]
    fn what_is_asked_for_takes_the_place_of_what_is_on_record() {
        let on_record = from_records(&[film("clear film", 700.0), mix("pre-wash", 1.0)]);
        let asked = vec![
            measure("chemical", "compound", 5_000, "ml"),
            measure("film", "clear film", 2_150, "m"),
        ];
        assert_eq!(
            with(on_record, asked),
            [
                measure("film", "clear film", 2_150, "m"),
                measure("chemical", "pre-wash", 1_000, "ml"),
                measure("chemical", "compound", 5_000, "ml"),
            ]
        );
    }

    proptest! {
        /// Against whole-number sums: lengths in whole millimetres add up exactly.
        #[test]
        fn whole_millimetres_and_milliseconds_lose_nothing(
            lengths in proptest::collection::vec(1_i32..100_000, 1..50),
            hours in proptest::collection::vec(1_i64..24_000, 1..50),
        ) {
            let mut records: Vec<Record> = lengths.iter().map(|mm| film("f", f64::from(*mm))).collect();
            records.extend(hours.iter().map(|thousandths| labour("a", thousandths * 3_600)));
            let found = from_records(&records);
            let mm: i64 = lengths.iter().map(|mm| i64::from(*mm)).sum();
            prop_assert_eq!(found[0].quantity_thousandths, mm);
            prop_assert_eq!(found[1].quantity_thousandths, hours.iter().sum::<i64>());
        }
    }
}

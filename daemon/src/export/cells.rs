//! API values as cells.

use jiff::Timestamp;
use lamella_export::table::Cell;
use lamella_proto::v1;

/// An instant; nothing where none is given.
pub(super) fn instant(time: Option<&prost_types::Timestamp>) -> Cell {
    timestamp(time).map_or(Cell::Empty, Cell::Timestamp)
}

/// An instant of the API.
pub(super) fn timestamp(time: Option<&prost_types::Timestamp>) -> Option<Timestamp> {
    time.and_then(|time| Timestamp::new(time.seconds, time.nanos).ok())
}

/// Minor units and amount; both empty without money.
pub(super) fn money(money: Option<&v1::Money>) -> [Cell; 2] {
    money.map_or([const { Cell::Empty }; 2], |money| {
        Cell::money(money.minor_units, decimals(&money.currency_code))
    })
}

/// Decimals of a currency by ISO 4217; none where there is no such currency.
pub(super) fn decimals(currency: &str) -> Option<u8> {
    let currency = iso_currency::Currency::from_code(currency)?;
    currency
        .exponent()
        .and_then(|digits| digits.try_into().ok())
}

/// Several words in one cell.
pub(super) fn joined<'a>(words: impl IntoIterator<Item = &'a str>) -> Cell {
    Cell::text(words.into_iter().collect::<Vec<_>>().join("; "))
}

/// A stage as the client writes it, for example "in-work".
pub(super) fn stage(stage: v1::Stage) -> Cell {
    let known = crate::convert::job::stage_from_pb(stage);
    known.map_or(Cell::Empty, |stage| Cell::text(stage.as_str()))
}

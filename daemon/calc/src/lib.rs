//! Pure calculators: no clock, no I/O, no async. Quantities carry their unit
//! in their name.
//!
//! - [`dilution`]: how much product, how much water
//! - [`mix`]: what a mix truly yields, its flash point, hazard, cost; blending
//! - [`film`]: areas, layout on the roll, length to pull
//! - [`air`]: dew point and what else moist air tells
//! - [`cure`]: when a coating may be wiped, recoated, driven, washed
//! - [`gauge`]: what thickness readings say, and which gauge reads what
//! - [`heat`]: how warm polishing makes a panel
//! - [`paint`]: layers under the readings, clear coat, removal, the ledger's arithmetic
//! - [`advice`]: the next least aggressive pass
//! - [`violation`], [`error`], [`caution`]: what they all share

pub mod advice;
pub mod air;
pub mod caution;
pub mod cure;
pub mod dilution;
pub mod error;
pub mod film;
pub mod gauge;
pub mod heat;
pub mod mix;
pub mod paint;
pub mod violation;

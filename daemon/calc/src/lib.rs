//! Pure calculators: no clock, no I/O, no async. Quantities carry their unit
//! in their name.
//!
//! - [`dilution`]: how much product, how much water
//! - [`film`]: areas, layout on the roll, length to pull
//! - [`air`]: dew point and what else moist air tells
//! - [`cure`]: when a coating may be wiped, recoated, driven, washed
//! - [`gauge`]: what thickness readings say, and which gauge reads what
//! - [`heat`]: how warm polishing makes a panel
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
pub mod violation;

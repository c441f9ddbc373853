//! The job, from booking to hand-over, as pure state transitions: state and
//! command in, events or a refusal out. No clock, I/O, async, proto or store.
//!
//! - [`stage`]: where a job stands and which moves there are
//! - [`gate`]: what must hold before a stage lets a job in
//! - [`job`], [`vehicle`], [`record`]: what is kept
//! - [`transition`]: create, update, advance, delete, undelete
//! - [`append`]: what happens when a record is added
//! - [`booking`]: what a booking of another system does to its job
//! - [`photo`]: when a photo may be added
//! - [`refusal`]: why something was not done

pub mod append;
pub mod booking;
pub mod check;
pub mod gate;
pub mod job;
pub mod photo;
pub mod record;
mod record_check;
pub mod refusal;
pub mod stage;
pub mod transition;
pub mod vehicle;

#[cfg(test)]
mod tests;

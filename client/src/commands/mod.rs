//! One file per command: its arguments, the request made of them, and the text
//! made of the answer.

pub(crate) mod advise;
pub(crate) mod call;
pub(crate) mod completions;
pub(crate) mod cure;
pub(crate) mod dew;
pub(crate) mod dilute;
pub(crate) mod film;
pub(crate) mod job;
pub(crate) mod man;
pub(crate) mod vehicle;

mod choices;
mod film_spec;
mod setup;
mod shared;

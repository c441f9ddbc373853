//! One file per command: its arguments, the request made of them, and the text
//! made of the answer.

pub(crate) mod advise;
pub(crate) mod blend;
pub(crate) mod booking;
pub(crate) mod call;
pub(crate) mod completions;
pub(crate) mod cure;
pub(crate) mod dew;
pub(crate) mod dilute;
pub(crate) mod doctor;
pub(crate) mod export;
pub(crate) mod film;
pub(crate) mod handover;
pub(crate) mod heat;
pub(crate) mod job;
pub(crate) mod man;
pub(crate) mod paint;
pub(crate) mod photo;
pub(crate) mod plugin;
pub(crate) mod quote;
pub(crate) mod vehicle;

mod choices;
mod cure_args;
mod cure_log;
mod film_spec;
mod heat_chart;
mod heat_spec;
mod measure_spec;
mod mix_spec;
mod mix_text;
mod paint_spec;
mod setting;
mod setup;
pub(crate) mod shared;

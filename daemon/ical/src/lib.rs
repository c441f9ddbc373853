//! iCalendar (RFC 5545) in and out. Knows no clock, I/O, async, proto or store.
//!
//! - [`read()`]: events of a calendar, repeating ones once for each time they
//!   take place, and every line that was not understood
//! - [`write()`]: a calendar of visits
//!
//! | module | RFC 5545 | idea |
//! |---|---|---|
//! | `line` | 3.1, 3.2 | unfolding, and a line's name, parameters and value |
//! | `component` | 3.4, 3.6 | what BEGIN and END enclose |
//! | `value` | 3.3 | dates, times, durations, text |
//! | `zone` | 3.6.5 | time zones by IANA name or by VTIMEZONE |
//! | `repeat` | 3.3.10, 3.8.5 | recurrence rules, within limits |
//! | `event` | 3.6.1 | a VEVENT |
//! | `fault` | | what can be wrong |

mod component;
mod event;
mod fault;
mod line;
mod read;
mod repeat;
mod value;
mod write;
mod zone;

pub use fault::Fault;
pub use read::{MAX_BYTES, Occurrence, ReadOptions, Reading, Rejection, read};
pub use write::{Entry, WriteOptions, write};

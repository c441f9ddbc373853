//! Calculator requests and answers, one file per calculator.

pub(crate) mod advice;
pub(crate) mod cure;
pub(crate) mod dilution;
pub(crate) mod film;

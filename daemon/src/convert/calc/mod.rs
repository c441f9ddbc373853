//! Calculator requests and answers, one file per calculator.

pub(crate) mod advice;
pub(crate) mod blend;
pub(crate) mod cure;
pub(crate) mod dilution;
pub(crate) mod film;
pub(crate) mod heat;
pub(crate) mod mix;
pub(crate) mod paint;

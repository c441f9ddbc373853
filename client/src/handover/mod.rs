//! The hand-over sheet: what was done to a car, for the person who takes it home.
//!
//! - `gather`: what the daemon is asked
//! - `sheet`: what a template is given
//! - `fill`, `work`, `paint`, `timeline`, `picture`: from the one to the other
//! - `page`: the template and the page made of it
//! - `pdf`: the page on paper
//!
//! Nothing is computed here that the daemon computes: thickness, removal, what is
//! left and when things cure come from it.

pub(crate) mod fill;
pub(crate) mod gather;
pub(crate) mod page;
mod paint;
pub(crate) mod pdf;
mod picture;
pub(crate) mod sheet;
mod timeline;
mod work;

/// Paper that the sheet is laid out for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    A4,
    /// 8.5 in by 11 in (ANSI/ASME Y14.1).
    Letter,
}

impl Paper {
    /// Its name in CSS Paged Media.
    pub(crate) fn css(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }
}

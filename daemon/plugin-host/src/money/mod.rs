//! Whether a quote adds up: exact integer arithmetic, with the shop's rounding.
//!
//! - [`round`]: dividing with a stated rounding
//! - [`check`]: a quote against the shop's rules of money
//! - [`fault`]: what can be wrong with it

mod check;
mod fault;
mod round;

pub use check::check_quote;
pub use fault::QuoteFault;
pub use round::{PPM, THOUSANDTHS, divide_rounded};

//! Dividing whole numbers with a stated rounding.

use crate::Rounding;

/// Thousandths in one unit of a quantity.
pub const THOUSANDTHS: u32 = 1_000;

/// Millionths in a whole; tax rates are in millionths.
pub const PPM: u32 = 1_000_000;

/// `value / divisor` to the nearer whole number; halves go away from zero (`half-up`)
/// or to the even one (`half-even`): roundTiesToAway and roundTiesToEven of
/// IEEE 754-2019, 4.3. Any `value` is in range; a `divisor` of 0 gives 0.
#[must_use]
pub fn divide_rounded(value: i128, divisor: u32, rounding: Rounding) -> i128 {
    let divisor = i128::from(divisor);
    let (Some(whole), Some(rest)) = (value.checked_div(divisor), value.checked_rem(divisor)) else {
        return 0;
    };
    // The rest is smaller than a u32, so doubling it cannot overflow.
    let twice = rest.abs() * 2;
    let away = match rounding {
        Rounding::HalfUp => twice >= divisor,
        Rounding::HalfEven => twice > divisor || (twice == divisor && whole % 2 != 0),
    };
    if away { whole + value.signum() } else { whole }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rust_decimal::{Decimal, RoundingStrategy};

    /// Against the library `rust_decimal`, which rounds by its own code. Every
    /// remainder of a thousand, on both sides of zero, so every half is met.
    #[test]
    fn agrees_with_rust_decimal() {
        for (rounding, strategy) in [
            (Rounding::HalfUp, RoundingStrategy::MidpointAwayFromZero),
            (Rounding::HalfEven, RoundingStrategy::MidpointNearestEven),
        ] {
            for value in -3_000_i64..=3_000 {
                let other = Decimal::new(value, 3).round_dp_with_strategy(0, strategy);
                let ours = divide_rounded(value.into(), THOUSANDTHS, rounding);
                assert_eq!(Decimal::from(ours), other, "{value} {rounding:?}");
            }
        }
    }
}

//! Dividing whole numbers with a stated rounding.

use crate::Rounding;

/// Thousandths in one unit of a quantity.
pub const THOUSANDTHS: u32 = 1_000;

/// Millionths in a whole; tax rates are in millionths.
pub const PPM: u32 = 1_000_000;

/// `value / divisor` to the nearer whole number; halves go away from zero
/// (`half-up`) or to the even one (`half-even`). The names are those of the decimal
/// arithmetic standards (IEEE 754-2019, 4.3: roundTiesToAway, roundTiesToEven).
///
/// Any `value` is in range. A `divisor` of 0 gives 0; the host divides by
/// [`THOUSANDTHS`] and [`PPM`] only.
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
    use proptest::prelude::*;

    /// Source: the table of rounding modes in the documentation of
    /// `java.math.RoundingMode` (Java SE), columns HALF_UP and HALF_EVEN, for inputs
    /// in tenths; from memory.
    #[test]
    fn agrees_with_a_published_table() {
        let rows = [
            (55, 6, 6),
            (25, 3, 2),
            (16, 2, 2),
            (11, 1, 1),
            (10, 1, 1),
            (-10, -1, -1),
            (-11, -1, -1),
            (-16, -2, -2),
            (-25, -3, -2),
            (-55, -6, -6),
        ];
        for (tenths, half_up, half_even) in rows {
            assert_eq!(
                divide_rounded(tenths, 10, Rounding::HalfUp),
                half_up,
                "{tenths} up"
            );
            assert_eq!(
                divide_rounded(tenths, 10, Rounding::HalfEven),
                half_even,
                "{tenths} even"
            );
        }
    }

    proptest! {
        /// Against the library `rust_decimal`, which rounds by its own code.
        #[test]
        fn agrees_with_rust_decimal(value in -1_000_000_000_000_i64..1_000_000_000_000) {
            use rust_decimal::{Decimal, RoundingStrategy};
            for (scale, divisor) in [(3, THOUSANDTHS), (6, PPM)] {
                for (rounding, strategy) in [
                    (Rounding::HalfUp, RoundingStrategy::MidpointAwayFromZero),
                    (Rounding::HalfEven, RoundingStrategy::MidpointNearestEven),
                ] {
                    let other = Decimal::new(value, scale).round_dp_with_strategy(0, strategy);
                    let ours = divide_rounded(i128::from(value), divisor, rounding);
                    prop_assert_eq!(Decimal::from_i128_with_scale(ours, 0), other);
                }
            }
        }

        /// Halves are rare in random numbers, so they are drawn on purpose.
        #[test]
        fn halves_agree_with_rust_decimal(whole in -1_000_000_000_i64..1_000_000_000) {
            use rust_decimal::{Decimal, RoundingStrategy};
            let value = whole * 1_000 + 500;
            for (rounding, strategy) in [
                (Rounding::HalfUp, RoundingStrategy::MidpointAwayFromZero),
                (Rounding::HalfEven, RoundingStrategy::MidpointNearestEven),
            ] {
                let other = Decimal::new(value, 3).round_dp_with_strategy(0, strategy);
                let ours = divide_rounded(i128::from(value), THOUSANDTHS, rounding);
                prop_assert_eq!(Decimal::from_i128_with_scale(ours, 0), other);
            }
        }
    }

    #[test]
    fn extremes_do_not_overflow() {
        for rounding in [Rounding::HalfUp, Rounding::HalfEven] {
            assert_eq!(divide_rounded(i128::MAX, 1, rounding), i128::MAX);
            assert_eq!(divide_rounded(i128::MIN, 1, rounding), i128::MIN);
            assert_eq!(divide_rounded(i128::MIN, 2, rounding), i128::MIN / 2);
            assert_eq!(divide_rounded(7, 0, rounding), 0);
        }
    }
}

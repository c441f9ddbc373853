//! Pure calculators.

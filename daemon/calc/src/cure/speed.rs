//! How fast a product cures, with its doubt: the slowest, the expected and the
//! fastest that the stated uncertainties allow, side by side.

use super::rate::{Response, bounded_exp};

/// Slowest, expected and fastest.
pub(crate) type Three = [f64; 3];
/// Index into [`Three`]: the slowest, so the latest time.
pub(crate) const SLOWEST: usize = 0;
/// Index into [`Three`]: the expected.
pub(crate) const EXPECTED: usize = 1;
/// Index into [`Three`]: the fastest, so the earliest time.
pub(crate) const FASTEST: usize = 2;

/// How far the rate may be off.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Doubt {
    /// Temperature, kelvins either way.
    pub(crate) temperature_k: f64,
    /// Natural logarithm of the factor by which the rate may be off either way.
    pub(crate) ln_rate: f64,
}

/// Which part of the rate is integrated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    /// All of it.
    Whole,
    /// What moisture does; under a lamp temperature's part is a constant beside it.
    Moisture,
}

/// The rate of a product, with its doubt.
#[derive(Debug, Clone)]
pub(crate) struct Speed {
    pub(crate) response: Response,
    pub(crate) doubt: Doubt,
}

impl Speed {
    /// Temperature's part, logarithms. The two doubts are independent, so their
    /// effects on the logarithm add in squares (GUM, JCGM 100:2008, 5.1.2).
    pub(crate) fn ln_temperature(&self, panel_c: f64) -> Three {
        let middle = self.response.ln_temperature(panel_c);
        let Doubt {
            temperature_k,
            ln_rate,
        } = self.doubt;
        if temperature_k <= 0.0 {
            return [middle - ln_rate, middle, middle + ln_rate];
        }
        let down = middle - self.response.ln_temperature(panel_c - temperature_k);
        let up = self.response.ln_temperature(panel_c + temperature_k) - middle;
        [
            middle - down.hypot(ln_rate),
            middle,
            middle + up.hypot(ln_rate),
        ]
    }

    pub(crate) fn rates(&self, (panel_c, humidity): (f64, f64), part: Part) -> Three {
        let moisture = self.response.ln_moisture(panel_c, humidity);
        match part {
            Part::Moisture => [bounded_exp(moisture); 3],
            Part::Whole => self
                .ln_temperature(panel_c)
                .map(|ln| bounded_exp(ln + moisture)),
        }
    }

    /// How much the logarithm of the rate changes from one state to another;
    /// temperature and moisture may work against each other, so not their sum.
    pub(crate) fn change(&self, from: (f64, f64), to: (f64, f64)) -> f64 {
        let temperature = self.response.ln_temperature(to.0) - self.response.ln_temperature(from.0);
        let moisture =
            self.response.ln_moisture(to.0, to.1) - self.response.ln_moisture(from.0, from.1);
        temperature.abs() + moisture.abs()
    }
}

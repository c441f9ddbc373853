//! The dose of a cure: what has cured by when, and when what has cured, along a
//! series (see `curve`) and under lamps.

use super::curve::{Curve, accumulate};
use super::rate::{Response, bounded_exp};
use super::series::{Lamp, Sample};
use super::speed::{Doubt, EXPECTED, Part, Speed, Three};

/// A cure that began at some hour: lamps over the air's series.
#[derive(Debug)]
pub(crate) struct Course<'a> {
    speed: Speed,
    samples: &'a [Sample],
    lamps: &'a [Lamp],
    /// Rate integrated up to each sample, no lamp on.
    ambient: Vec<Three>,
    /// Moisture's part of the rate integrated up to each sample; empty where the
    /// product follows no moisture, or no lamp needs it.
    moisture: Vec<Three>,
}

impl<'a> Course<'a> {
    /// Integrates the series; `samples` holds at least one, checked. None where it
    /// swings too far and too often for that.
    pub(crate) fn new(
        response: Response,
        doubt: Doubt,
        samples: &'a [Sample],
        lamps: &'a [Lamp],
    ) -> Option<Self> {
        let speed = Speed { response, doubt };
        let ambient = accumulate(&speed, samples, Part::Whole)?;
        let moisture = if speed.response.by_moisture() && !lamps.is_empty() {
            accumulate(&speed, samples, Part::Moisture)?
        } else {
            Vec::new()
        };
        Some(Self {
            speed,
            samples,
            lamps,
            ambient,
            moisture,
        })
    }

    /// When a cure that began at `start_hours` has reached `dose` hours at
    /// reference, on the samples' axis.
    pub(crate) fn reached_hours(&self, start_hours: f64, dose: f64, which: usize) -> f64 {
        let (mut at, mut left) = (start_hours, dose);
        for lamp in self.lamps {
            let (on, off) = (start_hours + lamp.from_hours, start_hours + lamp.to_hours);
            let before = self.whole().between(at, on, which);
            if before >= left {
                return self.whole().after(at, left, which);
            }
            left -= before;
            let rate = bounded_exp(self.speed.ln_temperature(lamp.panel_c)[which]);
            let under_lamp = rate * self.moist_hours(on, off, which);
            if under_lamp >= left {
                return if self.moisture.is_empty() {
                    on + left / rate
                } else {
                    self.moist().after(on, left / rate, which)
                };
            }
            left -= under_lamp;
            at = off;
        }
        self.whole().after(at, left, which)
    }

    /// Dose from `start_hours` to `end_hours`, under the lamps that went on with the
    /// start, hours at reference. Much cheaper than asking when a dose is reached.
    pub(crate) fn dose_hours(&self, start_hours: f64, end_hours: f64, which: usize) -> f64 {
        let (mut at, mut dose) = (start_hours, 0.0);
        for lamp in self.lamps {
            let on = (start_hours + lamp.from_hours).min(end_hours);
            let off = (start_hours + lamp.to_hours).min(end_hours);
            let rate = bounded_exp(self.speed.ln_temperature(lamp.panel_c)[which]);
            dose += self.whole().between(at, on, which) + rate * self.moist_hours(on, off, which);
            at = off;
            if at >= end_hours {
                return dose;
            }
        }
        dose + self.whole().between(at, end_hours, which)
    }

    /// The start from which `dose` is reached exactly at `end_hours`, no lamp on.
    pub(crate) fn start_hours(&self, end_hours: f64, dose: f64, which: usize) -> f64 {
        self.whole().after(end_hours, -dose, which)
    }

    /// Dose between two instants without lamps, hours at reference.
    pub(crate) fn ambient_dose(&self, from_hours: f64, to_hours: f64) -> f64 {
        self.whole().between(from_hours, to_hours, EXPECTED)
    }

    /// Temperature and humidity at an instant, without lamps.
    pub(crate) fn air_at(&self, hours: f64) -> (f64, f64) {
        let curve = self.whole();
        let index = curve.segment(hours);
        let at = |index: usize| {
            self.samples
                .get(index)
                .map_or(0.0, |sample| sample.at_hours)
        };
        let share = (hours - at(index)) / (at(index + 1) - at(index));
        curve.air(
            index,
            if share.is_finite() {
                share.clamp(0.0, 1.0)
            } else {
                0.0
            },
        )
    }

    fn moist_hours(&self, from_hours: f64, to_hours: f64, which: usize) -> f64 {
        if self.moisture.is_empty() {
            to_hours - from_hours
        } else {
            self.moist().between(from_hours, to_hours, which)
        }
    }

    fn whole(&self) -> Curve<'_> {
        let Self {
            speed,
            samples,
            ambient,
            ..
        } = self;
        Curve {
            speed,
            samples,
            summed: ambient,
            part: Part::Whole,
        }
    }

    fn moist(&self) -> Curve<'_> {
        let Self {
            speed,
            samples,
            moisture,
            ..
        } = self;
        Curve {
            speed,
            samples,
            summed: moisture,
            part: Part::Moisture,
        }
    }
}

//! A schedule of work and pauses, and the surface at any time in it.

use super::friction::{PadMotion, friction_flux_w_per_m2};
use super::modes::{Modes, State, Surface};

/// Work or a pause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// How long, s, above 0 to 3600.
    pub seconds: f64,
    /// Pressure under the pad, kPa, 0 to 100; 0 is a pause in which the panel cools.
    pub pressure_kpa: f64,
    /// How the pad moves here; absent: as the request says.
    pub motion: Option<PadMotion>,
}

/// A schedule laid out in time, for a heat factor of 1.
#[derive(Debug)]
pub(crate) struct Timeline<'a> {
    pub(crate) modes: &'a Modes,
    pub(crate) parts: Vec<Part>,
}

/// One segment in time.
#[derive(Debug)]
pub(crate) struct Part {
    pub(crate) start_s: f64,
    pub(crate) seconds: f64,
    pub(crate) pressure_kpa: f64,
    pub(crate) speed_m_per_s: f64,
    /// Flux over the section for a heat factor of 1, W/m2.
    pub(crate) unit_flux: f64,
    pub(crate) state: State,
}

impl<'a> Timeline<'a> {
    /// Lays out segments, each with its mean speed in m/s, from a panel that is `above_air_k` warmer
    /// than the air.
    pub(crate) fn new(
        modes: &'a Modes,
        above_air_k: f64,
        segments: impl Iterator<Item = (Segment, f64)>,
        swept_ratio: f64,
    ) -> Self {
        let mut parts = Vec::new();
        let (mut start_s, mut state) = (0.0, modes.start(above_air_k));
        for (segment, speed_m_per_s) in segments {
            let unit_flux =
                friction_flux_w_per_m2(1.0, segment.pressure_kpa, speed_m_per_s) * swept_ratio;
            parts.push(Part {
                start_s,
                seconds: segment.seconds,
                pressure_kpa: segment.pressure_kpa,
                speed_m_per_s,
                unit_flux,
                state,
            });
            state = modes.after(&state, unit_flux, &modes.span(segment.seconds));
            start_s += segment.seconds;
        }
        Self { modes, parts }
    }

    /// The surface so many seconds after the beginning; past the end the last segment goes on.
    pub(crate) fn at(&self, after_s: f64) -> Surface {
        let begun = self.parts.partition_point(|part| part.start_s <= after_s);
        match self.parts.get(begun.saturating_sub(1)) {
            Some(part) => self.within(part, after_s - part.start_s),
            None => Surface {
                start_k: 0.0,
                added_k: 0.0,
            },
        }
    }

    /// The surface so many seconds into a part.
    pub(crate) fn within(&self, part: &Part, seconds: f64) -> Surface {
        self.surface_after(part, &part.state, seconds)
    }

    /// The surface so many seconds after a state in a part.
    pub(crate) fn surface_after(&self, part: &Part, state: &State, seconds: f64) -> Surface {
        let span = self.modes.span(seconds);
        self.modes
            .surface(&self.modes.after(state, part.unit_flux, &span))
    }

    /// States at even steps through a part, its beginning first; it never ends.
    pub(crate) fn steps(&self, part: &Part, step_s: f64) -> impl Iterator<Item = State> {
        let span = self.modes.span(step_s);
        std::iter::successors(Some(part.state), move |state| {
            Some(self.modes.after(state, part.unit_flux, &span))
        })
    }
}

impl Part {
    pub(crate) fn is_work(&self) -> bool {
        self.unit_flux > 0.0
    }
}

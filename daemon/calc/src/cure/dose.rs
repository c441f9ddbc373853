//! The dose along a series: what has cured by when, and when what has cured.
//!
//! Between two samples temperature and relative humidity run in straight lines;
//! the rate along them is integrated by Gauss's rule with two or three nodes, on
//! pieces over which the rate changes at most by e^2, cut at the corners of a
//! table. Against scipy's adaptive quadrature that is well inside 0.1 % (see
//! `tests/tests/calc/cure.rs`). After the last sample its rate is held.
//!
//! Three doses run side by side: the slowest, the expected and the fastest that
//! the stated uncertainties allow.

use super::rate::{Response, bounded_exp};
use super::series::{Lamp, Sample};

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

/// A cure that began at some hour: lamps over the air's series.
#[derive(Debug)]
pub(crate) struct Course<'a> {
    speed: Speed<'a>,
    samples: &'a [Sample],
    lamps: &'a [Lamp],
    /// Rate integrated up to each sample, no lamp on.
    ambient: Vec<Three>,
    /// Moisture's part of the rate integrated up to each sample; empty where the
    /// product follows no moisture, or no lamp needs it.
    moisture: Vec<Three>,
}

impl<'a> Course<'a> {
    /// Integrates the series; `samples` holds at least one, checked.
    pub(crate) fn new(
        response: Response<'a>,
        doubt: Doubt,
        samples: &'a [Sample],
        lamps: &'a [Lamp],
    ) -> Self {
        let speed = Speed { response, doubt };
        let ambient = accumulate(&speed, samples, Part::Whole);
        let moisture = if speed.response.by_moisture() && !lamps.is_empty() {
            accumulate(&speed, samples, Part::Moisture)
        } else {
            Vec::new()
        };
        Self {
            speed,
            samples,
            lamps,
            ambient,
            moisture,
        }
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

    fn whole(&self) -> Curve<'_, 'a> {
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

    fn moist(&self) -> Curve<'_, 'a> {
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

/// Which part of the rate is integrated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// All of it.
    Whole,
    /// What moisture does; under a lamp temperature's part is a constant beside it.
    Moisture,
}

/// The rate of a product, with its doubt.
#[derive(Debug, Clone)]
struct Speed<'a> {
    response: Response<'a>,
    doubt: Doubt,
}

impl Speed<'_> {
    /// Temperature's part, logarithms. The two doubts are independent, so their
    /// effects on the logarithm add in squares (GUM, JCGM 100:2008, 5.1.2).
    fn ln_temperature(&self, panel_c: f64) -> Three {
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

    fn rates(&self, (panel_c, humidity): (f64, f64), part: Part) -> Three {
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
    fn change(&self, from: (f64, f64), to: (f64, f64)) -> f64 {
        let temperature = self.response.ln_temperature(to.0) - self.response.ln_temperature(from.0);
        let moisture =
            self.response.ln_moisture(to.0, to.1) - self.response.ln_moisture(from.0, from.1);
        temperature.abs() + moisture.abs()
    }
}

/// A rate's running integral over a series.
#[derive(Debug, Clone, Copy)]
struct Curve<'c, 'a> {
    speed: &'c Speed<'a>,
    samples: &'a [Sample],
    /// The integral up to each sample.
    summed: &'c [Three],
    part: Part,
}

fn accumulate(speed: &Speed<'_>, samples: &[Sample], part: Part) -> Vec<Three> {
    let curve = Curve {
        speed,
        samples,
        summed: &[],
        part,
    };
    let mut sum = [0.0; 3];
    let mut summed = Vec::with_capacity(samples.len());
    for index in 0..samples.len() {
        summed.push(sum);
        let segment = curve.integral(index, 0.0, 1.0);
        for (sum, segment) in sum.iter_mut().zip(segment) {
            *sum += segment;
        }
    }
    summed
}

impl Curve<'_, '_> {
    fn between(&self, from_hours: f64, to_hours: f64, which: usize) -> f64 {
        self.at(to_hours, which) - self.at(from_hours, which)
    }

    /// The instant by which `more` has been added since `from_hours`; less than
    /// nothing goes back.
    fn after(&self, from_hours: f64, more: f64, which: usize) -> f64 {
        self.when(self.at(from_hours, which) + more, which)
    }

    /// The integral from the first sample to `hours`. Outside the series the
    /// nearest sample is held.
    fn at(&self, hours: f64, which: usize) -> f64 {
        let index = self.segment(hours);
        let (Some(from), Some(summed)) = (self.samples.get(index), self.summed.get(index)) else {
            return 0.0;
        };
        let since = hours - from.at_hours;
        match self.samples.get(index + 1) {
            Some(to) if since >= 0.0 => {
                let share = since / (to.at_hours - from.at_hours);
                summed[which] + self.integral(index, 0.0, share)[which]
            }
            _ => summed[which] + since * self.speed.rates(self.air(index, 0.0), self.part)[which],
        }
    }

    /// The instant at which the integral is `value`.
    fn when(&self, value: f64, which: usize) -> f64 {
        let index = self
            .summed
            .partition_point(|summed| summed[which] <= value)
            .saturating_sub(1);
        let (Some(from), Some(summed)) = (self.samples.get(index), self.summed.get(index)) else {
            return f64::INFINITY;
        };
        let left = value - summed[which];
        match self.samples.get(index + 1) {
            Some(to) if left >= 0.0 => {
                let share = self.share(index, left, which);
                from.at_hours + share * (to.at_hours - from.at_hours)
            }
            _ => from.at_hours + left / self.speed.rates(self.air(index, 0.0), self.part)[which],
        }
    }

    /// The share of segment `index` after which `left` has been added: Newton's
    /// steps, halving where one would leave the bracket.
    fn share(&self, index: usize, left: f64, which: usize) -> f64 {
        let hours = self.length(index);
        let (mut low, mut high, mut share) = (0.0, 1.0, 0.5);
        for _ in 0..60 {
            let over = self.integral(index, 0.0, share)[which] - left;
            if over < 0.0 {
                low = share;
            } else {
                high = share;
            }
            let slope = self.speed.rates(self.air(index, share), self.part)[which] * hours;
            let newton = share - over / slope;
            let next = if newton > low && newton < high {
                newton
            } else {
                f64::midpoint(low, high)
            };
            if (next - share).abs() < 1e-13 {
                return next;
            }
            share = next;
        }
        share
    }

    /// The segment that `hours` lies in: the index of the sample at its beginning.
    fn segment(&self, hours: f64) -> usize {
        self.samples
            .partition_point(|sample| sample.at_hours <= hours)
            .saturating_sub(1)
    }

    fn length(&self, index: usize) -> f64 {
        match (self.samples.get(index), self.samples.get(index + 1)) {
            (Some(from), Some(to)) => to.at_hours - from.at_hours,
            _ => 0.0,
        }
    }

    /// Temperature and humidity at a share of segment `index`; humidity counts for
    /// nothing where none is given.
    fn air(&self, index: usize, share: f64) -> (f64, f64) {
        let air = |sample: &Sample| {
            (
                sample.panel_c,
                sample.relative_humidity_percent.unwrap_or(f64::NAN),
            )
        };
        match (self.samples.get(index), self.samples.get(index + 1)) {
            (Some(from), Some(to)) => {
                let ((from_c, from_rh), (to_c, to_rh)) = (air(from), air(to));
                (
                    from_c + share * (to_c - from_c),
                    from_rh + share * (to_rh - from_rh),
                )
            }
            (Some(from), None) => air(from),
            (None, _) => (0.0, f64::NAN),
        }
    }

    /// The integral over part of segment `index`, cut at the corners of a table.
    fn integral(&self, index: usize, from: f64, to: f64) -> Three {
        let ((from_c, _), (to_c, _)) = (self.air(index, 0.0), self.air(index, 1.0));
        let mut sum = [0.0; 3];
        let mut begun = from;
        let mut piece = |to: f64| {
            for (sum, part) in sum.iter_mut().zip(self.smooth(index, begun, to)) {
                *sum += part;
            }
            begun = to;
        };
        let cut = |corner_c: f64| (corner_c - from_c) / (to_c - from_c);
        let inside = |share: &f64| *share > from && *share < to;
        if to_c > from_c {
            self.speed
                .response
                .corners_c()
                .map(cut)
                .filter(inside)
                .for_each(&mut piece);
        } else if to_c < from_c {
            self.speed
                .response
                .corners_c()
                .rev()
                .map(cut)
                .filter(inside)
                .for_each(&mut piece);
        }
        piece(to);
        sum
    }

    /// The integral over a part of segment `index` without corners.
    fn smooth(&self, index: usize, from: f64, to: f64) -> Three {
        const TWO: [(f64, f64); 2] = [
            (-0.577_350_269_189_625_8, 1.0),
            (0.577_350_269_189_625_8, 1.0),
        ];
        const THREE: [(f64, f64); 3] = [
            (-0.774_596_669_241_483_4, 5.0 / 9.0),
            (0.0, 8.0 / 9.0),
            (0.774_596_669_241_483_4, 5.0 / 9.0),
        ];
        let change = self
            .speed
            .change(self.air(index, from), self.air(index, to));
        let (nodes, pieces): (&[(f64, f64)], f64) = if change < 0.5 {
            (&TWO, 1.0)
        } else {
            (&THREE, (change / 2.0).ceil().min(100.0))
        };
        let half = (to - from) / pieces / 2.0;
        let weight = half * self.length(index);
        let mut sum = [0.0; 3];
        let mut piece = 0.0;
        while piece < pieces {
            let middle = from + half * (2.0 * piece + 1.0);
            piece += 1.0;
            for (node, share) in nodes {
                let rates = self
                    .speed
                    .rates(self.air(index, middle + node * half), self.part);
                for (sum, rate) in sum.iter_mut().zip(rates) {
                    *sum += share * weight * rate;
                }
            }
        }
        sum
    }
}

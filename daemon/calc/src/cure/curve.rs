//! A rate's running integral along a series.
//!
//! Between two samples temperature and relative humidity run in straight lines;
//! the rate along them is integrated by Gauss's rule with two or three nodes, on
//! pieces over which the rate changes at most by e^2, cut at the corners of a
//! table. Against scipy's adaptive quadrature that is well inside 0.1 % (see
//! `tests/tests/calc/cure.rs`). Outside the series the nearest sample is held.

use super::series::Sample;
use super::speed::{Part, Speed, Three};

/// Most nodes of one integration: some 20 ms. A sample of every series that a bay
/// can have needs 2 or 3.
const MOST_NODES: f64 = 150_000.0;

/// A rate's running integral over a series.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Curve<'a> {
    pub(crate) speed: &'a Speed,
    pub(crate) samples: &'a [Sample],
    /// The integral up to each sample.
    pub(crate) summed: &'a [Three],
    pub(crate) part: Part,
}

/// The integral up to each sample; none where the series swings so far and so
/// often that it needs more than [`MOST_NODES`].
pub(crate) fn accumulate(speed: &Speed, samples: &[Sample], part: Part) -> Option<Vec<Three>> {
    let curve = Curve {
        speed,
        samples,
        summed: &[],
        part,
    };
    let mut sum = [0.0; 3];
    let mut nodes = 0.0;
    let mut summed = Vec::with_capacity(samples.len());
    for index in 0..samples.len() {
        summed.push(sum);
        let (segment, more) = curve.counted(index, 0.0, 1.0);
        nodes += more;
        if nodes > MOST_NODES {
            return None;
        }
        for (sum, segment) in sum.iter_mut().zip(segment) {
            *sum += segment;
        }
    }
    Some(summed)
}

impl Curve<'_> {
    pub(crate) fn between(&self, from_hours: f64, to_hours: f64, which: usize) -> f64 {
        self.at(to_hours, which) - self.at(from_hours, which)
    }

    /// The instant by which `more` has been added since `from_hours`; less than
    /// nothing goes back.
    pub(crate) fn after(&self, from_hours: f64, more: f64, which: usize) -> f64 {
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
    pub(crate) fn segment(&self, hours: f64) -> usize {
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
    pub(crate) fn air(&self, index: usize, share: f64) -> (f64, f64) {
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

    /// The integral over part of segment `index`.
    fn integral(&self, index: usize, from: f64, to: f64) -> Three {
        self.counted(index, from, to).0
    }

    /// The integral over part of segment `index`, cut at the corners of a table,
    /// and the nodes it took.
    fn counted(&self, index: usize, from: f64, to: f64) -> (Three, f64) {
        let ((from_c, _), (to_c, _)) = (self.air(index, 0.0), self.air(index, 1.0));
        let (mut sum, mut nodes, mut begun) = ([0.0; 3], 0.0, from);
        let mut piece = |to: f64| {
            let (part, more) = self.smooth(index, begun, to);
            for (sum, part) in sum.iter_mut().zip(part) {
                *sum += part;
            }
            nodes += more;
            begun = to;
        };
        let corners_c = self.speed.response.corners_c();
        let cut = |corner_c: f64| (corner_c - from_c) / (to_c - from_c);
        let inside = |share: &f64| *share > from && *share < to;
        if to_c > from_c {
            corners_c.map(cut).filter(inside).for_each(&mut piece);
        } else if to_c < from_c {
            corners_c.rev().map(cut).filter(inside).for_each(&mut piece);
        }
        piece(to);
        (sum, nodes)
    }

    /// The integral over a part of segment `index` without corners, and the nodes
    /// it took.
    fn smooth(&self, index: usize, from: f64, to: f64) -> (Three, f64) {
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
        let (nodes, pieces, count): (&[(f64, f64)], f64, f64) = if change < 0.5 {
            (&TWO, 1.0, 2.0)
        } else {
            let pieces = (change / 2.0).ceil().min(100.0);
            (&THREE, pieces, 3.0 * pieces)
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
        (sum, count)
    }
}

//! Readings by spot: mean, robust spread, odd readings.
//!
//! A spot is a place of about a hand's width; its value is the mean of at least
//! three readings (SSPC-PA 2, secondary source). The robust spread is 1.4826
//! times the median absolute deviation. A reading is odd where it lies more than
//! 3.5 robust spreads from the median (Iglewicz and Hoaglin 1993, from memory).

use super::uncertainty::Component;

/// Readings of one spot.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotReadings {
    /// Where on the panel, up to 200 characters; its own name within the panel.
    pub spot: String,
    /// The readings.
    pub readings: Readings,
}

/// Readings in the unit they were taken in: 1 to [`MAX_READINGS`] of them, each 0 to 20 000 um
/// (787 mil). One request uses one unit.
#[derive(Debug, Clone, PartialEq)]
pub enum Readings {
    /// Micrometres.
    Um(Vec<f64>),
    /// Thousandths of an inch, 25.4 um each.
    Mil(Vec<f64>),
}

/// One spot in figures.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotStats {
    /// The spot.
    pub spot: String,
    /// How many readings.
    pub count: usize,
    /// Mean of the readings that count, um.
    pub mean_um: f64,
    /// Sample standard deviation of the same, um; absent for one reading.
    pub sample_sd_um: Option<f64>,
    /// Median of all readings, um.
    pub median_um: f64,
    /// 1.4826 times the median absolute deviation of all readings, um; absent for one reading.
    pub robust_sd_um: Option<f64>,
    /// Smallest reading, um.
    pub min_um: f64,
    /// Largest reading, um.
    pub max_um: f64,
    /// Readings far from the rest.
    pub odd: Vec<OddReading>,
    /// How many readings count towards the mean.
    pub used: usize,
}

/// A reading far from the rest of its spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddReading {
    /// Its place in the spot's list, from 0.
    pub index: usize,
    /// The reading, um.
    pub reading_um: f64,
    /// Distance from the median in robust spreads, with sign.
    pub score: f64,
    /// Whether the mean leaves it out.
    pub left_out: bool,
}

/// Most readings of one spot.
pub const MAX_READINGS: usize = 500;
/// Micrometres in a mil, exact.
pub const UM_PER_MIL: f64 = 25.4;
/// Distance from the median from which a reading is odd, in robust spreads.
pub const ODD_SCORE: f64 = 3.5;
/// A robust spread below this, um, is taken as this when readings are judged: orange peel and the
/// probe's seat alone make as much. Common practice, no source.
pub const LEAST_SPREAD_UM: f64 = 1.0;
/// Fewest readings that a spot should have (SSPC-PA 2, secondary source).
pub const LEAST_READINGS: usize = 3;
/// From median absolute deviation to standard deviation of a normal distribution.
const MAD_TO_SD: f64 = 1.482_602_218_505_602;

impl Readings {
    /// The readings in micrometres.
    #[must_use]
    pub fn to_um(&self) -> Vec<f64> {
        match self {
            Self::Um(um) => um.clone(),
            Self::Mil(mil) => mil.iter().map(|mil| mil * UM_PER_MIL).collect(),
        }
    }

    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Um(readings) | Self::Mil(readings) => readings.len(),
        }
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

impl SpotStats {
    /// Figures of a spot whose readings were checked.
    ///
    /// An odd high reading is left out while three others remain: a tilted probe reads high. An odd
    /// low one stays in, since leaving it out would find paint that may not be there.
    pub(crate) fn of(spot: &SpotReadings, resolution_um: f64) -> Self {
        let all = spot.readings.to_um();
        let median_um = median(&all);
        let spread_um = robust_sd(&all, median_um);
        let scale_um = spread_um.max(LEAST_SPREAD_UM).max(resolution_um);
        let mut odd: Vec<OddReading> = Vec::new();
        if all.len() >= LEAST_READINGS {
            for (index, reading_um) in all.iter().copied().enumerate() {
                let score = (reading_um - median_um) / scale_um;
                if score.abs() > ODD_SCORE {
                    odd.push(OddReading {
                        index,
                        reading_um,
                        score,
                        left_out: false,
                    });
                }
            }
            let high = odd.iter().filter(|odd| odd.score > 0.0).count();
            if all.len() - high >= LEAST_READINGS {
                for odd in odd.iter_mut().filter(|odd| odd.score > 0.0) {
                    odd.left_out = true;
                }
            }
        }
        let left_out = |index| odd.iter().any(|odd| odd.left_out && odd.index == index);
        let used: Vec<f64> = (0..)
            .zip(&all)
            .filter(|(index, _)| !left_out(*index))
            .map(|(_, um)| *um)
            .collect();
        let (mean_um, sample_sd_um) = mean_and_sd(&used);
        Self {
            spot: spot.spot.clone(),
            count: all.len(),
            mean_um,
            sample_sd_um,
            median_um,
            robust_sd_um: (all.len() > 1).then_some(spread_um),
            min_um: all.iter().copied().fold(f64::INFINITY, f64::min),
            max_um: all.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            odd,
            used: used.len(),
        }
    }

    /// Type A uncertainty of the mean: from the spot's own spread where it has three readings or
    /// more, else from `pooled`, the spread within all spots together.
    pub(crate) fn type_a(&self, pooled: Option<Component>) -> Option<Component> {
        let n = as_f64(self.used);
        let own = self.sample_sd_um.map(|sd| Component {
            standard: sd / n.sqrt(),
            degrees_of_freedom: Some(n - 1.0),
        });
        let shared = pooled.map(|pooled| Component {
            standard: pooled.standard / n.sqrt(),
            ..pooled
        });
        if self.used >= LEAST_READINGS {
            own
        } else {
            shared.or(own)
        }
    }
}

/// Spread within spots, pooled: `sqrt(sum (n_i - 1) s_i^2 / sum (n_i - 1))`, with its degrees of
/// freedom; absent where no spot has two readings.
pub(crate) fn pooled<'a>(spots: impl IntoIterator<Item = &'a SpotStats>) -> Option<Component> {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for spot in spots {
        if let Some(sd) = spot.sample_sd_um {
            let free = as_f64(spot.used) - 1.0;
            squares += free * sd * sd;
            freedom += free;
        }
    }
    (freedom > 0.0).then(|| Component {
        standard: (squares / freedom).sqrt(),
        degrees_of_freedom: Some(freedom),
    })
}

/// Mean, and sample standard deviation where there is more than one value. At least one value.
pub(crate) fn mean_and_sd(values: &[f64]) -> (f64, Option<f64>) {
    let n = as_f64(values.len());
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (
        mean,
        (values.len() > 1).then(|| (squares / (n - 1.0)).sqrt()),
    )
}

/// The middle value, or the mean of the two middle ones; 0 of nothing.
pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match (sorted.get(half), sorted.len().is_multiple_of(2)) {
        (Some(upper), true) => sorted
            .get(half.wrapping_sub(1))
            .map_or(0.0, |lower| f64::midpoint(*lower, *upper)),
        (Some(middle), false) => *middle,
        (None, _) => 0.0,
    }
}

/// 1.4826 times the median distance from `median`.
pub(crate) fn robust_sd(values: &[f64], around: f64) -> f64 {
    let distances: Vec<f64> = values.iter().map(|value| (value - around).abs()).collect();
    MAD_TO_SD * median(&distances)
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts of readings, far below 2^52"
)]
pub(crate) fn as_f64(count: usize) -> f64 {
    count as f64
}

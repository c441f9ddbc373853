//! Monotone piecewise cubic interpolation (PCHIP; Fritsch and Butland 1984):
//! between two points of a table it never leaves their range, as a free cubic
//! may. The slopes are those of `scipy.interpolate.PchipInterpolator`, which the
//! checks hold it against.

/// The value at `x` of the curve through `points`, whose x rise. Outside them
/// the nearest end's value; of an empty table, NaN.
pub(super) fn pchip(points: &[(f64, f64)], x: f64) -> f64 {
    let (Some(&(first_x, first_y)), Some(&(last_x, last_y))) = (points.first(), points.last())
    else {
        return f64::NAN;
    };
    if x.is_nan() {
        return x;
    }
    if x <= first_x {
        return first_y;
    }
    if x >= last_x {
        return last_y;
    }
    // Strictly inside, so there is a point before and this one after.
    let after = points.partition_point(|&(at, _)| at <= x);
    let Some(before) = after.checked_sub(1) else {
        return first_y;
    };
    let (x0, y0) = points[before];
    let (x1, y1) = points[after];
    let width = x1 - x0;
    let t = (x - x0) / width;
    let (m0, m1) = (slope(points, before), slope(points, after));
    let (t2, t3) = (t * t, t * t * t);
    (2.0 * t3 - 3.0 * t2 + 1.0) * y0
        + (t3 - 2.0 * t2 + t) * width * m0
        + (3.0 * t2 - 2.0 * t3) * y1
        + (t3 - t2) * width * m1
}

/// Width and slope of the piece from `index` to the next point.
fn piece(points: &[(f64, f64)], index: usize) -> Option<(f64, f64)> {
    let &(x0, y0) = points.get(index)?;
    let &(x1, y1) = points.get(index + 1)?;
    Some((x1 - x0, (y1 - y0) / (x1 - x0)))
}

/// Slope of the curve at a point.
fn slope(points: &[(f64, f64)], index: usize) -> f64 {
    let left = index.checked_sub(1).and_then(|left| piece(points, left));
    match (left, piece(points, index)) {
        (Some((h0, d0)), Some((h1, d1))) => between(h0, d0, h1, d1),
        (None, Some(first)) => match piece(points, index + 1) {
            Some(next) => at_end(first, next),
            None => first.1,
        },
        (Some(last), None) => match index.checked_sub(2).and_then(|i| piece(points, i)) {
            Some(next) => at_end(last, next),
            None => last.1,
        },
        (None, None) => 0.0,
    }
}

/// Weighted harmonic mean; level where the table turns.
fn between(h0: f64, d0: f64, h1: f64, d1: f64) -> f64 {
    if d0 * d1 <= 0.0 {
        return 0.0;
    }
    let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
    (w0 + w1) / (w0 / d0 + w1 / d1)
}

/// Three-point formula, held to the outermost piece's own direction.
fn at_end((h0, d0): (f64, f64), (h1, d1): (f64, f64)) -> f64 {
    let end = ((2.0 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
    if end * d0 <= 0.0 {
        0.0
    } else if d0 * d1 <= 0.0 && end.abs() > 3.0 * d0.abs() {
        3.0 * d0
    } else {
        end
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// scipy 1.17.1, `PchipInterpolator([0, 1, 3, 4, 7], [0, 2, 3, 3, 1])`.
    #[test]
    fn agrees_with_scipy() {
        let points = [(0.0, 0.0), (1.0, 2.0), (3.0, 3.0), (4.0, 3.0), (7.0, 1.0)];
        for (x, expected) in SCIPY {
            let found = pchip(&points, x);
            assert!((found - expected).abs() < 1e-12, "{x}: {found}, {expected}");
        }
    }

    const SCIPY: [(f64, f64); 6] = [
        (0.25, 0.623_883_928_571_428_5),
        (0.9, 1.897_071_428_571_428_7),
        (1.7, 2.535_250_000_000_000_4),
        (2.9, 2.996_821_428_571_428),
        (4.5, 2.932_870_370_370_370_2),
        (6.75, 1.284_432_870_370_370_2),
    ];

    proptest! {
        #[test]
        fn stays_between_its_neighbours(
            ys in proptest::collection::vec(-100.0..100.0f64, 2..9),
            piece in 0..7usize,
            at in 0.0..1.0f64,
        ) {
            let points: Vec<(f64, f64)> =
                ys.iter().enumerate().map(|(i, &y)| (i as f64, y)).collect();
            let piece = piece % (points.len() - 1);
            let (low, high) = (points[piece].1, points[piece + 1].1);
            let found = pchip(&points, points[piece].0 + at);
            prop_assert!(found >= low.min(high) - 1e-9 && found <= low.max(high) + 1e-9);
        }
    }
}

//! Plane geometry of a film piece: area, extent, self-intersection.
//!
//! Area is the shoelace sum `|sum(x_i y_i+1 - x_i+1 y_i)| / 2`.

/// Two points nearer than this are the same point, in mm; far below what a knife can follow.
pub(crate) const SAME_POINT_MM: f64 = 1e-3;

/// A point in the plane, in mm. The origin and the direction of the axes are the caller's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Across, in mm.
    pub x_mm: f64,
    /// Up, in mm.
    pub y_mm: f64,
}

/// Width and height of the smallest upright box around some points, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Width, in mm.
    pub width_mm: f64,
    /// Height, in mm.
    pub height_mm: f64,
}

/// Area enclosed by a simple polygon, in mm2, by the shoelace sum; the direction does not matter.
/// Fewer than three points enclose nothing.
#[must_use]
pub fn area_mm2(points: &[Point]) -> f64 {
    signed_area_mm2(points).abs()
}

/// The smallest upright box around the points; zero by zero when there are none.
#[must_use]
pub fn extent(points: &[Point]) -> Extent {
    let span = |of: fn(&Point) -> f64| {
        let low = points.iter().map(of).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        (high - low).max(0.0)
    };
    Extent {
        width_mm: span(|p| p.x_mm),
        height_mm: span(|p| p.y_mm),
    }
}

/// The first two edges (edge `i` runs from point `i` to the next) that cross, touch or overlap
/// without being neighbours, or that are neighbours folded back on each other.
#[must_use]
pub fn self_intersection(points: &[Point]) -> Option<(usize, usize)> {
    let n = points.len();
    let edge = |i: usize| (points[i], points[(i + 1) % n]);
    for i in 0..n {
        for j in i + 1..n {
            let (a, b) = edge(i);
            let (c, d) = edge(j);
            let hit = if j == i + 1 {
                folds_back(a, b, d)
            } else if i == 0 && j == n - 1 {
                folds_back(c, a, b)
            } else {
                segments_meet(a, b, c, d)
            };
            if hit {
                return Some((i, j));
            }
        }
    }
    None
}

pub(crate) fn signed_area_mm2(points: &[Point]) -> f64 {
    // Relative to the first point: far from the origin the plain sum would lose digits.
    let Some(&origin) = points.first() else {
        return 0.0;
    };
    let doubled: f64 = points
        .windows(2)
        .map(|pair| cross(minus(pair[0], origin), minus(pair[1], origin)))
        .sum();
    doubled / 2.0
}

/// Whether the point lies inside the simple polygon (even-odd rule); on the border either answer.
pub(crate) fn contains(ring: &[Point], p: Point) -> bool {
    let edges = ring.iter().zip(ring.iter().cycle().skip(1));
    let crossed = edges.filter(|(a, b)| {
        (a.y_mm > p.y_mm) != (b.y_mm > p.y_mm)
            && p.x_mm < a.x_mm + (p.y_mm - a.y_mm) / (b.y_mm - a.y_mm) * (b.x_mm - a.x_mm)
    });
    crossed.count() % 2 == 1
}

/// True when `b` is the tip of a spike: the edge to `c` lies on the edge from `a`.
fn folds_back(a: Point, b: Point, c: Point) -> bool {
    let (back, on) = (minus(a, b), minus(c, b));
    dot(back, on) > 0.0 && cross(back, on).abs() <= SAME_POINT_MM * length(back).max(length(on))
}

pub(crate) fn segments_meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    if a.x_mm.max(b.x_mm) < c.x_mm.min(d.x_mm)
        || c.x_mm.max(d.x_mm) < a.x_mm.min(b.x_mm)
        || a.y_mm.max(b.y_mm) < c.y_mm.min(d.y_mm)
        || c.y_mm.max(d.y_mm) < a.y_mm.min(b.y_mm)
    {
        return false;
    }
    // Boxes overlap, so a zero on the line is a touch.
    turn_at(a, b, c) * turn_at(a, b, d) <= 0.0 && turn_at(c, d, a) * turn_at(c, d, b) <= 0.0
}

pub(crate) fn turn_at(a: Point, b: Point, c: Point) -> f64 {
    cross(minus(b, a), minus(c, a))
}

pub(crate) fn plus(a: Point, b: Point) -> Point {
    Point {
        x_mm: a.x_mm + b.x_mm,
        y_mm: a.y_mm + b.y_mm,
    }
}

pub(crate) fn minus(a: Point, b: Point) -> Point {
    Point {
        x_mm: a.x_mm - b.x_mm,
        y_mm: a.y_mm - b.y_mm,
    }
}

pub(crate) fn times(a: Point, by: f64) -> Point {
    Point {
        x_mm: a.x_mm * by,
        y_mm: a.y_mm * by,
    }
}

pub(crate) fn dot(a: Point, b: Point) -> f64 {
    a.x_mm * b.x_mm + a.y_mm * b.y_mm
}

pub(crate) fn cross(a: Point, b: Point) -> f64 {
    a.x_mm * b.y_mm - a.y_mm * b.x_mm
}

fn length(a: Point) -> f64 {
    a.x_mm.hypot(a.y_mm)
}

pub(crate) fn distance(a: Point, b: Point) -> f64 {
    length(minus(a, b))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use proptest::prelude::*;

    pub(crate) fn polygon(points: &[(f64, f64)]) -> Vec<Point> {
        points
            .iter()
            .map(|&(x_mm, y_mm)| Point { x_mm, y_mm })
            .collect()
    }

    pub(crate) fn close(got: f64, want: f64) -> bool {
        (got - want).abs() <= 1e-6 * want.abs().max(1.0)
    }

    /// Check values, section 6: the first from the shoelace task of an open task collection
    /// (Rosetta Code), the second from a school page (studen.com 17887259), the third computed.
    #[test]
    fn shoelace_areas() {
        for (points, want) in [
            (
                polygon(&[(3., 4.), (5., 11.), (12., 8.), (9., 5.), (5., 6.)]),
                30.0,
            ),
            (
                polygon(&[(2., 5.), (8., 5.), (8., 9.), (5., 7.), (2., 9.)]),
                18.0,
            ),
            (
                polygon(&[(1., 6.), (3., 1.), (7., 2.), (4., 4.), (8., 5.)]),
                16.5,
            ),
        ] {
            assert!(
                close(area_mm2(&points), want),
                "{} for {want}",
                area_mm2(&points)
            );
        }
    }

    #[test]
    fn inside_and_outside_of_a_bay() {
        let bay = polygon(&[
            (0., 0.),
            (30., 0.),
            (30., 30.),
            (20., 30.),
            (20., 10.),
            (0., 10.),
        ]);
        for (x_mm, y_mm, want) in [
            (5., 5., true),
            (25., 25., true),
            (5., 25., false),
            (-1., 5., false),
        ] {
            assert_eq!(contains(&bay, Point { x_mm, y_mm }), want, "{x_mm}, {y_mm}");
        }
    }

    #[test]
    fn crossing_touching_and_folded_edges_are_found() {
        for (points, want) in [
            (
                polygon(&[(0., 0.), (10., 10.), (10., 0.), (0., 10.)]),
                Some((0, 2)),
            ),
            // Touches its own bottom edge from above.
            (
                polygon(&[(0., 0.), (10., 0.), (10., 10.), (5., 0.), (0., 10.)]),
                Some((0, 2)),
            ),
            // A spike: out along one edge and back on it.
            (
                polygon(&[(0., 0.), (10., 0.), (20., 0.), (10., 0.), (5., 8.)]),
                Some((0, 2)),
            ),
            (
                polygon(&[(0., 0.), (20., 0.), (10., 0.), (5., 8.)]),
                Some((0, 1)),
            ),
            (polygon(&[(0., 0.), (10., 0.), (10., 10.), (0., 10.)]), None),
        ] {
            assert_eq!(self_intersection(&points), want, "{points:?}");
        }
    }

    /// A star-shaped, hence simple, polygon around the origin.
    pub(crate) fn star() -> impl Strategy<Value = Vec<Point>> {
        prop::collection::vec(20.0..300.0f64, 3..24).prop_map(|radii| {
            let step = std::f64::consts::TAU / radii.len() as f64;
            (radii.iter().enumerate())
                .map(|(k, r)| (r, k as f64 * step))
                .map(|(r, a)| Point {
                    x_mm: r * a.cos(),
                    y_mm: r * a.sin(),
                })
                .collect()
        })
    }

    proptest! {
        #[test]
        fn area_ignores_place_turn_and_direction(
            ring in star(), dx in -9e3..9e3f64, dy in -9e3..9e3f64, turn in 0.0..6.3f64,
        ) {
            let want = area_mm2(&ring);
            let mut moved: Vec<Point> = (ring.iter())
                .map(|p| Point {
                    x_mm: p.x_mm * turn.cos() - p.y_mm * turn.sin() + dx,
                    y_mm: p.x_mm * turn.sin() + p.y_mm * turn.cos() + dy,
                })
                .collect();
            prop_assert!((area_mm2(&moved) - want).abs() < 1e-6 * want);
            moved.reverse();
            prop_assert!((area_mm2(&moved) - want).abs() < 1e-6 * want);
            prop_assert_eq!(self_intersection(&ring), None);
        }

        #[test]
        fn no_float_breaks_the_functions(
            raw in prop::collection::vec((any::<f64>(), any::<f64>()), 0..12),
        ) {
            let ring = polygon(&raw);
            let _ = (area_mm2(&ring), extent(&ring), self_intersection(&ring));
        }
    }
}

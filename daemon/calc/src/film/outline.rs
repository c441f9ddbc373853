//! The outline to cut: the finished shape with the overwrap of each edge.
//!
//! Each edge moves outward by its own overwrap; neighbours meet at a mitre, bounded by
//! [`MITRE_LIMIT`].

use super::geometry::{
    Point, SAME_POINT_MM, contains, cross, distance, dot, minus, plus, segments_meet,
    self_intersection, signed_area_mm2, times, turn_at,
};

/// Longest mitre, as a multiple of the larger overwrap of the two edges that meet.
/// A sharper corner is cut off straight (bevelled), which still leaves each edge its whole overwrap.
pub const MITRE_LIMIT: f64 = 4.0;

/// How a cut outline was formed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutlineKind {
    /// Every edge moved outward by its overwrap, corners mitred or bevelled.
    Mitred,
    /// A notch is too narrow for its overwrap, so the piece is cut as the convex hull of the
    /// finished shape and its overwrap strips, and trimmed on the panel. Never smaller than needed.
    Hull,
}

/// The outline to cut: each edge `i` moved outward by `overwrap_mm[i]`.
///
/// Expects a simple polygon without repeated points and one finite overwrap, at least 0 mm, per
/// edge; [`super::measure()`] checks this first. The result runs counter-clockwise.
#[must_use]
pub fn cut_outline(points: &[Point], overwrap_mm: &[f64]) -> (Vec<Point>, OutlineKind) {
    let edges = outward_edges(points, overwrap_mm);
    match mitred(&edges) {
        Some(outline) => (outline, OutlineKind::Mitred),
        None => (hull_of_strips(&edges), OutlineKind::Hull),
    }
}

/// An edge of a counter-clockwise polygon with what its offset needs.
struct Edge {
    from: Point,
    to: Point,
    along: Point,
    outward: Point,
    overwrap_mm: f64,
}

impl Edge {
    fn shifted_from(&self) -> Point {
        plus(self.from, times(self.outward, self.overwrap_mm))
    }

    fn shifted_to(&self) -> Point {
        plus(self.to, times(self.outward, self.overwrap_mm))
    }

    /// Whether the strip of overwrap along this edge, less a hair all round, lies in the outline.
    fn strip_is_within(&self, outline: &[Point]) -> bool {
        let (near_mm, far_mm) = (SAME_POINT_MM, self.overwrap_mm - SAME_POINT_MM);
        if far_mm <= near_mm {
            return true;
        }
        let corner = |share: f64, out_mm: f64| {
            let along = times(minus(self.to, self.from), share);
            plus(plus(self.from, along), times(self.outward, out_mm))
        };
        let (low, high) = (1e-3, 1.0 - 1e-3);
        let sides = [
            corner(low, near_mm),
            corner(low, far_mm),
            corner(high, far_mm),
            corner(high, near_mm),
        ];
        let ring = outline.iter().zip(outline.iter().cycle().skip(1));
        contains(outline, sides[1])
            && ring.into_iter().all(|(&a, &b)| {
                sides
                    .windows(2)
                    .all(|side| !segments_meet(side[0], side[1], a, b))
            })
    }
}

fn outward_edges(points: &[Point], overwrap_mm: &[f64]) -> Vec<Edge> {
    let n = points.len();
    let clockwise = signed_area_mm2(points) < 0.0;
    let make = |from: Point, to: Point, overwrap_mm: f64| {
        let along = times(minus(to, from), 1.0 / distance(from, to));
        let outward = Point {
            x_mm: along.y_mm,
            y_mm: -along.x_mm,
        };
        Edge {
            from,
            to,
            along,
            outward,
            overwrap_mm,
        }
    };
    let forward = (0..n).zip(overwrap_mm);
    if clockwise {
        forward
            .rev()
            .map(|(i, &o)| make(points[(i + 1) % n], points[i], o))
            .collect()
    } else {
        forward
            .map(|(i, &o)| make(points[i], points[(i + 1) % n], o))
            .collect()
    }
}

/// Every edge moved outward and joined to its neighbours; `None` when that turns an edge over,
/// crosses itself, or leaves part of an overwrap out.
fn mitred(edges: &[Edge]) -> Option<Vec<Point>> {
    let mut outline = Vec::with_capacity(edges.len() + 4);
    // Where each edge's own stretch of the outline begins and ends, to see that none turns over.
    let mut starts = Vec::with_capacity(edges.len());
    let mut ends = Vec::with_capacity(edges.len());
    for (before, next) in neighbours(edges) {
        let (leave, enter) = corner(before, next);
        ends.push(leave);
        starts.push(enter);
        outline.push(leave);
        if distance(leave, enter) > SAME_POINT_MM {
            outline.push(enter);
        }
    }
    // `ends` was filled at the corner that each edge leads into: one place behind `starts`.
    ends.rotate_left(1.min(edges.len()));
    // A simple polygon that only turns left is convex, and so is its outline: nothing can go wrong.
    let convex = neighbours(edges).all(|(before, next)| cross(before.along, next.along) >= 0.0);
    let turns_over = || {
        (edges.iter().zip(starts.iter().zip(&ends)))
            .any(|(edge, (from, to))| dot(edge.along, minus(*to, *from)) <= 0.0)
    };
    let sound = convex
        || (!turns_over()
            && self_intersection(&outline).is_none()
            && edges.iter().all(|edge| edge.strip_is_within(&outline)));
    sound.then_some(outline)
}

/// Each edge with the one before it, which ends where it begins.
fn neighbours(edges: &[Edge]) -> impl Iterator<Item = (&Edge, &Edge)> {
    edges
        .iter()
        .cycle()
        .skip(edges.len().saturating_sub(1))
        .zip(edges)
}

/// Where the outline leaves the edge `before` and enters the edge `next`: a shared mitre point, or
/// two points where a mitre would be too long or cut into an overwrap.
fn corner(before: &Edge, next: &Edge) -> (Point, Point) {
    let at = next.from;
    let (leave, enter) = (before.shifted_to(), next.shifted_from());
    let turn = cross(before.along, next.along);
    if distance(leave, enter) <= SAME_POINT_MM / 10.0 || turn.abs() < 1e-9 {
        return (leave, enter);
    }
    // The shifted lines meet at leave + s along_before = enter + t along_next.
    let between = minus(enter, leave);
    let s = cross(between, next.along) / turn;
    let t = cross(between, before.along) / turn;
    let mitre = plus(leave, times(before.along, s));
    if turn > 0.0 {
        // Outer corner. Unlike overwraps can meet short of the corner; that would cut one of them.
        let bound_mm = MITRE_LIMIT * before.overwrap_mm.max(next.overwrap_mm);
        let whole = s >= 0.0 && t <= 0.0 && distance(mitre, at) <= bound_mm;
        return if whole {
            (mitre, mitre)
        } else {
            (leave, enter)
        };
    }
    // Inner corner. A much larger overwrap ends square at the corner, on the other edge's line.
    let spread = dot(before.outward, next.outward);
    if s > 0.0 {
        let square = plus(at, times(before.outward, next.overwrap_mm / spread));
        return (leave, square);
    }
    if t < 0.0 {
        let square = plus(at, times(next.outward, before.overwrap_mm / spread));
        return (square, enter);
    }
    (mitre, mitre)
}

/// Convex hull of the finished shape, its overwrap strips and its outer mitres.
fn hull_of_strips(edges: &[Edge]) -> Vec<Point> {
    let strips = edges
        .iter()
        .flat_map(|e| [e.from, e.shifted_from(), e.shifted_to()]);
    let outer_corners = neighbours(edges)
        .filter(|(before, next)| cross(before.along, next.along) > 0.0)
        .map(|(before, next)| corner(before, next).0);
    hull(strips.chain(outer_corners).collect())
}

/// Convex hull, counter-clockwise (monotone chain).
fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a.x_mm.total_cmp(&b.x_mm).then(a.y_mm.total_cmp(&b.y_mm)));
    let half = |ordered: &mut dyn Iterator<Item = &Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for &p in ordered {
            while let [.., a, b] = chain[..]
                && turn_at(a, b, p) <= 0.0
            {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut ring = half(&mut points.iter());
    ring.extend(half(&mut points.iter().rev()));
    ring
}

#[cfg(test)]
mod tests {
    use super::super::geometry::tests::{close, polygon, star};
    use super::super::geometry::{Extent, area_mm2, extent};
    use super::*;
    use proptest::prelude::*;

    /// Plane geometry: a convex shape of area A and perimeter P grows by `P d` plus mitre corners;
    /// for a rectangle the result is `(w + 2d)(h + 2d)`.
    #[test]
    fn rectangle_grows_by_its_overwrap_on_each_side() {
        let sheet = polygon(&[(0., 0.), (100., 0.), (100., 40.), (0., 40.)]);
        let (outline, kind) = cut_outline(&sheet, &[10., 20., 30., 5.]);
        assert_eq!(kind, OutlineKind::Mitred);
        assert!(close(
            area_mm2(&outline),
            (100. + 20. + 5.) * (40. + 10. + 30.)
        ));
        assert_eq!(
            extent(&outline),
            Extent {
                width_mm: 125.,
                height_mm: 80.
            }
        );
    }

    /// Regular hexagon, plane geometry: moved outward by d it is the hexagon with inradius r + d.
    #[test]
    fn hexagon_keeps_its_shape() {
        let ring: Vec<Point> = (0..6)
            .map(|k| (f64::from(k) * 60.0_f64).to_radians())
            .map(|a| Point {
                x_mm: 100. * a.cos(),
                y_mm: 100. * a.sin(),
            })
            .collect();
        let (outline, _) = cut_outline(&ring, &[8.; 6]);
        let inradius = 50. * 3f64.sqrt() + 8.;
        assert!(close(
            area_mm2(&outline),
            2. * 3f64.sqrt() * inradius.powi(2)
        ));
    }

    /// Unlike overwraps at a slight bend, and one wider than its neighbour is long: a plain mitre
    /// would cut into the wider one.
    #[test]
    fn unlike_overwraps_are_each_kept_whole() {
        let bent = polygon(&[(0., 0.), (100., 0.), (200., 20.), (200., 90.), (0., 90.)]);
        let (outline, kind) = cut_outline(&bent, &[40., 10., 0., 0., 0.]);
        assert_eq!(kind, OutlineKind::Mitred);
        assert!(contains(
            &outline,
            Point {
                x_mm: 99.,
                y_mm: -39.
            }
        ));
        let stepped = polygon(&[
            (0., 0.),
            (100., 0.),
            (100., -60.),
            (160., -60.),
            (160., 100.),
            (60., 100.),
            (60., 40.),
            (0., 40.),
        ]);
        let wide = [0., 150., 0., 0., 0., 0., 0., 0.];
        let (outline, _) = cut_outline(&stepped, &wide);
        assert!(contains(
            &outline,
            Point {
                x_mm: -49.,
                y_mm: -59.
            }
        ));
    }

    /// Two wide overwraps at the foot of a bay, between edges with none: the mitred outline is simple
    /// and turns no edge over, yet leaves a corner of the second strip out. Found by the property.
    #[test]
    fn a_strip_that_the_mitre_would_cut_falls_back_to_the_hull() {
        let ring = polygon(&[
            (233., 0.),
            (18., 9.),
            (67., 84.),
            (24., 104.),
            (-4., 19.),
            (-102., 128.),
            (-18., 9.),
            (-219., 0.),
            (-73., -35.),
            (-29., -36.),
            (-18., -80.),
            (4., -19.),
            (12., -16.),
            (18., -9.),
        ]);
        let mut overwrap = [0.; 14];
        (overwrap[8], overwrap[9]) = (49., 55.);
        let (outline, kind) = cut_outline(&ring, &overwrap);
        assert_eq!(kind, OutlineKind::Hull);
        let middle_of_strip = Point {
            x_mm: -23.5 - 54. * 0.97,
            y_mm: -58. - 54. * 0.24,
        };
        assert!(contains(&outline, middle_of_strip));
    }

    #[test]
    fn a_sharp_tip_is_cut_off_straight() {
        let wedge = polygon(&[(0., 0.), (400., 10.), (0., 20.)]);
        let (outline, kind) = cut_outline(&wedge, &[10.; 3]);
        assert_eq!(kind, OutlineKind::Mitred);
        // Unbounded, the mitre would reach 10 / sin(1.43 deg) = 400 mm beyond the tip.
        assert!(extent(&outline).width_mm < 400. + 10. + 10. * MITRE_LIMIT);
    }

    #[test]
    fn an_inner_corner_is_mitred_and_a_narrow_notch_is_cut_across() {
        // L shape, moved outward by 5: (40+10)^2 less the notch, which keeps its size and moves.
        let ell = polygon(&[
            (0., 0.),
            (40., 0.),
            (40., 20.),
            (20., 20.),
            (20., 40.),
            (0., 40.),
        ]);
        let (outline, kind) = cut_outline(&ell, &[5.; 6]);
        assert_eq!(kind, OutlineKind::Mitred);
        assert!(close(area_mm2(&outline), 50. * 50. - 20. * 20.));
        // A notch 6 mm wide cannot take 5 mm from either side.
        let notched = polygon(&[
            (0., 0.),
            (40., 0.),
            (40., 40.),
            (23., 40.),
            (23., 10.),
            (17., 10.),
            (17., 40.),
            (0., 40.),
        ]);
        let (outline, kind) = cut_outline(&notched, &[5.; 8]);
        assert_eq!(kind, OutlineKind::Hull);
        assert!(close(area_mm2(&outline), 50. * 50.));
    }

    proptest! {
        #[test]
        fn the_cut_is_simple_and_holds_every_overwrap_strip(
            ring in star(), seed in prop::collection::vec(0.0..60.0f64, 24), reverse: bool,
        ) {
            let mut ring = ring;
            if reverse {
                ring.reverse();
            }
            let overwrap = &seed[..ring.len()];
            let (outline, _) = cut_outline(&ring, overwrap);
            prop_assert!(area_mm2(&outline) >= area_mm2(&ring) * (1.0 - 1e-9));
            prop_assert_eq!(self_intersection(&outline), None);
            // A point half way along the outer side of each strip,
            // pulled in by a hair, must lie inside the outline (even-odd rule).
            for (i, &wrap) in overwrap.iter().enumerate() {
                let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
                let side = if reverse { -1.0 } else { 1.0 };
                let scale = side * (wrap - 1e-3) / distance(a, b);
                let probe = Point {
                    x_mm: (a.x_mm + b.x_mm) / 2.0 + (b.y_mm - a.y_mm) * scale,
                    y_mm: (a.y_mm + b.y_mm) / 2.0 - (b.x_mm - a.x_mm) * scale,
                };
                prop_assert!(contains(&outline, probe), "edge {i} of {ring:?}");
            }
        }

        #[test]
        fn no_float_breaks_the_outline(
            raw in prop::collection::vec((any::<f64>(), any::<f64>()), 0..12), wrap: f64,
        ) {
            let _ = cut_outline(&polygon(&raw), &vec![wrap; raw.len()]);
        }
    }
}

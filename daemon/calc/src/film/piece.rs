//! A piece of film as the shop states it: finished shape, overwrap, how many, may it turn.

use super::geometry::{self, Point};
use super::outline::{OutlineKind, cut_outline};
use crate::violation::Checks;

/// Most different pieces in one request.
pub const MAX_PIECES: usize = 500;
/// Most corners of one polygon.
pub const MAX_POINTS: usize = 1000;
/// Most corners over all polygons: the work grows with the square of each.
pub const MAX_POINTS_IN_ALL: usize = 5000;
/// Longest name of a piece or roll, in characters.
pub const MAX_NAME_CHARS: usize = 200;
/// Most copies of one piece.
pub const MAX_QUANTITY: u32 = 500;
/// Most copies over all pieces.
pub const MAX_COPIES: u32 = 1000;
/// Shortest and longest side of a rectangle, in mm.
pub const SIDE_MM: std::ops::RangeInclusive<f64> = 0.1..=20_000.0;
/// Largest coordinate of a polygon's corner, either way from zero, in mm.
pub const MAX_COORDINATE_MM: f64 = 20_000.0;
/// Smallest finished area of a polygon, in mm2; less is taken for a slip.
pub const MIN_AREA_MM2: f64 = 1.0;
/// Largest overwrap of an edge, in mm.
pub const MAX_OVERWRAP_MM: f64 = 1_000.0;

/// One shape to cut, `quantity` times.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Name, such as `hood-left`; unique. Empty means `piece N`, counted from 1.
    pub name: String,
    /// Finished shape on the panel, overwrap not included.
    pub shape: Shape,
    /// Film beyond the finished edge, to wrap around it.
    pub overwrap: Overwrap,
    /// How many, 1 to [`MAX_QUANTITY`]; over all pieces at most [`MAX_COPIES`].
    pub quantity: u32,
    /// Whether the piece may be turned by 90 degrees on the roll.
    pub may_rotate: bool,
}

/// Finished shape of a piece. As given, x and width lie across the roll, y and height along it.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// An upright rectangle.
    Rectangle {
        /// Across the roll, in mm, within [`SIDE_MM`].
        width_mm: f64,
        /// Along the roll, in mm, within [`SIDE_MM`].
        height_mm: f64,
    },
    /// A simple polygon in either direction; the last corner joins the first and is not repeated.
    Polygon {
        /// Corners, 3 to [`MAX_POINTS`], in mm, each coordinate within [`MAX_COORDINATE_MM`].
        points: Vec<Point>,
    },
}

/// Extra film beyond the finished edges, in mm, 0 to [`MAX_OVERWRAP_MM`] each.
#[derive(Debug, Clone, PartialEq)]
pub enum Overwrap {
    /// The same on every edge.
    Uniform {
        /// In mm.
        overwrap_mm: f64,
    },
    /// One per side of a rectangle. Top is the side with the largest y.
    Sides {
        /// In mm.
        left_mm: f64,
        /// In mm.
        right_mm: f64,
        /// In mm.
        top_mm: f64,
        /// In mm.
        bottom_mm: f64,
    },
    /// One per edge of a polygon, in mm: entry `i` is the edge from corner `i` to the next.
    Edges {
        /// In mm, as many as the polygon has corners.
        overwrap_mm: Vec<f64>,
    },
}

/// Areas and sizes of one copy of a valid piece.
pub(crate) struct Outline {
    pub(crate) finished_mm2: f64,
    pub(crate) cut_mm2: f64,
    pub(crate) points: Vec<Point>,
    pub(crate) kind: OutlineKind,
}

impl Piece {
    /// The name, or `piece N` when it has none.
    pub(crate) fn label(&self, index: usize) -> String {
        label(&self.name, "piece", index)
    }

    /// Corners of its polygon; a rectangle costs nothing to check.
    pub(crate) fn corners(&self) -> usize {
        match &self.shape {
            Shape::Rectangle { .. } => 0,
            Shape::Polygon { points } => points.len(),
        }
    }

    /// Records everything wrong with the piece under the field path `at`.
    pub(crate) fn check(&self, at: &str, checks: &mut Checks) {
        let quantity = self.quantity;
        let countable = (1..=MAX_QUANTITY).contains(&quantity);
        checks.require(countable, format!("{at}.quantity"), || {
            format!("must be 1 to {MAX_QUANTITY}, got {quantity}")
        });
        check_name(&self.name, format!("{at}.piece"), checks);
        match &self.shape {
            Shape::Rectangle {
                width_mm,
                height_mm,
            } => {
                for (side, value) in [("width_mm", width_mm), ("height_mm", height_mm)] {
                    let field = format!("{at}.rectangle.{side}");
                    checks.in_range(field, *value, *SIDE_MM.start(), *SIDE_MM.end(), "mm");
                }
            }
            Shape::Polygon { points } => check_polygon(points, &format!("{at}.polygon"), checks),
        }
        self.check_overwrap(&format!("{at}.overwrap_mm"), checks);
    }

    /// Finished and cut shape of one copy. Only for a piece that [`Piece::check`] found no fault in.
    pub(crate) fn outline(&self) -> Outline {
        let finished = match &self.shape {
            Shape::Rectangle {
                width_mm,
                height_mm,
            } => [
                (0.0, 0.0),
                (*width_mm, 0.0),
                (*width_mm, *height_mm),
                (0.0, *height_mm),
            ]
            .map(|(x_mm, y_mm)| Point { x_mm, y_mm })
            .to_vec(),
            Shape::Polygon { points } => points.clone(),
        };
        let overwrap_mm = match &self.overwrap {
            Overwrap::Uniform { overwrap_mm } => vec![*overwrap_mm; finished.len()],
            // In the order of the rectangle's edges above: bottom, right, top, left.
            Overwrap::Sides {
                left_mm,
                right_mm,
                top_mm,
                bottom_mm,
            } => {
                vec![*bottom_mm, *right_mm, *top_mm, *left_mm]
            }
            Overwrap::Edges { overwrap_mm } => overwrap_mm.clone(),
        };
        let (points, kind) = cut_outline(&finished, &overwrap_mm);
        Outline {
            finished_mm2: geometry::area_mm2(&finished),
            cut_mm2: geometry::area_mm2(&points),
            points,
            kind,
        }
    }

    /// The API gives overwraps as one list: none, one for all edges, or one per edge.
    fn check_overwrap(&self, at: &str, checks: &mut Checks) {
        let values_mm: &[f64] = match &self.overwrap {
            Overwrap::Uniform { overwrap_mm } => &[*overwrap_mm],
            Overwrap::Sides {
                left_mm,
                right_mm,
                top_mm,
                bottom_mm,
            } => &[*left_mm, *right_mm, *top_mm, *bottom_mm],
            Overwrap::Edges { overwrap_mm } => overwrap_mm,
        };
        // A polygon with too many corners is refused already; do not list each overwrap.
        for (i, value_mm) in values_mm.iter().take(MAX_POINTS).enumerate() {
            checks.in_range(format!("{at}[{i}]"), *value_mm, 0.0, MAX_OVERWRAP_MM, "mm");
        }
        let wanted = match (&self.overwrap, &self.shape) {
            (Overwrap::Uniform { .. }, Shape::Rectangle { .. } | Shape::Polygon { .. })
            | (Overwrap::Sides { .. }, Shape::Rectangle { .. }) => return,
            (Overwrap::Sides { .. } | Overwrap::Edges { .. }, Shape::Polygon { points }) => {
                points.len()
            }
            (Overwrap::Edges { .. }, Shape::Rectangle { .. }) => 4,
        };
        let in_edge_order = matches!(self.overwrap, Overwrap::Edges { .. })
            && matches!(self.shape, Shape::Polygon { .. });
        let got = values_mm.len();
        checks.require(in_edge_order && got == wanted, at, || {
            format!(
                "must have one value, or one per edge, {wanted} (rectangle: left, right, top, \
                 bottom; polygon: in the order of its edges), got {got}"
            )
        });
    }
}

/// The name given, or `KIND N` counted from 1.
pub(crate) fn label(name: &str, kind: &str, index: usize) -> String {
    if name.trim().is_empty() {
        format!("{kind} {}", index + 1)
    } else {
        name.to_owned()
    }
}

/// A name may be left out, but not run on.
pub(crate) fn check_name(name: &str, field: String, checks: &mut Checks) {
    let length = name.chars().count();
    checks.require(length <= MAX_NAME_CHARS, field, || {
        format!("must have at most {MAX_NAME_CHARS} characters, got {length}")
    });
}

fn check_polygon(points: &[Point], at: &str, checks: &mut Checks) {
    let field = format!("{at}.points");
    let count = points.len();
    let countable = (3..=MAX_POINTS).contains(&count);
    checks.require(countable, field.clone(), || {
        format!("must have 3 to {MAX_POINTS} corners, got {count}")
    });
    if !countable {
        return;
    }
    let mut in_range = true;
    for (i, point) in points.iter().enumerate() {
        for (axis, value) in [("x_mm", point.x_mm), ("y_mm", point.y_mm)] {
            in_range &= value.abs() <= MAX_COORDINATE_MM;
            let of = format!("{field}[{i}].{axis}");
            checks.in_range(of, value, -MAX_COORDINATE_MM, MAX_COORDINATE_MM, "mm");
        }
    }
    if !in_range {
        return;
    }
    let repeated = (0..count).find(|&i| {
        geometry::distance(points[i], points[(i + 1) % count]) < geometry::SAME_POINT_MM
    });
    if let Some(i) = repeated {
        let next = (i + 1) % count;
        let hint = if next == 0 {
            "; the last corner joins the first by itself"
        } else {
            ""
        };
        checks.require(false, format!("{field}[{next}]"), || {
            format!("must differ from corner {i}{hint}")
        });
        return;
    }
    if let Some((a, b)) = geometry::self_intersection(points) {
        checks.require(false, field, || {
            format!("must not cross or touch itself: edges {a} and {b} meet")
        });
        return;
    }
    let area_mm2 = geometry::area_mm2(points);
    checks.require(area_mm2 >= MIN_AREA_MM2, field, || {
        format!("must enclose at least {MIN_AREA_MM2} mm2, got {area_mm2:.6}")
    });
}

//! A roll or offcut of film, and what comes of laying all boxes on it.

use super::layout::{self, Item, Shelves};
use super::measure::{MM2_PER_M2, PieceMeasure};
use super::piece::check_name;
use crate::violation::Checks;

/// Largest roll width, in mm.
pub const MAX_ROLL_WIDTH_MM: f64 = 10_000.0;
/// Largest length left on a roll, in mm.
pub const MAX_ROLL_LENGTH_MM: f64 = 1_000_000.0;
/// Slack against the rounding of sums, in mm.
pub(crate) const FIT_MM: f64 = 1e-6;

/// A roll or offcut of film.
#[derive(Debug, Clone, PartialEq)]
pub struct Roll {
    /// Name; unique. Empty means `roll N`, counted from 1.
    pub name: String,
    /// Usable width, in mm, above 0 to [`MAX_ROLL_WIDTH_MM`].
    pub width_mm: f64,
    /// Length left, in mm, above 0 to [`MAX_ROLL_LENGTH_MM`]; absent means enough.
    pub length_mm: Option<f64>,
}

/// All pieces laid on one roll.
#[derive(Debug, Clone, PartialEq)]
pub struct RollLayout {
    /// The roll's name.
    pub roll: String,
    /// Length to pull, in mm.
    pub length_to_pull_mm: f64,
    /// Area pulled, in m2: length to pull times roll width.
    pub film_area_m2: f64,
    /// Cut area of all copies, in m2.
    pub used_area_m2: f64,
    /// Share of the area pulled that is in no cut piece, in percent; handling margin is waste.
    pub waste_percent: f64,
    /// Every copy, in the order placed.
    pub placements: Vec<Placement>,
}

/// Where one copy's box lies on the roll.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// The piece's name.
    pub piece: String,
    /// Which copy, counted from 1.
    pub copy: u32,
    /// Across the roll from its left edge, in mm.
    pub x_mm: f64,
    /// Along the roll from the cut end, in mm.
    pub y_mm: f64,
    /// Across the roll, in mm, as placed.
    pub width_mm: f64,
    /// Along the roll, in mm, as placed.
    pub height_mm: f64,
    /// Turned by 90 degrees.
    pub rotated: bool,
}

/// A roll that cannot take all pieces.
#[derive(Debug, Clone, PartialEq)]
pub struct UnusableRoll {
    /// The roll's name.
    pub roll: String,
    /// Stable code: `PIECE_TOO_WIDE` or `ROLL_TOO_SHORT`.
    pub reason: &'static str,
    /// What does not fit, with sizes.
    pub message: String,
}

/// Why a roll cannot take all boxes.
pub(crate) enum Refusal {
    /// This copy is wider than the roll.
    TooWide { copy: usize, needs_mm: f64 },
    /// The layout is longer than what is left.
    TooShort { needs_mm: f64, has_mm: f64 },
}

impl Roll {
    /// Records everything wrong with the roll under the field path `at`.
    pub(crate) fn check(&self, at: &str, checks: &mut Checks) {
        check_name(&self.name, format!("{at}.roll"), checks);
        let field = format!("{at}.width_mm");
        checks.above(field, self.width_mm, 0.0, MAX_ROLL_WIDTH_MM, "mm");
        if let Some(length_mm) = self.length_mm {
            let field = format!("{at}.length_mm");
            checks.above(field, length_mm, 0.0, MAX_ROLL_LENGTH_MM, "mm");
        }
    }
}

impl Refusal {
    /// The refusal in words, with sizes.
    pub(crate) fn explain(
        &self,
        name: String,
        roll: &Roll,
        copies: &[(usize, u32)],
        pieces: &[PieceMeasure],
    ) -> UnusableRoll {
        let (reason, message) = match *self {
            Self::TooWide { copy, needs_mm } => (
                "PIECE_TOO_WIDE",
                format!(
                    "roll `{name}` at {} mm is narrower than piece `{}` at {} mm",
                    millimetres(roll.width_mm),
                    pieces[copies[copy].0].piece,
                    millimetres(needs_mm)
                ),
            ),
            Self::TooShort { needs_mm, has_mm } => (
                "ROLL_TOO_SHORT",
                format!(
                    "roll `{name}` has {} mm left, {} mm are needed",
                    millimetres(has_mm),
                    millimetres(needs_mm)
                ),
            ),
        };
        UnusableRoll {
            roll: name,
            reason,
            message,
        }
    }
}

/// Lays every box on the roll, or says why not.
pub(crate) fn lay_on(roll: &Roll, boxes: &[Item], gap_mm: f64) -> Result<Shelves, Refusal> {
    let Some(shelves) = layout::lay_out(boxes, roll.width_mm, gap_mm) else {
        let widest = (boxes.iter().map(layout::narrowest_mm).enumerate())
            .max_by(|(_, a), (_, b)| a.total_cmp(b));
        let (copy, needs_mm) = widest.unwrap_or_default();
        return Err(Refusal::TooWide { copy, needs_mm });
    };
    match roll.length_mm {
        Some(has_mm) if shelves.length_mm > has_mm + FIT_MM => Err(Refusal::TooShort {
            needs_mm: shelves.length_mm,
            has_mm,
        }),
        Some(_) | None => Ok(shelves),
    }
}

/// The layout as the caller sees it: names instead of positions, areas and waste.
pub(crate) fn roll_layout(
    name: String,
    roll: &Roll,
    shelves: Shelves,
    used_area_m2: f64,
    copies: &[(usize, u32)],
    pieces: &[PieceMeasure],
) -> RollLayout {
    let film_area_m2 = shelves.length_mm * roll.width_mm / MM2_PER_M2;
    let place = |p: layout::Placed| {
        let (piece, copy) = copies[p.item];
        Placement {
            piece: pieces[piece].piece.clone(),
            copy,
            x_mm: p.x_mm,
            y_mm: p.y_mm,
            width_mm: p.across_mm,
            height_mm: p.along_mm,
            rotated: p.rotated,
        }
    };
    RollLayout {
        roll: name,
        length_to_pull_mm: shelves.length_mm,
        film_area_m2,
        used_area_m2,
        // A box may overhang the roll by the rounding slack: do not call that less than no waste.
        waste_percent: (100.0 * (1.0 - used_area_m2 / film_area_m2)).max(0.0),
        placements: shelves.placed.into_iter().map(place).collect(),
    }
}

/// Millimetres to a tenth, without a trailing `.0`.
pub(crate) fn millimetres(value_mm: f64) -> String {
    let text = format!("{value_mm:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

//! The film calculator: areas of the pieces, and for each roll the length to pull and the waste.
//!
//! Each piece's cut outline is boxed, the handling margin is added on every side, and the boxes are
//! laid on shelves. One roll takes all pieces or is set aside with the reason; a request is not
//! split over rolls. The roll with the least area pulled is chosen (on a tie the first named).

use super::cautions::cautions;
use super::geometry::{self, Point};
use super::layout::{self, Item};
use super::outline::OutlineKind;
use super::piece::{self, MAX_COPIES, MAX_PIECES, MAX_POINTS_IN_ALL, Piece};
use super::roll::{self, FIT_MM, Roll, RollLayout, UnusableRoll, millimetres};
use crate::caution::Caution;
use crate::error::CalcError;
use crate::violation::Checks;
use std::collections::HashSet;

/// Most rolls in one request.
pub const MAX_ROLLS: usize = 50;
/// Largest handling margin on each side, in mm.
pub const MAX_MARGIN_MM: f64 = 1_000.0;
/// Largest gap between boxes, in mm.
pub const MAX_GAP_MM: f64 = 1_000.0;
pub(crate) const MM2_PER_M2: f64 = 1e6;

/// What to cut, and from what.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmInput {
    /// 1 to [`MAX_PIECES`] pieces.
    pub pieces: Vec<Piece>,
    /// Up to [`MAX_ROLLS`] rolls or offcuts; none asks for the areas alone.
    pub rolls: Vec<Roll>,
    /// Film left to hold on every side of each cut piece, in mm, 0 to [`MAX_MARGIN_MM`].
    pub handling_margin_mm: f64,
    /// Least distance between two boxes on the roll, in mm, 0 to [`MAX_GAP_MM`].
    pub gap_mm: f64,
}

/// Areas, layouts and the choice.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmResult {
    /// One per piece, in the order given.
    pub pieces: Vec<PieceMeasure>,
    /// Finished area of all copies, in m2.
    pub finished_area_m2: f64,
    /// Cut area of all copies, in m2: finished plus overwrap, without handling margin.
    pub cut_area_m2: f64,
    /// One per roll that takes all pieces, in the order given.
    pub layouts: Vec<RollLayout>,
    /// Position in `layouts` of the roll with the least area pulled; absent when no roll was given.
    pub chosen: Option<usize>,
    /// Rolls that cannot take all pieces, and why.
    pub unusable: Vec<UnusableRoll>,
    /// How the layout was made.
    pub model: &'static str,
    /// What to keep in mind when cutting.
    pub cautions: Vec<Caution>,
}

/// Sizes of one copy of a piece.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceMeasure {
    /// The piece's name.
    pub piece: String,
    /// How many copies.
    pub quantity: u32,
    /// Finished area of one copy, in m2.
    pub finished_area_m2: f64,
    /// Cut area of one copy, in m2.
    pub cut_area_m2: f64,
    /// Outline to cut, in mm, counter-clockwise, in the axes of the piece.
    pub cut_outline: Vec<Point>,
    /// How the outline was formed.
    pub outline_kind: OutlineKind,
    /// Width of the box on the roll, handling margin included, in mm, before any turn.
    pub box_width_mm: f64,
    /// Height of the box on the roll, handling margin included, in mm, before any turn.
    pub box_height_mm: f64,
}

/// Measures the pieces and lays them on each roll.
///
/// # Errors
/// [`CalcError::Invalid`] with every value out of range or shape that is none;
/// [`CalcError::Infeasible`] `PIECE_FITS_NO_ROLL` when a piece is wider than every roll, and
/// `NO_ROLL_TAKES_ALL` when no single roll is both wide and long enough for all pieces.
pub fn measure(input: &FilmInput) -> Result<FilmResult, CalcError> {
    check(input)?;
    let pieces = measure_pieces(input);
    let items: Vec<Item> = input
        .pieces
        .iter()
        .zip(&pieces)
        .map(|(p, m)| item_of(p, m))
        .collect();
    each_fits_some_roll(input, &pieces, &items)?;

    let total = |of: fn(&PieceMeasure) -> f64| {
        pieces
            .iter()
            .map(|p| of(p) * f64::from(p.quantity))
            .sum::<f64>()
    };
    let finished_area_m2 = total(|p| p.finished_area_m2);
    let cut_area_m2 = total(|p| p.cut_area_m2);
    // One entry per copy: which piece, and which copy of it.
    let copies: Vec<(usize, u32)> = (input.pieces.iter().enumerate())
        .flat_map(|(at, p)| (1..=p.quantity).map(move |copy| (at, copy)))
        .collect();
    let boxes: Vec<Item> = copies.iter().map(|&(at, _)| items[at]).collect();

    let mut layouts = Vec::new();
    let mut unusable = Vec::new();
    for (index, roll) in input.rolls.iter().enumerate() {
        let name = piece::label(&roll.name, "roll", index);
        match roll::lay_on(roll, &boxes, input.gap_mm) {
            Ok(shelves) => {
                layouts.push(roll::roll_layout(
                    name,
                    roll,
                    shelves,
                    cut_area_m2,
                    &copies,
                    &pieces,
                ));
            }
            Err(why) => unusable.push(why.explain(name, roll, &copies, &pieces)),
        }
    }
    if layouts.is_empty() && !input.rolls.is_empty() {
        let why: Vec<&str> = unusable.iter().map(|u| u.message.as_str()).collect();
        return Err(CalcError::Infeasible {
            reason: "NO_ROLL_TAKES_ALL",
            field: "rolls".to_owned(),
            message: format!("no single roll takes all pieces: {}", why.join("; ")),
        });
    }
    let chosen = (layouts.iter().enumerate())
        .min_by(|(_, a), (_, b)| a.film_area_m2.total_cmp(&b.film_area_m2))
        .map(|(at, _)| at);
    let cautions = cautions(&pieces, chosen.map(|at| &layouts[at]));
    Ok(FilmResult {
        pieces,
        finished_area_m2,
        cut_area_m2,
        layouts,
        chosen,
        unusable,
        model: "shoelace areas; mitred cut outline; boxes on shelves, first fit by decreasing height",
        cautions,
    })
}

fn check(input: &FilmInput) -> Result<(), CalcError> {
    let mut checks = Checks::new();
    let (pieces, rolls) = (input.pieces.len(), input.rolls.len());
    checks.require((1..=MAX_PIECES).contains(&pieces), "pieces", || {
        format!("must have 1 to {MAX_PIECES} pieces, got {pieces}")
    });
    checks.require(rolls <= MAX_ROLLS, "rolls", || {
        format!("must have at most {MAX_ROLLS} rolls, got {rolls}")
    });
    if pieces > MAX_PIECES || rolls > MAX_ROLLS {
        // Checking each of an unbounded list is the work that the limit is there to refuse.
        return checks.finish();
    }
    let copies: u64 = input.pieces.iter().map(|p| u64::from(p.quantity)).sum();
    checks.require(copies <= u64::from(MAX_COPIES), "pieces", || {
        format!("must come to at most {MAX_COPIES} copies, got {copies}")
    });
    let corners: usize = input.pieces.iter().map(Piece::corners).sum();
    checks.require(corners <= MAX_POINTS_IN_ALL, "pieces", || {
        format!("must have at most {MAX_POINTS_IN_ALL} corners in all, got {corners}")
    });
    if corners > MAX_POINTS_IN_ALL {
        return checks.finish();
    }
    let mut names = HashSet::new();
    for (i, piece) in input.pieces.iter().enumerate() {
        piece.check(&format!("pieces[{i}]"), &mut checks);
        let name = piece.label(i);
        checks.require(
            names.insert(name.clone()),
            format!("pieces[{i}].piece"),
            || format!("must be unique, `{name}` is there already"),
        );
    }
    let mut names = HashSet::new();
    for (i, roll) in input.rolls.iter().enumerate() {
        roll.check(&format!("rolls[{i}]"), &mut checks);
        let name = piece::label(&roll.name, "roll", i);
        checks.require(
            names.insert(name.clone()),
            format!("rolls[{i}].roll"),
            || format!("must be unique, `{name}` is there already"),
        );
    }
    checks.in_range(
        "handling_margin_mm",
        input.handling_margin_mm,
        0.0,
        MAX_MARGIN_MM,
        "mm",
    );
    checks.in_range("gap_mm", input.gap_mm, 0.0, MAX_GAP_MM, "mm");
    checks.finish()
}

fn measure_pieces(input: &FilmInput) -> Vec<PieceMeasure> {
    let margins_mm = 2.0 * input.handling_margin_mm;
    let measured = |(index, piece): (usize, &Piece)| {
        let outline = piece.outline();
        let extent = geometry::extent(&outline.points);
        PieceMeasure {
            piece: piece.label(index),
            quantity: piece.quantity,
            finished_area_m2: outline.finished_mm2 / MM2_PER_M2,
            cut_area_m2: outline.cut_mm2 / MM2_PER_M2,
            cut_outline: outline.points,
            outline_kind: outline.kind,
            box_width_mm: extent.width_mm + margins_mm,
            box_height_mm: extent.height_mm + margins_mm,
        }
    };
    input.pieces.iter().enumerate().map(measured).collect()
}

fn item_of(piece: &Piece, measure: &PieceMeasure) -> Item {
    Item {
        across_mm: measure.box_width_mm,
        along_mm: measure.box_height_mm,
        may_rotate: piece.may_rotate,
    }
}

fn each_fits_some_roll(
    input: &FilmInput,
    pieces: &[PieceMeasure],
    items: &[Item],
) -> Result<(), CalcError> {
    let Some(widest_mm) = input.rolls.iter().map(|r| r.width_mm).reduce(f64::max) else {
        return Ok(());
    };
    let too_wide: Vec<(usize, String)> = (pieces.iter().zip(items).enumerate())
        .map(|(at, (piece, item))| (at, &piece.piece, layout::narrowest_mm(item)))
        .filter(|(_, _, needs_mm)| *needs_mm > widest_mm + FIT_MM)
        .map(|(at, name, needs_mm)| {
            (
                at,
                format!("piece `{name}` at {} mm", millimetres(needs_mm)),
            )
        })
        .collect();
    let Some((first, _)) = too_wide.first() else {
        return Ok(());
    };
    let fits = if too_wide.len() == 1 { "fits" } else { "fit" };
    let named: Vec<&str> = too_wide.iter().map(|(_, text)| text.as_str()).collect();
    Err(CalcError::Infeasible {
        reason: "PIECE_FITS_NO_ROLL",
        field: format!("pieces[{first}]"),
        message: format!(
            "{} {fits} no roll; the widest is {} mm",
            named.join(", "),
            millimetres(widest_mm)
        ),
    })
}

//! Film.

use lamella_calc::film::{FilmInput, FilmResult, Overwrap, Piece, Point, Roll, RollLayout, Shape};
use lamella_calc::violation::Checks;
use lamella_jobs::check;
use lamella_proto::v1;

use super::super::{caution, required};

pub(crate) fn from_pb(request: &v1::MeasureFilmRequest, checks: &mut Checks) -> FilmInput {
    checks.require(!request.pieces.is_empty(), "pieces", || {
        "is required".to_owned()
    });
    checks.require(!request.rolls.is_empty(), "rolls", || {
        "is required".to_owned()
    });
    let pieces = request.pieces.iter().enumerate();
    let rolls = request.rolls.iter().enumerate();
    FilmInput {
        pieces: pieces
            .map(|(index, piece)| piece_from_pb(piece, index, checks))
            .collect(),
        rolls: rolls
            .map(|(index, roll)| Roll {
                name: named(
                    &roll.roll,
                    &format!("rolls[{index}].roll"),
                    "roll",
                    index,
                    checks,
                ),
                width_mm: required(roll.width_mm, &format!("rolls[{index}].width_mm"), checks),
                length_mm: roll.length_mm,
            })
            .collect(),
        handling_margin_mm: request.handling_margin_mm,
        gap_mm: request.gap_mm,
    }
}

fn piece_from_pb(piece: &v1::FilmShape, index: usize, checks: &mut Checks) -> Piece {
    let at = |field: &str| format!("pieces[{index}].{field}");
    let name = named(&piece.piece, &at("piece"), "piece", index, checks);
    checks.require(piece.shape.is_some(), at("shape"), || {
        "is required: a rectangle or a polygon".to_owned()
    });
    checks.require(piece.quantity >= 0, at("quantity"), || {
        format!("must not be negative, got {}", piece.quantity)
    });
    let shape = match &piece.shape {
        Some(v1::film_shape::Shape::Polygon(polygon)) => Shape::Polygon {
            points: polygon
                .points
                .iter()
                .map(|point| Point {
                    x_mm: point.x_mm,
                    y_mm: point.y_mm,
                })
                .collect(),
        },
        Some(v1::film_shape::Shape::Rectangle(rectangle)) => Shape::Rectangle {
            width_mm: rectangle.width_mm,
            height_mm: rectangle.height_mm,
        },
        // Noted above; any sound shape will do.
        None => Shape::Rectangle {
            width_mm: 1.0,
            height_mm: 1.0,
        },
    };
    let overwrap = match (piece.overwrap_mm.as_slice(), &shape) {
        ([], _) => Overwrap::Uniform { overwrap_mm: 0.0 },
        ([all], _) => Overwrap::Uniform { overwrap_mm: *all },
        ([left, right, top, bottom], Shape::Rectangle { .. }) => Overwrap::Sides {
            left_mm: *left,
            right_mm: *right,
            top_mm: *top,
            bottom_mm: *bottom,
        },
        (each, Shape::Polygon { .. }) => Overwrap::Edges {
            overwrap_mm: each.to_vec(),
        },
        (each, Shape::Rectangle { .. }) => {
            checks.require(false, at("overwrap_mm"), || {
                format!(
                    "must have 1 value, or 4 (left, right, top, bottom), got {}",
                    each.len()
                )
            });
            Overwrap::Uniform { overwrap_mm: 0.0 }
        }
    };
    Piece {
        name,
        shape,
        overwrap,
        quantity: u32::try_from(piece.quantity.max(1)).unwrap_or(1),
        may_rotate: piece.may_rotate,
    }
}

/// A name, or which one it is, counted from 1, where none was given.
fn named(name: &str, field: &str, what: &str, index: usize, checks: &mut Checks) -> String {
    if name.is_empty() {
        return format!("{what} {}", index + 1);
    }
    check::text(checks, field, name, 1, 200);
    name.to_owned()
}

pub(crate) fn to_pb(result: &FilmResult) -> v1::MeasureFilmResponse {
    let mut layouts: Vec<&RollLayout> = result.layouts.iter().collect();
    layouts.sort_by(|a, b| a.film_area_m2.total_cmp(&b.film_area_m2));
    v1::MeasureFilmResponse {
        pieces: result
            .pieces
            .iter()
            .map(|piece| v1::FilmPieceArea {
                piece: piece.piece.clone(),
                finished_m2: piece.finished_area_m2,
                cut_m2: piece.cut_area_m2,
                blank_width_mm: piece.box_width_mm,
                blank_height_mm: piece.box_height_mm,
            })
            .collect(),
        layouts: layouts.into_iter().map(layout_to_pb).collect(),
        refusals: result
            .unusable
            .iter()
            .map(|roll| v1::FilmRollRefusal {
                roll: roll.roll.clone(),
                reason: roll.reason.to_owned(),
                message: roll.message.clone(),
            })
            .collect(),
        cautions: caution::all_to_pb(&result.cautions),
        model: result.model.to_owned(),
        finished_m2: result.finished_area_m2,
        cut_m2: result.cut_area_m2,
    }
}

fn layout_to_pb(layout: &RollLayout) -> v1::FilmLayout {
    v1::FilmLayout {
        roll: layout.roll.clone(),
        length_to_pull_mm: layout.length_to_pull_mm,
        pulled_m2: layout.film_area_m2,
        used_m2: layout.used_area_m2,
        waste_percent: layout.waste_percent,
        placements: layout
            .placements
            .iter()
            .map(|placement| v1::FilmPlacement {
                piece: placement.piece.clone(),
                copy: i32::try_from(placement.copy).unwrap_or(i32::MAX),
                x_mm: placement.x_mm,
                y_mm: placement.y_mm,
                width_mm: placement.width_mm,
                height_mm: placement.height_mm,
                rotated: placement.rotated,
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_name_is_counted_from_one() {
        let piece = |name: &str| v1::FilmShape {
            piece: name.to_owned(),
            shape: Some(v1::film_shape::Shape::Rectangle(v1::Rectangle {
                width_mm: 10.0,
                height_mm: 10.0,
            })),
            ..v1::FilmShape::default()
        };
        let roll = v1::FilmRoll {
            width_mm: Some(1524.0),
            ..v1::FilmRoll::default()
        };
        let request = v1::MeasureFilmRequest {
            pieces: vec![piece(""), piece("hood"), piece("")],
            rolls: vec![roll],
            ..v1::MeasureFilmRequest::default()
        };
        let mut checks = Checks::new();
        let input = from_pb(&request, &mut checks);
        checks.finish().unwrap();
        let names: Vec<&str> = input.pieces.iter().map(|p| p.name.as_str()).collect();
        assert_eq!(names, ["piece 1", "hood", "piece 3"]);
        assert_eq!(input.rolls[0].name, "roll 1");
    }
}

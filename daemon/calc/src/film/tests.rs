//! The film calculator as a whole: published areas, sums by hand, refusals, properties.

use super::piece::MAX_PIECES;
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use proptest::prelude::*;

fn rectangle(name: &str, width_mm: f64, height_mm: f64) -> Piece {
    Piece {
        name: name.to_owned(),
        shape: Shape::Rectangle {
            width_mm,
            height_mm,
        },
        overwrap: Overwrap::Uniform { overwrap_mm: 0.0 },
        quantity: 1,
        may_rotate: false,
    }
}

fn polygon(points: &[(f64, f64)]) -> Piece {
    let points = points
        .iter()
        .map(|&(x_mm, y_mm)| Point { x_mm, y_mm })
        .collect();
    Piece {
        shape: Shape::Polygon { points },
        ..rectangle("", 1.0, 1.0)
    }
}

fn roll(name: &str, width_mm: f64, length_mm: Option<f64>) -> Roll {
    Roll {
        name: name.to_owned(),
        width_mm,
        length_mm,
    }
}

fn input(pieces: Vec<Piece>, rolls: Vec<Roll>) -> FilmInput {
    FilmInput {
        pieces,
        rolls,
        handling_margin_mm: 0.0,
        gap_mm: 0.0,
    }
}

fn violations(input: &FilmInput) -> Vec<String> {
    match measure(input) {
        Err(CalcError::Invalid(v)) => v.iter().map(|v| v.field.clone()).collect(),
        other => panic!("expected violations, got {other:?}"),
    }
}

fn near(got: f64, want: f64) -> bool {
    (got - want).abs() < 1e-9 * want.abs().max(1.0)
}

/// Check values, section 6 (see `geometry` for the sources), through the whole calculator.
#[test]
fn finished_areas_of_published_polygons() {
    let shapes = input(
        vec![
            polygon(&[(3., 4.), (5., 11.), (12., 8.), (9., 5.), (5., 6.)]),
            polygon(&[(2., 5.), (8., 5.), (8., 9.), (5., 7.), (2., 9.)]),
            polygon(&[(1., 6.), (3., 1.), (7., 2.), (4., 4.), (8., 5.)]),
        ],
        Vec::new(),
    );
    let result = measure(&shapes).unwrap();
    for (piece, want_mm2) in result.pieces.iter().zip([30.0, 18.0, 16.5]) {
        assert!(near(piece.finished_area_m2 * 1e6, want_mm2), "{piece:?}");
    }
    assert_eq!((result.chosen, result.layouts.len()), (None, 0));
}

/// Arithmetic done by hand: two 600 x 400 mm pieces, 20 mm overwrap, 30 mm to hold, 10 mm apart
/// on a 1524 mm roll: boxes 700 x 500 side by side (1410 mm), one shelf of 500 mm.
#[test]
fn overwrap_margin_and_gap_add_up() {
    let piece = Piece {
        overwrap: Overwrap::Uniform { overwrap_mm: 20.0 },
        quantity: 2,
        ..rectangle("door", 600.0, 400.0)
    };
    let request = FilmInput {
        handling_margin_mm: 30.0,
        gap_mm: 10.0,
        ..input(vec![piece], vec![roll("wide", 1524.0, None)])
    };
    let result = measure(&request).unwrap();
    let layout = &result.layouts[0];
    assert!(near(layout.length_to_pull_mm, 500.0));
    assert!(near(layout.film_area_m2, 0.762));
    assert!(near(layout.used_area_m2, 2.0 * 0.64 * 0.44));
    assert!(near(layout.waste_percent, 100.0 * (1.0 - 0.5632 / 0.762)));
    assert!(near(result.finished_area_m2, 0.48));
    assert!(near(layout.placements[1].x_mm, 710.0));
    assert_eq!(layout.placements[1].copy, 2);
}

#[test]
fn a_piece_too_wide_for_every_roll_is_named() {
    let rolls = vec![roll("a", 1524.0, None), roll("b", 610.0, None)];
    let request = input(
        vec![
            rectangle("door", 500., 500.),
            rectangle("hood-left", 1610., 900.),
        ],
        rolls,
    );
    let Err(CalcError::Infeasible {
        reason,
        field,
        message,
    }) = measure(&request)
    else {
        panic!("expected infeasible");
    };
    assert_eq!(
        (reason, field.as_str()),
        ("PIECE_FITS_NO_ROLL", "pieces[1]")
    );
    assert_eq!(
        message,
        "piece `hood-left` at 1610 mm fits no roll; the widest is 1524 mm"
    );
    // Turned, the same piece goes on the wide roll.
    let mut turned = request;
    turned.pieces[1].may_rotate = true;
    let result = measure(&turned).unwrap();
    assert_eq!(result.unusable[0].reason, "PIECE_TOO_WIDE");
    let codes: Vec<CautionCode> = result.cautions.iter().map(|c| c.code).collect();
    assert!(
        codes.contains(&CautionCode::FilmDirectionTurned),
        "{codes:?}"
    );
}

#[test]
fn the_roll_with_the_least_area_pulled_is_chosen() {
    let pieces = vec![Piece {
        quantity: 2,
        ..rectangle("door", 600., 1000.)
    }];
    let rolls = vec![
        roll("wide", 1524., None),  // one shelf, 1.524 m2
        roll("narrow", 610., None), // two shelves, 1.220 m2
        roll("offcut", 610., Some(1900.)),
    ];
    let result = measure(&input(pieces, rolls)).unwrap();
    assert_eq!(result.layouts[result.chosen.unwrap()].roll, "narrow");
    assert_eq!(result.unusable[0].reason, "ROLL_TOO_SHORT");
    assert_eq!(
        result.unusable[0].message,
        "roll `offcut` has 1900 mm left, 2000 mm are needed"
    );
}

#[test]
fn no_single_roll_is_an_error_with_every_reason() {
    let pieces = vec![rectangle("door", 600., 1000.)];
    let rolls = vec![roll("", 500., None), roll("", 610., Some(900.))];
    let Err(CalcError::Infeasible {
        reason, message, ..
    }) = measure(&input(pieces, rolls))
    else {
        panic!("expected infeasible");
    };
    assert_eq!(reason, "NO_ROLL_TAKES_ALL");
    assert_eq!(
        message,
        "no single roll takes all pieces: roll `roll 1` at 500 mm is narrower than piece `door` \
         at 600 mm; roll `roll 2` has 900 mm left, 1000 mm are needed"
    );
}

#[test]
fn everything_wrong_is_said_at_once() {
    let bad = FilmInput {
        pieces: vec![
            Piece {
                quantity: 0,
                ..rectangle("same", f64::NAN, -3.0)
            },
            Piece {
                overwrap: Overwrap::Edges {
                    overwrap_mm: vec![1.0, -2.0],
                },
                ..polygon(&[(0., 0.), (10., 10.), (10., 0.), (0., 10.)])
            },
            Piece {
                overwrap: Overwrap::Sides {
                    left_mm: 1.,
                    right_mm: 1.,
                    top_mm: f64::INFINITY,
                    bottom_mm: 1600.,
                },
                ..rectangle("same", 100., 1e9)
            },
        ],
        rolls: vec![roll("", 0.0, Some(f64::NAN))],
        handling_margin_mm: -1.0,
        gap_mm: 1e9,
    };
    assert_eq!(
        violations(&bad),
        [
            "pieces[0].quantity",
            "pieces[0].rectangle.width_mm",
            "pieces[0].rectangle.height_mm",
            "pieces[1].polygon.points",
            "pieces[1].overwrap_mm[1]",
            "pieces[1].overwrap_mm",
            "pieces[2].rectangle.height_mm",
            "pieces[2].overwrap_mm[2]",
            "pieces[2].overwrap_mm[3]",
            "pieces[2].piece",
            "rolls[0].width_mm",
            "rolls[0].length_mm",
            "handling_margin_mm",
            "gap_mm",
        ]
    );
}

#[test]
fn shapes_that_are_none_are_refused() {
    for (piece, field) in [
        (polygon(&[(0., 0.), (10., 0.)]), "pieces[0].polygon.points"),
        (
            polygon(&[(0., 0.), (10., 0.), (20., 0.)]),
            "pieces[0].polygon.points",
        ),
        (
            polygon(&[(0., 0.), (10., 0.), (10., 0.), (0., 9.)]),
            "pieces[0].polygon.points[2]",
        ),
        (
            polygon(&[(0., 0.), (10., 0.), (0., 9.), (0., 0.)]),
            "pieces[0].polygon.points[0]",
        ),
        (
            polygon(&[(0., 0.), (f64::NAN, 0.), (0., 9.)]),
            "pieces[0].polygon.points[1].x_mm",
        ),
        (
            polygon(&[(0., 0.), (0.5, 0.), (0., 0.5)]),
            "pieces[0].polygon.points",
        ),
        (polygon(&vec![(0., 0.); 1001]), "pieces[0].polygon.points"),
    ] {
        assert_eq!(violations(&input(vec![piece], Vec::new())), [field]);
    }
    let many = vec![rectangle("", 10., 10.); MAX_PIECES + 1];
    assert_eq!(violations(&input(many, Vec::new())), ["pieces"]);
    let copies = Piece {
        quantity: u32::MAX,
        ..rectangle("", 10., 10.)
    };
    let found = violations(&input(vec![copies], Vec::new()));
    assert_eq!(found, ["pieces", "pieces[0].quantity"]);
    let fine = vec![polygon(&vec![(0., 0.); 900]); 6];
    assert_eq!(violations(&input(fine, Vec::new())), ["pieces"]);
    let sides = Piece {
        overwrap: Overwrap::Edges {
            overwrap_mm: vec![1.0; 4],
        },
        ..rectangle("", 10., 10.)
    };
    assert_eq!(
        violations(&input(vec![sides], Vec::new())),
        ["pieces[0].overwrap_mm"]
    );
    let endless = rectangle(&"x".repeat(201), 10., 10.);
    assert_eq!(
        violations(&input(vec![endless], Vec::new())),
        ["pieces[0].piece"]
    );
    assert_eq!(violations(&input(Vec::new(), Vec::new())), ["pieces"]);
}

fn any_piece() -> impl Strategy<Value = Piece> {
    let number = prop_oneof![4 => -10.0..3000.0f64, 1 => any::<f64>()];
    let point = (number.clone(), number.clone());
    let shape = prop_oneof![
        point
            .clone()
            .prop_map(|(width_mm, height_mm)| Shape::Rectangle {
                width_mm,
                height_mm
            }),
        prop::collection::vec(point.prop_map(|(x_mm, y_mm)| Point { x_mm, y_mm }), 0..9)
            .prop_map(|points| Shape::Polygon { points }),
    ];
    let overwrap = prop_oneof![
        number
            .clone()
            .prop_map(|overwrap_mm| Overwrap::Uniform { overwrap_mm }),
        prop::collection::vec(number, 0..9).prop_map(|overwrap_mm| Overwrap::Edges { overwrap_mm }),
    ];
    (shape, overwrap, 0..5u32, any::<bool>()).prop_map(|(shape, overwrap, quantity, turn)| Piece {
        name: String::new(),
        shape,
        overwrap,
        quantity,
        may_rotate: turn,
    })
}

proptest! {
    #[test]
    fn garbage_is_refused_or_measured_never_a_panic(
        pieces in prop::collection::vec(any_piece(), 0..4),
        width in prop_oneof![Just(1524.0), any::<f64>()],
        length in prop::option::of(any::<f64>()), margin: f64, gap: f64,
    ) {
        let request = FilmInput {
            pieces,
            rolls: vec![roll("", width, length)],
            handling_margin_mm: margin,
            gap_mm: gap,
        };
        let _ = measure(&request);
    }

    #[test]
    fn every_copy_is_placed_once_and_the_sums_hold(
        sizes in prop::collection::vec((10.0..900.0f64, 10.0..2000.0f64, 1..4u32), 1..12),
        wrap in 0.0..50.0f64, margin in 0.0..50.0f64,
    ) {
        let pieces: Vec<Piece> = (sizes.iter())
            .map(|&(w, h, quantity)| Piece {
                quantity,
                may_rotate: true,
                overwrap: Overwrap::Uniform { overwrap_mm: wrap },
                ..rectangle("", w, h)
            })
            .collect();
        let request = FilmInput {
            handling_margin_mm: margin,
            ..input(pieces, vec![roll("", 1524.0, None), roll("", 1830.0, None)])
        };
        let result = measure(&request).unwrap();
        prop_assert_eq!(result.layouts.len(), 2);
        for layout in &result.layouts {
            let mut got: Vec<(String, u32)> =
                layout.placements.iter().map(|p| (p.piece.clone(), p.copy)).collect();
            got.sort();
            let mut want: Vec<(String, u32)> = (result.pieces.iter())
                .flat_map(|p| (1..=p.quantity).map(|copy| (p.piece.clone(), copy)))
                .collect();
            want.sort();
            prop_assert_eq!(got, want);
            prop_assert!(layout.film_area_m2 >= layout.used_area_m2);
            prop_assert!((0.0..100.0).contains(&layout.waste_percent));
        }
        let least = result.layouts.iter().map(|l| l.film_area_m2).fold(f64::INFINITY, f64::min);
        prop_assert!(near(result.layouts[result.chosen.unwrap()].film_area_m2, least));
    }
}

//! Pieces and rolls as typed: `hood*2=1500mmx1200mm+20mm`,
//! `wing=0,0;600,0;600,400mm`, `main=1524mmx15m`.

use std::str::FromStr;

use lamella_proto::v1;
use lamella_proto::v1::film_shape::Shape;

use crate::commands::setup::{SpecError, whole};
use crate::units::{Dimension, LengthMm, series};

/// A rectangle.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PieceSpec(pub(crate) v1::FilmShape);

/// A polygon.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PolygonSpec(pub(crate) v1::FilmShape);

/// A full roll of a film in the shop's lists: `new=clear-film`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FilmSpec(pub(crate) v1::FilmRoll);

/// A roll.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RollSpec(pub(crate) v1::FilmRoll);

const PIECE: &str = "NAME[*COUNT]=WIDTHxHEIGHT[+WRAP], for example hood=1500mmx1200mm+20mm";
const POLYGON: &str = "NAME[*COUNT]=X,Y;X,Y;X,Y[+WRAP], for example wing=0,0;600,0;600,400mm";
const ROLL: &str = "NAME=WIDTH[xLENGTH], for example main=1524mmx15m";

impl FromStr for PieceSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (shape, outline) = head(text, PIECE)?;
        let sides: Vec<&str> = outline.split(['x', 'X', '×']).collect();
        let [width_mm, height_mm] = series(Dimension::Length, &sides)?[..] else {
            return Err(SpecError::Form {
                given: text.to_owned(),
                form: PIECE,
            });
        };
        let rectangle = v1::Rectangle {
            width_mm,
            height_mm,
        };
        Ok(Self(v1::FilmShape {
            shape: Some(Shape::Rectangle(rectangle)),
            ..shape
        }))
    }
}

impl FromStr for PolygonSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: POLYGON,
        };
        let (shape, outline) = head(text, POLYGON)?;
        let mut coordinates = Vec::new();
        for corner in outline.split(';') {
            let (x, y) = corner.split_once(',').ok_or_else(form)?;
            if y.contains(',') {
                return Err(form());
            }
            coordinates.extend([x, y]);
        }
        let values = series(Dimension::Length, &coordinates)?;
        let corner = |pair: &[f64]| match *pair {
            [x_mm, y_mm] => Some(v1::Point { x_mm, y_mm }),
            _ => None,
        };
        let polygon = v1::Polygon {
            points: values.chunks(2).filter_map(corner).collect(),
        };
        Ok(Self(v1::FilmShape {
            shape: Some(Shape::Polygon(polygon)),
            ..shape
        }))
    }
}

impl FromStr for FilmSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let (roll, film_id) = text.split_once('=').ok_or_else(|| SpecError::Form {
            given: text.to_owned(),
            form: "NAME=ID, for example new=clear-film",
        })?;
        Ok(Self(v1::FilmRoll {
            roll: roll.trim().to_owned(),
            film_id: film_id.trim().to_owned(),
            ..v1::FilmRoll::default()
        }))
    }
}

impl FromStr for RollSpec {
    type Err = SpecError;

    fn from_str(text: &str) -> Result<Self, SpecError> {
        let form = || SpecError::Form {
            given: text.to_owned(),
            form: ROLL,
        };
        let (roll, size) = text.split_once('=').ok_or_else(form)?;
        let (width, length) = match size.split_once(['x', 'X', '×']) {
            Some((width, length)) => (width, Some(length)),
            None => (size, None),
        };
        Ok(Self(v1::FilmRoll {
            roll: roll.trim().to_owned(),
            width_mm: Some(width.parse::<LengthMm>()?.0),
            length_mm: length
                .map(str::parse::<LengthMm>)
                .transpose()?
                .map(|length| length.0),
            film_id: String::new(),
        }))
    }
}

/// Name, count and overwrap of a piece, and its outline as typed.
fn head<'a>(text: &'a str, form: &'static str) -> Result<(v1::FilmShape, &'a str), SpecError> {
    let (name, rest) = text.split_once('=').ok_or_else(|| SpecError::Form {
        given: text.to_owned(),
        form,
    })?;
    let (piece, quantity) = match name.rsplit_once('*') {
        Some((piece, count)) => (piece, whole(count, "count")?),
        None => (name, 0),
    };
    let (outline, wrap) = match rest.split_once('+') {
        Some((outline, wrap)) => (outline, Some(wrap)),
        None => (rest, None),
    };
    let overwrap_mm = match wrap {
        Some(wrap) => series(Dimension::Length, &wrap.split(',').collect::<Vec<_>>())?,
        None => Vec::new(),
    };
    let piece = piece.trim().to_owned();
    Ok((
        v1::FilmShape {
            piece,
            overwrap_mm,
            quantity,
            ..Default::default()
        },
        outline,
    ))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn pieces_polygons_and_rolls() {
        let piece = "mirror*2=10inx8in+0,0,10,10mm"
            .parse::<PieceSpec>()
            .unwrap()
            .0;
        assert_eq!((piece.piece.as_str(), piece.quantity), ("mirror", 2));
        assert_eq!(piece.overwrap_mm, [0.0, 0.0, 10.0, 10.0]);
        let rectangle = v1::Rectangle {
            width_mm: 254.0,
            height_mm: 203.2,
        };
        assert_eq!(piece.shape, Some(Shape::Rectangle(rectangle)));

        let wing = "wing=0,0;600,0;600,400;0,350mm"
            .parse::<PolygonSpec>()
            .unwrap()
            .0;
        let Some(Shape::Polygon(polygon)) = wing.shape else {
            panic!("not a polygon")
        };
        assert_eq!(
            polygon.points.last(),
            Some(&v1::Point {
                x_mm: 0.0,
                y_mm: 350.0
            })
        );
        assert_eq!(polygon.points.len(), 4);

        let roll = "main=1524mmx15m".parse::<RollSpec>().unwrap().0;
        assert_eq!(
            (roll.width_mm, roll.length_mm),
            (Some(1524.0), Some(15_000.0))
        );
        let roll = "main=60in".parse::<RollSpec>().unwrap().0;
        assert_eq!((roll.width_mm, roll.length_mm), (Some(1524.0), None));
    }

    #[test]
    fn what_is_wrong_is_said() {
        let all = [
            "hood".parse::<PieceSpec>().unwrap_err(),
            "hood=1500mm".parse::<PieceSpec>().unwrap_err(),
            "hood=1500x1200".parse::<PieceSpec>().unwrap_err(),
            "hood*two=1mx1m".parse::<PieceSpec>().unwrap_err(),
            "wing=0,0;1m".parse::<PolygonSpec>().unwrap_err(),
            "wing=0,0;1,5,2m".parse::<PolygonSpec>().unwrap_err(),
            "main".parse::<RollSpec>().unwrap_err(),
            "main=1524".parse::<RollSpec>().unwrap_err(),
        ];
        insta::assert_snapshot!(all.map(|error| error.to_string()).join("\n"), @"
        `hood` is not of the form NAME[*COUNT]=WIDTHxHEIGHT[+WRAP], for example hood=1500mmx1200mm+20mm
        `hood=1500mm` is not of the form NAME[*COUNT]=WIDTHxHEIGHT[+WRAP], for example hood=1500mmx1200mm+20mm
        `1200` has no unit; write 1200mm or 1200in
        `two` is not a whole number; it stands for the count
        `wing=0,0;1m` is not of the form NAME[*COUNT]=X,Y;X,Y;X,Y[+WRAP], for example wing=0,0;600,0;600,400mm
        `wing=0,0;1,5,2m` is not of the form NAME[*COUNT]=X,Y;X,Y;X,Y[+WRAP], for example wing=0,0;600,0;600,400mm
        `main` is not of the form NAME=WIDTH[xLENGTH], for example main=1524mmx15m
        `1524` has no unit; write 1524mm or 1524in
        ");
    }

    proptest! {
        #[test]
        fn nothing_typed_makes_it_panic(text in "\\PC*", more in "[a-z*=x,;+0-9.]*") {
            for text in [text, more] {
                let _ = text.parse::<PieceSpec>();
                let _ = text.parse::<PolygonSpec>();
                let _ = text.parse::<RollSpec>();
            }
        }
    }
}

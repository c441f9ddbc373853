//! `lamella film`: how much film to pull, and what is wasted.

use std::fmt::Write as _;

use lamella_proto::v1;

use crate::commands::film_spec::{FilmSpec, PieceSpec, PolygonSpec, RollSpec};
use crate::errors::CliError;
use crate::names::clean;
use crate::session::Session;
use crate::text::{self, View};
use crate::units::{LengthMm, number};

/// How much film to pull for some pieces, and what is wasted.
///
/// A piece is NAME=WIDTHxHEIGHT, a polygon NAME=X,Y;X,Y;... Put *COUNT after the
/// name for several, and +WRAP behind it for the overwrap on every edge, or
/// +WRAP,WRAP,... for one on each (rectangle: left, right, top, bottom). In a
/// row of numbers the last one's unit holds for those before it.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella film --piece hood=1500mmx1200mm+20mm --roll main=1524mm
  lamella film --piece 'mirror*2=10inx8in+0,0,10,10mm' --roll main=60inx15m --margin 25mm
  lamella film --piece hood=1500mmx1200mm+20mm --film new=clear-film
  lamella film --polygon 'wing=0,0;600,0;600,400;0,350mm+15mm' --roll offcut=760mmx2m --may-rotate")]
pub(crate) struct Args {
    /// A rectangle to cover; repeat for more.
    #[arg(
        long,
        value_name = "NAME[*COUNT]=WIDTHxHEIGHT[+WRAP]",
        required_unless_present = "polygon"
    )]
    piece: Vec<PieceSpec>,
    /// A polygon to cover; repeat for more.
    #[arg(long, value_name = "NAME[*COUNT]=X,Y;X,Y;...[+WRAP]")]
    polygon: Vec<PolygonSpec>,
    /// A roll or offcut at hand; repeat for more. Without a length there is
    /// enough on it.
    #[arg(
        long,
        value_name = "NAME=WIDTH[xLENGTH]",
        required_unless_present = "film"
    )]
    roll: Vec<RollSpec>,
    /// A full roll of a film in the shop's product lists, by its id; repeat for
    /// more.
    #[arg(long, value_name = "NAME=ID")]
    film: Vec<FilmSpec>,
    /// Extra film to hold on every side of a cut piece.
    #[arg(long, value_name = "LENGTH", default_value = "0mm")]
    margin: LengthMm,
    /// Space between pieces on the roll.
    #[arg(long, value_name = "LENGTH", default_value = "0mm")]
    gap: LengthMm,
    /// Pieces may be turned by 90 degrees on the roll.
    #[arg(long)]
    may_rotate: bool,
}

/// Runs the command.
///
/// # Errors
/// The server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let mut calculators = session.calculators().await?;
    let request = session.request(args.into_request());
    let answer = session.answer(calculators.measure_film(request)).await?;
    session.show(&answer, render)
}

impl Args {
    fn into_request(self) -> v1::MeasureFilmRequest {
        let rectangles = self.piece.into_iter().map(|piece| piece.0);
        let polygons = self.polygon.into_iter().map(|polygon| polygon.0);
        let mut pieces: Vec<v1::FilmShape> = rectangles.chain(polygons).collect();
        for piece in &mut pieces {
            piece.may_rotate = self.may_rotate;
        }
        v1::MeasureFilmRequest {
            pieces,
            rolls: self
                .roll
                .into_iter()
                .map(|roll| roll.0)
                .chain(self.film.into_iter().map(|film| film.0))
                .collect(),
            handling_margin_mm: self.margin.0,
            gap_mm: self.gap.0,
        }
    }
}

fn render(answer: &v1::MeasureFilmResponse, view: &View) -> String {
    let mut out = String::new();
    match answer.layouts.split_first() {
        None => out.push_str("no roll can take all pieces\n"),
        Some((best, others)) => {
            let pull = format!(
                "pull  {} of {}",
                view.units.length(best.length_to_pull_mm),
                clean(&best.roll)
            );
            let _ = writeln!(out, "{}", text::strong(&pull));
            let _ = writeln!(out, "waste {}", waste(best, view));
            out.push_str(&placements(best, view));
            for other in others {
                let length = view.units.length(other.length_to_pull_mm);
                let _ = writeln!(
                    out,
                    "or    {length} of {}, waste {}",
                    clean(&other.roll),
                    waste(other, view)
                );
            }
        }
    }
    for refusal in &answer.refusals {
        let _ = writeln!(
            out,
            "not   {}: {}",
            clean(&refusal.roll),
            clean(&refusal.message)
        );
    }
    out.push_str("\npieces\n");
    let rows: Vec<[String; 4]> = answer.pieces.iter().map(|piece| row(piece, view)).collect();
    out.push_str(&text::table(&rows));
    let _ = writeln!(
        out,
        "all    finished {}, cut {}",
        view.units.area(answer.finished_m2),
        view.units.area(answer.cut_m2)
    );
    out + &text::cautions(&answer.cautions) + &text::model(&answer.model)
}

fn waste(layout: &v1::FilmLayout, view: &View) -> String {
    format!(
        "{} %: {} pulled, {} on pieces",
        number(layout.waste_percent),
        view.units.area(layout.pulled_m2),
        view.units.area(layout.used_m2)
    )
}

fn placements(layout: &v1::FilmLayout, view: &View) -> String {
    let rows: Vec<[String; 3]> = layout
        .placements
        .iter()
        .map(|place| {
            let turned = if place.rotated { ", turned" } else { "" };
            [
                format!("  {} {}{turned}", clean(&place.piece), place.copy),
                format!("from start {}", view.units.length(place.y_mm)),
                format!("from left {}", view.units.length(place.x_mm)),
            ]
        })
        .collect();
    text::table(&rows)
}

fn row(piece: &v1::FilmPieceArea, view: &View) -> [String; 4] {
    [
        format!("  {}", clean(&piece.piece)),
        format!("finished {}", view.units.area(piece.finished_m2)),
        format!("cut {}", view.units.area(piece.cut_m2)),
        format!(
            "blank {} x {}",
            view.units.length(piece.blank_width_mm),
            view.units.length(piece.blank_height_mm)
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::tests::{plain, view};
    use crate::units::System;

    #[test]
    fn the_pull_comes_first_and_refusals_are_named() {
        let answer = v1::MeasureFilmResponse {
            pieces: vec![v1::FilmPieceArea {
                piece: "hood".to_owned(),
                finished_m2: 1.8,
                cut_m2: 1.9096,
                blank_width_mm: 1240.0,
                blank_height_mm: 1540.0,
            }],
            layouts: vec![v1::FilmLayout {
                roll: "main".to_owned(),
                length_to_pull_mm: 1540.0,
                pulled_m2: 2.346_96,
                used_m2: 1.9096,
                waste_percent: 18.635,
                placements: vec![v1::FilmPlacement {
                    piece: "hood".to_owned(),
                    copy: 1,
                    x_mm: 0.0,
                    y_mm: 0.0,
                    width_mm: 1240.0,
                    height_mm: 1540.0,
                    rotated: true,
                }],
            }],
            refusals: vec![v1::FilmRollRefusal {
                roll: "offcut".to_owned(),
                reason: "TOO_NARROW".to_owned(),
                message: "hood is wider than the roll".to_owned(),
            }],
            cautions: Vec::new(),
            model: "shelves".to_owned(),
            finished_m2: 1.8,
            cut_m2: 1.9096,
        };
        insta::assert_snapshot!(plain(&render(&answer, &view(System::Metric))), @"
        pull  1540 mm (60.63 in) of main
        waste 18.64 %: 2.347 m² (25.26 sq ft) pulled, 1.91 m² (20.55 sq ft) on pieces
          hood 1, turned  from start 0 mm (0 in)  from left 0 mm (0 in)
        not   offcut: hood is wider than the roll

        pieces
          hood  finished 1.8 m² (19.38 sq ft)  cut 1.91 m² (20.55 sq ft)  blank 1240 mm (48.82 in) x 1540 mm (60.63 in)
        all    finished 1.8 m² (19.38 sq ft), cut 1.91 m² (20.55 sq ft)

        shelves
        ");
    }
}

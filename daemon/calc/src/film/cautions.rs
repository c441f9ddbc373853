//! What to keep in mind when film is cut, as data.

use super::measure::PieceMeasure;
use super::outline::OutlineKind;
use super::roll::RollLayout;
use crate::caution::{Caution, CautionCode, Severity};

/// The cautions for these pieces and the layout chosen for them.
pub(crate) fn cautions(pieces: &[PieceMeasure], chosen: Option<&RollLayout>) -> Vec<Caution> {
    let practice = |code, severity, text: &str| Caution {
        code,
        severity,
        text: text.to_owned(),
        basis: "common practice, no source",
    };
    let mut cautions = vec![
        practice(
            CautionCode::MeasureBeforeCutting,
            Severity::Info,
            "measure the panel and dry-fit the piece before the film is cut; check both against the \
             film's own instructions",
        ),
        practice(
            CautionCode::CurvedPanelNeedsMore,
            Severity::Caution,
            "flat sizes are computed; a curved panel needs more film for stretch and relief",
        ),
        practice(
            CautionCode::BladeOnPaint,
            Severity::Warning,
            "trimming on the panel can score the paint and the hand: cut off the car where possible, \
             else use a fresh blade, light hand, and an edge guide",
        ),
    ];
    if chosen.is_some_and(|layout| layout.placements.iter().any(|p| p.rotated)) {
        cautions.push(practice(
            CautionCode::FilmDirectionTurned,
            Severity::Caution,
            "some pieces lie turned on the roll: texture, tint and stretch follow the roll, so do \
             not turn film whose direction shows, nor panels that must match",
        ));
    }
    let across: Vec<&str> = (pieces.iter())
        .filter(|p| p.outline_kind == OutlineKind::Hull)
        .map(|p| p.piece.as_str())
        .collect();
    if !across.is_empty() {
        cautions.push(Caution {
            code: CautionCode::NotchCutAcross,
            severity: Severity::Info,
            text: format!(
                "the overwrap closes a notch of {}: cut the outer shape and trim on the panel",
                across.join(", ")
            ),
            basis: "geometry of the piece",
        });
    }
    cautions
}

//! Vapour: flash points by thermo and by a published list, occupational limits.

use lamella_calc::mix::Alcohol;
use lamella_calc::mix::exposure::{LimitKind, limits, mg_per_m3};
use lamella_calc::mix::flash::flash_point;

use super::Table;
use crate::reference::Reference;

const THERMO: &str = "modified UNIFAC by thermo 0.6.1, run here";
const DCHAS: &str = "DCHAS-L post, 28 Jan 2015";
const NIOSH: &str = "NIOSH Pocket Guide npgd0359";
const NIOSH_ETHANOL: &str = "NIOSH Pocket Guide npgd0262";

pub(super) fn flash(rows: &mut Table, reference: &Reference) {
    let at = |alcohol, volume: f64| {
        let found = flash_point(alcohol, volume).expect("a percentage");
        found.expect("strong enough for a figure")
    };
    for row in reference.rows("mix.flash") {
        let found = at(
            Alcohol::TwoPropanol,
            Alcohol::TwoPropanol.volume_percent(row[0]),
        );
        // Between the points of the table the curve is off by a few tenths.
        rows.add(
            format!("2-propanol {} % w/w flash estimate", row[0]),
            THERMO,
            "C",
            [row[1], found.estimate_c, 0.3],
        );
    }
    // Measured: the estimate's own error is what the bound takes off.
    let sheet = at(
        Alcohol::TwoPropanol,
        Alcohol::TwoPropanol.volume_percent(70.0),
    );
    let source = "safety data sheet of 70 % w/w, 2015";
    rows.add(
        "2-propanol 70 % w/w flash estimate",
        source,
        "C",
        [18.3, sheet.estimate_c, sheet.error_k],
    );
    for (volume, listed_c) in [
        (10.0, 49.0),
        (20.0, 36.0),
        (30.0, 29.0),
        (40.0, 26.0),
        (50.0, 24.0),
        (60.0, 22.0),
        (70.0, 21.0),
        (80.0, 20.0),
        (90.0, 17.0),
        (96.0, 17.0),
    ] {
        let found = at(Alcohol::Ethanol, volume);
        rows.add(
            format!("ethanol {volume} % vol flash bound + error"),
            DCHAS,
            "C",
            [listed_c, found.lower_c + found.error_k, 1e-9],
        );
    }
    // 53 F and 55 F, printed to a degree Fahrenheit.
    for (alcohol, fahrenheit, source) in [
        (Alcohol::TwoPropanol, 53.0, NIOSH),
        (Alcohol::Ethanol, 55.0, NIOSH_ETHANOL),
    ] {
        rows.add(
            format!("{} neat flash bound", alcohol.name()),
            source,
            "C",
            [(fahrenheit - 32.0) / 1.8, at(alcohol, 100.0).lower_c, 0.05],
        );
    }
}

pub(super) fn exposure(rows: &mut Table) {
    for (alcohol, source, printed, within) in [
        (Alcohol::TwoPropanol, NIOSH, 2.46, 0.005),
        // The guide rounds 46.1 / 24.45 up; the ideal gas says 1.883.
        (Alcohol::Ethanol, NIOSH_ETHANOL, 1.89, 0.01),
    ] {
        let got = mg_per_m3(alcohol, 1.0, 25.0, 101_325.0).expect("ordinary air");
        rows.add(
            format!("1 ppm {}", alcohol.name()),
            source,
            "mg/m3",
            [printed, got, within],
        );
    }
    let ppm = |alcohol, kind| {
        let found = limits(alcohol).iter().find(|limit| limit.kind == kind);
        found.expect("a limit of that kind").ppm
    };
    for (alcohol, kind, name, source, printed) in [
        (
            Alcohol::TwoPropanol,
            LimitKind::ShiftMean,
            "shift mean",
            NIOSH,
            400.0,
        ),
        (
            Alcohol::TwoPropanol,
            LimitKind::ShortTerm,
            "15 minutes",
            NIOSH,
            500.0,
        ),
        (
            Alcohol::TwoPropanol,
            LimitKind::ImmediatelyDangerous,
            "IDLH",
            NIOSH,
            2000.0,
        ),
        (
            Alcohol::Ethanol,
            LimitKind::ShiftMean,
            "shift mean",
            NIOSH_ETHANOL,
            1000.0,
        ),
        (
            Alcohol::Ethanol,
            LimitKind::ImmediatelyDangerous,
            "IDLH",
            NIOSH_ETHANOL,
            3300.0,
        ),
    ] {
        let check = format!("{} limit, {name}", alcohol.name());
        rows.add(check, source, "ppm", [printed, ppm(alcohol, kind), 0.0]);
    }
}

//! The closed forms, against printed examples and scipy.

use lamella_calc::heat::closed::{
    biot, contact_c, depth_reached_m, lumped_rise_k, lumped_tau_s, lumped_time_s,
    semi_infinite_rise_at_depth_k, semi_infinite_rise_k,
};
use lamella_calc::heat::panel::{ALUMINIUM, COMPOSITE, PAINT, PLASTIC, STEEL};
use lamella_calc::heat::{Material, friction_flux_w_per_m2};

use super::{SCIPY, row};
use crate::reference::Reference;
use crate::row::Row;

const CENGEL_SOLUTION: &str = "Cengel, solution manual, problem 4-82";
const CENGEL_BLOCKS: &str = "Cengel, heated blocks (from memory)";
const CENGEL_4_1: &str = "Cengel, Example 4-1 (secondary)";
const INCROPERA_5_1: &str = "Incropera, Example 5.1 (secondary)";
const INCROPERA_5_6: &str = "Incropera, Example 5.6 (secondary)";
const COMPUTED: &str = "computed before (check values 4)";

pub(super) fn rows(reference: &Reference) -> Vec<Row> {
    let mut rows = printed();
    rows.extend(closed_forms(reference));
    rows
}

/// Printed examples; the tolerance is half of the last digit printed, or the difference between the
/// properties that the book rounds.
fn printed() -> Vec<Row> {
    let block = |k: f64, alpha: f64| 20.0 + semi_infinite_rise_k(1250.0, 1200.0, k / alpha.sqrt());
    let bead_tau =
        |diameter_m: f64, h: f64, rho: f64, c: f64| lumped_tau_s(rho * c * diameter_m / 6.0, h);
    let bead =
        |tau_s, from_c, to_c, gas_c| lumped_time_s(tau_s, from_c, to_c, gas_c).unwrap_or(f64::NAN);
    let soil = 0.52 / (2050.0 * 1840.0);
    let cengel_tau = bead_tau(1e-3, 210.0, 8500.0, 320.0);
    let flux = friction_flux_w_per_m2(0.3, 10.0, 2.0);
    vec![
        row(
            "wood block after 20 min",
            CENGEL_BLOCKS,
            (148.5, block(1.26, 1.1e-5), 0.15),
            "C",
        ),
        row(
            "aluminium block after 20 min",
            CENGEL_BLOCKS,
            (22.0, block(237.0, 9.71e-5), 0.05),
            "C",
        ),
        row(
            "foot on wood",
            CENGEL_SOLUTION,
            (28.9, contact_c(1.1, 32.0, 0.38, 20.0), 0.05),
            "C",
        ),
        row(
            "foot on aluminium",
            COMPUTED,
            (20.526, contact_c(1.1, 32.0, 24.0, 20.0), 5e-4),
            "C",
        ),
        row(
            "bead, tau",
            INCROPERA_5_1,
            (1.0, bead_tau(7.06e-4, 400.0, 8500.0, 400.0), 1e-3),
            "s",
        ),
        row(
            "bead, 25 to 199 C",
            INCROPERA_5_1,
            (5.2, bead(1.0, 25.0, 199.0, 200.0), 0.05),
            "s",
        ),
        row(
            "junction, Biot",
            CENGEL_4_1,
            (0.001, biot(210.0, 1e-3 / 6.0, 35.0), 5e-4),
            "",
        ),
        row(
            "junction, 99 %",
            CENGEL_4_1,
            (10.0, bead(cengel_tau, 1.0, 0.01, 0.0), 0.1),
            "s",
        ),
        row(
            "freezing depth in soil",
            INCROPERA_5_6,
            (
                0.68,
                depth_reached_m(20.0 / 35.0, 60.0 * 86_400.0, soil),
                5e-3,
            ),
            "m",
        ),
        row(
            "friction flux 0.3, 10 kPa, 2 m/s",
            COMPUTED,
            (6000.0, flux, 1e-9),
            "W/m2",
        ),
        row(
            "diffusivity of steel",
            COMPUTED,
            (1.880e-5, STEEL.alpha_m2_per_s(), 1e-8),
            "m2/s",
        ),
        row(
            "diffusivity of aluminium",
            COMPUTED,
            (6.903e-5, ALUMINIUM.alpha_m2_per_s(), 1e-8),
            "m2/s",
        ),
        row(
            "effusivity of steel",
            COMPUTED,
            (14_738.0, STEEL.effusivity(), 1.0),
            "W s^0.5/m2K",
        ),
        row(
            "effusivity of aluminium",
            COMPUTED,
            (20_100.0, ALUMINIUM.effusivity(), 1.0),
            "W s^0.5/m2K",
        ),
        row(
            "effusivity of polypropylene",
            COMPUTED,
            (578.0, PLASTIC.effusivity(), 0.5),
            "W s^0.5/m2K",
        ),
        row(
            "effusivity of acrylic",
            COMPUTED,
            (576.0, PAINT.effusivity(), 0.5),
            "W s^0.5/m2K",
        ),
        row(
            "effusivity of laminate",
            COMPUTED,
            (930.0, COMPOSITE.effusivity(), 0.6),
            "W s^0.5/m2K",
        ),
    ]
}

fn closed_forms(reference: &Reference) -> Vec<Row> {
    let materials = [
        ("steel", STEEL),
        ("aluminium", ALUMINIUM),
        ("polypropylene", PLASTIC),
        ("acrylic", PAINT),
        ("laminate", COMPOSITE),
    ];
    let cases = materials
        .into_iter()
        .flat_map(|(name, material)| [10.0, 60.0].map(|seconds| (name, material, seconds)));
    let mut rows: Vec<Row> = cases
        .zip(reference.numbers("heat.semi_infinite"))
        .map(|((name, material, seconds), expected)| {
            let got = semi_infinite_rise_k(5000.0, seconds, material.effusivity());
            let check = format!("{name}, 5000 W/m2, semi-infinite, {seconds} s");
            row(check, SCIPY, (expected, got, 1e-6 * expected), "K")
        })
        .collect();
    assert_eq!(rows.len(), 10, "every material at both times");
    let pp = PLASTIC;
    let depths = [
        (
            "wood, 20 mm deep, 20 min",
            semi_infinite_rise_at_depth_k(1250.0, 1200.0, 0.02, 1.26, 1.1e-5),
        ),
        (
            "polypropylene, 1 mm deep, 30 s",
            semi_infinite_rise_at_depth_k(5000.0, 30.0, 1e-3, pp.k_w_per_m_k, pp.alpha_m2_per_s()),
        ),
    ];
    let expected = reference.numbers("heat.at_depth");
    rows.extend(
        depths
            .into_iter()
            .zip(expected)
            .map(|((check, got), expected)| {
                row(check, SCIPY, (expected, got, 1e-6 * expected), "K")
            }),
    );
    let soil = 0.52 / (2050.0 * 1840.0);
    let expected = reference.number("heat.freezing_depth");
    let got = depth_reached_m(20.0 / 35.0, 60.0 * 86_400.0, soil);
    rows.push(row(
        "freezing depth in soil",
        SCIPY,
        (expected, got, 1e-6),
        "m",
    ));
    let lumped = |material: Material, thickness_m: f64, flux, seconds, h| {
        lumped_rise_k(flux, seconds, material.capacity_j_per_m2_k(thickness_m), h)
    };
    let got = [
        (
            "steel 0.7 mm, h 15, lumped, 20 s",
            lumped(STEEL, 0.7e-3, 2000.0, 20.0, 15.0),
        ),
        (
            "aluminium 1 mm, h 15, lumped, 60 s",
            lumped(ALUMINIUM, 1e-3, 2000.0, 60.0, 15.0),
        ),
        (
            "laminate 1.5 mm, h 10, lumped, 60 s",
            lumped(COMPOSITE, 1.5e-3, 500.0, 60.0, 10.0),
        ),
    ];
    let expected = reference.numbers("heat.lumped");
    rows.extend(
        got.into_iter()
            .zip(expected)
            .map(|((check, got), expected)| {
                row(check, SCIPY, (expected, got, 1e-6 * expected), "K")
            }),
    );
    let capacity = STEEL.capacity_j_per_m2_k(0.7e-3);
    rows.extend([
        row(
            "steel 0.7 mm, capacity",
            COMPUTED,
            (2379.0, capacity, 1.0),
            "J/m2K",
        ),
        row(
            "steel 0.7 mm, h 15, tau",
            COMPUTED,
            (158.6, lumped_tau_s(capacity, 15.0), 0.05),
            "s",
        ),
        row(
            "steel 0.7 mm, h 15, steady",
            COMPUTED,
            (133.3, lumped_rise_k(2000.0, 1e6, capacity, 15.0), 0.05),
            "K",
        ),
    ]);
    rows
}

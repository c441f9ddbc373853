use super::layers::{clear_given, default_layers};
use super::*;
use crate::caution::CautionCode;
use crate::error::CalcError;
use crate::gauge::{GaugePrinciple, Substrate};

pub(super) fn spot(name: &str, readings_um: &[f64]) -> SpotReadings {
    SpotReadings {
        spot: name.to_owned(),
        readings: Readings::Um(readings_um.to_vec()),
    }
}

fn steel(name: &str, spots: Vec<SpotReadings>) -> PanelReadings {
    PanelReadings {
        panel: name.to_owned(),
        substrate: Substrate::Steel,
        spots,
        ..PanelReadings::default()
    }
}

/// 1 um + 2 %, in steps of 1 um.
pub(super) fn gauge() -> GaugeSpec {
    GaugeSpec {
        limit_um: 1.0,
        limit_percent: 2.0,
        resolution_um: 1.0,
        principles: Vec::new(),
    }
}

fn judged(panels: Vec<PanelReadings>) -> Vec<PanelAssessment> {
    let input = AssessInput {
        panels,
        gauge: Some(gauge()),
        ..AssessInput::default()
    };
    assess(&input).unwrap().panels
}

pub(super) fn codes(cautions: &[crate::caution::Caution]) -> Vec<CautionCode> {
    cautions.iter().map(|caution| caution.code).collect()
}

pub(super) fn near(got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "got {got}, wanted {wanted}"
    );
}

/// Seeded draws from the standard normal: Vigna's splitmix64, then Box and Muller.
struct Normal(u64);

impl Normal {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
        let unit = ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64;
        unit.max(f64::MIN_POSITIVE)
    }

    fn draw(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// Many cars with the prior's layers, weighted by how well they fit the reading: an answer without
/// the closed form.
fn by_simulation(total_um: f64, u_um: f64, removed: Removed, draws: usize) -> (f64, f64, f64) {
    let layers = default_layers(Substrate::Steel);
    let mut normal = Normal(20_260_101);
    let mut cars: Vec<(f64, f64)> = (0..draws)
        .map(|_| {
            let off = removed.removed_um + removed.standard_um * normal.draw();
            let mut sum = -off;
            let mut clear = -off;
            for layer in &layers {
                let um = layer.mean_um + layer.sd_um * normal.draw();
                sum += um;
                if layer.kind == LayerKind::Clear {
                    clear += um;
                }
            }
            (clear, (-0.5 * ((total_um - sum) / u_um).powi(2)).exp())
        })
        .collect();
    let weight: f64 = cars.iter().map(|car| car.1).sum();
    let mean = cars.iter().map(|car| car.0 * car.1).sum::<f64>() / weight;
    let variance = cars
        .iter()
        .map(|car| (car.0 - mean).powi(2) * car.1)
        .sum::<f64>()
        / weight;
    cars.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut below = 0.0;
    let at_least = cars
        .iter()
        .find(|car| {
            below += car.1 / weight;
            below >= 0.05
        })
        .unwrap()
        .0;
    (mean, variance.sqrt(), at_least)
}

#[test]
fn the_closed_form_agrees_with_a_simulation_within_one_percent() {
    let some = Removed {
        removed_um: 5.0,
        standard_um: 1.5,
    };
    for (total_um, u_um, removed) in [
        (107.5, 2.0, Removed::default()),
        (120.0, 3.0, Removed::default()),
        (95.0, 2.5, Removed::default()),
        (110.0, 2.0, some),
    ] {
        let closed = clear_given(&default_layers(Substrate::Steel), total_um, u_um, removed);
        let (mean, sd, at_least) = by_simulation(total_um, u_um, removed, 200_000);
        near(closed.mean_um / mean, 1.0, 0.01);
        near(closed.sd_um / sd, 1.0, 0.01);
        near(closed.at_least_um / at_least, 1.0, 0.01);
    }
}

/// Ranges of section 5 of the check values: primer 35 to 40, base 10 to 15, clear 35 to 40 um
/// (Polymers 2021, 13, 3933), e-coat 15 to 25 um (from memory).
#[test]
fn default_layers_stand_in_the_middle_of_the_published_ranges() {
    let layers = default_layers(Substrate::Steel);
    let means: Vec<f64> = layers.iter().map(|layer| layer.mean_um).collect();
    assert_eq!(means, [20.0, 37.5, 12.5, 37.5]);
    assert!(layers.iter().all(|layer| layer.sd_um > 0.0));
    assert_eq!(default_layers(Substrate::Composite).len(), 3);
}

#[test]
fn a_sound_steel_panel_has_a_budget_that_its_thinnest_spot_sets() {
    let spots = vec![
        spot("front", &[110.0, 111.0, 109.0]),
        spot("middle", &[100.0, 101.0, 102.0]),
        spot("rear", &[114.0, 115.0, 113.0]),
    ];
    let panel = judged(vec![steel("hood", spots)]).remove(0);
    assert_eq!(panel.suspicion, Suspicion::None);
    assert_eq!(panel.governing_spot.as_deref(), Some("middle"));
    let clear = panel.clear.unwrap();
    let wanted = clear_given(
        &panel.layers,
        101.0,
        panel.spots[1].uncertainty.standard_um,
        Removed::default(),
    );
    near(clear.mean_um, wanted.mean_um, 1e-12);
    near(
        panel.budget_um.unwrap(),
        (wanted.at_least_um - 30.0).max(0.0),
        1e-12,
    );
    near(
        panel.total.unwrap().mean_um,
        (110.0 + 101.0 + 114.0) / 3.0,
        1e-9,
    );
}

#[test]
fn more_removed_before_leaves_less() {
    let mut worn = steel("hood", vec![spot("a", &[110.0, 111.0, 109.0])]);
    let fresh = judged(vec![worn.clone()]).remove(0).clear.unwrap();
    worn.removed = Removed {
        removed_um: 6.0,
        standard_um: 1.0,
    };
    let worn = judged(vec![worn]).remove(0).clear.unwrap();
    // The same total with less of it clear coat, and less sure of it.
    assert!(worn.mean_um < fresh.mean_um && worn.sd_um > fresh.sd_um);
}

/// ISO 2808 family: composite and plastic, ultrasonic only (from memory); ISO 2178 and 2360 scopes.
#[test]
fn a_composite_panel_says_ultrasonic_only() {
    let mut roof = steel("roof", vec![spot("a", &[95.0, 96.0, 94.0])]);
    roof.substrate = Substrate::Composite;
    let panel = judged(vec![roof.clone()]).remove(0);
    assert_eq!(panel.readable_by, [GaugePrinciple::Ultrasonic]);
    assert!(!panel.readable && panel.clear.is_none() && panel.budget_um.is_none());
    let said = &panel.cautions[0];
    assert_eq!(said.code, CautionCode::UltrasonicOnly);
    assert!(said.text.contains("ultrasonic only"), "{}", said.text);
    // Without a reading the same is said.
    let unread = PanelReadings {
        spots: Vec::new(),
        ..roof.clone()
    };
    assert_eq!(
        codes(&judged(vec![unread]).remove(0).cautions),
        [CautionCode::UltrasonicOnly]
    );

    let ultrasonic = GaugeSpec {
        principles: vec![GaugePrinciple::Ultrasonic],
        ..gauge()
    };
    let input = AssessInput {
        panels: vec![roof],
        gauge: Some(ultrasonic),
        ..AssessInput::default()
    };
    let panel = assess(&input).unwrap().panels.remove(0);
    assert!(panel.readable && panel.clear.is_some());
    // No e-coat under composite.
    assert_eq!(panel.layers.len(), 3);
}

#[test]
fn an_eddy_current_gauge_does_not_count_on_steel() {
    let eddy = GaugeSpec {
        principles: vec![GaugePrinciple::EddyCurrent],
        ..gauge()
    };
    let input = AssessInput {
        panels: vec![steel("hood", vec![spot("a", &[110.0, 111.0, 109.0])])],
        gauge: Some(eddy),
        ..AssessInput::default()
    };
    let panel = assess(&input).unwrap().panels.remove(0);
    assert_eq!(codes(&panel.cautions), [CautionCode::GaugeCannotRead]);
    assert_eq!(panel.suspicion, Suspicion::NotJudged);
}

#[test]
fn a_refinished_door_stands_out_and_has_no_budget() {
    let sound = [104.0, 112.0, 108.0, 115.0];
    let mut panels: Vec<PanelReadings> = (0..)
        .zip(sound)
        .map(|(index, um)| {
            steel(
                &format!("panel-{index}"),
                vec![spot("a", &[um, um + 1.0, um - 1.0])],
            )
        })
        .collect();
    panels.push(steel("door", vec![spot("a", &[168.0, 170.0, 169.0])]));
    panels.push(steel("quarter", vec![spot("a", &[900.0, 950.0, 920.0])]));
    let judged = judged(panels);
    assert!(
        judged[..4]
            .iter()
            .all(|panel| panel.suspicion == Suspicion::None)
    );
    assert!(judged[..4].iter().all(|panel| panel.budget_um.is_some()));
    assert_eq!(judged[4].suspicion, Suspicion::Refinished);
    assert_eq!(judged[4].signs[0].code, SignCode::ThickerThanOthers);
    assert_eq!(judged[5].suspicion, Suspicion::Filler);
    assert!(
        judged[4..]
            .iter()
            .all(|panel| panel.clear.is_none() && panel.budget_um.is_none())
    );
}

#[test]
fn a_local_repair_makes_the_whole_panel_unknown() {
    let at = |name: &str, um: f64| spot(name, &[um, um + 1.0, um - 1.0]);
    let spots = vec![
        at("a", 108.0),
        at("b", 110.0),
        at("c", 107.0),
        at("d", 109.0),
        at("e", 165.0),
    ];
    let panel = judged(vec![steel("wing", spots)]).remove(0);
    assert_eq!(panel.suspicion, Suspicion::LocalRepair);
    assert_eq!(panel.signs[0].spot.as_deref(), Some("e"));
    assert_eq!(panel.budget_um, None);
}

#[test]
fn a_reading_that_the_layers_do_not_explain_gives_no_clear_coat() {
    let panel = judged(vec![steel("hood", vec![spot("a", &[150.0, 151.0, 149.0])])]).remove(0);
    assert_eq!(panel.suspicion, Suspicion::None);
    assert_eq!(panel.clear, None);
    assert!(codes(&panel.cautions).contains(&CautionCode::ReadingUnexplained));
    // The car's own layers explain it.
    let layers = [
        (LayerKind::Clear, 50.0, 4.0),
        (LayerKind::Primer, 100.0, 8.0),
    ]
    .map(|(kind, mean_um, sd_um)| Layer {
        kind,
        mean_um,
        sd_um,
    });
    let input = AssessInput {
        panels: vec![steel("hood", vec![spot("a", &[150.0, 151.0, 149.0])])],
        layers: Some(layers.to_vec()),
        ..AssessInput::default()
    };
    let panel = assess(&input).unwrap().panels.remove(0);
    near(panel.clear.unwrap().mean_um, 50.0, 1e-9);
}

/// SSPC-PA 2 (secondary): readings that do not repeat are discarded, a spot is at least three.
#[test]
fn an_odd_high_reading_is_left_out_while_three_remain() {
    let odd = judged(vec![steel(
        "hood",
        vec![spot("a", &[110.0, 111.0, 109.0, 160.0])],
    )])
    .remove(0);
    let stats = &odd.spots[0].stats;
    assert_eq!((stats.count, stats.used), (4, 3));
    near(stats.mean_um, 110.0, 1e-12);
    assert!(stats.odd[0].left_out && stats.odd[0].index == 3);
    assert!(codes(&odd.cautions).contains(&CautionCode::ReadingOdd));
    // Low ones stay: they may be thin paint.
    let low = judged(vec![steel(
        "hood",
        vec![spot("a", &[110.0, 111.0, 109.0, 90.0])],
    )])
    .remove(0);
    assert_eq!(low.spots[0].stats.used, 4);
    assert!(!low.spots[0].stats.odd[0].left_out);
    // Of three, none may go.
    let few = judged(vec![steel("hood", vec![spot("a", &[110.0, 111.0, 160.0])])]).remove(0);
    assert_eq!(few.spots[0].stats.used, 3);
}

#[test]
fn mils_are_read_and_never_mixed() {
    let in_mil = SpotReadings {
        spot: "b".to_owned(),
        readings: Readings::Mil(vec![4.0, 4.1, 3.9]),
    };
    let panel = judged(vec![steel("hood", vec![in_mil.clone()])]).remove(0);
    // 4 mil = 101.6 um exactly (inch of 1959).
    near(panel.total.unwrap().mean_um, 101.6, 1e-9);
    let input = AssessInput {
        panels: vec![steel("hood", vec![spot("a", &[110.0]), in_mil])],
        ..AssessInput::default()
    };
    let Err(CalcError::Invalid(found)) = assess(&input) else {
        panic!("expected a refusal")
    };
    let fields: Vec<&str> = found.iter().map(|v| v.field.as_str()).collect();
    assert_eq!(fields, ["panels[0].spots[1].readings_mil"]);
}

#[test]
fn every_violation_is_named_at_once() {
    let mut door = steel("", vec![spot("a", &[-1.0, f64::NAN]), spot("a", &[])]);
    door.removed.removed_um = f64::INFINITY;
    let input = AssessInput {
        panels: vec![door],
        gauge: Some(GaugeSpec {
            resolution_um: -1.0,
            ..gauge()
        }),
        target: Some(Target {
            min_um: 120.0,
            max_um: 100.0,
        }),
        layers: Some(vec![Layer {
            kind: LayerKind::Base,
            mean_um: 12.0,
            sd_um: 0.0,
        }]),
        floor_um: Some(-3.0),
    };
    let Err(CalcError::Invalid(found)) = assess(&input) else {
        panic!("expected a refusal")
    };
    let fields: Vec<&str> = found.iter().map(|v| v.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "panels[0].panel",
            "panels[0].removed_um",
            "panels[0].spots[0].readings_um[0]",
            "panels[0].spots[0].readings_um[1]",
            "panels[0].spots[1].spot",
            "panels[0].spots[1].readings_um",
            "gauge.resolution_um",
            "target_max_um",
            "layers",
            "layers[0].sd_um",
            "floor_um",
        ]
    );
}

//! `check_products`: a sound list of every kind, and each rule broken once. The ranges are
//! those of `plugins/wit`; the figures of the sound list are invented.

use lamella_plugin_host::{
    Chemical, Coating, Dilution, Film, ProductSet, Ranked, Setup, Substance, TemperatureResponse,
    Window, check_products,
};

fn sound() -> ProductSet {
    let ranked = |name: &str, rank| Ranked {
        name: name.into(),
        rank,
    };
    ProductSet {
        chemicals: vec![Chemical {
            id: "pre-wash".into(),
            name: "water-based pre-wash concentrate".into(),
            substance: Substance::Shampoo,
            strength_percent: 100.0,
            density_g_per_ml: Some(1.02),
            dilutions: vec![Dilution {
                use_for: "foam lance".into(),
                product_parts: 1.0,
                water_parts: 0.0,
            }],
            hazards: Vec::new(),
        }],
        films: vec![Film {
            id: "clear-1524".into(),
            name: "clear film".into(),
            width_mm: 1_524.0,
            length_mm: Some(15_000.0),
            overwrap_mm: 0.0,
            handling_margin_mm: 20.0,
            settle_hours: Some(24.0),
        }],
        coatings: vec![Coating {
            id: "two-layer".into(),
            name: "two-layer coating".into(),
            reference_c: 20.0,
            response: Some(TemperatureResponse::Q10(2.0)),
            wipe_minutes: Some(Window {
                earliest: 1.0,
                latest: 3.0,
            }),
            recoat_hours: Some(Window {
                earliest: 1.0,
                latest: 1.0,
            }),
            dry_hours: 12.0,
            wash_hours: Some(168.0),
            full_cure_hours: None,
            min_panel_c: Some(5.0),
            max_panel_c: Some(30.0),
            max_relative_humidity_percent: Some(70.0),
        }],
        setups: vec![Setup {
            id: "finish".into(),
            machine: ranked("dual action", 3),
            pad: ranked("soft foam", 1),
            liquid: ranked("fine polish", 20),
            speed: 10,
            pressure_kpa: 5.0,
            seconds: 40.0,
        }],
    }
}

#[test]
fn a_sound_list_passes_and_so_does_an_empty_one() {
    assert_eq!(check_products(&sound()), Ok(()));
    let empty = ProductSet {
        chemicals: Vec::new(),
        films: Vec::new(),
        coatings: Vec::new(),
        setups: Vec::new(),
    };
    assert_eq!(check_products(&empty), Ok(()));
}

#[test]
fn every_rule_is_looked_at() {
    type Change = fn(&mut ProductSet);
    let cases: [(Change, &str); 33] = [
        (
            |set| set.chemicals[0].id.clear(),
            "chemicals[0].id `` is not 1 to 64 lower-case letters, digits and hyphens",
        ),
        (
            |set| set.chemicals[0].name = " ".into(),
            "chemicals[0].name is empty",
        ),
        (
            |set| set.chemicals[0].strength_percent = 0.0,
            "chemicals[0].strength_percent 0 is not above 0 to 100",
        ),
        (
            |set| set.chemicals[0].strength_percent = 100.1,
            "chemicals[0].strength_percent 100.1 is not above 0 to 100",
        ),
        (
            |set| set.chemicals[0].density_g_per_ml = Some(0.0),
            "chemicals[0].density_g_per_ml 0 is not above 0",
        ),
        (
            |set| set.chemicals[0].dilutions[0].use_for.clear(),
            "chemicals[0].dilutions[0].use_for is empty",
        ),
        (
            |set| set.chemicals[0].dilutions[0].product_parts = 0.0,
            "chemicals[0].dilutions[0].product_parts 0 is not above 0",
        ),
        (
            |set| set.chemicals[0].dilutions[0].water_parts = -1.0,
            "chemicals[0].dilutions[0].water_parts -1 is not 0 or more",
        ),
        (
            |set| set.films.push(set.films[0].clone()),
            "films[1].id `clear-1524` is there already",
        ),
        (
            |set| set.films[0].width_mm = f64::NAN,
            "films[0].width_mm NaN is not above 0",
        ),
        (
            |set| set.films[0].length_mm = Some(0.0),
            "films[0].length_mm 0 is not above 0",
        ),
        (
            |set| set.films[0].overwrap_mm = -0.1,
            "films[0].overwrap_mm -0.1 is not 0 or more",
        ),
        (
            |set| set.films[0].handling_margin_mm = f64::INFINITY,
            "films[0].handling_margin_mm inf is not 0 or more",
        ),
        (
            |set| set.films[0].settle_hours = Some(-1.0),
            "films[0].settle_hours -1 is not 0 or more",
        ),
        (
            |set| set.coatings[0].reference_c = 201.0,
            "coatings[0].reference_c 201 is not -50 to 200",
        ),
        (
            |set| set.coatings[0].response = Some(TemperatureResponse::Q10(0.0)),
            "coatings[0].response.q10 0 is not above 0",
        ),
        (
            |set| {
                set.coatings[0].response =
                    Some(TemperatureResponse::ActivationEnergyKjPerMol(-1.0));
            },
            "coatings[0].response.activation_energy_kj_per_mol -1 is not 0 or more",
        ),
        (
            |set| {
                set.coatings[0].wipe_minutes = Some(Window {
                    earliest: 3.0,
                    latest: 1.0,
                });
            },
            "coatings[0].wipe_minutes begins at 3 and ends before that, at 1",
        ),
        (
            |set| {
                set.coatings[0].recoat_hours = Some(Window {
                    earliest: -1.0,
                    latest: 1.0,
                });
            },
            "coatings[0].recoat_hours.earliest -1 is not 0 or more",
        ),
        (
            |set| set.coatings[0].dry_hours = -1.0,
            "coatings[0].dry_hours -1 is not 0 or more",
        ),
        (
            |set| set.coatings[0].wash_hours = Some(-1.0),
            "coatings[0].wash_hours -1 is not 0 or more",
        ),
        (
            |set| set.coatings[0].full_cure_hours = Some(-1.0),
            "coatings[0].full_cure_hours -1 is not 0 or more",
        ),
        (
            |set| set.coatings[0].min_panel_c = Some(31.0),
            "coatings[0].min_panel_c begins at 31 and ends before that, at 30",
        ),
        (
            |set| set.coatings[0].max_panel_c = Some(300.0),
            "coatings[0].max_panel_c 300 is not -50 to 200",
        ),
        (
            |set| set.coatings[0].max_relative_humidity_percent = Some(0.0),
            "coatings[0].max_relative_humidity_percent 0 is not above 0 to 100",
        ),
        (
            |set| set.setups[0].machine.name.clear(),
            "setups[0].machine.name is empty",
        ),
        (
            |set| set.setups[0].pad.rank = 0,
            "setups[0].pad.rank 0 is not 1 to 20",
        ),
        (
            |set| set.setups[0].liquid.rank = 21,
            "setups[0].liquid.rank 21 is not 1 to 20",
        ),
        (
            |set| set.setups[0].speed = 11,
            "setups[0].speed 11 is not 1 to 10",
        ),
        (
            |set| set.setups[0].speed = 0,
            "setups[0].speed 0 is not 1 to 10",
        ),
        (
            |set| set.setups[0].pressure_kpa = 0.0,
            "setups[0].pressure_kpa 0 is not above 0",
        ),
        (
            |set| set.setups[0].seconds = 0.0,
            "setups[0].seconds 0 is not above 0",
        ),
        (
            |set| set.setups.push(set.setups[0].clone()),
            "setups[1].id `finish` is there already",
        ),
    ];
    for (change, expected) in cases {
        let mut set = sound();
        change(&mut set);
        let faults = check_products(&set).unwrap_err();
        assert_eq!(
            faults.iter().map(ToString::to_string).collect::<Vec<_>>(),
            [expected]
        );
    }
}

#[test]
fn all_faults_are_told_at_once() {
    let mut set = sound();
    set.films[0].width_mm = 0.0;
    set.coatings[0].dry_hours = -1.0;
    set.setups[0].speed = 0;
    assert_eq!(check_products(&set).unwrap_err().len(), 3);
}

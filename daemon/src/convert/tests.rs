//! Whatever the domain holds goes to the API's form and comes back the same.

use jiff::Timestamp;
use lamella_calc::advice::PassOutcome;
use lamella_calc::air::AirInput;
use lamella_calc::cure::{
    CoatingData, HumidityResponse, MilestoneKind, RatePoint, RecoatWindow, TemperatureResponse,
    WipeWindow,
};
use lamella_calc::gauge::Substrate;
use lamella_calc::violation::Checks;
use lamella_jobs::job::{Approval, Customer, Job, JobFields, Money, Service};
use lamella_jobs::record::{
    BayAir, CoatLayer, DueMilestone, Entry, FilmPiece, GaugeReadings, Labour, Mix, Note, PartOff,
    PartRefit, Pass, PassSetup, RankedItem, Record,
};
use lamella_jobs::stage::Stage;
use lamella_jobs::vehicle::{Condition, Finish, Panel, Vehicle, VehicleFields};
use proptest::collection::vec;
use proptest::option::of;
use proptest::prelude::*;
use proptest::sample::select;

use super::{job, record, vehicle};

fn instant() -> impl Strategy<Value = Timestamp> {
    (1..4_000_000_000i64, 0..1000i32).prop_map(|(s, ms)| Timestamp::new(s, ms * 1_000_000).unwrap())
}

fn id() -> impl Strategy<Value = String> {
    "[a-z0-9]{1,8}(-[a-z0-9]{1,8})?"
}

fn approval() -> impl Strategy<Value = Approval> {
    let amount = ("[A-Z]{3}", any::<i64>()).prop_map(|(currency_code, minor_units)| Money {
        currency_code,
        minor_units,
    });
    (".{1,9}", instant(), of(amount), ".{0,9}", of("[1-9]{1,9}")).prop_map(
        |(approved_by, approve_time, amount, note, quote)| Approval {
            approved_by,
            approve_time,
            amount,
            note,
            quote,
        },
    )
}

fn job_fields() -> impl Strategy<Value = JobFields> {
    let customer =
        (".{0,9}", ".{0,9}", ".{0,9}").prop_map(|(display_name, phone, email)| Customer {
            display_name,
            phone,
            email,
        });
    let service =
        (id(), ".{0,9}", vec(id(), 0..3)).prop_map(|(code, description, panels)| Service {
            code,
            description,
            panels,
        });
    (
        ".{1,9}",
        of(id()),
        of(customer),
        vec(service, 0..3),
        of(instant()),
        ".{0,9}",
        ".{0,9}",
        of(approval()),
    )
        .prop_map(
            |(
                display_name,
                vehicle,
                customer,
                services,
                promise_time,
                arrival,
                wishes,
                approval,
            )| {
                JobFields {
                    display_name,
                    vehicle,
                    customer,
                    services,
                    promise_time,
                    arrival_condition: arrival,
                    wishes,
                    approval,
                }
            },
        )
}

fn a_job() -> impl Strategy<Value = Job> {
    let stage = select(Stage::ALL.to_vec());
    (
        id(),
        job_fields(),
        stage,
        instant(),
        instant(),
        of(instant()),
    )
        .prop_map(
            |(id, fields, stage, create_time, update_time, delete_time)| Job {
                id,
                fields,
                stage,
                create_time,
                update_time,
                delete_time,
            },
        )
}

fn a_vehicle() -> impl Strategy<Value = Vehicle> {
    let substrate = select(vec![
        Substrate::Unknown,
        Substrate::Steel,
        Substrate::Aluminium,
        Substrate::Composite,
        Substrate::Plastic,
    ]);
    let finish = select(vec![
        Finish::Unknown,
        Finish::ClearCoat,
        Finish::SingleStage,
        Finish::Matt,
        Finish::Unpainted,
    ]);
    let condition = select(vec![
        Condition::Unknown,
        Condition::Good,
        Condition::Light,
        Condition::Moderate,
        Condition::Severe,
    ]);
    let panel = (
        id(),
        ".{0,9}",
        substrate,
        finish,
        ".{0,9}",
        of(0.1..9.0f64),
        condition,
    )
        .prop_map(
            |(id, display_name, substrate, finish, note, area_m2, condition)| Panel {
                id,
                display_name,
                substrate,
                finish,
                note,
                area_m2,
                condition,
            },
        );
    let fields = (".{1,9}", ".{0,9}", ".{0,9}", vec(panel, 0..4), ".{0,9}").prop_map(
        |(display_name, registration, color, panels, note)| VehicleFields {
            display_name,
            registration,
            color,
            panels,
            note,
        },
    );
    (id(), fields, instant(), instant(), of(instant())).prop_map(
        |(id, fields, create_time, update_time, delete_time)| Vehicle {
            id,
            fields,
            create_time,
            update_time,
            delete_time,
        },
    )
}

fn air() -> impl Strategy<Value = AirInput> {
    (
        -20.0..60.0f64,
        1.0..100.0f64,
        of(5e4..11e4f64),
        of(-500.0..5000.0f64),
    )
        .prop_map(
            |(air_c, relative_humidity_percent, pressure_pa, altitude_m)| AirInput {
                air_c,
                relative_humidity_percent,
                pressure_pa,
                altitude_m,
            },
        )
}

fn coat() -> impl Strategy<Value = Entry> {
    let response = prop_oneof![
        (10.0..200.0f64).prop_map(|kj| TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol: kj
        }),
        (1.0..10.0f64).prop_map(|factor| TemperatureResponse::Q10 { factor }),
        vec((0.0..50.0f64, 0.1..9.0f64), 2..4).prop_map(|points| TemperatureResponse::Table {
            points: points
                .into_iter()
                .map(|(panel_c, rate)| RatePoint { panel_c, rate })
                .collect(),
        }),
    ];
    let milestone = (
        select(vec![
            MilestoneKind::WipeOpen,
            MilestoneKind::Dry,
            MilestoneKind::FullCure,
        ]),
        0.0..1000.0f64,
        of(instant()),
    )
        .prop_map(|(kind, after_hours, due_time)| DueMilestone {
            kind,
            after_hours,
            due_time,
        });
    (
        vec(id(), 1..3),
        of(response),
        of(air()),
        vec(milestone, 0..3),
        1..9i32,
        any::<bool>(),
    )
        .prop_map(|(panels, response, air, milestones, layer, windows)| {
            let coating = CoatingData {
                name: "two-year coating".to_owned(),
                reference_c: 23.0,
                temperature_response: response,
                humidity_response: windows.then_some(HumidityResponse {
                    reference_relative_humidity_percent: 50.0,
                    exponent: 0.7,
                }),
                wipe: windows.then_some(WipeWindow {
                    earliest_minutes: 1.0,
                    latest_minutes: 2.0,
                }),
                recoat: windows.then_some(RecoatWindow {
                    open_hours: 1.0,
                    close_hours: 2.0,
                }),
                dry_hours: 12.0,
                wash_hours: windows.then_some(100.0),
                full_cure_hours: windows.then_some(200.0),
                min_panel_c: windows.then_some(5.0),
                max_panel_c: windows.then_some(35.0),
                min_relative_humidity_percent: windows.then_some(30.0),
                max_relative_humidity_percent: windows.then_some(80.0),
            };
            let lot = "C3".to_owned();
            Entry::CoatLayer(CoatLayer {
                panels,
                coating,
                lot,
                layer,
                panel_c: 18.5,
                air,
                milestones,
            })
        })
}

fn pass() -> impl Strategy<Value = Entry> {
    let item = (".{1,9}", 1..20i32).prop_map(|(name, rank)| RankedItem { name, rank });
    let outcome = select(vec![
        PassOutcome::Cleared,
        PassOutcome::Improved,
        PassOutcome::Unchanged,
        PassOutcome::Worse,
    ]);
    (
        id(),
        item,
        outcome,
        of(-20.0..150.0f64),
        of(0.0..9.0f64),
        ".{0,9}",
    )
        .prop_map(
            |(panel, item, outcome, panel_c, removal_um, override_reason)| {
                let setup = PassSetup {
                    machine: item.clone(),
                    pad: item.clone(),
                    liquid: item,
                    speed: 4,
                    pressure_kpa: 2.5,
                    seconds: 40.0,
                };
                Entry::Pass(Pass {
                    panel,
                    setup,
                    panel_c,
                    removal_um,
                    outcome,
                    override_reason,
                })
            },
        )
}

fn entry() -> impl Strategy<Value = Entry> {
    let text = || ".{0,9}";
    prop_oneof![
        (id(), text(), vec(1.0..500.0f64, 1..5), text()).prop_map(
            |(panel, spot, readings_um, gauge)| {
                Entry::GaugeReadings(GaugeReadings {
                    panel,
                    spot,
                    readings_um,
                    gauge,
                })
            }
        ),
        pass(),
        (
            text(),
            1.0..9.0f64,
            0.0..9.0f64,
            of(1.0..99.0f64),
            text(),
            vec(id(), 0..3)
        )
            .prop_map(
                |(product, concentrate_ml, diluent_ml, strength_percent, lot, panels)| {
                    Entry::Mix(Mix {
                        product,
                        concentrate_ml,
                        diluent_ml,
                        strength_percent,
                        lot,
                        panels,
                    })
                }
            ),
        (id(), text(), text(), of(0.0..99.0f64), of(instant())).prop_map(
            |(panel, film, roll, settle_hours, settled_time)| {
                Entry::FilmPiece(FilmPiece {
                    panel,
                    film,
                    roll,
                    lot: "B2".to_owned(),
                    width_mm: 500.0,
                    length_mm: 1730.5,
                    settle_hours,
                    settled_time,
                })
            }
        ),
        coat(),
        (air(), of(-20.0..99.0f64), of(-20.0..30.0f64)).prop_map(|(air, panel_c, dew_point_c)| {
            Entry::BayAir(BayAir {
                air,
                panel_c,
                dew_point_c,
            })
        }),
        (text(), text(), instant(), instant()).prop_map(
            |(worker, activity, from_time, to_time)| {
                Entry::Labour(Labour {
                    worker,
                    activity,
                    from_time,
                    to_time,
                })
            }
        ),
        (text(), text(), text()).prop_map(|(part, fasteners, kept_at)| {
            Entry::PartOff(PartOff {
                part,
                fasteners,
                kept_at,
            })
        }),
        (text(), text()).prop_map(|(part, note)| Entry::PartRefit(PartRefit { part, note })),
        (text(), of(id())).prop_map(|(text, panel)| Entry::Note(Note { text, panel })),
    ]
}

proptest! {
    #[test]
    fn jobs_come_back_the_same(before in a_job()) {
        let mut checks = Checks::new();
        let after = job::job_from_pb(&job::job_to_pb(&before, "7"), &mut checks);
        prop_assert!(checks.finish().is_ok());
        prop_assert_eq!(after, before);
    }

    #[test]
    fn vehicles_come_back_the_same(before in a_vehicle()) {
        let mut checks = Checks::new();
        let after = vehicle::vehicle_from_pb(&vehicle::vehicle_to_pb(&before, "7"), &mut checks);
        prop_assert!(checks.finish().is_ok());
        prop_assert_eq!(after, before);
    }

    #[test]
    fn records_come_back_the_same(
        entry in entry(), record_time in instant(), create_time in instant(), author in ".{0,9}"
    ) {
        let before = Record {
            id: "17".to_owned(),
            record_time,
            author,
            create_time,
            entry,
            cautions: Vec::new(),
        };
        let mut checks = Checks::new();
        let after = record::record_from_pb(&record::record_to_pb("a", &before), &mut checks);
        prop_assert!(checks.finish().is_ok());
        prop_assert_eq!(after, Some(before));
    }
}

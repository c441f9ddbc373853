//! How long a call takes, beside its limit: `cargo bench -p lamella-calc`.
//!
//! A calculator has one function here that times its ordinary call, and a line
//! in [`main`]. Nothing fails when a limit is passed; the last table says so.

use std::cell::RefCell;
use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::Criterion;
use lamella_calc::advice::{AdviceInput, Goal, PassDone, PassOutcome, PassSetup, advise};
use lamella_calc::air::{AirInput, dew_point};
use lamella_calc::cure::{
    CoatingData, CureInput, HumidityResponse, Lamp, MilestoneKind, RecoatWindow, Release, Sample,
    TemperatureResponse, WipeWindow, time_cure,
};
use lamella_calc::dilution::{DilutionInput, Injector, Strength, Substance, TargetAt, dilute};
use lamella_calc::gauge::Substrate;
use lamella_calc::heat::{
    HeatInput, Observation, PadMotion, PanelInput, PassHeat, Segment, peak_rise_k, predict,
};
use lamella_calc::mix::Alcohol;
use lamella_calc::mix::blend::{Amount, BlendInput, BlendLiquid, blend};
use lamella_calc::mix::cost::StockPrice;
use lamella_calc::mix::hazard::{Category, Component, HazardInput};
use lamella_calc::mix::label::LabelInput;
use lamella_calc::paint::{
    AssessInput, PanelEvent, PanelHistory, PanelReadings, Readings, RemovalInput, SpotReadings,
    assess, measure_removal, trace,
};

/// Limit of an ordinary call.
const ORDINARY: Duration = Duration::from_micros(50);

fn main() {
    let mut bench = Bench::new();
    air(&mut bench);
    mix(&mut bench);
    cure(&mut bench);
    advice(&mut bench);
    paint(&mut bench);
    heat(&mut bench);
    bench.finish();
}

fn mix(bench: &mut Bench) {
    let component = Component {
        name: "ingredient".to_owned(),
        percent_by_weight: 5.0,
        categories: vec![Category::SkinCorrosive1, Category::EyeDamaging1],
        ph: None,
        not_additive: false,
    };
    // All that can be asked of one mix, with ten ingredients.
    let wipe_down = DilutionInput {
        stock: Strength::Percent(91.0),
        target: Strength::Label("1:10".to_owned()),
        total_ml: 1000.0,
        existing: None,
        injector: Some(Injector {
            water_l_per_min: 7.5,
            draw_l_per_min: 0.5,
        }),
        target_at: TargetAt::Bottle,
        substance: Substance::IsopropylAlcohol,
        stock_density_g_per_ml: None,
        hazards: Some(HazardInput {
            components: vec![component; 10],
            stock_ph: Some(9.0),
            mix_ph: None,
        }),
        stock_price: Some(StockPrice {
            minor_units: 2499,
            volume_ml: 5000.0,
        }),
        label: Some(LabelInput {
            what: "Wipe-down, solvent".to_owned(),
            mixed_date: "2025-03-01".to_owned(),
        }),
    };
    bench.time("mix: dilution with all of it", ORDINARY, || {
        dilute(black_box(&wipe_down))
    });
    let liquid = |percent| BlendLiquid {
        percent,
        amount: None,
    };
    let two = BlendInput {
        liquids: vec![liquid(96.0), liquid(20.0)],
        target_percent: Some(70.0),
        total: Some(Amount::Millilitres(1000.0)),
        alcohol: Some(Alcohol::Ethanol),
    };
    bench.time("mix: blend of two", ORDINARY, || blend(black_box(&two)));
}

fn air(bench: &mut Bench) {
    let bay = AirInput {
        air_c: 20.0,
        relative_humidity_percent: 65.0,
        pressure_pa: None,
        altitude_m: None,
    };
    bench.time("air: dew point", ORDINARY, || {
        dew_point(black_box(&bay), black_box(Some(18.0)))
    });
}

fn advice(bench: &mut Bench) {
    let done = |rung, removal_um| PassDone {
        setup: PassSetup::Rung(rung),
        start_c: Some(20.0),
        panel_c: Some(26.0),
        removal_um: Some(removal_um),
        outcome: PassOutcome::Improved,
    };
    let start = AdviceInput {
        goal: Some(Goal::RemoveDefect),
        clear_um: Some(55.0),
        clear_sd_um: Some(3.0),
        defect_um: Some(1.5),
        panel_now_c: Some(22.0),
        ..AdviceInput::default()
    };
    let after_four = AdviceInput {
        passes: vec![done(3, 0.3), done(3, 0.4), done(4, 0.5), done(4, 0.2)],
        ..start.clone()
    };
    bench.time("advice: first pass", ORDINARY, || advise(black_box(&start)));
    bench.time("advice: after four passes", ORDINARY, || {
        advise(black_box(&after_four))
    });
}

/// Limit of a cure over a year of hourly air.
const YEAR: Duration = Duration::from_millis(2);

fn cure(bench: &mut Bench) {
    let held = CureInput::held(coating(), 17.0, None);
    bench.time("cure: constant", ORDINARY, || time_cure(black_box(&held)));
    let day = along(48);
    bench.time("cure: two days of hours", ORDINARY, || {
        time_cure(black_box(&day))
    });
    let year = along(8760);
    bench.time("cure: a year of hours", YEAR, || {
        time_cure(black_box(&year))
    });
    let mut humid = along(8760);
    humid.coating.humidity_response = Some(HumidityResponse {
        reference_relative_humidity_percent: 50.0,
        exponent: 1.0,
    });
    bench.time("cure: a year of hours, by moisture", YEAR, || {
        time_cure(black_box(&humid))
    });
    let mut promised = along(8760);
    promised.lamps = vec![Lamp {
        from_hours: 0.5,
        to_hours: 1.0,
        panel_c: 60.0,
    }];
    bench.time("cure: a year of hours, lamp, promise", YEAR, || {
        time_cure(black_box(&promised))
    });
}

/// Hours of a bay that is warm by day, cold by night and colder in winter.
fn along(hours: u16) -> CureInput {
    let sample = |hour: u16| {
        let at_hours = f64::from(hour);
        let day = (std::f64::consts::TAU * at_hours / 24.0).sin();
        let year = (std::f64::consts::TAU * at_hours / 8760.0).sin();
        Sample {
            at_hours,
            panel_c: 16.0 + 4.0 * day + 6.0 * year,
            relative_humidity_percent: Some(60.0 - 15.0 * day),
        }
    };
    CureInput {
        panel_c: None,
        samples: (0..hours).map(sample).collect(),
        forecast_from_hours: Some(f64::from(hours / 2)),
        temperature_uncertainty_k: Some(1.5),
        rate_uncertainty_percent: Some(15.0),
        release: Some(Release {
            milestone: MilestoneKind::Dry,
            by_hours: f64::from(hours),
        }),
        ..CureInput::held(coating(), 17.0, None)
    }
}

fn coating() -> CoatingData {
    CoatingData {
        name: "two-layer coating".to_owned(),
        reference_c: 20.0,
        temperature_response: Some(TemperatureResponse::Arrhenius {
            activation_energy_kj_per_mol: 60.0,
        }),
        humidity_response: None,
        wipe: Some(WipeWindow {
            earliest_minutes: 2.0,
            latest_minutes: 6.0,
        }),
        recoat: Some(RecoatWindow {
            open_hours: 1.0,
            close_hours: 24.0,
        }),
        dry_hours: 24.0,
        wash_hours: Some(168.0),
        full_cure_hours: Some(336.0),
        min_panel_c: Some(10.0),
        max_panel_c: Some(30.0),
        min_relative_humidity_percent: Some(30.0),
        max_relative_humidity_percent: Some(70.0),
    }
}

/// A hood of five spots, a removal over the same, and a panel over ten visits.
fn paint(bench: &mut Bench) {
    let spots = |less_um: f64| -> Vec<SpotReadings> {
        ["a", "b", "c", "d", "e"]
            .map(|spot| SpotReadings {
                spot: spot.to_owned(),
                readings: Readings::Um([108.0, 110.0, 109.0].map(|um| um - less_um).to_vec()),
            })
            .to_vec()
    };
    let hood = AssessInput {
        panels: vec![PanelReadings {
            panel: "hood".to_owned(),
            substrate: Substrate::Steel,
            spots: spots(0.0),
            ..PanelReadings::default()
        }],
        ..AssessInput::default()
    };
    bench.time("paint: a panel of five spots", ORDINARY, || {
        assess(black_box(&hood))
    });
    let off = RemovalInput {
        before: spots(0.0),
        after: spots(3.0),
        ..RemovalInput::default()
    };
    bench.time("paint: removal at five spots", ORDINARY, || {
        measure_removal(black_box(&off))
    });
    let visit = [
        PanelEvent::Visit,
        PanelEvent::Read {
            spot: "a".to_owned(),
            gauge: "combined".to_owned(),
            readings_um: vec![108.0, 110.0, 109.0],
        },
        PanelEvent::Pass {
            removal_um: None,
            expected_um: 0.2,
        },
    ];
    let history = PanelHistory {
        substrate: Substrate::Steel,
        events: visit.iter().cycle().take(30).cloned().collect(),
        ..PanelHistory::default()
    };
    bench.time("paint: a panel over ten visits", ORDINARY, || {
        trace(black_box(&history))
    });
}

fn heat(bench: &mut Bench) {
    let part = |seconds, pressure_kpa| Segment {
        seconds,
        pressure_kpa,
        motion: None,
    };
    let seen = |after_s, panel_c| Observation { after_s, panel_c };
    let fitted = HeatInput {
        panel: PanelInput {
            substrate: Substrate::Steel,
            ..PanelInput::default()
        },
        edge: false,
        start_c: 20.0,
        air_c: 20.0,
        motion: PadMotion::DualAction {
            orbits_per_min: 4000.0,
            orbit_mm: 15.0,
            turns_per_min: 100.0,
        },
        pad_mm: 125.0,
        area_cm2: None,
        arm_mm_per_s: None,
        friction: None,
        share_to_panel: None,
        segments: vec![part(60.0, 3.0), part(30.0, 0.0), part(60.0, 3.0)],
        observations: vec![seen(20.0, 22.0), seen(60.0, 26.0), seen(90.0, 25.0)],
        reading_sd_k: None,
        target_c: Some(29.0),
        ceiling_c: None,
    };
    bench.time("heat: three segments, fitted, target", ORDINARY, || {
        predict(black_box(&fitted))
    });
    let panel = fitted.panel.resolve();
    let pass = PassHeat {
        pressure_kpa: 3.0,
        speed_m_per_s: 3.0,
        seconds: 60.0,
        swept_ratio: 0.08,
    };
    bench.time("heat: rise of one pass", ORDINARY, || {
        peak_rise_k(black_box(&panel), black_box(&pass), black_box(0.27))
    });
}

/// Runs the timings and keeps the figures for the last table.
struct Bench {
    criterion: Criterion,
    figures: Vec<(&'static str, Duration, Duration)>,
}

impl Bench {
    fn new() -> Self {
        let criterion = Criterion::default()
            .warm_up_time(Duration::from_millis(500))
            .measurement_time(Duration::from_secs(2))
            .configure_from_args();
        Self {
            criterion,
            figures: Vec::new(),
        }
    }

    /// Times `call` and sets the figure, the mean of the fastest sample, beside `limit`.
    fn time<T>(&mut self, name: &'static str, limit: Duration, call: impl Fn() -> T) {
        let best = RefCell::new(None::<Duration>);
        self.criterion.bench_function(name, |bencher| {
            bencher.iter_custom(|count| {
                let begun = Instant::now();
                for _ in 0..count {
                    black_box(call());
                }
                let taken = begun.elapsed();
                let each = taken.div_f64(count.max(1) as f64);
                let mut best = best.borrow_mut();
                *best = Some(best.map_or(each, |best| best.min(each)));
                taken
            });
        });
        if let Some(best) = best.into_inner() {
            self.figures.push((name, best, limit));
        }
    }

    /// Prints every figure beside its limit.
    #[expect(clippy::print_stdout, reason = "the table is what a bench is run for")]
    fn finish(self) {
        self.criterion.final_summary();
        println!("\n{:40} {:>12} {:>12}", "call", "takes", "limit");
        for (name, best, limit) in &self.figures {
            let verdict = if best <= limit { "" } else { "  OVER" };
            println!("{name:40} {best:>12.2?} {limit:>12.0?}{verdict}");
        }
    }
}

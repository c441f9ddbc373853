//! How long a call takes, beside its limit: `cargo bench -p lamella-calc`.
//!
//! A calculator has one function here that times its ordinary call, and a line
//! in [`main`]. Nothing fails when a limit is passed; the last table says so.

use std::cell::RefCell;
use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::Criterion;
use lamella_calc::air::{AirInput, dew_point};

/// Limit of an ordinary call.
const ORDINARY: Duration = Duration::from_micros(50);

fn main() {
    let mut bench = Bench::new();
    air(&mut bench);
    bench.finish();
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

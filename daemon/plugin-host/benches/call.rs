//! What the host's walls cost: a pricing call with ten lines through the host, against
//! bare wasmtime doing the same (a fresh instance, one typed call) in the same run; and
//! whether ten thousand calls leave anything behind. Each figure stands beside its limit.
#![expect(clippy::print_stdout, reason = "a bench reports on standard output")]
#![expect(clippy::unwrap_used, reason = "a bench that cannot set up has failed")]

#[path = "../tests/host/guest.rs"]
#[expect(dead_code, reason = "shared with the tests")]
mod guest;
#[path = "../tests/host/support.rs"]
#[expect(dead_code, reason = "shared with the tests")]
mod support;

use lamella_plugin_host::{
    CallLimits, HostConfig, LoadOptions, PluginHost, PricingRequest, check_quote,
};
use std::hint::black_box;
use std::process::ExitCode;
use std::time::{Duration, Instant};
use wasmtime::component::{Component, HasSelf, Linker};
use wasmtime::{Config, Engine, InstanceAllocationStrategy, PoolingAllocationConfig, Store};

mod bare {
    wasmtime::component::bindgen!({
        path: "../../plugins/wit/shop-1.0.0",
        world: "pricing",
    });
}

use bare::exports::lamella::shop::price as wit;
use bare::lamella::shop::{log, types};

const RATIO_LIMIT: f64 = 1.5;
const CALLS: usize = 10_000;
const GROWTH_LIMIT_BYTES: i64 = 1 << 20;
const ROUNDS: usize = 40;
const CALLS_PER_ROUND: u32 = 250;

fn main() -> ExitCode {
    let component = guest::honest().build();
    let request = support::request(10);
    let host = PluginHost::try_new(HostConfig::default()).unwrap();
    let plugin = host.load(&component, &LoadOptions::default()).unwrap();
    let through_host = || {
        black_box(
            plugin
                .quote(black_box(&request), CallLimits::default())
                .unwrap(),
        );
    };
    let unmetered = Bare::new(&component, false);
    let metered = Bare::new(&component, true);
    let bare_request = bare_request(&request);
    let quote = plugin.quote(&request, CallLimits::default()).unwrap().0;
    assert_eq!(unmetered.call(&bare_request).gross_total, quote.gross_total);

    let [host_us, bare_us, metered_us, check_us] = fastest([
        &through_host,
        &|| drop(black_box(unmetered.call(black_box(&bare_request)))),
        &|| drop(black_box(metered.call(black_box(&bare_request)))),
        &|| check_quote(black_box(&quote), &request.money).unwrap(),
    ]);
    let ratio = host_us / bare_us;
    println!("pricing call, ten lines, fresh instance each time, fastest of {ROUNDS} rounds");
    println!("  bare wasmtime                      {bare_us:8.2} us");
    println!("  bare wasmtime with fuel and epochs {metered_us:8.2} us");
    println!("  through the host                   {host_us:8.2} us");
    println!("  of which checking the sums         {check_us:8.2} us");
    println!("  host / bare wasmtime               {ratio:8.2}      limit {RATIO_LIMIT}");

    let before = resident_bytes();
    for _ in 0..CALLS {
        through_host();
    }
    let growth = resident_bytes() - before;
    println!("resident memory after {CALLS} more calls: {before} bytes before");
    println!("  growth                             {growth:8} bytes   limit {GROWTH_LIMIT_BYTES}");
    if ratio <= RATIO_LIMIT && growth <= GROWTH_LIMIT_BYTES {
        ExitCode::SUCCESS
    } else {
        println!("over the limit");
        ExitCode::FAILURE
    }
}

/// Microseconds for one call of each, the fastest of many rounds. They take turns, so
/// that whatever else the machine does meets them all.
fn fastest<const N: usize>(calls: [&dyn Fn(); N]) -> [f64; N] {
    let mut best = [Duration::MAX; N];
    for _ in 0..ROUNDS {
        for (call, best) in calls.iter().zip(&mut best) {
            let started = Instant::now();
            for _ in 0..CALLS_PER_ROUND {
                call();
            }
            *best = started.elapsed().min(*best);
        }
    }
    best.map(|best| best.as_secs_f64() * 1e6 / f64::from(CALLS_PER_ROUND))
}

/// wasmtime with as little around it as will do.
struct Bare {
    engine: Engine,
    pre: bare::PricingPre<NoLog>,
    metered: bool,
}

struct NoLog;

impl log::Host for NoLog {
    fn write(&mut self, _level: log::Level, _line: String) {}
}

impl types::Host for NoLog {}

impl Bare {
    fn new(component: &[u8], metered: bool) -> Self {
        let mut config = Config::new();
        let pool = PoolingAllocationConfig::new();
        config
            .allocation_strategy(InstanceAllocationStrategy::Pooling(pool))
            .consume_fuel(metered)
            .epoch_interruption(metered);
        let engine = Engine::new(&config).unwrap();
        let component = Component::from_binary(&engine, component).unwrap();
        let mut linker = Linker::new(&engine);
        log::add_to_linker::<_, HasSelf<_>>(&mut linker, |state: &mut NoLog| state).unwrap();
        let pre = bare::PricingPre::new(linker.instantiate_pre(&component).unwrap()).unwrap();
        Self {
            engine,
            pre,
            metered,
        }
    }

    fn call(&self, request: &wit::PricingRequest) -> wit::Quote {
        let mut store = Store::new(&self.engine, NoLog);
        if self.metered {
            store.set_fuel(u64::MAX).unwrap();
            store.set_epoch_deadline(u64::MAX / 2);
        }
        let instance = self.pre.instantiate(&mut store).unwrap();
        instance
            .lamella_shop_price()
            .call_quote_job(&mut store, request)
            .unwrap()
            .unwrap()
    }
}

/// The same request in the types that this file's own bindings have.
fn bare_request(request: &PricingRequest) -> wit::PricingRequest {
    let job = &request.job;
    wit::PricingRequest {
        job: types::Job {
            id: job.id.clone(),
            name: job.name.clone(),
            booked_at: job.booked_at.clone(),
            promised_at: job.promised_at.clone(),
            arrival_condition: job.arrival_condition.clone(),
            wishes: job.wishes.clone(),
            services: job
                .services
                .iter()
                .map(|service| types::Service {
                    code: service.code.clone(),
                    description: service.description.clone(),
                    panels: service.panels.clone(),
                })
                .collect(),
            panels: Vec::new(),
        },
        measures: request
            .measures
            .iter()
            .map(|measure| types::Measure {
                kind: measure.kind.clone(),
                item: measure.item.clone(),
                quantity: measure.quantity,
                unit: measure.unit.clone(),
            })
            .collect(),
        money: types::MoneyRules {
            currency: request.money.currency.clone(),
            minor_digits: request.money.minor_digits,
            rounding: types::Rounding::HalfUp,
            tax_basis: types::TaxBasis::Class,
            tax_classes: request
                .money
                .tax_classes
                .iter()
                .map(|class| types::TaxClass {
                    name: class.name.clone(),
                    rate_ppm: class.rate_ppm,
                })
                .collect(),
        },
        settings: request
            .settings
            .iter()
            .map(|setting| types::Setting {
                key: setting.key.clone(),
                value: setting.value.clone(),
            })
            .collect(),
    }
}

/// Resident memory of this process (Linux `/proc/self/statm`, second field, in pages of
/// 4 KiB); 0 where there is no such file, which makes the growth 0 too.
fn resident_bytes() -> i64 {
    let pages = std::fs::read_to_string("/proc/self/statm")
        .ok()
        .and_then(|text| text.split_whitespace().nth(1)?.parse::<i64>().ok());
    pages.unwrap_or(0) * 4_096
}

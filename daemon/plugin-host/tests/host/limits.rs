//! Each limit from both sides: a guest that breaks it gets its reason and harms nobody,
//! one that stays just within it is served.

use crate::guest::{Guest, honest, honest_after};
use crate::support::{bystander, config, fails, fails_within, host, load, request, serves};
use lamella_plugin_host::{
    CallFailure, CallLimits, HostConfig, LoadOptions, LogLevel, PluginError, PluginHost,
};
use std::sync::mpsc;

const LOOP: &str = "(loop $again (br $again)) (unreachable)";

#[test]
fn endless_loop_burns_its_fuel() {
    let failure = fails(&Guest::pricing(LOOP), "FUEL_EXHAUSTED");
    assert_eq!(
        failure.error,
        PluginError::FuelExhausted {
            fuel_units: config().fuel_units
        }
    );
    assert_eq!(failure.report.fuel_used, config().fuel_units);
}

#[test]
fn endless_loop_with_fuel_for_ever_meets_the_deadline() {
    let limits = CallLimits {
        fuel_units: Some(u64::MAX),
        deadline_ms: Some(50),
    };
    let failure = fails_within(&Guest::pricing(LOOP), limits, "DEADLINE_EXCEEDED");
    assert_eq!(
        failure.error,
        PluginError::DeadlineExceeded { deadline_ms: 50 }
    );
}

#[test]
fn fuel_that_was_enough_once_is_enough_again() {
    let plugin = load(&honest());
    let (quote, report) = plugin.quote(&request(300), CallLimits::default()).unwrap();
    let with = |fuel_units| CallLimits {
        fuel_units: Some(fuel_units),
        deadline_ms: None,
    };
    let (again, same) = plugin.quote(&request(300), with(report.fuel_used)).unwrap();
    assert_eq!((again, same.fuel_used), (quote, report.fuel_used));
    // The meter is read at each turn of a loop, so it is right to within one turn.
    let failure = plugin
        .quote(&request(300), with(report.fuel_used * 99 / 100))
        .unwrap_err();
    assert_eq!(failure.reason(), "FUEL_EXHAUSTED");
}

#[test]
fn long_but_finite_work_is_served() {
    let act = "(loop $again \
        (local.set $i (i32.add (local.get $i) (i32.const 1))) \
        (br_if $again (i32.lt_u (local.get $i) (i32.const 1000000)))) \
        (local.set $i (i32.const 0))";
    let (_, report) = serves(&honest_after(act));
    assert!(report.fuel_used > 1_000_000, "{}", report.fuel_used);
}

#[test]
fn memory_bomb_is_refused() {
    let bomb = "(loop $again (drop (memory.grow (i32.const 1))) (br $again)) (unreachable)";
    let failure = fails(&Guest::pricing(bomb), "MEMORY_LIMIT");
    assert_eq!(
        failure.to_string(),
        "plugin asked for too much: memory of 4259840 bytes asked for with 4194304 held, \
         limit 4194304"
    );
}

#[test]
fn memory_up_to_the_limit_is_served() {
    // 4 MiB are 64 pages; the guest begins with 2.
    serves(&honest_after("(drop (memory.grow (i32.const 62)))"));
    fails(
        &honest_after("(drop (memory.grow (i32.const 63)))"),
        "MEMORY_LIMIT",
    );
}

#[test]
fn memory_that_is_too_large_from_the_start_is_refused_at_load() {
    let large = Guest {
        memory: "65",
        ..honest()
    };
    let failure = host()
        .load(&large.build(), &LoadOptions::default())
        .unwrap_err();
    assert_eq!(failure.reason(), "MEMORY_LIMIT");
    serves(&Guest {
        memory: "64",
        ..honest()
    });
}

#[test]
fn table_bomb_is_refused() {
    let table = |entries: i32| {
        let mut guest = honest_after(&format!(
            "(drop (table.grow $t (ref.null func) (i32.const {entries})))"
        ));
        guest.functions.push_str("(table $t 0 funcref)");
        guest
    };
    let failure = fails(&table(1_001), "TABLE_LIMIT");
    assert!(
        failure
            .to_string()
            .ends_with("1001 entries asked for with 0 held, limit 1000")
    );
    serves(&table(1_000));
}

/// Calls itself `depth` times.
fn deep(depth: &str) -> Guest {
    let mut guest = honest_after(&format!("(drop (call $down (i32.const {depth})))"));
    guest.functions.push_str(
        "(func $down (param $n i32) (result i32) \
            (if (result i32) (local.get $n) \
                (then (i32.add (i32.const 1) \
                    (call $down (i32.sub (local.get $n) (i32.const 1))))) \
                (else (i32.const 0))))",
    );
    guest
}

#[test]
fn deep_recursion_is_refused() {
    let failure = fails(&deep("-1"), "STACK_OVERFLOW");
    assert_eq!(
        failure.error,
        PluginError::StackOverflow {
            stack_bytes: config().stack_bytes
        }
    );
}

#[test]
fn shallow_recursion_is_served() {
    serves(&deep("500"));
}

/// Answers with so many notes, all of one text of so many bytes.
fn notes(count: i32, bytes: i32) -> Guest {
    let fill = format!(
        "(local.set $out (call $alloc (i32.mul (i32.const {count}) (i32.const 8)))) \
         (local.set $line (call $alloc (i32.const {bytes}))) \
         (memory.fill (local.get $line) (i32.const 0x61) (i32.const {bytes})) \
         (loop $again \
            (i32.store (i32.add (local.get $out) (i32.mul (local.get $i) (i32.const 8))) \
                (local.get $line)) \
            (i32.store offset=4 (i32.add (local.get $out) (i32.mul (local.get $i) (i32.const 8))) \
                (i32.const {bytes})) \
            (local.set $i (i32.add (local.get $i) (i32.const 1))) \
            (br_if $again (i32.lt_u (local.get $i) (i32.const {count})))) \
         (global.set $notes (local.get $out)) (local.set $i (i32.const 0)) \
         (local.set $line (i32.const 0))"
    );
    let mut guest = honest_after(&fill);
    guest.functions = guest.functions.replace(
        "(i64.store offset=48 (local.get $m) (i64.const 0))",
        &format!(
            "(i32.store offset=48 (local.get $m) (global.get $notes)) \
             (i32.store offset=52 (local.get $m) (i32.const {count}))"
        ),
    );
    guest
        .functions
        .push_str("(global $notes (mut i32) (i32.const 0))");
    guest
}

#[test]
fn huge_output_is_refused() {
    // 10 000 notes that all point at the same 500 bytes: 5 MB from next to nothing.
    let failure = fails(&notes(10_000, 500), "OUTPUT_TOO_LARGE");
    assert_eq!(
        failure.error,
        PluginError::OutputTooLarge {
            output_bytes: config().output_bytes
        }
    );
}

#[test]
fn huge_string_is_refused() {
    fails(&notes(1, 1_000_000), "OUTPUT_TOO_LARGE");
}

#[test]
fn large_output_within_the_limit_is_served() {
    let (quote, _) = serves(&notes(100, 800));
    assert_eq!(quote.notes.len(), 100);
    let (quote, _) = serves(&notes(1, 90_000));
    assert_eq!(quote.notes, ["a".repeat(90_000)]);
}

#[test]
fn list_longer_than_the_memory_is_a_trap() {
    let guest = Guest::pricing(
        "(i32.store offset=2056 (i32.const 0) (i32.const 0)) \
         (i32.store offset=2060 (i32.const 0) (i32.const -1)) (i32.const 2048)",
    );
    fails(&guest, "TRAPPED");
}

#[test]
fn invalid_utf8_is_refused() {
    // The second byte of a two-byte sequence is missing (RFC 3629, section 3).
    let text = b"two \xc3( bytes";
    let mut guest = notes(1, 0).with_data(4096, text);
    let (from, to) = ("(global.set $notes (local.get $out))", text.len());
    guest.functions = guest.functions.replace(
        from,
        &format!(
            "{from} (i32.store (local.get $out) (i32.const 4096)) \
             (i32.store offset=4 (local.get $out) (i32.const {to}))"
        ),
    );
    let failure = fails(&guest, "INVALID_UTF8");
    assert!(failure.to_string().contains("from index 4"), "{failure}");
}

#[test]
fn valid_utf8_is_served() {
    let text = "zwei Töpfe à 5 l, 品";
    let mut guest = notes(1, 0).with_data(4096, text.as_bytes());
    let (from, to) = ("(global.set $notes (local.get $out))", text.len());
    guest.functions = guest.functions.replace(
        from,
        &format!(
            "{from} (i32.store (local.get $out) (i32.const 4096)) \
             (i32.store offset=4 (local.get $out) (i32.const {to}))"
        ),
    );
    assert_eq!(serves(&guest).0.notes, [text]);
}

#[test]
fn traps_are_told_apart() {
    let cases = [
        ("(unreachable)", "unreachable"),
        (
            "(drop (i32.load (i32.const -8))) (i32.const 0)",
            "out of bounds memory access",
        ),
        (
            "(drop (i32.div_u (i32.const 1) (local.get $i))) (i32.const 0)",
            "divide by zero",
        ),
    ];
    for (body, cause) in cases {
        let failure = fails(&Guest::pricing(body), "TRAPPED");
        assert!(failure.to_string().contains(cause), "{failure}");
    }
}

/// Writes the line at 4096, of so many bytes, so many times.
fn writes(count: i32, bytes: i32) -> Guest {
    honest_after(&format!(
        "(memory.fill (i32.const 4096) (i32.const 0x62) (i32.const {bytes})) \
         (loop $again \
            (call $log (i32.const 2) (i32.const 4096) (i32.const {bytes})) \
            (local.set $i (i32.add (local.get $i) (i32.const 1))) \
            (br_if $again (i32.lt_u (local.get $i) (i32.const {count})))) \
         (local.set $i (i32.const 0))"
    ))
    .with_log()
}

#[test]
fn log_lines_are_kept_then_counted() {
    let (_, report) = serves(&writes(10, 20));
    assert_eq!((report.log_lines.len(), report.dropped_lines), (10, 0));
    assert_eq!(report.log_lines[0].text, "b".repeat(20));
    assert_eq!(report.log_lines[0].level, LogLevel::Warn);
    let (_, report) = serves(&writes(5_000, 20));
    assert_eq!((report.log_lines.len(), report.dropped_lines), (10, 4_990));
}

#[test]
fn long_log_lines_are_cut() {
    let (_, report) = serves(&writes(1, 101));
    assert_eq!(report.log_lines[0].text, "b".repeat(100) + "…");
}

#[test]
fn flooding_the_log_burns_fuel() {
    // Without a price for it, 20 million units would let 50 000 bytes be read a million times.
    let failure = fails(&writes(i32::MAX, 50_000), "FUEL_EXHAUSTED");
    assert_eq!(failure.report.log_lines.len(), 10);
    assert!(
        failure.report.dropped_lines < 400,
        "{}",
        failure.report.dropped_lines
    );
}

#[test]
fn a_failed_call_keeps_its_log() {
    let mut guest = writes(1, 5);
    guest.functions = guest.functions.replace(
        "(local.set $m (i32.load offset=68",
        "(unreachable) (local.set $m (i32.load offset=68",
    );
    let failure = fails(&guest, "TRAPPED");
    assert_eq!(failure.report.log_lines[0].text, "bbbbb");
}

#[test]
fn nothing_is_left_from_the_call_before() {
    // Counts its calls in a global and in memory, and traps at the second.
    let mut guest = honest_after(
        "(if (i32.or (global.get $calls) (i32.load (i32.const 4096))) (then (unreachable))) \
         (global.set $calls (i32.const 1)) (i32.store (i32.const 4096) (i32.const 1))",
    );
    guest
        .functions
        .push_str("(global $calls (mut i32) (i32.const 0))");
    let plugin = load(&guest);
    for _ in 0..50 {
        plugin.quote(&request(3), CallLimits::default()).unwrap();
    }
}

#[test]
fn one_call_more_than_there_are_slots_is_busy() {
    let host = PluginHost::try_new(HostConfig {
        pool_slots: 1,
        fuel_units: u64::MAX,
        ..config()
    })
    .unwrap();
    let options = LoadOptions::default();
    let looper = host.load(&Guest::pricing(LOOP).build(), &options).unwrap();
    let honest = host.load(&honest().build(), &options).unwrap();
    let limits = CallLimits {
        fuel_units: None,
        deadline_ms: Some(2_000),
    };
    let (begun, begins) = mpsc::channel();
    let running = std::thread::spawn(move || {
        begun.send(()).unwrap();
        // The other thread may hold the slot at this moment: then once more.
        loop {
            let failure = looper.quote(&request(1), limits).unwrap_err();
            if !matches!(failure.error, PluginError::HostBusy { .. }) {
                break failure;
            }
        }
    });
    begins.recv().unwrap();
    // The looper holds the only slot from some moment on until its deadline.
    let busy: Box<CallFailure> = loop {
        if let Err(failure) = honest.quote(&request(1), CallLimits::default()) {
            break failure;
        }
        assert!(
            !running.is_finished(),
            "the looper has ended and nobody was refused"
        );
    };
    assert_eq!(busy.error, PluginError::HostBusy { pool_slots: 1 });
    assert_eq!(running.join().unwrap().reason(), "DEADLINE_EXCEEDED");
    honest.quote(&request(1), CallLimits::default()).unwrap();
}

#[test]
fn a_plugin_outlives_its_host() {
    let host = PluginHost::try_new(config()).unwrap();
    let plugin = host
        .load(&honest().build(), &LoadOptions::default())
        .unwrap();
    drop(host);
    let expected = bystander()
        .quote(&request(3), CallLimits::default())
        .unwrap()
        .0;
    assert_eq!(
        plugin.quote(&request(3), CallLimits::default()).unwrap().0,
        expected
    );
}

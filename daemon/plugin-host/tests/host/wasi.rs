//! The empty WASI: what a guest finds in it (nothing), and that it is the same each time.

use crate::guest::{Guest, honest_after};
use crate::support::{host, request};
use lamella_plugin_host::{
    CallFailure, CallLimits, CallReport, LoadOptions, LogLevel, Plugin, Quote, Wasi,
};

/// As much of WASI 0.2 as the guests here import.
const WASI_WIT: &str = "
    package wasi:io@0.2.0 {
        interface error { resource error; }
        interface poll { resource pollable { block: func(); } }
        interface streams {
            use error.{error};
            variant stream-error { last-operation-failed(error), closed }
            resource output-stream {
                blocking-write-and-flush: func(contents: list<u8>) -> result<_, stream-error>;
            }
        }
    }
    package wasi:clocks@0.2.0 {
        interface monotonic-clock {
            use wasi:io/poll@0.2.0.{pollable};
            now: func() -> u64;
            subscribe-duration: func(when: u64) -> pollable;
        }
        interface wall-clock {
            record datetime { seconds: u64, nanoseconds: u32 }
            now: func() -> datetime;
        }
    }
    package wasi:random@0.2.0 {
        interface random {
            get-random-bytes: func(len: u64) -> list<u8>;
            get-random-u64: func() -> u64;
        }
    }
    package wasi:cli@0.2.0 {
        interface environment {
            get-environment: func() -> list<tuple<string, string>>;
            get-arguments: func() -> list<string>;
        }
        interface exit { exit: func(status: result); }
        interface stdout {
            use wasi:io/streams@0.2.0.{output-stream};
            get-stdout: func() -> output-stream;
        }
        interface stderr {
            use wasi:io/streams@0.2.0.{output-stream};
            get-stderr: func() -> output-stream;
        }
    }
    package wasi:filesystem@0.2.0 {
        interface types { resource descriptor; }
        interface preopens {
            use types.{descriptor};
            get-directories: func() -> list<tuple<descriptor, string>>;
        }
    }
    package wasi:sockets@0.2.0 {
        interface network {
            enum error-code {
                unknown, access-denied, not-supported, invalid-argument, out-of-memory, timeout,
                concurrency-conflict, not-in-progress, would-block, invalid-state,
                new-socket-limit, address-not-bindable, address-in-use, remote-unreachable,
                connection-refused, connection-reset, connection-aborted, datagram-too-large,
                name-unresolvable, temporary-resolver-failure, permanent-resolver-failure,
            }
            enum ip-address-family { ipv4, ipv6 }
        }
        interface tcp { resource tcp-socket; }
        interface tcp-create-socket {
            use network.{error-code, ip-address-family};
            use tcp.{tcp-socket};
            create-tcp-socket: func(family: ip-address-family) -> result<tcp-socket, error-code>;
        }
        interface udp { resource udp-socket; }
        interface udp-create-socket {
            use network.{error-code, ip-address-family};
            use udp.{udp-socket};
            create-udp-socket: func(family: ip-address-family) -> result<udp-socket, error-code>;
        }
    }";

/// What a guest may call, and how it is lowered.
const IMPORTS: [(&str, &str, &str, &str); 16] = [
    ("wasi:clocks/monotonic-clock", "now", "$now", "(result i64)"),
    (
        "wasi:clocks/monotonic-clock",
        "subscribe-duration",
        "$sleep",
        "(param i64) (result i32)",
    ),
    (
        "wasi:io/poll",
        "[method]pollable.block",
        "$block",
        "(param i32)",
    ),
    (
        "wasi:io/poll",
        "[resource-drop]pollable",
        "$drop",
        "(param i32)",
    ),
    ("wasi:clocks/wall-clock", "now", "$date", "(param i32)"),
    (
        "wasi:random/random",
        "get-random-bytes",
        "$bytes",
        "(param i64 i32)",
    ),
    (
        "wasi:random/random",
        "get-random-u64",
        "$random",
        "(result i64)",
    ),
    (
        "wasi:cli/environment",
        "get-environment",
        "$environment",
        "(param i32)",
    ),
    (
        "wasi:cli/environment",
        "get-arguments",
        "$arguments",
        "(param i32)",
    ),
    ("wasi:cli/exit", "exit", "$exit", "(param i32)"),
    ("wasi:cli/stdout", "get-stdout", "$stdout", "(result i32)"),
    ("wasi:cli/stderr", "get-stderr", "$stderr", "(result i32)"),
    (
        "wasi:io/streams",
        "[method]output-stream.blocking-write-and-flush",
        "$write",
        "(param i32 i32 i32 i32)",
    ),
    (
        "wasi:filesystem/preopens",
        "get-directories",
        "$directories",
        "(param i32)",
    ),
    (
        "wasi:sockets/tcp-create-socket",
        "create-tcp-socket",
        "$tcp",
        "(param i32 i32)",
    ),
    (
        "wasi:sockets/udp-create-socket",
        "create-udp-socket",
        "$udp",
        "(param i32 i32)",
    ),
];

/// A guest that does `act` and then answers as the honest one does.
fn guest(act: &str) -> Guest {
    let mut guest = honest_after(act);
    let mut interfaces: Vec<&str> = IMPORTS.iter().map(|(interface, ..)| *interface).collect();
    interfaces.sort_unstable();
    interfaces.dedup();
    let imports: String = interfaces
        .iter()
        .map(|interface| format!("import {interface}@0.2.0;\n"))
        .collect();
    guest.wit = guest
        .wit
        .replace("import log;", &format!("import log; {imports}"))
        + WASI_WIT;
    for (interface, function, name, ty) in IMPORTS {
        guest.imports.push_str(&format!(
            "(import \"{interface}@0.2.0\" \"{function}\" (func {name} {ty}))"
        ));
    }
    guest
}

fn load(act: &str) -> Plugin {
    let options = LoadOptions {
        wasi: Wasi::EmptyDeterministic,
        ..LoadOptions::default()
    };
    host().load(&guest(act).build(), &options).unwrap()
}

fn call(act: &str) -> Result<(Quote, CallReport), Box<CallFailure>> {
    load(act).quote(&request(3), CallLimits::default())
}

/// Traps unless the list whose pointer and length are at 2048 is empty.
const EXPECT_EMPTY: &str = "(if (i32.load offset=2052 (i32.const 0)) (then (unreachable)))";

#[test]
fn it_has_to_be_granted() {
    let bytes = guest("").build();
    let failure = host().load(&bytes, &LoadOptions::default()).unwrap_err();
    assert_eq!(failure.reason(), "IMPORT_NOT_OFFERED");
}

#[test]
fn clocks_stand_still_and_sleep_is_over_at_once() {
    // An hour, again and again; a real sleep would outlast any patience with this test.
    call(
        "(call $date (i32.const 2048)) \
        (if (i64.ne (i64.load offset=2048 (i32.const 0)) (i64.const 0)) (then (unreachable))) \
        (loop $again \
            (call $block (call $sleep (i64.const 3600000000000))) \
            (if (i64.ne (call $now) (i64.const 0)) (then (unreachable))) \
            (local.set $i (i32.add (local.get $i) (i32.const 1))) \
            (br_if $again (i32.lt_u (local.get $i) (i32.const 100)))) \
        (local.set $i (i32.const 0))",
    )
    .unwrap();
}

#[test]
fn sleeping_for_ever_burns_fuel() {
    let act = "(loop $again (local.set $m (call $sleep (i64.const -1))) \
        (call $block (local.get $m)) (call $drop (local.get $m)) (br $again))";
    let limits = CallLimits {
        fuel_units: Some(100_000),
        deadline_ms: None,
    };
    let failure = load(act).quote(&request(1), limits).unwrap_err();
    assert_eq!(failure.reason(), "FUEL_EXHAUSTED");
}

#[test]
fn hoarding_handles_is_stopped() {
    let act = "(loop $again (drop (call $sleep (i64.const 1))) (br $again))";
    assert_eq!(call(act).unwrap_err().reason(), "TRAPPED");
}

#[test]
fn there_is_no_environment_no_argument_and_no_folder() {
    for list in ["$environment", "$arguments", "$directories"] {
        call(&format!("(call {list} (i32.const 2048)) {EXPECT_EMPTY}")).unwrap();
    }
}

#[test]
fn there_is_no_network() {
    // An error (1), and that error is access-denied (1).
    for socket in ["$tcp", "$udp"] {
        call(&format!(
            "(call {socket} (i32.const 0) (i32.const 2048)) \
             (if (i32.ne (i32.load8_u offset=2048 (i32.const 0)) (i32.const 1)) \
                (then (unreachable))) \
             (if (i32.ne (i32.load8_u offset=2052 (i32.const 0)) (i32.const 1)) \
                (then (unreachable)))"
        ))
        .unwrap();
    }
}

/// Writes so many bytes at 4096 to the stream that `stream` opens, again and again.
fn writes(stream: &str, length: usize, times: usize) -> String {
    format!(
        "(local.set $m (call {stream})) \
         (loop $again \
            (call $write (local.get $m) (i32.const 4096) (i32.const {length}) (i32.const 2048)) \
            (if (i32.load8_u offset=2048 (i32.const 0)) (then (unreachable))) \
            (local.set $i (i32.add (local.get $i) (i32.const 1))) \
            (br_if $again (i32.lt_u (local.get $i) (i32.const {times})))) \
         (local.set $i (i32.const 0))"
    )
}

#[test]
fn random_is_the_same_each_time() {
    // Six bits of each of its bytes, made printable.
    let act = "(i64.store offset=4096 (i32.const 0) (i64.or \
            (i64.and (call $random) (i64.const 0x3f3f3f3f3f3f3f3f)) \
            (i64.const 0x4040404040404040))) \
        (i64.store offset=4104 (i32.const 0) (i64.or \
            (i64.and (call $random) (i64.const 0x3f3f3f3f3f3f3f3f)) \
            (i64.const 0x4040404040404040)))";
    let plugin = load(&format!("{act} {}", writes("$stdout", 16, 1)));
    let draw = || {
        let (_, report) = plugin.quote(&request(1), CallLimits::default()).unwrap();
        report.log_lines[0].text.clone()
    };
    let (one, other) = (draw(), draw());
    assert_eq!(one, other);
    assert_eq!(one.len(), 16);
    assert_ne!(one[..8], one[8..], "two draws of one call are the same");
}

#[test]
fn random_is_not_a_way_to_fill_the_host() {
    assert_eq!(
        call("(call $bytes (i64.const -1) (i32.const 2048))")
            .unwrap_err()
            .reason(),
        "TRAPPED"
    );
    call("(call $bytes (i64.const 1000) (i32.const 2048))").unwrap();
}

#[test]
fn what_is_printed_goes_to_the_log() {
    let plugin = |stream| {
        let text = "one\ntwo\n\nthree";
        let guest = guest(&writes(stream, text.len(), 1)).with_data(4096, text.as_bytes());
        let options = LoadOptions {
            wasi: Wasi::EmptyDeterministic,
            ..LoadOptions::default()
        };
        host().load(&guest.build(), &options).unwrap()
    };
    for (stream, level) in [("$stdout", LogLevel::Info), ("$stderr", LogLevel::Warn)] {
        let (_, report) = plugin(stream)
            .quote(&request(1), CallLimits::default())
            .unwrap();
        let lines: Vec<_> = report
            .log_lines
            .iter()
            .map(|line| line.text.as_str())
            .collect();
        assert_eq!(lines, ["one", "two", "", "three"]);
        assert!(report.log_lines.iter().all(|line| line.level == level));
    }
}

#[test]
fn printing_without_end_is_cut() {
    // 4 096 bytes without a line's end, 20 times: one line, cut.
    let (_, report) = call(&writes("$stdout", 4_096, 20)).unwrap();
    assert_eq!((report.log_lines.len(), report.dropped_lines), (1, 0));
    assert!(report.log_lines[0].text.len() < 110);
}

#[test]
fn leaving_is_an_error() {
    let failure = call("(call $exit (i32.const 1))").unwrap_err();
    assert_eq!(failure.to_string(), "plugin trapped: it exited with code 1");
}

#[test]
fn it_runs_on_a_blocking_thread_of_an_async_program() {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .build()
        .unwrap();
    let plugin = load("(call $block (call $sleep (i64.const 3600000000000)))");
    let quote = runtime.block_on(async move {
        tokio::task::spawn_blocking(move || plugin.quote(&request(3), CallLimits::default())).await
    });
    assert_eq!(quote.unwrap().unwrap().0.lines.len(), 3);
}

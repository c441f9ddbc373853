//! What does not load, and why; each time the plugin that was there goes on serving.

use crate::guest::{Guest, contract, honest};
use crate::support::{config, does_not_load, host, load, request};
use lamella_plugin_host::{
    CallLimits, HostConfig, LoadOptions, MAX_COMPONENT_BYTES, PluginHost, Wasi, World,
};
use proptest::prelude::*;
use sha2::{Digest, Sha256};

fn refused(guest: &Guest, reason: &str) -> String {
    does_not_load(&guest.build(), &LoadOptions::default(), reason)
}

#[test]
fn a_sound_plugin_says_what_it_is() {
    let bytes = honest().build();
    let plugin = host().load(&bytes, &LoadOptions::default()).unwrap();
    assert_eq!(plugin.world(), World::Pricing);
    assert_eq!(plugin.about().name, "test-guest");
    assert_eq!(plugin.about().version, "1.2.3");
    assert_eq!(plugin.sha256(), <[u8; 32]>::from(Sha256::digest(&bytes)));
    assert_eq!(plugin.wasi(), Wasi::None);
}

#[test]
fn a_200_mb_upload_is_refused() {
    let message = does_not_load(
        &vec![0; 200_000_000],
        &LoadOptions::default(),
        "COMPONENT_TOO_LARGE",
    );
    assert_eq!(
        message,
        format!("component of 200000000 bytes is larger than the limit of {MAX_COMPONENT_BYTES}")
    );
}

#[test]
fn other_bytes_than_announced_are_refused() {
    let bytes = honest().build();
    let announced = |expected_sha256| LoadOptions {
        expected_sha256: Some(expected_sha256),
        ..LoadOptions::default()
    };
    does_not_load(&bytes, &announced([7; 32]), "HASH_MISMATCH");
    host()
        .load(&bytes, &announced(Sha256::digest(&bytes).into()))
        .unwrap();
}

#[test]
fn what_is_not_a_component_is_refused() {
    let core_module = wat::parse_str("(module)").unwrap();
    let text = b"(component)".to_vec();
    let compiled = wasmtime::Engine::default()
        .precompile_component(&honest().build())
        .unwrap();
    for (bytes, because) in [
        (
            core_module,
            "it is a core module, which has yet to be made a component",
        ),
        (text, "it does not begin as wasm does"),
        (Vec::new(), "it does not begin as wasm does"),
        (
            b"\0asm\x0d\0\x02\0".to_vec(),
            "it is of an unknown version of the format",
        ),
        // Machine code from elsewhere must never be run.
        (compiled, "it does not begin as wasm does"),
    ] {
        let message = does_not_load(&bytes, &LoadOptions::default(), "NOT_A_COMPONENT");
        assert_eq!(message, format!("not a valid wasm component: {because}"));
    }
}

#[test]
fn a_file_cut_short_is_refused() {
    let bytes = honest().build();
    for length in (8..bytes.len()).step_by(97) {
        let failure = host()
            .load(&bytes[..length], &LoadOptions::default())
            .unwrap_err();
        assert!(
            ["NOT_A_COMPONENT", "WRONG_WORLD"].contains(&failure.reason()),
            "{length} bytes: {failure}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A flipped byte in a component may leave one that is sound; it must not do harm.
    #[test]
    fn a_corrupt_file_does_no_harm(at in 8_usize..1 << 20, flip in 1_u8..) {
        let mut bytes = honest().build();
        let at = at % bytes.len();
        bytes[at] ^= flip;
        if let Ok(plugin) = host().load(&bytes, &LoadOptions::default()) {
            let limits = CallLimits { fuel_units: Some(1_000_000), deadline_ms: None };
            if let Err(failure) = plugin.quote(&request(2), limits) {
                prop_assert!(!failure.reason().is_empty());
            }
        }
    }

    /// Random bytes after a right beginning.
    #[test]
    fn random_bytes_are_refused(tail in prop::collection::vec(any::<u8>(), 0..512)) {
        let mut bytes = b"\0asm\x0d\0\x01\0".to_vec();
        bytes.extend(tail);
        prop_assert!(host().load(&bytes, &LoadOptions::default()).is_err());
    }
}

/// A guest of another contract, with a function that does nothing.
fn foreign(wit: &str, function: &str) -> Guest {
    Guest {
        wit: wit.into(),
        world: "other",
        functions: format!("(func (export \"{function}\") (result i32) (i32.const 0))"),
        ..Guest::pricing("")
    }
}

#[test]
fn another_world_is_refused() {
    let guest = foreign(
        "package other:thing@1.0.0;
         interface paint { dry: func() -> u32; }
         world other { export paint; export describe: func() -> u32; }",
        "other:thing/paint@1.0.0#dry",
    );
    let message = refused(&guest, "WRONG_WORLD");
    assert_eq!(
        message,
        "component does not fit world pricing or product-list: \
         it exports describe, other:thing/paint@1.0.0"
    );
}

#[test]
fn another_version_is_refused() {
    for version in ["1.0.1", "1.1.0", "2.0.0"] {
        let guest = Guest {
            wit: contract().replace("@1.0.0", &format!("@{version}")),
            functions: honest().functions.replace("@1.0.0", &format!("@{version}")),
            ..honest()
        };
        let message = refused(&guest, "WRONG_VERSION");
        assert_eq!(
            message,
            format!("component uses lamella:shop/price@{version}, this host has version 1.0.0")
        );
    }
}

#[test]
fn a_log_of_another_version_is_refused() {
    // A component of version 1.0.0 that imports the log of 2.0.0.
    let guest = Guest {
        wit: contract().replace("import log;", "import lamella:shop/log@2.0.0;")
            + "package lamella:shop@2.0.0 { interface log { write: func(level: u8); } }",
        imports: "(import \"lamella:shop/log@2.0.0\" \"write\" (func $log (param i32)))".into(),
        ..honest()
    };
    assert!(refused(&guest, "WRONG_VERSION").contains("lamella:shop/log@2.0.0"));
}

#[test]
fn both_worlds_at_once_are_refused() {
    let mut guest = honest();
    guest.wit = guest
        .wit
        .replace("export price;", "export price; export products;");
    guest.functions.push_str(
        "(func (export \"lamella:shop/products@1.0.0#list-products\") (param i32 i32) \
         (result i32) (unreachable))",
    );
    assert!(
        refused(&guest, "WRONG_WORLD")
            .ends_with("it exports more than one, and a plugin is one thing")
    );
}

#[test]
fn the_right_name_with_other_types_is_refused() {
    // The quote lacks its notes.
    let mut guest = honest();
    guest.wit = guest.wit.replace("notes: list<string>,", "");
    assert_eq!(
        refused(&guest, "WRONG_WORLD"),
        "component does not fit world pricing: failed to convert function to given type: \
         type mismatch with results: expected record of 6 fields, found 5 fields"
    );
}

#[test]
fn a_world_without_describe_is_refused() {
    let mut guest = honest();
    guest.wit = guest.wit.replace(
        "export describe: func() -> about;\n    export price;",
        "export price;",
    );
    assert!(refused(&guest, "WRONG_WORLD").contains("describe"));
}

/// An honest guest that imports one function more.
fn importing(interface: &str, extra: &str) -> Guest {
    let mut guest = honest();
    guest.wit = guest
        .wit
        .replace("import log;", &format!("import log; import {interface};"))
        + extra;
    guest.imports = format!("(import \"{interface}\" \"ask\" (func $ask (result i32)))");
    guest
}

#[test]
fn imports_that_are_not_offered_are_named() {
    for (interface, extra) in [
        (
            "other:net/fetch@0.1.0",
            "package other:net@0.1.0 { interface fetch { ask: func() -> u32; } }",
        ),
        (
            "wasi:clocks/wall-clock@0.2.0",
            "package wasi:clocks@0.2.0 { interface wall-clock { ask: func() -> u32; } }",
        ),
        (
            "wasi:http/client@0.2.0",
            "package wasi:http@0.2.0 { interface client { ask: func() -> u32; } }",
        ),
    ] {
        let message = refused(&importing(interface, extra), "IMPORT_NOT_OFFERED");
        assert_eq!(
            message,
            format!("component imports what is not offered: {interface}")
        );
    }
}

#[test]
fn wasi_when_granted_is_not_all_of_wasi() {
    let options = LoadOptions {
        wasi: Wasi::EmptyDeterministic,
        ..LoadOptions::default()
    };
    for (interface, extra) in [
        (
            "wasi:http/client@0.2.0",
            "package wasi:http@0.2.0 { interface client { ask: func() -> u32; } }",
        ),
        (
            "wasi:clocks/sundial@0.2.0",
            "package wasi:clocks@0.2.0 { interface sundial { ask: func() -> u32; } }",
        ),
        (
            "wasi:clocks/wall-clock@0.3.0",
            "package wasi:clocks@0.3.0 { interface wall-clock { ask: func() -> u32; } }",
        ),
    ] {
        let bytes = importing(interface, extra).build();
        assert!(does_not_load(&bytes, &options, "IMPORT_NOT_OFFERED").contains(interface));
    }
}

#[test]
fn what_outgrows_the_pool_is_refused() {
    let mut guest = honest();
    guest.functions.push_str("(table 1001 funcref)");
    let message = refused(&guest, "RESOURCE_LIMIT");
    assert!(message.contains("limit of 1000"), "{message}");
}

#[test]
fn a_plugin_has_a_name_of_the_right_form() {
    for name in ["Test guest", "", "té"] {
        let mut guest = honest();
        guest.name = name;
        let message = refused(&guest, "BAD_DESCRIPTION");
        assert_eq!(
            message,
            "plugin describes itself wrongly: \
             name is not 1 to 64 lower-case letters, digits and hyphens"
        );
    }
}

#[test]
fn a_plugin_that_hangs_when_asked_its_name_is_refused() {
    let guest = Guest {
        describe: "(loop $again (br $again)) (unreachable)".into(),
        ..honest()
    };
    refused(&guest, "FUEL_EXHAUSTED");
    refused(
        &Guest {
            describe: "(unreachable)".into(),
            ..honest()
        },
        "TRAPPED",
    );
}

#[test]
fn a_bad_configuration_tells_every_fault() {
    let config = HostConfig {
        pool_slots: 0,
        stack_bytes: 1,
        cache_dir: Some("relative".into()),
        ..config()
    };
    let error = PluginHost::try_new(config).unwrap_err();
    assert_eq!(error.reason(), "BAD_CONFIG");
    assert_eq!(
        error.to_string(),
        "bad plugin host configuration: stack_bytes 1 is not in 65536 to 1048576; \
         pool_slots 0 is not in 1 to 256; cache_dir `relative` is not an absolute path"
    );
}

#[test]
fn a_plugin_loaded_twice_is_two_plugins() {
    let guest = honest();
    let (one, other) = (load(&guest), load(&guest));
    drop(one);
    other.quote(&request(1), CallLimits::default()).unwrap();
}

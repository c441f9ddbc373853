//! Installing, upgrading, enabling, disabling and removing plugins, and what of it
//! outlives the daemon.

#[path = "../../../daemon/plugin-host/tests/host/guest.rs"]
#[expect(dead_code, reason = "the host's own tests use the rest")]
pub(crate) mod guest;

use lamella_proto::v1::{self, PluginState, PluginWasi, PluginWorld};
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins::{self, get, header, install, installed, setting, sha256};
use lamella_tests::shop;
use serde_json::json;
use tonic::Code;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_plugin_and_its_state_outlive_the_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let bytes = plugins::prebuilt("tiered-pricing");
    let plugin = installed(&api, "prices", &bytes).await;
    let current = plugin.current.clone().unwrap();
    assert_eq!(plugin.name, "plugins/prices");
    assert_eq!(plugin.state(), PluginState::Enabled);
    assert_eq!(current.sha256, sha256(&bytes));
    assert_eq!(current.size_bytes, i64::try_from(bytes.len()).unwrap());
    assert_eq!(current.world(), PluginWorld::Pricing);
    assert_eq!(current.wasi(), PluginWasi::None);
    assert!(plugin.create_time.is_some() && current.install_time.is_some());
    assert!(plugin.earlier.is_empty() && plugin.failure.is_none());
    assert_eq!(get(&api, "prices").await, Ok(plugin.clone()));

    // Killed, not stopped: what was acknowledged is there.
    daemon.kill();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    assert_eq!(get(&api, "prices").await, Ok(plugin.clone()));

    let name = json!({"name": "plugins/prices"});
    let disabled = api.ok("PluginService/DisablePlugin", name.clone()).await;
    assert_eq!(disabled["state"], "PLUGIN_STATE_DISABLED");
    assert_ne!(disabled["etag"], json!(plugin.etag));
    daemon.terminate();
    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    assert_eq!(
        api.ok("PluginService/GetPlugin", name.clone()).await,
        disabled
    );
    // Again is no change.
    assert_eq!(
        api.ok("PluginService/DisablePlugin", name.clone()).await,
        disabled
    );
    let enabled = api.ok("PluginService/EnablePlugin", name.clone()).await;
    assert_eq!(enabled["state"], "PLUGIN_STATE_ENABLED");

    let removed = api.ok("PluginService/DeletePlugin", name.clone()).await;
    assert_eq!(removed, enabled, "the answer is the plugin as it was");
    let refused = api.refused("PluginService/GetPlugin", name).await;
    assert_eq!(
        (refused.code, refused.resource.as_str()),
        (Code::NotFound, "plugins/prices")
    );
    // No quote was made with it, so its component goes with the next start.
    daemon.terminate();
    let daemon = Daemon::start_on(dir.path());
    assert_eq!(plugins::files(daemon.data_dir()), Vec::<String>::new());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_upgrade_keeps_what_was_there_and_a_failed_one_changes_nothing() {
    let settings = tempfile::tempdir().unwrap();
    let daemon = Daemon::builder()
        .arg("--config")
        .arg(plugins::patient(settings.path(), 5_000_000))
        .start();
    let api = daemon.client().await;
    let old = guest::honest().build();
    let mut first = header("rule", &old);
    first.settings = vec![setting("bay", "2")];
    let first = install(&api, first, &old).await.unwrap();

    // Each of these fails in another place; the one before goes on as it was.
    let loops = guest::honest_after("(loop $for_ever (br $for_ever))").build();
    let traps = guest::honest_after("unreachable").build();
    let core = b"\0asm\x01\0\0\0".to_vec();
    let cut_short = old[..old.len() / 2].to_vec();
    for (bytes, code, reason) in [
        (&loops, Code::FailedPrecondition, "FUEL_EXHAUSTED"),
        (&traps, Code::FailedPrecondition, "TRAPPED"),
        (&core, Code::InvalidArgument, "NOT_A_COMPONENT"),
        (&cut_short, Code::InvalidArgument, "NOT_A_COMPONENT"),
    ] {
        let refused = install(&api, header("rule", bytes), bytes)
            .await
            .unwrap_err();
        assert_eq!((refused.code, refused.reason.as_str()), (code, reason));
        assert_eq!(get(&api, "rule").await, Ok(first.clone()));
    }
    let refused = install(&api, header("rule", &old), &cut_short).await;
    let refused = refused.unwrap_err();
    assert_eq!(refused.reason, "HASH_MISMATCH");
    assert!(refused.message.contains(&sha256(&old)), "{refused:?}");
    assert_eq!(
        plugins::files(daemon.data_dir()),
        [format!("{}.wasm", sha256(&old))]
    );

    // Something that differs in nothing but its bytes.
    let new = guest::honest_after("nop").build();
    let mut tried = header("rule", &new);
    tried.validate_only = true;
    let tried = install(&api, tried, &new).await.unwrap();
    assert_eq!(tried.current.unwrap().sha256, sha256(&new));
    assert_eq!(get(&api, "rule").await, Ok(first.clone()));

    let mut stale = header("rule", &new);
    stale.etag = "0".to_owned();
    let refused = install(&api, stale, &new).await.unwrap_err();
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::Aborted, "ETAG_STALE")
    );

    let mut upgrade = header("rule", &new);
    upgrade.etag = first.etag.clone();
    upgrade.request_id = "upgrade-1".to_owned();
    let upgraded = install(&api, upgrade.clone(), &new).await.unwrap();
    assert_eq!(upgraded.current.clone().unwrap().sha256, sha256(&new));
    assert_eq!(upgraded.earlier, [first.current.clone().unwrap()]);
    assert_eq!(upgraded.settings, first.settings);
    assert_eq!(upgraded.create_time, first.create_time);

    // A retry answers the same and does nothing, though the etag is stale by now.
    let sequence = shop::last_sequence(&api).await;
    assert_eq!(install(&api, upgrade, &new).await, Ok(upgraded));
    assert_eq!(shop::last_sequence(&api).await, sequence);

    // Disabled stays disabled.
    let name = json!({"name": "plugins/rule"});
    api.ok("PluginService/DisablePlugin", name).await;
    let back = installed(&api, "rule", &old).await;
    assert_eq!(back.state(), PluginState::Disabled);
    assert_eq!(back.earlier.len(), 2);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn settings_are_tried_before_they_are_taken() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    installed(&api, "prices", &plugins::prebuilt("tiered-pricing")).await;
    let update = |settings: serde_json::Value| {
        json!({
            "plugin": {"name": "plugins/prices", "settings": settings},
            "update_mask": "settings",
        })
    };
    let method = "PluginService/UpdatePlugin";
    // plugins/tiered-pricing/README.md: an hour costs a whole number of minor units.
    let good = json!([{"key": "labour-per-h", "value": "7000"}]);
    let taken = api.ok(method, update(good.clone())).await;
    assert_eq!(taken["settings"], good);
    let bad = json!([{"key": "labour-per-h", "value": "seven"}]);
    let refused = api.refused(method, update(bad)).await;
    assert_eq!(
        (refused.code, refused.reason.as_str()),
        (Code::FailedPrecondition, "REFUSED")
    );
    assert!(refused.message.contains("labour-per-h"), "{refused:?}");
    let name = json!({"name": "plugins/prices"});
    assert_eq!(api.ok("PluginService/GetPlugin", name).await, taken);
    let cleared = api.ok(method, update(json!([]))).await;
    assert_eq!(cleared.get("settings"), None);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn plugins_are_listed_in_pages_in_order_of_their_ids() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let bytes = guest::honest().build();
    for id in ["c", "a", "b-2", "b"] {
        installed(&api, id, &bytes).await;
    }
    let mut names = Vec::new();
    let mut request = v1::ListPluginsRequest {
        page_size: 3,
        ..Default::default()
    };
    loop {
        let page = api.plugins().list_plugins(request.clone()).await.unwrap();
        let page = page.into_inner();
        names.push(
            page.plugins
                .iter()
                .map(|one| one.name.clone())
                .collect::<Vec<_>>(),
        );
        if page.next_page_token.is_empty() {
            break;
        }
        request.page_token = page.next_page_token;
    }
    assert_eq!(
        names,
        [
            vec!["plugins/a", "plugins/b", "plugins/b-2"],
            vec!["plugins/c"],
        ]
    );
}

//! What product lists hold together, calls under way when one changes, and a list
//! whose component is damaged.

use lamella_proto::v1::{self, PluginState};
use lamella_tests::api::Api;
use lamella_tests::daemon::Daemon;
use lamella_tests::plugins::{self, get, header, install, installed, sha256};
use lamella_tests::{cli, wait};
use serde_json::{Value, json};

use crate::plugins::guest::Guest;

/// Ids in `plugins/workshop-products/products.toml`, in its order.
const CHEMICALS: [&str; 6] = [
    "pre-wash",
    "shampoo",
    "all-purpose",
    "scale-remover",
    "panel-wipe-base",
    "slip-solution",
];

async fn products(api: &Api) -> v1::ListShopProductsResponse {
    let request = v1::ListShopProductsRequest {};
    let answer = api.plugins().list_shop_products(request).await;
    answer.unwrap().into_inner()
}

fn chemicals(listed: &v1::ListShopProductsResponse) -> Vec<&str> {
    let products = listed.products.as_ref().unwrap();
    products
        .chemicals
        .iter()
        .map(|one| one.product_id.as_str())
        .collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn products_are_listed_while_their_list_is_enabled() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    assert_eq!(
        products(&api).await.products,
        Some(v1::ShopProducts::default())
    );
    installed(&api, "stock", &plugins::prebuilt("workshop-products")).await;
    installed(&api, "a-second", &film_list("pre-wash-film", "nop")).await;
    let listed = products(&api).await;
    assert_eq!(chemicals(&listed), CHEMICALS);
    let all = listed.products.unwrap();
    let pre_wash = &all.chemicals[0];
    // plugins/workshop-products/products.toml.
    assert_eq!(pre_wash.display_name, "Water-based pre-wash concentrate");
    assert_eq!(pre_wash.density_g_per_ml, Some(1.02));
    assert_eq!(pre_wash.substance(), v1::Substance::Shampoo);
    assert_eq!(
        pre_wash.dilutions[1].water_parts.to_bits(),
        50.0_f64.to_bits()
    );
    assert_eq!(pre_wash.plugin, "plugins/stock");
    // The list whose id comes first comes first.
    assert_eq!(all.films[0].product_id, "pre-wash-film");
    assert_eq!(all.films[0].plugin, "plugins/a-second");
    assert_eq!(all.films[1].product_id, "clear-film");
    assert!(!all.coatings.is_empty() && !all.setups.is_empty());

    let name = json!({"name": "plugins/stock"});
    api.ok("PluginService/DisablePlugin", name).await;
    assert_eq!(chemicals(&products(&api).await), Vec::<&str>::new());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_under_way_is_answered_by_the_version_it_began_with() {
    let dir = tempfile::tempdir().unwrap();
    let settings = tempfile::tempdir().unwrap();
    let config = plugins::patient(settings.path(), 1_000_000_000);
    let builder = || {
        Daemon::builder()
            .data_dir(dir.path())
            .arg("--config")
            .arg(&config)
    };
    let daemon = builder().start();
    let slow = "(loop $on (local.set $i (i32.add (local.get $i) (i32.const 1)))
        (br_if $on (i32.lt_u (local.get $i) (i32.const 80000000))))";
    installed(&daemon.client().await, "stock", &film_list("old", slow)).await;
    daemon.terminate();
    // A fresh daemon has not asked it yet, and says when it does.
    let daemon = builder().env("LAMELLA_LOG", "lamella_daemon=debug").start();
    let api = daemon.client().await;
    let call = {
        let api = api.clone();
        tokio::spawn(async move { products(&api).await })
    };
    wait::until("the call to begin", || {
        daemon
            .stderr()
            .contains("asking a plugin for its products")
            .then_some(())
    });
    installed(&api, "stock", &film_list("new", "nop")).await;
    let film =
        |listed: v1::ListShopProductsResponse| listed.products.unwrap().films[0].product_id.clone();
    assert_eq!(film(products(&api).await), "new");
    assert_eq!(film(call.await.unwrap()), "old");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_damaged_component_is_found_by_verify_and_does_not_stop_the_daemon() {
    let dir = tempfile::tempdir().unwrap();
    let daemon = Daemon::start_on(dir.path());
    let bytes = plugins::prebuilt("workshop-products");
    installed(&daemon.client().await, "stock", &bytes).await;
    daemon.terminate();
    let verify = || cli::lamellad(["verify", "--data-dir", dir.path().to_str().unwrap()]);
    let clean = verify().ended_with(0);
    assert!(
        clean.stdout.contains("1 components as they should be"),
        "{clean}"
    );

    let path = plugins::folder(dir.path()).join(format!("{}.wasm", sha256(&bytes)));
    let mut damaged = bytes.clone();
    damaged[1000] ^= 1;
    std::fs::write(&path, damaged).unwrap();
    std::fs::write(
        plugins::folder(dir.path()).join(format!("{}.wasm", "0".repeat(64))),
        "x",
    )
    .unwrap();
    let found = verify().ended_with(1);
    assert!(found.stdout.contains("is damaged"), "{found}");
    assert!(found.stdout.contains("is not needed"), "{found}");

    let daemon = Daemon::start_on(dir.path());
    let api = daemon.client().await;
    let failed = get(&api, "stock").await.unwrap();
    assert_eq!(failed.state(), PluginState::Failed);
    assert_eq!(failed.failure.unwrap().reason, "HASH_MISMATCH");
    let listed: Value = api.ok("PluginService/ListShopProducts", json!({})).await;
    assert_eq!(listed["failures"][0]["plugin"], "plugins/stock");
    assert_eq!(listed["failures"][0]["failure"]["reason"], "HASH_MISMATCH");
    // Installed again, it serves again.
    let mended = install(&api, header("stock", &bytes), &bytes)
        .await
        .unwrap();
    assert_eq!(mended.state(), PluginState::Enabled);
    assert!(
        mended.earlier.is_empty(),
        "the same bytes are the same version"
    );
    assert_eq!(chemicals(&products(&api).await), CHEMICALS);
    daemon.terminate();
    verify().ended_with(0);
    std::fs::remove_file(path).unwrap();
    let found = verify().ended_with(1);
    assert!(found.stdout.contains("is missing"), "{found}");
}

/// A product list of one film. Layout after the contract in `plugins/wit` and the
/// component model's canonical ABI.
fn film_list(id: &str, act: &str) -> Vec<u8> {
    const SET: i32 = 4096;
    const FILM: i32 = 8192;
    const TEXT: i32 = 12288;
    let words =
        |words: &[i32]| -> Vec<u8> { words.iter().flat_map(|word| word.to_le_bytes()).collect() };
    let length = i32::try_from(id.len()).unwrap();
    let numbers: Vec<u8> = [1520.0, 0.0, 0.0, 10.0, 25.0, 0.0, 0.0]
        .iter()
        .flat_map(|number: &f64| number.to_le_bytes())
        .collect();
    Guest::products(&format!("{act} (i32.const {SET})"))
        .with_data(SET, &words(&[0, 0, 0, FILM, 1, 0, 0, 0, 0]))
        .with_data(FILM, &words(&[TEXT, length, TEXT, length]))
        .with_data(FILM + 16, &numbers)
        .with_data(TEXT, id.as_bytes())
        .build()
}

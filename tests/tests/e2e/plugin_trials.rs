//! TryPlugin: a component on recorded jobs, before it is installed.

use lamella_proto::v1::{self, plugin_trial::Outcome, try_plugin_request::Part};
use lamella_tests::api::{Api, Refused};
use lamella_tests::daemon::Daemon;
use lamella_tests::{plugins, shop, wait};
use serde_json::json;
use tonic::Code;

async fn attempt(
    api: &Api,
    header: v1::TryPluginHeader,
    bytes: &[u8],
) -> Result<v1::TryPluginResponse, Refused> {
    let chunks = bytes.chunks(plugins::CHUNK_BYTES);
    let parts: Vec<Part> = std::iter::once(Part::Header(header))
        .chain(chunks.map(|chunk| Part::Chunk(chunk.to_vec())))
        .collect();
    let messages = parts
        .into_iter()
        .map(|part| v1::TryPluginRequest { part: Some(part) });
    let mut client = api.plugins();
    let answer = wait::ready("a trial", client.try_plugin(tokio_stream::iter(messages))).await;
    answer
        .map(tonic::Response::into_inner)
        .map_err(|status| Refused::of(&status))
}

fn header(bytes: &[u8], jobs: &[&str]) -> v1::TryPluginHeader {
    v1::TryPluginHeader {
        sha256: plugins::sha256(bytes),
        jobs: jobs.iter().map(|&job| job.to_owned()).collect(),
        ..v1::TryPluginHeader::default()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_rule_is_tried_on_jobs_also_on_those_that_are_over() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let bytes = plugins::prebuilt("tiered-pricing");
    // One that is over, with hours under the code of its service; one without.
    let services = json!([{"code": "polish"}]);
    let request = json!({"job": {"display_name": "Blue estate", "services": services}});
    let over = shop::name(&api.ok("JobService/CreateJob", request.clone()).await);
    let labour = json!({"worker": "first worker", "activity": "polish",
        "from_time": "2024-01-15T08:00:00Z", "to_time": "2024-01-15T10:00:00Z"});
    shop::append(&api, &over, shop::LONG_AGO, "labour", labour).await;
    shop::advance(&api, &over, "CANCELLED").await;
    let bare = shop::name(&api.ok("JobService/CreateJob", request).await);
    let before = shop::everything(&api).await;

    let mut asked = header(&bytes, &[&over, &bare]);
    asked.settings = vec![plugins::setting("labour-per-h", "7000")];
    let answer = attempt(&api, asked, &bytes).await.unwrap();
    let version = answer.plugin.unwrap();
    assert_eq!(version.sha256, plugins::sha256(&bytes));
    let [first, second] = answer.trials.as_slice() else {
        panic!("two trials: {:?}", answer.trials)
    };
    assert_eq!([&first.job, &second.job], [&over, &bare]);
    // By hand: 2 h at 70.00.
    let Some(Outcome::Quote(quote)) = &first.outcome else {
        panic!("a quote: {first:?}")
    };
    assert_eq!(quote.gross_total.as_ref().unwrap().minor_units, 14_000);
    assert_eq!(quote.name, "");
    let Some(Outcome::Failure(failure)) = &second.outcome else {
        panic!("a failure: {second:?}")
    };
    assert_eq!(failure.reason, "REFUSED");
    assert!(failure.message.contains("labour hours of service `polish`"));

    // Nothing was installed or stored.
    assert_eq!(shop::everything(&api).await, before);
    let listed = api.ok("PluginService/ListPlugins", json!({})).await;
    assert_eq!(listed, json!({}));
    assert_eq!(plugins::files(daemon.data_dir()), [""; 0]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_product_list_is_tried_without_jobs() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let bytes = plugins::prebuilt("workshop-products");
    let answer = attempt(&api, header(&bytes, &[]), &bytes).await.unwrap();
    let products = answer.products.unwrap();
    assert!(!products.chemicals.is_empty() && !products.films.is_empty());
    assert!(answer.trials.is_empty());

    let job = shop::new_job(&api, "Blue estate").await;
    let refused = attempt(&api, header(&bytes, &[&job]), &bytes).await;
    assert_eq!(refused.unwrap_err().field_names(), ["header.jobs"]);
    let rule = plugins::prebuilt("tiered-pricing");
    let refused = attempt(&api, header(&rule, &[]), &rule).await;
    assert_eq!(refused.unwrap_err().field_names(), ["header.jobs"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_is_no_plugin_is_refused_with_its_reason() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let job = shop::new_job(&api, "Blue estate").await;
    let bytes = plugins::prebuilt("tiered-pricing");
    let reason = async |header, bytes: &[u8]| {
        let refused = attempt(&api, header, bytes).await.unwrap_err();
        (refused.code, refused.reason)
    };
    let cut = &bytes[..bytes.len() / 2];
    assert_eq!(
        reason(header(&bytes, &[&job]), cut).await,
        (Code::InvalidArgument, "HASH_MISMATCH".to_owned())
    );
    assert_eq!(
        reason(header(cut, &[&job]), cut).await,
        (Code::InvalidArgument, "NOT_A_COMPONENT".to_owned())
    );
    assert_eq!(
        reason(header(&bytes, &["jobs/none"]), &bytes).await,
        (Code::NotFound, "RESOURCE_NOT_FOUND".to_owned())
    );
    assert_eq!(plugins::files(daemon.data_dir()), [""; 0]);
}

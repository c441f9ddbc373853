//! What other tools expect of a gRPC server.

use std::time::Duration;

use lamella_proto::v1::{CreateJobRequest, Job, ListJobsRequest, ListJobsResponse};
use lamella_tests::daemon::Daemon;
use lamella_tests::web::{self, WebAnswer};
use lamella_tests::{shop, wait};
use prost::Message as _;
use serde_json::json;
use tonic::Code;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};
use tonic_reflection::pb::v1::ServerReflectionRequest;
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;

const SERVICES: [&str; 10] = [
    "lamella.v1.JobService",
    "lamella.v1.VehicleService",
    "lamella.v1.PhotoService",
    "lamella.v1.CalculatorService",
    "lamella.v1.ExportService",
    "lamella.v1.BookingService",
    "lamella.v1.OutboxService",
    "lamella.v1.PluginService",
    "lamella.v1.QuoteService",
    "lamella.v1.StatusService",
];

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn health_says_serving_and_then_not() {
    let mut daemon = Daemon::start();
    let mut health = HealthClient::new(daemon.client().await.channel());
    for service in SERVICES.into_iter().chain([""]) {
        let request = HealthCheckRequest {
            service: service.to_owned(),
        };
        let answer = health.check(request).await.unwrap().into_inner();
        assert_eq!(answer.status(), ServingStatus::Serving, "{service}");
    }
    let unknown = HealthCheckRequest {
        service: "lamella.v1.NoService".to_owned(),
    };
    assert_eq!(
        health.check(unknown).await.unwrap_err().code(),
        Code::NotFound
    );

    let all = HealthCheckRequest {
        service: String::new(),
    };
    let mut watch = health.watch(all).await.unwrap().into_inner();
    let first = wait::ready("the first status", watch.message())
        .await
        .unwrap()
        .unwrap();
    assert_eq!(first.status(), ServingStatus::Serving);
    daemon.ask_to_stop();
    let last = wait::ready("the last status", watch.message())
        .await
        .unwrap()
        .unwrap();
    assert_eq!(last.status(), ServingStatus::NotServing);
    drop(watch);
    drop(health);
    assert!(daemon.wait().success());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn reflection_lists_the_public_services_and_no_other() {
    let daemon = Daemon::start();
    let mut reflection = ServerReflectionClient::new(daemon.client().await.channel());
    let request = ServerReflectionRequest {
        host: String::new(),
        message_request: Some(MessageRequest::ListServices(String::new())),
    };
    let answers = reflection
        .server_reflection_info(tokio_stream::once(request))
        .await
        .unwrap();
    let answer = wait::ready("the services", answers.into_inner().message())
        .await
        .unwrap();
    let Some(MessageResponse::ListServicesResponse(list)) = answer.unwrap().message_response else {
        panic!("no list of services");
    };
    let names: Vec<&str> = list
        .service
        .iter()
        .map(|service| service.name.as_str())
        .collect();
    for service in SERVICES {
        assert!(names.contains(&service), "{service} is not in {names:?}");
    }
    assert!(names.contains(&"grpc.health.v1.Health"), "{names:?}");
    assert!(
        !names.iter().any(|name| name.contains("store")),
        "{names:?}"
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_browser_creates_and_lists_over_http_1() {
    let daemon = Daemon::start();
    let create = CreateJobRequest {
        job: Some(Job {
            display_name: "Blue estate".to_owned(),
            ..Job::default()
        }),
        ..CreateJobRequest::default()
    };
    let post = |method: &str, message: Vec<u8>| {
        web::post(
            &daemon.address,
            &format!("/lamella.v1.JobService/{method}"),
            &message,
            &[],
        )
    };
    let answer = post("CreateJob", create.encode_to_vec());
    assert_eq!(answer.status_line, "HTTP/1.1 200 OK", "{answer:?}");
    let content_type = WebAnswer::get(&answer.headers, "content-type");
    assert_eq!(
        content_type,
        Some("application/grpc-web+proto"),
        "{answer:?}"
    );
    assert_eq!(answer.grpc_status(), Some(0), "{answer:?}");
    let created = Job::decode(answer.messages[0].as_slice()).unwrap();

    let answer = post("ListJobs", ListJobsRequest::default().encode_to_vec());
    let listed = ListJobsResponse::decode(answer.messages[0].as_slice()).unwrap();
    assert_eq!(listed.jobs, [created]);

    // A refusal arrives as well.
    let answer = post("CreateJob", Vec::new());
    assert_eq!(
        answer.grpc_status(),
        Some(Code::InvalidArgument as i32),
        "{answer:?}"
    );
    assert!(answer.messages.is_empty());
}

/// Bytes that are no message, on every method: refused, and nothing changes.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn garbage_is_refused_by_every_method() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    shop::new_job(&api, "Blue estate").await;
    let before = shop::everything(&api).await;
    for method in lamella_tests::api::methods() {
        // Field 1 of five bytes, of which two are there.
        let answer = web::post(
            &daemon.address,
            &format!("/lamella.v1.{method}"),
            &[0x0a, 5, 1, 2],
            &[],
        );
        assert!(
            answer.grpc_status().is_some_and(|code| code != 0),
            "{method}: {answer:?}"
        );
    }
    assert_eq!(shop::everything(&api).await, before);
}

/// A list of many jobs takes longer than a nanosecond, so this one must be cut
/// off; the daemon itself does it, because no gRPC client takes part.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_deadline_is_kept_by_the_daemon() {
    let daemon = Daemon::start();
    let api = daemon.client().await;
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..8 {
        let api = api.clone();
        writers.spawn(async move {
            for number in 0..50 {
                let wishes = "a long wish ".repeat(300);
                let name = format!("Car {writer}-{number}");
                let job = json!({"job": {"display_name": name, "wishes": wishes}});
                api.ok("JobService/CreateJob", job).await;
            }
        });
    }
    writers.join_all().await;
    let list = ListJobsRequest {
        page_size: 1000,
        ..ListJobsRequest::default()
    }
    .encode_to_vec();
    let path = "/lamella.v1.JobService/ListJobs";
    let answer = web::post(&daemon.address, path, &list, &[("grpc-timeout", "1n")]);
    // The transport says CANCELLED where the specification has
    // DEADLINE_EXCEEDED; a gRPC client makes the latter of it by itself.
    let cut_off = [Code::DeadlineExceeded as i32, Code::Cancelled as i32];
    assert!(
        answer
            .grpc_status()
            .is_some_and(|code| cut_off.contains(&code)),
        "{answer:?}"
    );
    assert!(
        answer.messages.is_empty(),
        "{} messages",
        answer.messages.len()
    );
    // With time enough it is answered, so the deadline was the reason.
    let answer = web::post(&daemon.address, path, &list, &[("grpc-timeout", "60S")]);
    assert_eq!(answer.grpc_status(), Some(0));

    let request = json!({"page_size": 1000});
    let late = api
        .call_within("JobService/ListJobs", &request, Duration::from_nanos(1))
        .await;
    let code = late.unwrap_err().code();
    assert!(
        matches!(code, Code::DeadlineExceeded | Code::Cancelled),
        "{code:?}"
    );
}

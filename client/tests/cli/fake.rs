//! A server that answers as told, to see what the client makes of it.

use std::collections::HashMap;
use std::net::SocketAddr;
use std::path::Path;
use std::pin::Pin;
use std::sync::{Arc, Mutex};

use lamella_proto::v1::job_service_server::{JobService, JobServiceServer};
use lamella_proto::v1::plugin_service_server::PluginServiceServer;
use lamella_proto::v1::quote_service_server::QuoteServiceServer;
use lamella_proto::v1::*;
use tokio::net::{TcpListener, UnixListener};
use tokio_stream::wrappers::{TcpListenerStream, UnixListenerStream};
use tokio_stream::{Stream, StreamExt as _};
use tonic::transport::Server;
use tonic::transport::server::Router;
use tonic::{Code, Request, Response, Status};
use tonic_types::{ErrorDetails, PreconditionViolation, StatusExt as _};

use crate::fake_shop::{Plugins, Quotes};

/// What the server was asked.
#[derive(Debug, Default)]
pub(crate) struct Seen {
    /// Requests to create a job.
    pub(crate) created: Vec<CreateJobRequest>,
    /// Requests to update a job.
    pub(crate) updated: Vec<UpdateJobRequest>,
    /// Requests to append a record.
    pub(crate) appended: Vec<AppendRecordRequest>,
    /// Plugins installed: what was said of each, and the sizes of its pieces.
    pub(crate) installed: Vec<(InstallPluginHeader, Vec<usize>)>,
    /// Requests to change a plugin.
    pub(crate) plugins_updated: Vec<UpdatePluginRequest>,
    /// Requests to price a job.
    pub(crate) quoted: Vec<CreateQuoteRequest>,
    /// Resume tokens of the watches.
    pub(crate) watched: Vec<String>,
}

/// A running server; it ends with the test's process.
pub(crate) struct Fake {
    /// Where it listens.
    pub(crate) address: String,
    /// What it was asked.
    pub(crate) seen: Arc<Mutex<Seen>>,
    _runtime: tokio::runtime::Runtime,
}

/// Starts a server on a free port of loopback.
pub(crate) fn on_tcp() -> Fake {
    let runtime = runtime();
    let seen = Arc::default();
    let listener = runtime.block_on(TcpListener::bind("127.0.0.1:0")).unwrap();
    let address: SocketAddr = listener.local_addr().unwrap();
    let serving = router(&seen).serve_with_incoming(TcpListenerStream::new(listener));
    runtime.spawn(serving);
    Fake {
        address: address.to_string(),
        seen,
        _runtime: runtime,
    }
}

/// Starts a server on a Unix socket.
pub(crate) fn on_unix(path: &Path) -> Fake {
    let runtime = runtime();
    let seen = Arc::default();
    let listener = runtime
        .block_on(async { UnixListener::bind(path) })
        .unwrap();
    let serving = router(&seen).serve_with_incoming(UnixListenerStream::new(listener));
    runtime.spawn(serving);
    Fake {
        address: format!("unix:{}", path.display()),
        seen,
        _runtime: runtime,
    }
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_all()
        .build()
        .unwrap()
}

fn router(seen: &Arc<Mutex<Seen>>) -> Router {
    let reflection = tonic_reflection::server::Builder::configure()
        .register_encoded_file_descriptor_set(lamella_proto::FILE_DESCRIPTOR_SET)
        .build_v1()
        .unwrap();
    Server::builder()
        .add_service(reflection)
        .add_service(JobServiceServer::new(Jobs {
            seen: Arc::clone(seen),
        }))
        .add_service(PluginServiceServer::new(Plugins {
            seen: Arc::clone(seen),
        }))
        .add_service(QuoteServiceServer::new(Quotes {
            seen: Arc::clone(seen),
        }))
}

struct Jobs {
    seen: Arc<Mutex<Seen>>,
}

fn job(name: &str) -> Job {
    Job {
        name: name.to_owned(),
        display_name: "Blue estate".to_owned(),
        stage: Stage::Booked.into(),
        customer: Some(Customer {
            display_name: "A. Customer".to_owned(),
            phone: "555 0100".to_owned(),
            email: String::new(),
        }),
        etag: "e1".to_owned(),
        ..Default::default()
    }
}

fn event(sequence: i64) -> WatchJobsResponse {
    WatchJobsResponse {
        resume_token: sequence.to_string(),
        message: Some(watch_jobs_response::Message::Event(JobEvent {
            sequence,
            event_time: None,
            job: "jobs/a".to_owned(),
            change: Some(job_event::Change::Created(job("jobs/a"))),
        })),
    }
}

fn caught_up(token: &str) -> WatchJobsResponse {
    WatchJobsResponse {
        resume_token: token.to_owned(),
        message: Some(watch_jobs_response::Message::CaughtUp(CaughtUp {})),
    }
}

type Watch = Pin<Box<dyn Stream<Item = Result<WatchJobsResponse, Status>> + Send>>;

#[tonic::async_trait]
impl JobService for Jobs {
    type WatchJobsStream = Watch;

    async fn create_job(
        &self,
        request: Request<CreateJobRequest>,
    ) -> Result<Response<Job>, Status> {
        let request = request.into_inner();
        let created = Job {
            name: "jobs/a".to_owned(),
            ..request.job.clone().unwrap_or_default()
        };
        self.seen.lock().unwrap().created.push(request);
        Ok(Response::new(created))
    }

    async fn get_job(&self, request: Request<GetJobRequest>) -> Result<Response<Job>, Status> {
        match request.into_inner().name.as_str() {
            "jobs/none" => Err(Status::not_found("there is no jobs/none")),
            "jobs/slow" => std::future::pending().await,
            name => Ok(Response::new(job(name))),
        }
    }

    async fn list_jobs(
        &self,
        request: Request<ListJobsRequest>,
    ) -> Result<Response<ListJobsResponse>, Status> {
        // Three pages of one job each; the page token is the page's number.
        let page: usize = request.into_inner().page_token.parse().unwrap_or(1);
        let next_page_token = if page < 3 {
            (page + 1).to_string()
        } else {
            String::new()
        };
        Ok(Response::new(ListJobsResponse {
            jobs: vec![job(&format!("jobs/page-{page}"))],
            next_page_token,
            resume_token: format!("token-{page}"),
        }))
    }

    async fn update_job(
        &self,
        request: Request<UpdateJobRequest>,
    ) -> Result<Response<Job>, Status> {
        let request = request.into_inner();
        let updated = request.job.clone().unwrap_or_default();
        self.seen.lock().unwrap().updated.push(request);
        Ok(Response::new(updated))
    }

    async fn advance_stage(
        &self,
        _: Request<AdvanceStageRequest>,
    ) -> Result<Response<AdvanceStageResponse>, Status> {
        let mut details = ErrorDetails::new();
        details.set_error_info("GATE_CLOSED", "lamella", HashMap::new());
        details.set_precondition_failure(vec![PreconditionViolation::new(
            "PART_OFF",
            "parts/front badge",
            "the front badge is off",
        )]);
        let message = "stage ready must wait";
        Err(Status::with_error_details(
            Code::FailedPrecondition,
            message,
            details,
        ))
    }

    async fn append_record(
        &self,
        request: Request<AppendRecordRequest>,
    ) -> Result<Response<AppendRecordResponse>, Status> {
        let request = request.into_inner();
        let record = request.record.clone();
        self.seen.lock().unwrap().appended.push(request);
        Ok(Response::new(AppendRecordResponse { record }))
    }

    async fn watch_jobs(
        &self,
        request: Request<WatchJobsRequest>,
    ) -> Result<Response<Watch>, Status> {
        let token = request.into_inner().resume_token;
        self.seen.lock().unwrap().watched.push(token.clone());
        // The first connection breaks off after one event; the second shows the
        // rest and stays open.
        let stream: Watch = match token.as_str() {
            "bad" => {
                return Err(Status::out_of_range(
                    "resume_token `bad` was never given out",
                ));
            }
            "1" => Box::pin(
                tokio_stream::iter([Ok(event(2)), Ok(caught_up("2"))])
                    .chain(tokio_stream::pending()),
            ),
            _ => Box::pin(tokio_stream::iter([
                Ok(event(1)),
                Err(Status::unavailable("draining")),
            ])),
        };
        Ok(Response::new(stream))
    }

    async fn delete_job(&self, _: Request<DeleteJobRequest>) -> Result<Response<Job>, Status> {
        Err(Status::unimplemented("not part of the fake"))
    }

    async fn undelete_job(&self, _: Request<UndeleteJobRequest>) -> Result<Response<Job>, Status> {
        Err(Status::unimplemented("not part of the fake"))
    }

    async fn list_records(
        &self,
        _: Request<ListRecordsRequest>,
    ) -> Result<Response<ListRecordsResponse>, Status> {
        Ok(Response::new(ListRecordsResponse::default()))
    }

    async fn list_job_history(
        &self,
        _: Request<ListJobHistoryRequest>,
    ) -> Result<Response<ListJobHistoryResponse>, Status> {
        Err(Status::unimplemented("not part of the fake"))
    }
}

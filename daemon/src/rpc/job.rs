//! JobService.

use lamella_calc::violation::Checks;
use lamella_jobs::job::JobFields;
use lamella_jobs::transition::MoveRequest;
use lamella_proto::v1::{self, job_service_server::JobService};
use tonic::{Request, Response, Status};

use super::watch::{WatchStream, Watching};
use super::{finish, from_shop, page_size, request_key, status};
use crate::calls;
use crate::convert;
use crate::ledger::{JobQuery, Ledger};
use crate::plugins::Plugins;

/// Jobs, their stages, records and history.
pub(crate) struct Jobs {
    ledger: Ledger,
    watching: Watching,
    plugins: Plugins,
}

impl Jobs {
    pub(crate) fn new(ledger: Ledger, watching: Watching, plugins: Plugins) -> Self {
        Self {
            ledger,
            watching,
            plugins,
        }
    }
}

#[tonic::async_trait]
impl JobService for Jobs {
    async fn create_job(
        &self,
        request: Request<v1::CreateJobRequest>,
    ) -> Result<Response<v1::Job>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "CreateJob", &request, &mut checks);
        let id = convert::names::chosen_id(&request.job_id, "job_id", &mut checks);
        let fields = job_fields(request.job.as_ref(), &mut checks);
        if request.job.is_some() {
            fields.check(&mut checks, "job");
        }
        finish(checks)?;
        let job = self.ledger.create_job(id, fields, key).await;
        let job = job.map_err(|error| status::ledger(&error))?;
        if let Some(id) = job.name.strip_prefix("jobs/") {
            calls::about_job(id);
        }
        Ok(Response::new(job))
    }

    async fn get_job(
        &self,
        request: Request<v1::GetJobRequest>,
    ) -> Result<Response<v1::Job>, Status> {
        let mut checks = Checks::new();
        let id = convert::names::id(&request.into_inner().name, "jobs", "name", &mut checks);
        finish(checks)?;
        let job = self.ledger.job(id).await;
        job.map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn list_jobs(
        &self,
        request: Request<v1::ListJobsRequest>,
    ) -> Result<Response<v1::ListJobsResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        let query = query(request.filter, request.show_deleted, &mut checks);
        finish(checks)?;
        // Taken before the page is read: a change in between is then seen by
        // the watch as well, and never by neither.
        let seen = self.ledger.store().last_seq();
        let page = self.ledger.jobs(query, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListJobsResponse {
            jobs: page.items,
            next_page_token: page.next_page_token,
            resume_token: seen.to_string(),
        }))
    }

    async fn update_job(
        &self,
        request: Request<v1::UpdateJobRequest>,
    ) -> Result<Response<v1::Job>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "UpdateJob", &request, &mut checks);
        let fields = job_fields(request.job.as_ref(), &mut checks);
        let job = request.job.unwrap_or_default();
        let id = convert::names::id(&job.name, "jobs", "job.name", &mut checks);
        let mask = convert::job::mask_from_pb(request.update_mask.as_ref(), &fields, &mut checks);
        // The ledger checks the job as it will be; what is written is checked
        // here too, so that everything wrong is named at once.
        let sound = JobFields {
            display_name: "sound".to_owned(),
            ..JobFields::default()
        };
        sound.updated(&fields, &mask).check(&mut checks, "job");
        finish(checks)?;
        let job = self
            .ledger
            .update_job(id, fields, mask, job.etag, key)
            .await;
        job.map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn advance_stage(
        &self,
        request: Request<v1::AdvanceStageRequest>,
    ) -> Result<Response<v1::AdvanceStageResponse>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "AdvanceStage", &request, &mut checks);
        let id = convert::names::id(&request.name, "jobs", "name", &mut checks);
        let to = convert::job::optional_stage(request.to_stage, "to_stage", &mut checks);
        finish(checks)?;
        let only_asking = request.validate_only;
        let to = MoveRequest {
            to,
            note: request.note,
            only_asking,
        };
        let moved = if only_asking {
            self.ledger.ask_stage(id, to, request.etag).await
        } else {
            self.ledger.advance_stage(id, to, request.etag, key).await
        };
        let moved = moved.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::AdvanceStageResponse {
            job: Some(moved.job),
            cautions: moved.cautions,
        }))
    }

    async fn delete_job(
        &self,
        request: Request<v1::DeleteJobRequest>,
    ) -> Result<Response<v1::Job>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "DeleteJob", &request, &mut checks);
        let id = convert::names::id(&request.name, "jobs", "name", &mut checks);
        finish(checks)?;
        let job = self.ledger.delete_job(id, request.etag, key).await;
        job.map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn undelete_job(
        &self,
        request: Request<v1::UndeleteJobRequest>,
    ) -> Result<Response<v1::Job>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "UndeleteJob", &request, &mut checks);
        let id = convert::names::id(&request.name, "jobs", "name", &mut checks);
        finish(checks)?;
        let job = self.ledger.undelete_job(id, request.etag, key).await;
        job.map(Response::new)
            .map_err(|error| status::ledger(&error))
    }

    async fn append_record(
        &self,
        request: Request<v1::AppendRecordRequest>,
    ) -> Result<Response<v1::AppendRecordResponse>, Status> {
        let mut request = request.into_inner();
        let mut checks = Checks::new();
        let request_id = std::mem::take(&mut request.request_id);
        let key = request_key(request_id, "AppendRecord", &request, &mut checks);
        from_shop(&mut request, &self.plugins, &mut checks).await?;
        let job = convert::names::id(&request.parent, "jobs", "parent", &mut checks);
        checks.require(request.record.is_some(), "record", || {
            "is required".to_owned()
        });
        let draft = request
            .record
            .and_then(|record| convert::record::draft_from_pb(&record, "record", &mut checks));
        if let Some(draft) = &draft {
            draft.check("record", &mut checks);
        }
        finish(checks)?;
        let Some(draft) = draft else {
            return Err(Status::internal("a record without entry passed its checks"));
        };
        let record = self
            .ledger
            .append_record(job, |now| draft.at(now), key)
            .await;
        let record = record.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::AppendRecordResponse {
            record: Some(record),
        }))
    }

    async fn list_records(
        &self,
        request: Request<v1::ListRecordsRequest>,
    ) -> Result<Response<v1::ListRecordsResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        let job = convert::names::id(&request.parent, "jobs", "parent", &mut checks);
        finish(checks)?;
        let page = self.ledger.records(job, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListRecordsResponse {
            records: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn list_job_history(
        &self,
        request: Request<v1::ListJobHistoryRequest>,
    ) -> Result<Response<v1::ListJobHistoryResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        let job = convert::names::id(&request.name, "jobs", "name", &mut checks);
        finish(checks)?;
        let page = self.ledger.history(job, size, request.page_token).await;
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListJobHistoryResponse {
            events: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    type WatchJobsStream = WatchStream;

    async fn watch_jobs(
        &self,
        request: Request<v1::WatchJobsRequest>,
    ) -> Result<Response<WatchStream>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let job = convert::names::optional_id(&request.job, "jobs", "job", &mut checks);
        let known = request.resume_token.is_empty() || request.resume_token.parse::<u64>().is_ok();
        checks.require(known, "resume_token", || {
            "must be a resume_token received earlier, or 0".to_owned()
        });
        finish(checks)?;
        let last = self.ledger.store().last_seq();
        let after = request.resume_token.parse::<u64>().unwrap_or(last);
        if let Some(id) = job.clone() {
            self.ledger
                .job(id)
                .await
                .map_err(|error| status::ledger(&error))?;
        }
        let watcher = self
            .ledger
            .watch(after)
            .map_err(|error| status::ledger(&error))?;
        Ok(Response::new(self.watching.stream(
            watcher,
            after,
            job.as_deref(),
        )))
    }
}

/// The job of a request; a request without one is noted.
fn job_fields(job: Option<&v1::Job>, checks: &mut Checks) -> JobFields {
    checks.require(job.is_some(), "job", || "is required".to_owned());
    job.map(|job| {
        let mut fields = convert::job::fields_from_pb(job, "job", checks);
        if let Some(approval) = &mut fields.approval {
            // Output only: set by accepting a quote, not by saying so.
            approval.quote = None;
        }
        fields
    })
    .unwrap_or_default()
}

fn query(filter: Option<v1::JobFilter>, show_deleted: bool, checks: &mut Checks) -> JobQuery {
    let filter = filter.unwrap_or_default();
    lamella_jobs::check::text(checks, "filter.text", &filter.text, 0, 200);
    let stages = filter
        .stages
        .iter()
        .enumerate()
        .filter_map(|(index, stage)| {
            let field = format!("filter.stages[{index}]");
            let stage = convert::job::optional_stage(*stage, &field, checks);
            checks.require(stage.is_some(), &field, || "must name a stage".to_owned());
            stage
        });
    let stages = stages.collect();
    let mut instant = |value: Option<prost_types::Timestamp>, field: &str| {
        convert::time::from_pb(value.as_ref(), field, checks)
    };
    let promised_from = instant(filter.promised_from, "filter.promised_from");
    let promised_before = instant(filter.promised_before, "filter.promised_before");
    let created_from = instant(filter.created_from, "filter.created_from");
    let created_before = instant(filter.created_before, "filter.created_before");
    JobQuery {
        stages,
        vehicle: convert::names::optional_id(&filter.vehicle, "vehicles", "filter.vehicle", checks),
        promised_from,
        promised_before,
        created_from,
        created_before,
        text: filter.text.to_lowercase(),
        show_deleted,
    }
}

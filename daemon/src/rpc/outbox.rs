//! OutboxService.

use lamella_calc::violation::Checks;
use lamella_proto::v1::{self, outbox_service_server::OutboxService};
use tonic::{Request, Response, Status};

use super::{finish, page_size, status};
use crate::convert;
use crate::outbox::Outbox;

/// How far delivery has come, and its dead letters.
pub(crate) struct Outboxes {
    outbox: Outbox,
}

impl Outboxes {
    pub(crate) fn new(outbox: Outbox) -> Self {
        Self { outbox }
    }
}

#[tonic::async_trait]
impl OutboxService for Outboxes {
    async fn get_outbox(
        &self,
        _request: Request<v1::GetOutboxRequest>,
    ) -> Result<Response<v1::Outbox>, Status> {
        let progress = self.outbox.progress();
        Ok(Response::new(convert::outbox::to_pb(progress.as_ref())))
    }

    async fn list_dead_letters(
        &self,
        request: Request<v1::ListDeadLettersRequest>,
    ) -> Result<Response<v1::ListDeadLettersResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let size = page_size(request.page_size, &mut checks);
        finish(checks)?;
        let page = self.outbox.dead_letters(size, &request.page_token);
        let page = page.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::ListDeadLettersResponse {
            dead_letters: page.items,
            next_page_token: page.next_page_token,
        }))
    }

    async fn retry_dead_letter(
        &self,
        request: Request<v1::RetryDeadLetterRequest>,
    ) -> Result<Response<v1::RetryDeadLetterResponse>, Status> {
        let request = request.into_inner();
        let mut checks = Checks::new();
        let job = convert::names::id(&request.job, "jobs", "job", &mut checks);
        finish(checks)?;
        let letter = self.outbox.retry(&job, request.discard);
        let letter = letter.map_err(|error| status::ledger(&error))?;
        Ok(Response::new(v1::RetryDeadLetterResponse {
            dead_letter: Some(letter),
        }))
    }
}

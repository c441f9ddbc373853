//! StatusService.

use lamella_proto::v1::{self, status_service_server::StatusService};
use tonic::{Request, Response, Status};

use super::status;
use crate::condition::Observer;
use crate::convert;

/// How the daemon is.
pub(crate) struct Conditions {
    observer: Observer,
}

impl Conditions {
    pub(crate) fn new(observer: Observer) -> Self {
        Self { observer }
    }
}

#[tonic::async_trait]
impl StatusService for Conditions {
    async fn get_status(
        &self,
        _request: Request<v1::GetStatusRequest>,
    ) -> Result<Response<v1::DaemonStatus>, Status> {
        let condition = self.observer.look().await;
        let condition = condition.map_err(|error| status::plugins(&error))?;
        Ok(Response::new(convert::condition::to_pb(&condition)))
    }
}

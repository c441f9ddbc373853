//! A watch whose every wait has a deadline.

use lamella_proto::v1::{
    JobEvent, WatchJobsRequest, WatchJobsResponse, watch_jobs_response::Message,
};
use tonic::{Status, Streaming};

use crate::api::Api;
use crate::wait;

/// A running watch.
#[derive(Debug)]
pub struct Watch {
    stream: Streaming<WatchJobsResponse>,
    /// Token of the last message: where to resume.
    pub token: String,
}

impl Watch {
    /// Begins a watch of `job`, or of all with an empty name.
    ///
    /// # Errors
    /// The daemon's refusal.
    ///
    /// # Panics
    /// When no answer comes.
    pub async fn begin(api: &Api, resume_token: &str, job: &str) -> Result<Self, Status> {
        let request = WatchJobsRequest {
            resume_token: resume_token.to_owned(),
            job: job.to_owned(),
        };
        let answer = wait::ready("the watch", api.jobs().watch_jobs(request)).await?;
        Ok(Self {
            stream: answer.into_inner(),
            token: resume_token.to_owned(),
        })
    }

    /// The next message that is no heartbeat.
    ///
    /// # Errors
    /// How the stream ended.
    ///
    /// # Panics
    /// When nothing comes.
    pub async fn message(&mut self) -> Result<Message, Status> {
        loop {
            let response = wait::ready("a watch message", self.stream.message()).await?;
            let response = response.ok_or_else(|| Status::ok("the stream ended"))?;
            self.token = response.resume_token;
            match response
                .message
                .expect("a watch message is one of its kinds")
            {
                Message::Heartbeat(_) => {}
                message @ (Message::Event(_) | Message::CaughtUp(_)) => return Ok(message),
            }
        }
    }

    /// The next event, whatever else comes before it.
    ///
    /// # Panics
    /// When the stream ends or nothing comes.
    pub async fn event(&mut self) -> JobEvent {
        loop {
            match self.message().await.expect("the watch goes on") {
                Message::Event(event) => return event,
                Message::CaughtUp(_) | Message::Heartbeat(_) => {}
            }
        }
    }

    /// The events up to the moment when the watch has caught up.
    ///
    /// # Panics
    /// When the stream ends before.
    pub async fn missed(&mut self) -> Vec<JobEvent> {
        let mut events = Vec::new();
        loop {
            match self.message().await.expect("the watch goes on") {
                Message::Event(event) => events.push(event),
                Message::CaughtUp(_) => return events,
                Message::Heartbeat(_) => {}
            }
        }
    }
}

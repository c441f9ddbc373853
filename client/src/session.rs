//! What every command works with: the server, the time limit, and how answers
//! are shown.

use std::future::Future;
use std::time::Duration;

use lamella_proto::v1::booking_service_client::BookingServiceClient;
use lamella_proto::v1::calculator_service_client::CalculatorServiceClient;
use lamella_proto::v1::export_service_client::ExportServiceClient;
use lamella_proto::v1::job_service_client::JobServiceClient;
use lamella_proto::v1::outbox_service_client::OutboxServiceClient;
use lamella_proto::v1::photo_service_client::PhotoServiceClient;
use lamella_proto::v1::plugin_service_client::PluginServiceClient;
use lamella_proto::v1::quote_service_client::QuoteServiceClient;
use lamella_proto::v1::status_service_client::StatusServiceClient;
use lamella_proto::v1::vehicle_service_client::VehicleServiceClient;
use tonic::transport::Channel;
use tonic::{Code, Request, Response, Status};

use crate::connect::{MESSAGE_LIMIT_BYTES, Server};
use crate::errors::CliError;
use crate::json::{self, Canonical};
use crate::output::{self, Format};
use crate::text::View;

/// How long a call may take unless `--timeout` says otherwise.
const DEFAULT_LIMIT: Duration = Duration::from_secs(10);

/// How long a call may take that compiles a plugin, unless `--timeout` says
/// otherwise: one of some megabytes takes many seconds.
const COMPILING_LIMIT: Duration = Duration::from_secs(5 * 60);

/// What every command works with.
#[derive(Debug, Clone)]
pub(crate) struct Session {
    /// The server to ask.
    pub(crate) server: Server,
    /// The limit that was asked for.
    pub(crate) timeout: Option<Duration>,
    /// Text or JSON.
    pub(crate) format: Format,
    /// Units, zone and present moment of the text.
    pub(crate) view: View,
}

impl Session {
    /// The limit on one call.
    pub(crate) fn limit(&self) -> Duration {
        self.timeout.unwrap_or(DEFAULT_LIMIT)
    }

    /// The same, waiting longer: for calls that compile a plugin.
    pub(crate) fn patient(&self) -> Self {
        Self {
            timeout: Some(self.timeout.unwrap_or(COMPILING_LIMIT)),
            ..self.clone()
        }
    }

    /// A connection.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn channel(&self) -> Result<Channel, CliError> {
        self.server.connect(self.limit()).await
    }

    /// The jobs.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn jobs(&self) -> Result<JobServiceClient<Channel>, CliError> {
        let client = JobServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The vehicles.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn vehicles(&self) -> Result<VehicleServiceClient<Channel>, CliError> {
        let client = VehicleServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The bookings of other systems.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn bookings(&self) -> Result<BookingServiceClient<Channel>, CliError> {
        let client = BookingServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The outbox.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn outbox(&self) -> Result<OutboxServiceClient<Channel>, CliError> {
        Ok(OutboxServiceClient::new(self.channel().await?))
    }

    /// The photos.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn photos(&self) -> Result<PhotoServiceClient<Channel>, CliError> {
        let client = PhotoServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The calculators.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn calculators(&self) -> Result<CalculatorServiceClient<Channel>, CliError> {
        let client = CalculatorServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The plugins.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn plugins(&self) -> Result<PluginServiceClient<Channel>, CliError> {
        let client = PluginServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The quotes.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn quotes(&self) -> Result<QuoteServiceClient<Channel>, CliError> {
        let client = QuoteServiceClient::new(self.channel().await?);
        Ok(client.max_decoding_message_size(MESSAGE_LIMIT_BYTES))
    }

    /// The exports.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn exports(&self) -> Result<ExportServiceClient<Channel>, CliError> {
        Ok(ExportServiceClient::new(self.channel().await?))
    }

    /// How the daemon is.
    ///
    /// # Errors
    /// [`CliError::Unreachable`].
    pub(crate) async fn status(&self) -> Result<StatusServiceClient<Channel>, CliError> {
        Ok(StatusServiceClient::new(self.channel().await?))
    }

    /// A request that tells the server how long this client will wait.
    pub(crate) fn request<T>(&self, message: T) -> Request<T> {
        let mut request = Request::new(message);
        request.set_timeout(self.limit());
        request
    }

    /// Waits for an answer, not beyond the limit.
    ///
    /// # Errors
    /// The server's refusal, or [`CliError::TimedOut`].
    pub(crate) fn answer<'a, T: 'a>(
        &'a self,
        call: impl Future<Output = Result<Response<T>, Status>> + 'a,
    ) -> impl Future<Output = Result<T, CliError>> + 'a {
        // A call is some 20 kB; boxed, it does not add up through the callers.
        let call = Box::pin(call);
        self.within(Some(self.limit()), async { Ok(call.await?.into_inner()) })
    }

    /// Waits for `work`, not beyond `limit` if there is one.
    ///
    /// # Errors
    /// What `work` fails with, or [`CliError::TimedOut`].
    pub(crate) async fn within<T>(
        &self,
        limit: Option<Duration>,
        work: impl Future<Output = Result<T, CliError>>,
    ) -> Result<T, CliError> {
        let Some(limit) = limit else {
            return work.await;
        };
        let timed_out = || CliError::TimedOut {
            server: self.server.to_string(),
            limit,
        };
        match tokio::time::timeout(limit, work).await {
            Err(_) => Err(timed_out()),
            // The transport keeps the same limit and may be the first to notice.
            Ok(Err(CliError::Refused(status))) if is_deadline(&status) => Err(timed_out()),
            Ok(done) => done,
        }
    }

    /// Prints an answer: canonical JSON, or the text that `text` makes of it.
    ///
    /// # Errors
    /// When it cannot be written.
    pub(crate) fn show<M: Canonical>(
        &self,
        message: &M,
        text: impl FnOnce(&M, &View) -> String,
    ) -> Result<(), CliError> {
        match self.format {
            Format::Json => output::print(&json::pretty(&json::canonical(message)?)?),
            Format::Text => output::print(&text(message, &self.view)),
        }
    }
}

fn is_deadline(status: &Status) -> bool {
    let expired = status.code() == Code::Cancelled && status.message() == "Timeout expired";
    expired || status.code() == Code::DeadlineExceeded
}

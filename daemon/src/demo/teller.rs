//! Prints the steps of the demo and holds the connection they go over.

use anyhow::Context as _;
use jiff::{SignedDuration, Timestamp};
use lamella_proto::v1::{
    self, calculator_service_client::CalculatorServiceClient, job_service_client::JobServiceClient,
    plugin_service_client::PluginServiceClient, quote_service_client::QuoteServiceClient,
    vehicle_service_client::VehicleServiceClient,
};
use tonic::transport::Channel;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

use crate::clock::Clock;

/// The demo's voice and hands.
pub(super) struct Teller {
    pub(super) jobs: JobServiceClient<Channel>,
    pub(super) vehicles: VehicleServiceClient<Channel>,
    pub(super) plugins: PluginServiceClient<Channel>,
    pub(super) quotes: QuoteServiceClient<Channel>,
    pub(super) calculator: CalculatorServiceClient<Channel>,
    clock: Clock,
    steps: usize,
}

impl Teller {
    pub(super) async fn connect(address: &str, clock: Clock) -> anyhow::Result<Self> {
        let endpoint = tonic::transport::Endpoint::from_shared(format!("http://{address}"))?;
        let channel = endpoint
            .connect()
            .await
            .context("cannot reach the daemon just started")?;
        Ok(Self {
            jobs: JobServiceClient::new(channel.clone()),
            vehicles: VehicleServiceClient::new(channel.clone()),
            plugins: PluginServiceClient::new(channel.clone()),
            quotes: QuoteServiceClient::new(channel.clone()),
            calculator: CalculatorServiceClient::new(channel),
            clock,
            steps: 0,
        })
    }

    #[expect(clippy::print_stdout, reason = "the story is this command's output")]
    pub(super) fn say(&self, text: &str) {
        println!("{text}");
    }

    /// Begins a step: its title, and the command that a person would type.
    pub(super) fn step(&mut self, title: &str, command: &str) {
        self.steps += 1;
        self.say(&format!("\n{}. {title}", self.steps));
        self.command(command);
    }

    /// A further command of the same step.
    pub(super) fn command(&self, command: &str) {
        self.say(&format!("   $ lamella {command}"));
    }

    /// One line of the answer.
    pub(super) fn answer(&self, text: &str) {
        self.say(&format!("   {text}"));
    }

    /// The cautions of an answer.
    pub(super) fn cautions(&self, cautions: &[v1::Caution]) {
        for caution in cautions {
            let severity = match caution.severity() {
                v1::Severity::Unspecified => "?",
                v1::Severity::Info => "info",
                v1::Severity::Caution => "caution",
                v1::Severity::Warning => "WARNING",
                v1::Severity::Stop => "STOP",
            };
            self.say(&format!(
                "   ! {severity}: {} [{}]",
                caution.text, caution.basis
            ));
        }
    }

    /// Sets the demo's clock forward, saying why.
    pub(super) fn wait(&self, hours: i64, why: &str) {
        self.clock.advance(SignedDuration::from_hours(hours));
        self.say(&format!(
            "\n   (the demo's clock is set forward by {hours} h: {why})"
        ));
    }

    pub(super) fn now(&self) -> Timestamp {
        self.clock.now()
    }

    pub(super) fn steps(&self) -> usize {
        self.steps
    }

    /// Prints a refusal that the story counts on, and fails if there was none
    /// or one without each of `codes`.
    pub(super) fn refused<T: std::fmt::Debug>(
        &self,
        answer: Result<T, Status>,
        codes: &[&str],
    ) -> anyhow::Result<()> {
        let status = match answer {
            Ok(answer) => anyhow::bail!("should have been refused, but was answered: {answer:?}"),
            Err(status) => status,
        };
        anyhow::ensure!(
            status.code() == Code::FailedPrecondition,
            "wrong refusal: {status}"
        );
        self.answer("refused:");
        let details = status.get_details_precondition_failure();
        let conditions = details
            .map(|details| details.violations)
            .unwrap_or_default();
        for condition in &conditions {
            self.answer(&format!(
                "  {}: {}",
                condition.r#type, condition.description
            ));
        }
        for code in codes {
            anyhow::ensure!(
                conditions.iter().any(|condition| condition.r#type == *code),
                "the refusal does not name {code}: {status}"
            );
        }
        Ok(())
    }
}

/// Celsius with Fahrenheit beside it.
pub(super) fn temperature(celsius: f64) -> String {
    format!("{celsius:.1} C ({:.1} F)", celsius * 1.8 + 32.0)
}

/// Millilitres with US fluid ounces beside them (29.5735295625 ml, exact: NIST
/// Handbook 44, appendix C).
pub(super) fn volume(ml: f64) -> String {
    format!("{ml:.1} ml ({:.1} US fl oz)", ml / 29.573_529_562_5)
}

/// Millimetres with inches beside them (25.4 mm, exact).
pub(super) fn length(mm: f64) -> String {
    format!("{mm:.0} mm ({:.1} in)", mm / 25.4)
}

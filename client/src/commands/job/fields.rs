//! The fields of a job that can be set from the command line.

use std::convert::Infallible;
use std::str::FromStr;

use lamella_proto::v1;

use crate::commands::shared::instant;
use crate::errors::CliError;
use crate::names::VehicleName;
use crate::session::Session;
use crate::times::TimeArg;

/// Fields of a job. What is not given is left alone.
#[derive(Debug, Clone, Default, clap::Args)]
pub(crate) struct FieldArgs {
    /// The vehicle, by name or id; needed before the car is received.
    #[arg(long)]
    vehicle: Option<VehicleName>,
    /// The promised hand-over: "tomorrow 17:00".
    #[arg(long, value_name = "TIME")]
    promise: Option<TimeArg>,
    /// Who to call.
    #[arg(long, value_name = "NAME")]
    customer: Option<String>,
    /// Telephone number.
    #[arg(long, value_name = "NUMBER")]
    phone: Option<String>,
    /// E-mail address.
    #[arg(long, value_name = "ADDRESS")]
    email: Option<String>,
    /// Condition on arrival.
    #[arg(long, value_name = "TEXT")]
    arrival: Option<String>,
    /// What the customer wishes for.
    #[arg(long, value_name = "TEXT")]
    wishes: Option<String>,
    /// What is to be done, and on which panels; repeat for more.
    #[arg(long, value_name = "CODE[:PANEL,PANEL]")]
    service: Vec<ServiceSpec>,
}

/// A service as typed: `correct-one-step:hood,roof`.
#[derive(Debug, Clone, PartialEq)]
struct ServiceSpec(v1::Service);

impl FromStr for ServiceSpec {
    type Err = Infallible;

    fn from_str(text: &str) -> Result<Self, Infallible> {
        let (code, panels) = text.split_once(':').unwrap_or((text, ""));
        let panels = panels
            .split(',')
            .map(str::trim)
            .filter(|panel| !panel.is_empty());
        Ok(Self(v1::Service {
            code: code.trim().to_owned(),
            description: String::new(),
            panels: panels.map(str::to_owned).collect(),
        }))
    }
}

impl FieldArgs {
    /// Whether any part of the customer is given. The API takes the customer
    /// as a whole.
    pub(crate) fn touches_customer(&self) -> bool {
        self.customer.is_some() || self.phone.is_some() || self.email.is_some()
    }

    /// Writes what is given into `job` and returns the paths written.
    ///
    /// # Errors
    /// When the promise lies outside the calendar.
    pub(crate) fn write(
        self,
        job: &mut v1::Job,
        session: &Session,
    ) -> Result<Vec<String>, CliError> {
        let mut paths = Vec::new();
        if self.touches_customer() {
            let customer = job.customer.get_or_insert_default();
            set(&mut customer.display_name, self.customer);
            set(&mut customer.phone, self.phone);
            set(&mut customer.email, self.email);
            paths.push("customer");
        }
        if set(&mut job.vehicle, self.vehicle.map(|name| name.0)) {
            paths.push("vehicle");
        }
        if let Some(promise) = instant(self.promise, session)? {
            job.promise_time = Some(promise);
            paths.push("promise_time");
        }
        if set(&mut job.arrival_condition, self.arrival) {
            paths.push("arrival_condition");
        }
        if set(&mut job.wishes, self.wishes) {
            paths.push("wishes");
        }
        if !self.service.is_empty() {
            job.services = self.service.into_iter().map(|service| service.0).collect();
            paths.push("services");
        }
        Ok(paths.into_iter().map(str::to_owned).collect())
    }
}

fn set(field: &mut String, value: Option<String>) -> bool {
    let given = value.is_some();
    if let Some(value) = value {
        *field = value;
    }
    given
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn services_as_typed() {
        let service = |text: &str| text.parse::<ServiceSpec>().unwrap().0;
        assert_eq!(service("wash").code, "wash");
        assert!(service("wash").panels.is_empty());
        assert_eq!(service("polish:hood, roof").panels, ["hood", "roof"]);
    }
}

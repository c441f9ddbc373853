//! The job itself: what a person writes about it, and what the daemon keeps.

use jiff::Timestamp;
use lamella_calc::violation::Checks;

use crate::check;
use crate::stage::Stage;

/// The fields of a job that a person writes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct JobFields {
    /// Name for people, 1 to 200 characters. The only field that must be set.
    pub display_name: String,
    /// Id of the vehicle; needed from received on.
    pub vehicle: Option<String>,
    /// Who to call. Personal data: never logged.
    pub customer: Option<Customer>,
    /// What is to be done, at most 200.
    pub services: Vec<Service>,
    /// The promised hand-over.
    pub promise_time: Option<Timestamp>,
    /// Condition on arrival, up to 4000 characters.
    pub arrival_condition: String,
    /// What the customer wishes for, up to 4000 characters.
    pub wishes: String,
    /// The customer's yes.
    pub approval: Option<Approval>,
}

/// Who to call.
#[derive(Clone, Default, PartialEq)]
pub struct Customer {
    /// Name, up to 200 characters.
    pub display_name: String,
    /// Telephone number as written, up to 64 characters.
    pub phone: String,
    /// E-mail address, up to 254 characters.
    pub email: String,
}

impl std::fmt::Debug for Customer {
    // Debug output ends up in logs, and a customer must not.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Customer(..)")
    }
}

/// One thing to be done on some panels.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Service {
    /// Code in the shop's own list, an id of 1 to 63 characters.
    pub code: String,
    /// What it is, up to 1000 characters.
    pub description: String,
    /// The panel ids it is done on; empty means the whole car.
    pub panels: Vec<String>,
}

/// The customer's yes.
#[derive(Debug, Clone, PartialEq)]
pub struct Approval {
    /// Who said yes, 1 to 200 characters.
    pub approved_by: String,
    /// When.
    pub approve_time: Timestamp,
    /// The price said yes to, tax included.
    pub amount: Option<Money>,
    /// How it was given, up to 1000 characters.
    pub note: String,
    /// Id of the job's quote that was said yes to; set by accepting it.
    pub quote: Option<String>,
}

/// An amount of money in a currency's minor unit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Money {
    /// ISO 4217 code, three upper-case letters.
    pub currency_code: String,
    /// Amount in the minor unit: cents for EUR, yen for JPY.
    pub minor_units: i64,
}

/// A job as the daemon keeps it.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its id, the last segment of `jobs/{job}`.
    pub id: String,
    /// What a person wrote.
    pub fields: JobFields,
    /// Where it stands.
    pub stage: Stage,
    /// When it was created.
    pub create_time: Timestamp,
    /// When its fields or stage last changed.
    pub update_time: Timestamp,
    /// When it was deleted.
    pub delete_time: Option<Timestamp>,
}

/// A field of a job that an update may name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobField {
    /// `display_name`
    DisplayName,
    /// `vehicle`
    Vehicle,
    /// `customer`
    Customer,
    /// `services`
    Services,
    /// `promise_time`
    PromiseTime,
    /// `arrival_condition`
    ArrivalCondition,
    /// `wishes`
    Wishes,
    /// `approval`
    Approval,
}

impl JobField {
    /// Every field that may be updated.
    pub const ALL: [Self; 8] = [
        Self::DisplayName,
        Self::Vehicle,
        Self::Customer,
        Self::Services,
        Self::PromiseTime,
        Self::ArrivalCondition,
        Self::Wishes,
        Self::Approval,
    ];

    /// The field's name in the API.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::DisplayName => "display_name",
            Self::Vehicle => "vehicle",
            Self::Customer => "customer",
            Self::Services => "services",
            Self::PromiseTime => "promise_time",
            Self::ArrivalCondition => "arrival_condition",
            Self::Wishes => "wishes",
            Self::Approval => "approval",
        }
    }

    /// Whether `fields` holds something for this field.
    pub fn is_set_in(self, fields: &JobFields) -> bool {
        match self {
            Self::DisplayName => !fields.display_name.is_empty(),
            Self::Vehicle => fields.vehicle.is_some(),
            Self::Customer => fields.customer.is_some(),
            Self::Services => !fields.services.is_empty(),
            Self::PromiseTime => fields.promise_time.is_some(),
            Self::ArrivalCondition => !fields.arrival_condition.is_empty(),
            Self::Wishes => !fields.wishes.is_empty(),
            Self::Approval => fields.approval.is_some(),
        }
    }

    fn copy(self, from: &JobFields, to: &mut JobFields) {
        match self {
            Self::DisplayName => to.display_name.clone_from(&from.display_name),
            Self::Vehicle => to.vehicle.clone_from(&from.vehicle),
            Self::Customer => to.customer.clone_from(&from.customer),
            Self::Services => to.services.clone_from(&from.services),
            Self::PromiseTime => to.promise_time = from.promise_time,
            Self::ArrivalCondition => to.arrival_condition.clone_from(&from.arrival_condition),
            Self::Wishes => to.wishes.clone_from(&from.wishes),
            Self::Approval => to.approval.clone_from(&from.approval),
        }
    }
}

impl JobFields {
    /// These fields with those of `mask` taken from `from`.
    #[must_use]
    pub fn updated(&self, from: &Self, mask: &[JobField]) -> Self {
        let mut fields = self.clone();
        for field in mask {
            field.copy(from, &mut fields);
        }
        fields
    }

    /// Puts every violation of the stated ranges into `checks`, below `path`.
    pub fn check(&self, checks: &mut Checks, path: &str) {
        check::text(
            checks,
            &check::join(path, "display_name"),
            &self.display_name,
            1,
            200,
        );
        check::text(
            checks,
            &check::join(path, "arrival_condition"),
            &self.arrival_condition,
            0,
            4000,
        );
        check::text(checks, &check::join(path, "wishes"), &self.wishes, 0, 4000);
        if let Some(vehicle) = &self.vehicle {
            check::id(checks, &check::join(path, "vehicle"), vehicle);
        }
        if let Some(customer) = &self.customer {
            let path = check::join(path, "customer");
            check::text(
                checks,
                &check::join(&path, "display_name"),
                &customer.display_name,
                0,
                200,
            );
            check::text(checks, &check::join(&path, "phone"), &customer.phone, 0, 64);
            check::text(
                checks,
                &check::join(&path, "email"),
                &customer.email,
                0,
                254,
            );
        }
        check::count(
            checks,
            &check::join(path, "services"),
            self.services.len(),
            0,
            200,
        );
        for (index, service) in self.services.iter().enumerate() {
            let path = format!("{}[{index}]", check::join(path, "services"));
            check::id(checks, &check::join(&path, "code"), &service.code);
            check::text(
                checks,
                &check::join(&path, "description"),
                &service.description,
                0,
                1000,
            );
            check::panel_ids(checks, &check::join(&path, "panels"), &service.panels, 0);
        }
        if let Some(approval) = &self.approval {
            approval.check(checks, &check::join(path, "approval"));
        }
    }
}

impl Approval {
    /// Puts every violation of the stated ranges into `checks`, below `path`.
    pub fn check(&self, checks: &mut Checks, path: &str) {
        check::text(
            checks,
            &check::join(path, "approved_by"),
            &self.approved_by,
            1,
            200,
        );
        check::text(checks, &check::join(path, "note"), &self.note, 0, 1000);
        if let Some(amount) = &self.amount {
            amount.check(checks, &check::join(path, "amount"));
        }
    }
}

impl Money {
    /// Puts a malformed currency code or a negative amount into `checks`.
    pub fn check(&self, checks: &mut Checks, path: &str) {
        let code = &self.currency_code;
        checks.require(
            code.len() == 3 && code.bytes().all(|byte| byte.is_ascii_uppercase()),
            check::join(path, "currency_code"),
            || {
                format!(
                    "must be an ISO 4217 code of three upper-case letters, got {}",
                    check::quote(code)
                )
            },
        );
        checks.require(
            self.minor_units >= 0,
            check::join(path, "minor_units"),
            || format!("must not be negative, got {}", self.minor_units),
        );
    }
}

//! Canonical protobuf JSON, in and out: the mapping of the Protocol Buffers
//! documentation, "ProtoJSON Format".

use std::sync::LazyLock;

use lamella_proto::v1;
use prost_reflect::{DescriptorError, DescriptorPool, DynamicMessage, MessageDescriptor};

/// A message of the API that can be printed as JSON.
pub(crate) trait Canonical: prost::Message {
    /// Its full name.
    const NAME: &'static str;
}

/// Why JSON and a message do not go together.
#[derive(Debug, thiserror::Error)]
pub(crate) enum JsonError {
    /// Not JSON, or not of the message's shape.
    #[error("{message}: {}{source}", place(path))]
    Read {
        /// Full name of the message.
        message: String,
        /// Where in the JSON; empty at the top.
        path: String,
        /// What is wrong.
        source: serde_json::Error,
    },
    /// More than one value where one was expected.
    #[error("one JSON object is expected: {0}")]
    Trailing(serde_json::Error),
    /// The descriptors that this client was built with cannot be used.
    #[error("the API's descriptors cannot be used: {0}")]
    Descriptors(String),
    /// The descriptors do not know the message.
    #[error("the API's descriptors have no message {0}")]
    Unknown(&'static str),
    /// The message does not decode as what it says it is.
    #[error("a message cannot be read again: {0}")]
    Decode(prost::DecodeError),
    /// The message cannot be written as JSON, for example an impossible time.
    #[error("a message has no JSON form: {0}")]
    Write(serde_json::Error),
}

macro_rules! canonical {
    ($($message:ident),* $(,)?) => {
        $(impl Canonical for v1::$message {
            const NAME: &'static str = concat!("lamella.v1.", stringify!($message));
        })*

        #[cfg(test)]
        const NAMES: &[&str] = &[$(<v1::$message as Canonical>::NAME),*];
    };
}

canonical!(
    AcceptQuoteResponse,
    AdvanceStageResponse,
    AdvisePassResponse,
    AppendRecordResponse,
    AssessPaintResponse,
    BlendStrengthsResponse,
    Booking,
    CompareQuotesResponse,
    DaemonStatus,
    DewPointResponse,
    DiluteResponse,
    ExportCalendarResponse,
    ImportCalendarResponse,
    Job,
    ListBookingsResponse,
    ListDeadLettersResponse,
    ListJobHistoryResponse,
    ListJobsResponse,
    ListPaintLedgerResponse,
    ListPluginsResponse,
    ListQuotesResponse,
    ListPhotosResponse,
    ListRecordsResponse,
    ListShopProductsResponse,
    ListVehiclesResponse,
    MeasureFilmResponse,
    MeasureRemovalResponse,
    Outbox,
    Plugin,
    Photo,
    PredictHeatResponse,
    Quote,
    RerunQuoteResponse,
    RetryDeadLetterResponse,
    TimeCureResponse,
    TryPluginResponse,
    UpsertBookingResponse,
    Vehicle,
    WatchJobsResponse,
);

/// Reads a request. Field names may be written in either case.
///
/// # Errors
/// Names the field at fault.
pub(crate) fn read(message: MessageDescriptor, text: &str) -> Result<DynamicMessage, JsonError> {
    let mut json = serde_json::Deserializer::from_str(text);
    let message = read_one(message, &mut json)?;
    json.end().map_err(JsonError::Trailing)?;
    Ok(message)
}

/// Reads requests one after the other, as many as there are.
///
/// # Errors
/// Names the field at fault.
pub(crate) fn read_all(
    message: &MessageDescriptor,
    text: &str,
) -> Result<Vec<DynamicMessage>, JsonError> {
    let mut json = serde_json::Deserializer::from_str(text);
    let mut messages = Vec::new();
    while json.end().is_err() {
        messages.push(read_one(message.clone(), &mut json)?);
    }
    Ok(messages)
}

/// The message with its descriptor, which is what JSON is written from.
///
/// # Errors
/// When this client was built with other descriptors than its messages.
pub(crate) fn canonical<M: Canonical>(message: &M) -> Result<DynamicMessage, JsonError> {
    static POOL: LazyLock<Result<DescriptorPool, DescriptorError>> =
        LazyLock::new(|| DescriptorPool::decode(lamella_proto::FILE_DESCRIPTOR_SET));
    let pool = POOL
        .as_ref()
        .map_err(|error| JsonError::Descriptors(error.to_string()))?;
    let descriptor = pool
        .get_message_by_name(M::NAME)
        .ok_or(JsonError::Unknown(M::NAME))?;
    DynamicMessage::decode(descriptor, message.encode_to_vec().as_slice())
        .map_err(JsonError::Decode)
}

/// Over several lines, for people.
///
/// # Errors
/// When the message has no JSON form.
pub(crate) fn pretty(message: &DynamicMessage) -> Result<String, JsonError> {
    serde_json::to_string_pretty(message).map_err(JsonError::Write)
}

/// On one line, for streams.
///
/// # Errors
/// When the message has no JSON form.
pub(crate) fn compact(message: &DynamicMessage) -> Result<String, JsonError> {
    serde_json::to_string(message).map_err(JsonError::Write)
}

fn read_one(
    message: MessageDescriptor,
    json: &mut serde_json::Deserializer<serde_json::de::StrRead<'_>>,
) -> Result<DynamicMessage, JsonError> {
    let name = message.full_name().to_owned();
    let mut track = serde_path_to_error::Track::new();
    let tracked = serde_path_to_error::Deserializer::new(json, &mut track);
    DynamicMessage::deserialize(message, tracked).map_err(|source| JsonError::Read {
        message: name,
        path: track.path().to_string(),
        source,
    })
}

fn place(path: &str) -> String {
    // The tracker writes `.` for the top, and `?` where it could not follow.
    if matches!(path, "" | "." | "?") {
        String::new()
    } else {
        format!("{path}: ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn descriptor(name: &str) -> MessageDescriptor {
        DescriptorPool::decode(lamella_proto::FILE_DESCRIPTOR_SET)
            .unwrap()
            .get_message_by_name(name)
            .unwrap()
    }

    fn refusal(name: &str, text: &str) -> String {
        read(descriptor(name), text).unwrap_err().to_string()
    }

    #[test]
    fn every_printable_message_is_in_the_descriptors() {
        for name in NAMES {
            assert_eq!(descriptor(name).full_name(), *name);
        }
    }

    // ProtoJSON Format: lowerCamelCase out, both spellings in, int64 as a
    // string, timestamps as RFC 3339, defaults left out.
    #[test]
    fn canonical_json_of_a_job() {
        let job = v1::Job {
            name: "jobs/a".to_owned(),
            display_name: "Blue estate".to_owned(),
            stage: v1::Stage::Booked.into(),
            promise_time: Some(prost_types::Timestamp {
                seconds: 1_772_470_800,
                nanos: 0,
            }),
            approval: Some(v1::Approval {
                amount: Some(v1::Money {
                    currency_code: "EUR".to_owned(),
                    minor_units: 85_000,
                }),
                ..Default::default()
            }),
            ..Default::default()
        };
        insta::assert_snapshot!(compact(&canonical(&job).unwrap()).unwrap(), @r#"{"name":"jobs/a","displayName":"Blue estate","stage":"STAGE_BOOKED","promiseTime":"2026-03-02T17:00:00Z","approval":{"amount":{"currencyCode":"EUR","minorUnits":"85000"}}}"#);
    }

    #[test]
    fn both_spellings_are_read() {
        let name = "lamella.v1.CreateJobRequest";
        for text in [
            r#"{"job":{"display_name":"x"}}"#,
            r#"{"job":{"displayName":"x"}}"#,
        ] {
            let job = read(descriptor(name), text).unwrap();
            assert_eq!(compact(&job).unwrap(), r#"{"job":{"displayName":"x"}}"#);
        }
    }

    #[test]
    fn requests_one_after_the_other() {
        let list = descriptor("lamella.v1.ListJobsRequest");
        let read = |text: &str| match read_all(&list, text) {
            Ok(all) => all.iter().map(|one| compact(one).unwrap()).collect(),
            Err(error) => vec![error.to_string()],
        };
        assert_eq!(read(" \n"), Vec::<String>::new());
        assert_eq!(
            read("{\"pageSize\":1}\n\n{\"page_size\":\n2}"),
            [r#"{"pageSize":1}"#, r#"{"pageSize":2}"#]
        );
        insta::assert_snapshot!(read("{}\n{\"page_siz\":1}").concat(), @"lamella.v1.ListJobsRequest: unrecognized field name 'page_siz' at line 2 column 11");
        insta::assert_snapshot!(read("{}\n}").concat(), @"lamella.v1.ListJobsRequest: expected value at line 2 column 1");
    }

    #[test]
    fn the_field_at_fault_is_named() {
        let create = "lamella.v1.CreateJobRequest";
        let list = "lamella.v1.ListJobsRequest";
        let dilute = "lamella.v1.DiluteRequest";
        let all = [
            refusal(create, r#"{"job":{"display_nam":"x"}}"#),
            refusal(create, r#"{"job":{"promise_time":"tomorrow"}}"#),
            refusal(list, r#"{"filter":{"stages":["BOOKED"]}}"#),
            refusal(list, r#"{"page_size":1e12}"#),
            refusal(dilute, r#"{"stock":{"percent":1,"label":"1:10"}}"#),
            refusal(dilute, r#"{"total_ml":"a litre"}"#),
            refusal(list, "{"),
            refusal(list, "[]"),
            refusal(list, "{} {}"),
        ];
        insta::assert_snapshot!(all.join("\n"), @"
        lamella.v1.CreateJobRequest: job: unrecognized field name 'display_nam' at line 1 column 21
        lamella.v1.CreateJobRequest: job.promise_time: invalid rfc3339 timestamp: invalid date at line 1 column 33
        lamella.v1.ListJobsRequest: filter.stages[0]: unrecognized enum value 'BOOKED' at line 1 column 29
        lamella.v1.ListJobsRequest: page_size: float value out of range at line 1 column 17
        lamella.v1.DiluteRequest: stock: multiple fields provided for oneof 'form' at line 1 column 37
        lamella.v1.DiluteRequest: total_ml: invalid float literal at line 1 column 21
        lamella.v1.ListJobsRequest: EOF while parsing an object at line 1 column 1
        lamella.v1.ListJobsRequest: invalid type: sequence, expected a map at line 1 column 0
        one JSON object is expected: trailing characters at line 1 column 4
        ");
    }
}

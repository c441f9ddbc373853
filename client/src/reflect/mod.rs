//! Finding a method on the server itself, through gRPC server reflection v1,
//! so that `lamella call` reaches whatever the server offers.

mod codec;

use std::collections::HashSet;

use prost::Message as _;
use prost_reflect::{DescriptorError, DescriptorPool, MethodDescriptor, ServiceDescriptor};
use prost_types::FileDescriptorProto;
use tokio_stream::StreamExt as _;
use tonic::transport::Channel;
use tonic::{Code, Status};
use tonic_reflection::pb::v1::server_reflection_client::ServerReflectionClient;
use tonic_reflection::pb::v1::server_reflection_request::MessageRequest;
use tonic_reflection::pb::v1::server_reflection_response::MessageResponse;
use tonic_reflection::pb::v1::{ServerReflectionRequest, ServerReflectionResponse};

pub(crate) use codec::DynamicCodec;

use crate::connect::MESSAGE_LIMIT_BYTES;
use crate::errors::Exit;

/// Why a method cannot be found out.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ReflectError {
    /// Not of the form `SERVICE/METHOD`.
    #[error(
        "`{given}` is not SERVICE/METHOD, for example lamella.v1.JobService/ListJobs or \
         JobService/ListJobs"
    )]
    Form {
        /// What was given.
        given: String,
    },
    /// No such service.
    #[error("the server has no service `{service}`; it has: {}", known.join(", "))]
    Service {
        /// The service asked for.
        service: String,
        /// Those that there are.
        known: Vec<String>,
    },
    /// A short name that fits more than one service.
    #[error("`{service}` could be any of: {}", known.join(", "))]
    Ambiguous {
        /// The short name.
        service: String,
        /// The services that it fits.
        known: Vec<String>,
    },
    /// No such method.
    #[error("{service} has no method `{method}`; it has: {}", known.join(", "))]
    Method {
        /// The service.
        service: String,
        /// The method asked for.
        method: String,
        /// Those that there are.
        known: Vec<String>,
    },
    /// The server does not offer reflection.
    #[error("the server offers no reflection (grpc.reflection.v1), which `call` needs")]
    Unsupported,
    /// The server refused to answer.
    #[error("{0}")]
    Status(Box<Status>),
    /// The server's answer makes no sense.
    #[error("the server's reflection answered {0}")]
    Answer(String),
    /// The server's descriptors cannot be used.
    #[error("the server's descriptors cannot be used: {0}")]
    Descriptors(#[from] DescriptorError),
}

impl ReflectError {
    /// The exit code: a wrong name is the caller's mistake, anything else the
    /// server's answer.
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Self::Form { .. }
            | Self::Service { .. }
            | Self::Ambiguous { .. }
            | Self::Method { .. } => Exit::Usage,
            Self::Status(status) => Exit::of_code(status.code()),
            Self::Unsupported | Self::Answer(_) | Self::Descriptors(_) => Exit::Refused,
        }
    }
}

impl From<Status> for ReflectError {
    fn from(status: Status) -> Self {
        match status.code() {
            Code::Unimplemented => Self::Unsupported,
            _ => Self::Status(Box::new(status)),
        }
    }
}

/// Splits `SERVICE/METHOD`.
///
/// # Errors
/// [`ReflectError::Form`].
pub(crate) fn split(target: &str) -> Result<(&str, &str), ReflectError> {
    match target.trim_start_matches('/').split_once('/') {
        Some((service, method))
            if !service.is_empty() && !method.is_empty() && !method.contains('/') =>
        {
            Ok((service, method))
        }
        Some(_) | None => Err(ReflectError::Form {
            given: target.to_owned(),
        }),
    }
}

/// Asks the server for a method. The service may be named without its package.
///
/// # Errors
/// Names what there is instead, when there is no such service or method.
pub(crate) async fn resolve(
    channel: Channel,
    service: &str,
    method: &str,
) -> Result<MethodDescriptor, ReflectError> {
    let mut client =
        ServerReflectionClient::new(channel).max_decoding_message_size(MESSAGE_LIMIT_BYTES);
    let service = full_name(service, services(&mut client).await?)?;
    let descriptor = service_descriptor(&mut client, &service).await?;
    find_method(&descriptor, method)
}

type Client = ServerReflectionClient<Channel>;

/// The full name of the one service that `wanted` fits.
fn full_name(wanted: &str, known: Vec<String>) -> Result<String, ReflectError> {
    if known.iter().any(|name| name == wanted) {
        return Ok(wanted.to_owned());
    }
    let suffix = format!(".{wanted}");
    let mut fits: Vec<String> = known
        .iter()
        .filter(|name| name.ends_with(&suffix))
        .cloned()
        .collect();
    match (fits.pop(), fits.is_empty()) {
        (Some(one), true) => Ok(one),
        (Some(last), false) => {
            fits.push(last);
            Err(ReflectError::Ambiguous {
                service: wanted.to_owned(),
                known: fits,
            })
        }
        (None, _) => Err(ReflectError::Service {
            service: wanted.to_owned(),
            known,
        }),
    }
}

fn find_method(
    service: &ServiceDescriptor,
    wanted: &str,
) -> Result<MethodDescriptor, ReflectError> {
    service
        .methods()
        .find(|method| method.name() == wanted)
        .ok_or_else(|| ReflectError::Method {
            service: service.full_name().to_owned(),
            method: wanted.to_owned(),
            known: service
                .methods()
                .map(|method| method.name().to_owned())
                .collect(),
        })
}

async fn services(client: &mut Client) -> Result<Vec<String>, ReflectError> {
    let answers = ask(client, vec![MessageRequest::ListServices(String::new())]).await?;
    let mut names = Vec::new();
    for answer in answers {
        match answer {
            MessageResponse::ListServicesResponse(list) => {
                names.extend(list.service.into_iter().map(|service| service.name));
            }
            other => return Err(unexpected(&other)),
        }
    }
    Ok(names)
}

/// Fetches the service's file and all that it imports.
async fn service_descriptor(
    client: &mut Client,
    service: &str,
) -> Result<ServiceDescriptor, ReflectError> {
    let mut files: Vec<FileDescriptorProto> = Vec::new();
    let mut seen: HashSet<String> = HashSet::new();
    let mut wanted = vec![MessageRequest::FileContainingSymbol(service.to_owned())];
    while !wanted.is_empty() {
        let mut imports = Vec::new();
        for file in fetch(client, std::mem::take(&mut wanted)).await? {
            if seen.insert(file.name().to_owned()) {
                imports.extend(file.dependency.iter().cloned());
                files.push(file);
            }
        }
        imports.sort();
        imports.dedup();
        imports.retain(|name| !seen.contains(name));
        wanted = imports
            .into_iter()
            .map(MessageRequest::FileByFilename)
            .collect();
    }
    let mut pool = DescriptorPool::new();
    pool.add_file_descriptor_protos(files)?;
    pool.get_service_by_name(service).ok_or_else(|| {
        ReflectError::Answer(format!("with a file that does not hold service {service}"))
    })
}

async fn fetch(
    client: &mut Client,
    wanted: Vec<MessageRequest>,
) -> Result<Vec<FileDescriptorProto>, ReflectError> {
    let mut files = Vec::new();
    for answer in ask(client, wanted).await? {
        match answer {
            MessageResponse::FileDescriptorResponse(response) => {
                for bytes in response.file_descriptor_proto {
                    let file = FileDescriptorProto::decode(bytes.as_slice()).map_err(|error| {
                        ReflectError::Answer(format!("with a broken file descriptor: {error}"))
                    })?;
                    files.push(file);
                }
            }
            other => return Err(unexpected(&other)),
        }
    }
    Ok(files)
}

/// Sends the questions and collects as many answers.
async fn ask(
    client: &mut Client,
    questions: Vec<MessageRequest>,
) -> Result<Vec<MessageResponse>, ReflectError> {
    let expected = questions.len();
    let requests = questions
        .into_iter()
        .map(|question| ServerReflectionRequest {
            host: String::new(),
            message_request: Some(question),
        });
    let requests = tokio_stream::iter(requests.collect::<Vec<_>>());
    let mut stream = client.server_reflection_info(requests).await?.into_inner();
    let mut answers = Vec::with_capacity(expected);
    while let Some(response) = stream.next().await {
        let ServerReflectionResponse {
            message_response, ..
        } = response?;
        answers.extend(message_response);
    }
    if answers.len() == expected {
        Ok(answers)
    } else {
        Err(ReflectError::Answer(format!(
            "{} of {expected} questions",
            answers.len()
        )))
    }
}

fn unexpected(answer: &MessageResponse) -> ReflectError {
    match answer {
        MessageResponse::ErrorResponse(error) => {
            let status = Status::new(Code::from(error.error_code), error.error_message.clone());
            ReflectError::Status(Box::new(status))
        }
        MessageResponse::FileDescriptorResponse(_)
        | MessageResponse::AllExtensionNumbersResponse(_)
        | MessageResponse::ListServicesResponse(_) => {
            ReflectError::Answer("another question than the one asked".to_owned())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known() -> Vec<String> {
        [
            "lamella.v1.JobService",
            "lamella.v2.JobService",
            "grpc.health.v1.Health",
        ]
        .map(str::to_owned)
        .to_vec()
    }

    #[test]
    fn names_are_found_short_and_long() {
        assert_eq!(
            full_name("Health", known()).unwrap(),
            "grpc.health.v1.Health"
        );
        assert_eq!(
            full_name("lamella.v1.JobService", known()).unwrap(),
            "lamella.v1.JobService"
        );
        assert_eq!(
            full_name("v1.JobService", known()).unwrap(),
            "lamella.v1.JobService"
        );
    }

    #[test]
    fn wrong_names_show_the_right_ones_and_are_usage_errors() {
        let errors = [
            full_name("JobService", known()).unwrap_err(),
            full_name("Service", known()).unwrap_err(),
            split("JobService").unwrap_err(),
            split("a/b/c").unwrap_err(),
        ];
        assert!(errors.iter().all(|error| error.exit() == Exit::Usage));
        insta::assert_snapshot!(errors.map(|error| error.to_string()).join("\n"), @"
        `JobService` could be any of: lamella.v1.JobService, lamella.v2.JobService
        the server has no service `Service`; it has: lamella.v1.JobService, lamella.v2.JobService, grpc.health.v1.Health
        `JobService` is not SERVICE/METHOD, for example lamella.v1.JobService/ListJobs or JobService/ListJobs
        `a/b/c` is not SERVICE/METHOD, for example lamella.v1.JobService/ListJobs or JobService/ListJobs
        ");
    }

    #[test]
    fn a_wrong_method_shows_the_right_ones() {
        let pool = DescriptorPool::decode(lamella_proto::FILE_DESCRIPTOR_SET).unwrap();
        let service = pool
            .get_service_by_name("lamella.v1.CalculatorService")
            .unwrap();
        assert_eq!(find_method(&service, "Dilute").unwrap().name(), "Dilute");
        let error = find_method(&service, "Dilutee").unwrap_err();
        assert_eq!(error.exit(), Exit::Usage);
        insta::assert_snapshot!(error, @"lamella.v1.CalculatorService has no method `Dilutee`; it has: Dilute, BlendStrengths, MeasureFilm, TimeCure, AdvisePass, DewPoint, PredictHeat, AssessPaint, MeasureRemoval");
    }
}

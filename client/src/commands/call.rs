//! `lamella call`: any method of the server, in canonical protobuf JSON.

use std::io::Read as _;
use std::time::Duration;

use http::uri::PathAndQuery;
use prost_reflect::{DynamicMessage, MethodDescriptor};
use tonic::client::Grpc;
use tonic::transport::Channel;
use tonic::{Request, Status};

use crate::connect::MESSAGE_LIMIT_BYTES;
use crate::errors::{CliError, chain};
use crate::reflect::{self, DynamicCodec, ReflectError};
use crate::session::Session;
use crate::{json, output};

/// Call any method of the server with JSON.
///
/// The method is found through server reflection, so that everything the
/// server offers can be reached. The request is canonical protobuf JSON; field
/// names may be written in snake_case or lowerCamelCase. A method that streams
/// prints one JSON object to a line; one that is streamed to takes one object
/// after the other, with bytes in base64.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  lamella call JobService/CreateJob '{\"job\":{\"display_name\":\"Blue estate\"}}'
  lamella call lamella.v1.CalculatorService/DewPoint '{\"air_c\":25,\"relative_humidity_percent\":60}'
  echo '{\"page_size\":1000}' | lamella call JobService/ListJobs -
  lamella call PluginService/InstallPlugin - < header-and-chunks.json")]
pub(crate) struct Args {
    /// SERVICE/METHOD, with or without the package.
    #[arg(value_name = "SERVICE/METHOD")]
    method: String,
    /// The request as JSON, or `-` to read it from standard input.
    #[arg(value_name = "JSON|-", default_value = "{}")]
    json: String,
    /// Print the answer on one line.
    #[arg(long)]
    compact: bool,
}

/// Runs the command.
///
/// # Errors
/// Usage errors name the method or field; others are the server's.
pub(crate) async fn run(args: Args, session: &Session) -> Result<(), CliError> {
    let (service, method) = reflect::split(&args.method)?;
    let text = if args.json == "-" {
        read_stdin()?
    } else {
        args.json
    };
    let channel = session.channel().await?;
    let resolving = async { Ok(reflect::resolve(channel.clone(), service, method).await?) };
    let method = session.within(Some(session.limit()), resolving).await?;
    let requests = if method.is_client_streaming() {
        json::read_all(&method.input(), &text)?
    } else {
        vec![json::read(method.input(), &text)?]
    };
    let one_line = args.compact || method.is_server_streaming();
    let limit = deadline(session, &method);
    session
        .within(limit, exchange(channel, &method, requests, limit, one_line))
        .await
}

/// Sends the requests and prints what comes back. A method of any kind is a
/// stream of messages each way.
async fn exchange(
    channel: Channel,
    method: &MethodDescriptor,
    messages: Vec<DynamicMessage>,
    limit: Option<Duration>,
    one_line: bool,
) -> Result<(), CliError> {
    let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
    let path: PathAndQuery = path
        .parse()
        .map_err(|_| ReflectError::Answer(format!("with a name that is no path: {path}")))?;
    let mut request = Request::new(tokio_stream::iter(messages));
    if let Some(limit) = limit {
        request.set_timeout(limit);
    }
    let mut client = Grpc::new(channel).max_decoding_message_size(MESSAGE_LIMIT_BYTES);
    client
        .ready()
        .await
        .map_err(|error| Status::unavailable(chain(&error)))?;
    let answers = client
        .streaming(request, path, DynamicCodec::of(method))
        .await?;
    let mut answers = answers.into_inner();
    while let Some(answer) = answers.message().await? {
        output::print(&if one_line {
            json::compact(&answer)?
        } else {
            json::pretty(&answer)?
        })?;
    }
    Ok(())
}

/// A stream goes on until somebody ends it, unless a limit was asked for.
fn deadline(session: &Session, method: &MethodDescriptor) -> Option<Duration> {
    if method.is_server_streaming() {
        session.timeout
    } else if method.is_client_streaming() {
        // What is sent piece by piece is worked on at length.
        Some(session.patient().limit())
    } else {
        Some(session.limit())
    }
}

fn read_stdin() -> Result<String, CliError> {
    let mut text = String::new();
    std::io::stdin()
        .read_to_string(&mut text)
        .map_err(|source| CliError::Read {
            what: "standard input".to_owned(),
            source,
        })?;
    Ok(text)
}

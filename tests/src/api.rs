//! The API from the outside: typed clients, and any method as JSON.
//!
//! JSON goes out and comes back with the field names of the protos. It can say
//! what typed messages cannot: `"NaN"`, an enum number that does not exist.

use std::sync::LazyLock;
use std::time::Duration;

use http::uri::PathAndQuery;
use lamella_proto::FILE_DESCRIPTOR_SET;
use lamella_proto::v1::{
    calculator_service_client::CalculatorServiceClient, job_service_client::JobServiceClient,
    plugin_service_client::PluginServiceClient, vehicle_service_client::VehicleServiceClient,
};
use prost::Message as _;
use prost_reflect::{
    DescriptorPool, DynamicMessage, MessageDescriptor, MethodDescriptor, SerializeOptions,
};
use serde_json::Value;
use tonic::client::Grpc;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::transport::{Channel, Endpoint};
use tonic::{Code, Request, Status, Streaming};
use tonic_types::StatusExt as _;

use crate::wait;

/// Every message and service of the API.
static POOL: LazyLock<DescriptorPool> = LazyLock::new(|| {
    DescriptorPool::decode(FILE_DESCRIPTOR_SET).expect("the API's own descriptors can be read")
});

/// A connection to a daemon.
#[derive(Debug, Clone)]
pub struct Api {
    channel: Channel,
}

/// A refusal, taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Refused {
    /// The canonical code.
    pub code: Code,
    /// What a person reads.
    pub message: String,
    /// The stable reason of its ErrorInfo; empty without one.
    pub reason: String,
    /// Field and description of each BadRequest violation.
    pub fields: Vec<(String, String)>,
    /// Code, subject and description of each PreconditionFailure violation.
    pub unmet: Vec<(String, String, String)>,
    /// Name in its ResourceInfo; empty without one.
    pub resource: String,
}

impl Api {
    /// Connects to `127.0.0.1:PORT` or `unix:PATH`.
    ///
    /// # Panics
    /// When nothing listens there.
    pub async fn connect(address: &str) -> Self {
        let connected = wait::ready("a connection", Self::try_connect(address)).await;
        connected.unwrap_or_else(|error| panic!("cannot connect to {address}: {error:?}"))
    }

    /// Connects, or says that it cannot: for daemons that may be gone.
    ///
    /// # Errors
    /// The transport's.
    pub async fn try_connect(address: &str) -> Result<Self, tonic::transport::Error> {
        let uri = match address.strip_prefix("unix:") {
            Some(_) => address.to_owned(),
            None => format!("http://{address}"),
        };
        let endpoint = Endpoint::from_shared(uri)?.connect_timeout(wait::PATIENCE);
        Ok(Self {
            channel: endpoint.connect().await?,
        })
    }

    /// The connection itself, for other services.
    pub fn channel(&self) -> Channel {
        self.channel.clone()
    }

    /// JobService, typed.
    pub fn jobs(&self) -> JobServiceClient<Channel> {
        JobServiceClient::new(self.channel())
    }

    /// VehicleService, typed.
    pub fn vehicles(&self) -> VehicleServiceClient<Channel> {
        VehicleServiceClient::new(self.channel())
    }

    /// PluginService, typed.
    pub fn plugins(&self) -> PluginServiceClient<Channel> {
        PluginServiceClient::new(self.channel())
    }

    /// CalculatorService, typed.
    pub fn calculator(&self) -> CalculatorServiceClient<Channel> {
        CalculatorServiceClient::new(self.channel())
    }

    /// Calls `SERVICE/METHOD` with a request in JSON. Of a stream, the first
    /// message.
    ///
    /// # Errors
    /// The daemon's refusal.
    ///
    /// # Panics
    /// When there is no such method, the JSON is not its request, or no answer
    /// comes.
    pub async fn call(&self, method: &str, request: Value) -> Result<Value, Refused> {
        let method = find(method);
        let message = message(method.input(), &request);
        let answer = wait::ready(method.full_name(), self.exchange(&method, message)).await;
        answer
            .map(|message| json(&message))
            .map_err(|status| Refused::of(&status))
    }

    /// Calls a method that must answer.
    ///
    /// # Panics
    /// When it refuses; the message shows the request and the refusal.
    pub async fn ok(&self, method: &str, request: Value) -> Value {
        let shown = request.to_string();
        let answer = self.call(method, request).await;
        answer.unwrap_or_else(|refused| panic!("{method} {shown} was refused: {refused:#?}"))
    }

    /// Calls a method that must refuse.
    ///
    /// # Panics
    /// When it answers; the message shows the request and the answer.
    pub async fn refused(&self, method: &str, request: Value) -> Refused {
        let shown = request.to_string();
        match self.call(method, request).await {
            Ok(answer) => panic!("{method} {shown} was not refused: {answer:#}"),
            Err(refused) => refused,
        }
    }

    /// Calls a method with a gRPC deadline.
    ///
    /// # Errors
    /// The daemon's or the transport's.
    ///
    /// # Panics
    /// As [`call`](Self::call).
    pub async fn call_within(
        &self,
        method: &str,
        request: &Value,
        limit: Duration,
    ) -> Result<Value, Status> {
        let method = find(method);
        let mut request = Request::new(tokio_stream::once(message(method.input(), request)));
        request.set_timeout(limit);
        let answers = self.send(&method, request).await?;
        first(answers).await.map(|message| json(&message))
    }

    async fn exchange(
        &self,
        method: &MethodDescriptor,
        message: DynamicMessage,
    ) -> Result<DynamicMessage, Status> {
        first(
            self.send(method, Request::new(tokio_stream::once(message)))
                .await?,
        )
        .await
    }

    async fn send(
        &self,
        method: &MethodDescriptor,
        request: Request<impl tokio_stream::Stream<Item = DynamicMessage> + Send + 'static>,
    ) -> Result<Streaming<DynamicMessage>, Status> {
        let path = format!("/{}/{}", method.parent_service().full_name(), method.name());
        let path: PathAndQuery = path.parse().expect("a method's name is a path");
        let mut client = Grpc::new(self.channel()).max_decoding_message_size(64 << 20);
        client
            .ready()
            .await
            .map_err(|error| Status::unavailable(error.to_string()))?;
        let codec = Json {
            output: method.output(),
        };
        Ok(client.streaming(request, path, codec).await?.into_inner())
    }
}

impl Refused {
    /// Takes a status apart.
    pub fn of(status: &Status) -> Self {
        let details = status.get_error_details();
        let fields = details
            .bad_request()
            .into_iter()
            .flat_map(|bad| &bad.field_violations);
        let unmet = details
            .precondition_failure()
            .into_iter()
            .flat_map(|p| &p.violations);
        Self {
            code: status.code(),
            message: status.message().to_owned(),
            reason: details
                .error_info()
                .map(|info| info.reason.clone())
                .unwrap_or_default(),
            fields: fields
                .map(|f| (f.field.clone(), f.description.clone()))
                .collect(),
            unmet: unmet
                .map(|u| (u.r#type.clone(), u.subject.clone(), u.description.clone()))
                .collect(),
            resource: details
                .resource_info()
                .map(|r| r.resource_name.clone())
                .unwrap_or_default(),
        }
    }

    /// The fields at fault, in order.
    pub fn field_names(&self) -> Vec<&str> {
        self.fields
            .iter()
            .map(|(field, _)| field.as_str())
            .collect()
    }

    /// The codes of the conditions that are not met, in order.
    pub fn unmet_codes(&self) -> Vec<&str> {
        self.unmet.iter().map(|(code, ..)| code.as_str()).collect()
    }
}

/// Every `SERVICE/METHOD` of the API.
pub fn methods() -> Vec<String> {
    let services: Vec<_> = POOL.services().collect();
    let methods = services.iter().flat_map(|service| service.methods());
    methods
        .map(|method| format!("{}/{}", method.parent_service().name(), method.name()))
        .collect()
}

async fn first(mut answers: Streaming<DynamicMessage>) -> Result<DynamicMessage, Status> {
    let answer = answers.message().await?;
    let answer = answer.ok_or_else(|| Status::unknown("the stream ended without a message"))?;
    Ok(answer)
}

fn find(method: &str) -> MethodDescriptor {
    let (service, name) = method.split_once('/').expect("SERVICE/METHOD");
    let service = POOL.get_service_by_name(&format!("lamella.v1.{service}"));
    let service = service.unwrap_or_else(|| panic!("there is no service of {method}"));
    service
        .methods()
        .find(|m| m.name() == name)
        .unwrap_or_else(|| panic!("there is no {method}"))
}

fn message(descriptor: MessageDescriptor, json: &Value) -> DynamicMessage {
    let name = descriptor.full_name().to_owned();
    DynamicMessage::deserialize(descriptor, json)
        .unwrap_or_else(|error| panic!("{json} is no {name}: {error}"))
}

fn json(message: &DynamicMessage) -> Value {
    let options = SerializeOptions::new().use_proto_field_name(true);
    message
        .serialize_with_options(serde_json::value::Serializer, &options)
        .expect("what the daemon answers can be written as JSON")
}

/// Messages whose type is known only while running.
#[derive(Debug, Clone)]
struct Json {
    output: MessageDescriptor,
}

impl Codec for Json {
    type Encode = DynamicMessage;
    type Decode = DynamicMessage;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        self.clone()
    }

    fn decoder(&mut self) -> Self {
        self.clone()
    }
}

impl Encoder for Json {
    type Item = DynamicMessage;
    type Error = Status;

    fn encode(&mut self, message: DynamicMessage, into: &mut EncodeBuf<'_>) -> Result<(), Status> {
        message
            .encode(into)
            .map_err(|error| Status::internal(error.to_string()))
    }
}

impl Decoder for Json {
    type Item = DynamicMessage;
    type Error = Status;

    fn decode(&mut self, from: &mut DecodeBuf<'_>) -> Result<Option<DynamicMessage>, Status> {
        let message = DynamicMessage::decode(self.output.clone(), from);
        message
            .map(Some)
            .map_err(|error| Status::internal(error.to_string()))
    }
}

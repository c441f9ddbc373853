//! Messages whose type is known only while running, on the wire.

use prost::Message as _;
use prost_reflect::{DynamicMessage, MessageDescriptor, MethodDescriptor};
use tonic::Status;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};

/// Encodes requests and decodes responses of one method.
#[derive(Debug, Clone)]
pub(crate) struct DynamicCodec {
    output: MessageDescriptor,
}

/// Encodes requests.
#[derive(Debug)]
pub(crate) struct DynamicEncoder;

/// Decodes responses.
#[derive(Debug)]
pub(crate) struct DynamicDecoder {
    output: MessageDescriptor,
}

impl DynamicCodec {
    /// The codec of a method.
    pub(crate) fn of(method: &MethodDescriptor) -> Self {
        Self {
            output: method.output(),
        }
    }
}

impl Codec for DynamicCodec {
    type Encode = DynamicMessage;
    type Decode = DynamicMessage;
    type Encoder = DynamicEncoder;
    type Decoder = DynamicDecoder;

    fn encoder(&mut self) -> DynamicEncoder {
        DynamicEncoder
    }

    fn decoder(&mut self) -> DynamicDecoder {
        DynamicDecoder {
            output: self.output.clone(),
        }
    }
}

impl Encoder for DynamicEncoder {
    type Item = DynamicMessage;
    type Error = Status;

    fn encode(&mut self, message: DynamicMessage, into: &mut EncodeBuf<'_>) -> Result<(), Status> {
        message
            .encode(into)
            .map_err(|error| Status::internal(format!("the request cannot be encoded: {error}")))
    }
}

impl Decoder for DynamicDecoder {
    type Item = DynamicMessage;
    type Error = Status;

    fn decode(&mut self, from: &mut DecodeBuf<'_>) -> Result<Option<DynamicMessage>, Status> {
        DynamicMessage::decode(self.output.clone(), from)
            .map(Some)
            .map_err(|error| Status::internal(format!("the response cannot be read: {error}")))
    }
}

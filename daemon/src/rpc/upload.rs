//! Streams that carry a component: the header first, then its bytes.

use lamella_calc::violation::Checks;
use lamella_proto::v1;
use tonic::{Status, Streaming};

use super::{finish, status};
use crate::plugins::{Plugins, Received};

/// The most bytes in one message.
const CHUNK_BYTES: usize = 2 << 20;

/// One message of an upload.
pub(super) enum Part<H> {
    /// What is coming.
    Header(H),
    /// The next bytes.
    Chunk(Vec<u8>),
}

/// A message that is part of an upload.
pub(super) trait InParts {
    /// What its first message says.
    type Header;

    /// What this one is, if it says so.
    fn part(self) -> Option<Part<Self::Header>>;
}

impl InParts for v1::InstallPluginRequest {
    type Header = v1::InstallPluginHeader;

    fn part(self) -> Option<Part<Self::Header>> {
        use v1::install_plugin_request::Part as Message;
        self.part.map(|part| match part {
            Message::Header(header) => Part::Header(header),
            Message::Chunk(chunk) => Part::Chunk(chunk),
        })
    }
}

impl InParts for v1::TryPluginRequest {
    type Header = v1::TryPluginHeader;

    fn part(self) -> Option<Part<Self::Header>> {
        use v1::try_plugin_request::Part as Message;
        self.part.map(|part| match part {
            Message::Header(header) => Part::Header(header),
            Message::Chunk(chunk) => Part::Chunk(chunk),
        })
    }
}

/// The first message, which must be a header.
pub(super) async fn header<M: InParts>(stream: &mut Streaming<M>) -> Result<M::Header, Status> {
    match stream.message().await?.map(InParts::part) {
        Some(Some(Part::Header(header))) => Ok(header),
        Some(Some(Part::Chunk(_)) | None) | None => {
            Err(refused("header", "is required, in the first message"))
        }
    }
}

/// The other messages, into a file. Refused as soon as it is too much.
pub(super) async fn component<M: InParts>(
    stream: &mut Streaming<M>,
    plugins: &Plugins,
) -> Result<Received, Status> {
    let failed = |error| status::plugins(&error);
    let mut upload = plugins.begin_upload().await.map_err(failed)?;
    let mut empty = true;
    while let Some(message) = stream.message().await? {
        match message.part() {
            Some(Part::Chunk(chunk)) if chunk.len() <= CHUNK_BYTES => {
                empty &= chunk.is_empty();
                upload = upload.push(chunk).await.map_err(failed)?;
            }
            Some(Part::Chunk(chunk)) => {
                let got = chunk.len();
                let rule = format!("must be up to {CHUNK_BYTES} bytes, got {got}");
                return Err(refused("chunk", &rule));
            }
            Some(Part::Header(_)) => {
                return Err(refused("header", "must come once, in the first message"));
            }
            None => return Err(refused("part", "is required")),
        }
    }
    if empty {
        return Err(refused("chunk", "is required: the component has no bytes"));
    }
    Ok(upload.finish())
}

pub(super) fn refused(field: &str, rule: &str) -> Status {
    let mut checks = Checks::new();
    checks.require(false, field, || rule.to_owned());
    match finish(checks) {
        Err(status) => status,
        Ok(()) => Status::internal("a violation was found and lost"),
    }
}

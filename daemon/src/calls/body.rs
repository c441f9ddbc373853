//! The body of an answer, watched for the trailers that end the call.

use std::pin::Pin;
use std::task::{Context, Poll};

use bytes::Bytes;
use http_body::{Body as HttpBody, Frame, SizeHint};
use tonic::Status;
use tonic::body::Body;

use super::under_way::UnderWay;

/// A body that knows whose it is.
#[derive(Debug)]
pub(super) struct Watched {
    inner: Body,
    under_way: UnderWay,
}

impl Watched {
    pub(super) fn new(inner: Body, under_way: UnderWay) -> Self {
        Self { inner, under_way }
    }
}

impl HttpBody for Watched {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        let this = &mut *self;
        let _within = this.under_way.span().clone().entered();
        let polled = Pin::new(&mut this.inner).poll_frame(context);
        if let Poll::Ready(Some(Ok(frame))) = &polled
            && let Some(trailers) = frame.trailers_ref()
        {
            this.under_way.trailers(trailers);
        }
        polled
    }

    fn is_end_stream(&self) -> bool {
        self.inner.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.inner.size_hint()
    }
}

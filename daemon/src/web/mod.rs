//! A web page served beside the API, and who may ask: a layer in front of
//! gRPC-Web, because that answers every other HTTP/1.1 request with 400.
//!
//! - `site`: the files of `--web-root`, read once
//! - `hosts`: the names that a browser may know this daemon by

mod hosts;
mod site;

use std::path::Path;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use http::{HeaderValue, Request, Response, StatusCode, Version, header};
use http_body_util::Full;
use tonic::body::Body;
use tower::{Layer, Service};

pub use self::hosts::Hosts;
pub use self::site::{Site, SiteError};

/// What the page may do: its own scripts, styles, pictures and this daemon,
/// nothing else, and no one may frame it.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'none'; \
    frame-ancestors 'none'";

/// Serves the page, and turns away browsers that know this daemon by a name
/// that is not its own.
#[derive(Debug, Clone, Default)]
pub struct Web {
    site: Option<Arc<Site>>,
    hosts: Arc<Hosts>,
}

/// [`Web`] in front of the API.
#[derive(Debug, Clone)]
pub struct WebService<S> {
    inner: S,
    web: Web,
}

impl Web {
    /// Reads the files below `root`, if there is one.
    ///
    /// # Errors
    /// [`SiteError`] when they cannot be served.
    pub fn try_new(root: Option<&Path>, hosts: Hosts) -> Result<Self, SiteError> {
        Ok(Self {
            site: root.map(Site::read).transpose()?.map(Arc::new),
            hosts: Arc::new(hosts),
        })
    }

    /// The answer to a request that the API is not to see.
    fn answer<B>(&self, request: &Request<B>) -> Option<Response<Body>> {
        if is_native_grpc(request) {
            return None;
        }
        let host = asked_host(request);
        if !self.hosts.allow(host) {
            return Some(plain(
                StatusCode::MISDIRECTED_REQUEST,
                &format!(
                    "this daemon is not called `{}`; name it in allowed_hosts if it is\n",
                    host.unwrap_or_default().escape_debug()
                ),
            ));
        }
        if is_grpc(request) {
            return None;
        }
        Some(protected(self.site.as_ref()?.answer(request)))
    }
}

impl<S> Layer<S> for Web {
    type Service = WebService<S>;

    fn layer(&self, inner: S) -> WebService<S> {
        WebService {
            inner,
            web: self.clone(),
        }
    }
}

impl<S, B> Service<Request<B>> for WebService<S>
where
    S: Service<Request<B>, Response = Response<Body>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
{
    type Response = Response<Body>;
    type Error = S::Error;
    type Future = Pin<Box<dyn Future<Output = Result<Self::Response, S::Error>> + Send>>;

    fn poll_ready(&mut self, context: &mut Context<'_>) -> Poll<Result<(), S::Error>> {
        self.inner.poll_ready(context)
    }

    fn call(&mut self, request: Request<B>) -> Self::Future {
        match self.web.answer(&request) {
            Some(answer) => Box::pin(std::future::ready(Ok(answer))),
            None => Box::pin(self.inner.call(request)),
        }
    }
}

/// gRPC over HTTP/2 in the clear, which no browser speaks.
fn is_native_grpc<B>(request: &Request<B>) -> bool {
    request.version() == Version::HTTP_2
        && is_grpc(request)
        && !content_type(request).contains("web")
}

/// gRPC or gRPC-Web.
fn is_grpc<B>(request: &Request<B>) -> bool {
    content_type(request).starts_with("application/grpc")
}

fn content_type<B>(request: &Request<B>) -> &str {
    text(request, header::CONTENT_TYPE)
}

fn text<B>(request: &Request<B>, name: header::HeaderName) -> &str {
    let value = request.headers().get(name);
    value
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default()
}

/// Whom the request is for: the authority of HTTP/2, the Host of HTTP/1.
fn asked_host<B>(request: &Request<B>) -> Option<&str> {
    let authority = request.uri().authority().map(http::uri::Authority::as_str);
    authority.or_else(|| {
        let host = request.headers().get(header::HOST)?;
        host.to_str().ok()
    })
}

/// A line of text.
fn plain(status: StatusCode, text: &str) -> Response<Body> {
    let mut answer = Response::new(body(text.to_owned().into()));
    *answer.status_mut() = status;
    answer.headers_mut().insert(
        header::CONTENT_TYPE,
        HeaderValue::from_static("text/plain; charset=utf-8"),
    );
    protected(answer)
}

fn body(bytes: bytes::Bytes) -> Body {
    Body::new(Full::new(bytes))
}

/// With the headers that keep a browser from doing more than asked.
fn protected(mut answer: Response<Body>) -> Response<Body> {
    let headers = answer.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

//! gRPC-Web by hand over HTTP/1.1, as a browser without h2c sends it: nothing
//! of tonic takes part. The frames are those of the gRPC-Web protocol: one byte
//! of flags, four of length, big-endian; flag 0x80 marks the trailers.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use crate::wait;

/// An answer taken apart.
#[derive(Debug)]
pub struct WebAnswer {
    /// The HTTP status line.
    pub status_line: String,
    /// The HTTP headers, names in lower case.
    pub headers: Vec<(String, String)>,
    /// The message frames' payloads.
    pub messages: Vec<Vec<u8>>,
    /// The trailer frame's lines, names in lower case.
    pub trailers: Vec<(String, String)>,
}

impl WebAnswer {
    /// A header's or trailer's value.
    pub fn get<'a>(pairs: &'a [(String, String)], name: &str) -> Option<&'a str> {
        pairs
            .iter()
            .find(|(key, _)| key == name)
            .map(|(_, value)| value.as_str())
    }

    /// The gRPC status code: in the trailer frame, or in the headers of an
    /// answer without a body.
    pub fn grpc_status(&self) -> Option<i32> {
        let status = Self::get(&self.trailers, "grpc-status")
            .or_else(|| Self::get(&self.headers, "grpc-status"));
        status?.parse().ok()
    }
}

/// Posts one message to `/package.Service/Method`, with more headers.
///
/// # Panics
/// When the exchange is not what the protocol says.
pub fn post(address: &str, path: &str, message: &[u8], more: &[(&str, &str)]) -> WebAnswer {
    let mut body = vec![0];
    body.extend(
        u32::try_from(message.len())
            .expect("a small message")
            .to_be_bytes(),
    );
    body.extend(message);
    let more: String = more
        .iter()
        .map(|(name, value)| format!("{name}: {value}\r\n"))
        .collect();
    let head = format!(
        "POST {path} HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/grpc-web+proto\r\n\
         X-Grpc-Web: 1\r\nContent-Length: {}\r\nConnection: close\r\n{more}\r\n",
        body.len()
    );
    let mut stream = TcpStream::connect(address).expect("the daemon listens");
    stream
        .set_read_timeout(Some(wait::PATIENCE))
        .expect("a read may be limited");
    stream
        .write_all(head.as_bytes())
        .expect("the daemon takes the head");
    stream.write_all(&body).expect("the daemon takes the body");
    let mut answer = Vec::new();
    stream
        .read_to_end(&mut answer)
        .expect("the daemon answers and closes");
    read(&answer)
}

fn read(answer: &[u8]) -> WebAnswer {
    let end = answer
        .windows(4)
        .position(|w| w == b"\r\n\r\n")
        .expect("a head ends");
    let head = String::from_utf8_lossy(&answer[..end]).into_owned();
    let (status_line, lines) = head.split_once("\r\n").expect("a head has headers");
    let headers = pairs(lines);
    let chunked = WebAnswer::get(&headers, "transfer-encoding") == Some("chunked");
    let body = &answer[end + 4..];
    let body = if chunked {
        dechunked(body)
    } else {
        body.to_vec()
    };
    let (messages, trailers) = frames(&body);
    WebAnswer {
        status_line: status_line.to_owned(),
        headers,
        messages,
        trailers,
    }
}

fn pairs(lines: &str) -> Vec<(String, String)> {
    let pairs = lines.split("\r\n").filter_map(|line| line.split_once(':'));
    pairs
        .map(|(name, value)| (name.to_lowercase(), value.trim().to_owned()))
        .collect()
}

fn dechunked(mut body: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    loop {
        let line = body
            .windows(2)
            .position(|w| w == b"\r\n")
            .expect("a chunk has a length");
        let text = std::str::from_utf8(&body[..line]).expect("a length is text");
        let length = usize::from_str_radix(text.trim(), 16).expect("a length is hexadecimal");
        if length == 0 {
            return whole;
        }
        let begin = line + 2;
        whole.extend(&body[begin..begin + length]);
        body = &body[begin + length + 2..];
    }
}

fn frames(mut body: &[u8]) -> (Vec<Vec<u8>>, Vec<(String, String)>) {
    let (mut messages, mut trailers) = (Vec::new(), Vec::new());
    while let [flags, a, b, c, d, rest @ ..] = body {
        let length = u32::from_be_bytes([*a, *b, *c, *d]) as usize;
        let (frame, next) = rest.split_at(length);
        if flags & 0x80 == 0 {
            messages.push(frame.to_vec());
        } else {
            trailers.extend(pairs(&String::from_utf8_lossy(frame)));
        }
        body = next;
    }
    assert!(body.is_empty(), "{} bytes after the last frame", body.len());
    (messages, trailers)
}

//! What the end-to-end tests stand on. They start the real binaries and talk
//! to them over real sockets; nothing of the daemon or the client is linked
//! here.
//!
//! - [`daemon`]: starts, stops and kills `lamellad`
//! - [`api`]: the API from the outside, typed or as JSON, refusals taken apart
//! - [`cli`]: runs `lamella` and the commands of `lamellad`
//! - [`watch`]: a watch whose every wait has a deadline
//! - [`web`]: gRPC-Web by hand over HTTP/1.1
//! - [`plugins`]: plugins to install, and installing them
//! - [`python`]: where the Python environment for foreign clients is
//! - [`shop`]: the invented workshop data, and a car taken from stage to stage
//! - [`expected`]: the one model of expected values, each with its source
//! - [`wait`]: waiting for a condition, never for a time
//! - [`binaries`]: where the programs under test are

pub mod api;
pub mod binaries;
pub mod cli;
pub mod daemon;
pub mod expected;
pub mod plugins;
pub mod python;
pub mod shop;
pub mod wait;
pub mod watch;
pub mod web;

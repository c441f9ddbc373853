//! The daemon under a service manager: the protocols are those of systemd's
//! sd_notify(3) and sd_listen_fds(3), played here by plain sockets.

use std::net::TcpListener;
use std::os::unix::net::{UnixDatagram, UnixListener};
use std::path::Path;

use lamella_tests::api::Api;
use lamella_tests::daemon::{Builder, Daemon};
use lamella_tests::{shop, wait};
use serde_json::json;
use tempfile::TempDir;

/// The socket that a service manager listens on for notices.
struct Manager {
    socket: UnixDatagram,
}

impl Manager {
    fn new(dir: &Path) -> Self {
        let socket = UnixDatagram::bind(dir.join("notify")).unwrap();
        socket.set_read_timeout(Some(wait::PATIENCE)).unwrap();
        Self { socket }
    }

    /// Waits for a notice with this line; the notices up to it.
    fn until(&self, line: &str) -> Vec<String> {
        let mut all = Vec::new();
        loop {
            let mut buffer = [0; 4096];
            let read = self.socket.recv(&mut buffer);
            let read = read.unwrap_or_else(|error| panic!("no `{line}` after {all:?}: {error}"));
            let notice = String::from_utf8(buffer[..read].to_vec()).unwrap();
            all.push(notice.clone());
            if notice.lines().any(|own| own == line) {
                return all;
            }
        }
    }
}

fn managed(dir: &Path) -> Builder {
    Daemon::builder().env("NOTIFY_SOCKET", dir.join("notify"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_service_manager_is_told_of_ready_alive_and_stopping() {
    let dir = TempDir::new().unwrap();
    let manager = Manager::new(dir.path());
    let mut daemon = managed(dir.path()).env("WATCHDOG_USEC", "400000").start();
    let first = manager.until("READY=1");
    assert!(
        first[..first.len() - 1]
            .iter()
            .any(|n| n == "STATUS=opening the store\n"),
        "{first:?}"
    );
    let ready = format!("STATUS=answering on {}", daemon.address);
    assert!(first.last().unwrap().contains(&ready), "{first:?}");
    for _ in 0..3 {
        manager.until("WATCHDOG=1");
    }
    daemon.ask_to_stop();
    manager.until("STOPPING=1");
    assert!(daemon.wait().success());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_a_watchdog_none_is_fed() {
    let dir = TempDir::new().unwrap();
    let manager = Manager::new(dir.path());
    let mut daemon = managed(dir.path()).start();
    manager.until("READY=1");
    shop::new_job(&daemon.client().await, "Blue estate").await;
    daemon.ask_to_stop();
    let until_stop = manager.until("STOPPING=1");
    assert!(
        !until_stop.iter().any(|notice| notice.contains("WATCHDOG")),
        "{until_stop:?}"
    );
    assert!(daemon.wait().success());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_tcp_socket_that_was_handed_over_is_served_and_keeps_callers_over_a_restart() {
    let socket = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = socket.local_addr().unwrap().to_string();
    let dir = TempDir::new().unwrap();
    let start = || {
        let daemon = Daemon::builder().data_dir(dir.path());
        daemon.handed(socket.try_clone().unwrap()).start()
    };
    let first = start();
    assert_eq!(first.address, address);
    let job = shop::new_job(&first.client().await, "Blue estate").await;
    assert!(first.terminate().success());
    // Nobody answers now, but nobody is refused: the caller waits for the next one.
    let waiting = tokio::spawn({
        let (address, job) = (address.clone(), job.clone());
        async move {
            let api = Api::connect(&address).await;
            api.ok("JobService/GetJob", json!({"name": job})).await
        }
    });
    let second = start();
    assert_eq!(waiting.await.unwrap()["name"], json!(job));
    assert!(second.terminate().success());
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_unix_socket_that_was_handed_over_is_left_where_it_is() {
    let dir = TempDir::new().unwrap();
    let path = dir.path().join("lamella.sock");
    let socket = UnixListener::bind(&path).unwrap();
    let daemon = Daemon::builder().handed(socket).start();
    assert_eq!(daemon.address, format!("unix:{}", path.display()));
    shop::new_job(&daemon.client().await, "Blue estate").await;
    assert!(daemon.terminate().success());
    assert!(path.exists(), "the socket's file is the service manager's");
}

#[test]
fn what_is_no_listening_socket_is_refused_by_name() {
    let (one, _other) = std::os::unix::net::UnixStream::pair().unwrap();
    let ended = Daemon::builder().handed(one).try_start().unwrap_err();
    assert_eq!(ended.status.code(), Some(1));
    let why = "what the service manager handed over is no listening stream socket";
    assert!(ended.stderr.contains(why), "{}", ended.stderr);
}

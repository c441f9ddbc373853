//! Starts, stops and kills the daemon.

use std::ffi::{OsStr, OsString};
use std::io::{BufRead as _, BufReader};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex, PoisonError};

use rustix::process::{Pid, Signal, kill_process};
use tempfile::TempDir;

use crate::api::Api;
use crate::cli::{self, Ran};
use crate::{binaries, wait};

/// Moves a socket from standard input to where a service manager puts it; the
/// process id must be the daemon's own, so a shell becomes the daemon.
const HAND_OVER: &str = r#"exec 3<&0 </dev/null; LISTEN_FDS=1 LISTEN_PID=$$ exec "$0" "$@""#;

/// A running daemon. Dropping it kills it; when the test fails, what the
/// daemon wrote is shown.
#[derive(Debug)]
pub struct Daemon {
    child: Child,
    /// Where it listens: `127.0.0.1:PORT` or `unix:PATH`.
    pub address: String,
    /// The sequence number of the last event that it found when it started.
    pub sequence: u64,
    data_dir: PathBuf,
    /// Keeps the data directory alive where the daemon made its own.
    _own: Option<TempDir>,
    stderr: Arc<Mutex<String>>,
}

/// How to start a daemon.
#[derive(Debug, Default)]
pub struct Builder {
    data_dir: Option<PathBuf>,
    listen: Option<String>,
    bare: bool,
    under: Vec<OsString>,
    args: Vec<OsString>,
    env: Vec<(OsString, OsString)>,
    handed: Option<OwnedFd>,
}

/// A daemon that ended instead of getting ready.
#[derive(Debug)]
pub struct NotStarted {
    /// How it ended.
    pub status: ExitStatus,
    /// What it wrote.
    pub stderr: String,
}

impl Daemon {
    /// Starts a daemon on a directory of its own and a free port.
    ///
    /// # Panics
    /// When it does not get ready.
    pub fn start() -> Self {
        Self::builder().start()
    }

    /// Starts a daemon on `data_dir` and a free port.
    ///
    /// # Panics
    /// When it does not get ready.
    pub fn start_on(data_dir: &Path) -> Self {
        Self::builder().data_dir(data_dir).start()
    }

    /// A daemon to be started in another way.
    pub fn builder() -> Builder {
        Builder::default()
    }

    /// Where it keeps everything.
    pub fn data_dir(&self) -> &Path {
        &self.data_dir
    }

    /// Its process id.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Connects to it.
    ///
    /// # Panics
    /// When it cannot be reached.
    pub async fn client(&self) -> Api {
        Api::connect(&self.address).await
    }

    /// Runs the command line client against it.
    ///
    /// # Panics
    /// When the client's program is missing.
    pub fn lamella<S: AsRef<OsStr>>(&self, args: impl IntoIterator<Item = S>) -> Ran {
        cli::lamella(&self.address, args)
    }

    /// What it has written to stderr so far.
    pub fn stderr(&self) -> String {
        self.stderr
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Kills it at once (SIGKILL) and waits until it is gone.
    ///
    /// # Panics
    /// When the system refuses.
    pub fn kill(mut self) {
        self.child.kill().expect("a child can be killed");
        self.child.wait().expect("a child can be waited for");
    }

    /// Asks it to stop (SIGTERM) and waits for its end.
    ///
    /// # Panics
    /// When it does not end.
    pub fn terminate(mut self) -> ExitStatus {
        self.ask_to_stop();
        self.wait()
    }

    /// Asks it to stop (SIGTERM) without waiting.
    ///
    /// # Panics
    /// When the system refuses.
    pub fn ask_to_stop(&self) {
        kill_process(Pid::from_child(&self.child), Signal::TERM).expect("a child can be signalled");
    }

    /// Waits for its end.
    ///
    /// # Panics
    /// When it does not end.
    pub fn wait(&mut self) -> ExitStatus {
        wait::until("the daemon's end", || {
            self.child.try_wait().expect("a child can be asked")
        })
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // Both fail only when it has ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            eprintln!("--- lamellad {} wrote:\n{}---", self.address, self.stderr());
        }
    }
}

impl Builder {
    /// Uses this directory.
    #[must_use]
    pub fn data_dir(mut self, dir: &Path) -> Self {
        self.data_dir = Some(dir.to_owned());
        self
    }

    /// Listens here instead of on a free port.
    #[must_use]
    pub fn listen(mut self, address: &str) -> Self {
        self.listen = Some(address.to_owned());
        self
    }

    /// Gives no flag but those of [`arg`](Self::arg): for tests of settings.
    #[must_use]
    pub fn bare(mut self) -> Self {
        self.bare = true;
        self
    }

    /// Starts it through another program, which is given the daemon's program and
    /// flags after these words and must turn into it (`exec`).
    #[must_use]
    pub fn under<S: AsRef<OsStr>>(mut self, words: impl IntoIterator<Item = S>) -> Self {
        self.under = words
            .into_iter()
            .map(|word| word.as_ref().to_owned())
            .collect();
        self
    }

    /// Adds a flag or its value.
    #[must_use]
    pub fn arg(mut self, arg: impl AsRef<OsStr>) -> Self {
        self.args.push(arg.as_ref().to_owned());
        self
    }

    /// Sets a variable of its environment, which has no other `LAMELLA_*`.
    #[must_use]
    pub fn env(mut self, name: &str, value: impl AsRef<OsStr>) -> Self {
        self.env.push((name.into(), value.as_ref().to_owned()));
        self
    }

    /// Hands it a socket as a service manager does: as its file descriptor 3, with
    /// `LISTEN_FDS` and `LISTEN_PID`. It is then given no address.
    #[must_use]
    pub fn handed(mut self, socket: impl Into<OwnedFd>) -> Self {
        self.handed = Some(socket.into());
        self.under(["sh", "-c", HAND_OVER])
    }

    /// Starts it and waits until it is ready.
    ///
    /// # Panics
    /// When it ends instead; the message holds what it wrote.
    pub fn start(self) -> Daemon {
        match self.try_start() {
            Ok(daemon) => daemon,
            Err(NotStarted { status, stderr }) => {
                panic!("lamellad ended with {status} before it was ready:\n{stderr}")
            }
        }
    }

    /// Starts it and waits until it is ready or has ended.
    ///
    /// # Errors
    /// How it ended, and what it wrote.
    ///
    /// # Panics
    /// When it does neither, or the program is missing.
    pub fn try_start(self) -> Result<Daemon, NotStarted> {
        let own = self
            .data_dir
            .is_none()
            .then(|| TempDir::new().expect("a temporary directory"));
        let data_dir = match (&self.data_dir, &own) {
            (Some(dir), _) => dir.clone(),
            (None, Some(own)) => own.path().to_owned(),
            (None, None) => unreachable!("without a directory one is made"),
        };
        let mut command = match self.under.split_first() {
            None => cli::clean(&binaries::lamellad()),
            Some((program, words)) => {
                let mut command = cli::clean(Path::new(program));
                command.args(words).arg(binaries::lamellad());
                command
            }
        };
        let activated = self.handed.is_some();
        command.stdin(self.handed.map_or_else(Stdio::null, Stdio::from));
        if !self.bare {
            command.arg("--data-dir").arg(&data_dir);
        }
        if !self.bare && !activated {
            command
                .arg("--listen")
                .arg(self.listen.as_deref().unwrap_or("127.0.0.1:0"));
        }
        command
            .args(&self.args)
            .envs(self.env)
            .current_dir(std::env::temp_dir());
        let (child, stderr) = spawn(command);
        let mut daemon = Daemon {
            child,
            address: String::new(),
            sequence: 0,
            data_dir,
            _own: own,
            stderr,
        };
        let started = wait::until("lamellad's ready line", || {
            // Asked first: what it wrote before it ended must be complete.
            let ended = daemon.child.try_wait().expect("a child can be asked");
            match (ready_line(&daemon.stderr()), ended) {
                (Some(ready), None) => Some(Ok(ready)),
                (_, Some(status)) => Some(Err(status)),
                (None, None) => None,
            }
        });
        match started {
            Ok((address, sequence)) => {
                daemon.address = address;
                daemon.sequence = sequence;
                Ok(daemon)
            }
            Err(status) => Err(NotStarted {
                status,
                stderr: after_the_end(&daemon),
            }),
        }
    }
}

/// What an ended daemon wrote, once its pipe has been read to the end.
fn after_the_end(daemon: &Daemon) -> String {
    wait::until("the end of lamellad's stderr", || {
        // The reading thread holds the other reference until the pipe ends.
        (Arc::strong_count(&daemon.stderr) == 1).then(|| daemon.stderr())
    })
}

/// Starts the command; a thread gathers what it writes to stderr.
fn spawn(mut command: Command) -> (Child, Arc<Mutex<String>>) {
    command.stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = command.spawn().expect("lamellad can be started");
    let pipe = child.stderr.take().expect("stderr is piped");
    let stderr = Arc::new(Mutex::new(String::new()));
    let gathered = Arc::clone(&stderr);
    std::thread::spawn(move || {
        for line in BufReader::new(pipe).lines().map_while(Result::ok) {
            let mut text = gathered.lock().unwrap_or_else(PoisonError::into_inner);
            text.push_str(&line);
            text.push('\n');
        }
    });
    (child, stderr)
}

/// `ready address=ADDRESS sequence=N`, if it has been written.
fn ready_line(stderr: &str) -> Option<(String, u64)> {
    let ready = stderr
        .lines()
        .find_map(|line| line.strip_prefix("ready address="))?;
    let (address, sequence) = ready.split_once(" sequence=")?;
    Some((address.to_owned(), sequence.parse().ok()?))
}

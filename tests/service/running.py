"""Runs what the Debian package installs, as its units would, and asks how it is.

usage: running.py PACKAGE.deb

The package goes into a root of its own (installed.py). The socket of the installed
unit is opened by systemd's own tool, which starts the unit's command at the first
call, without any privilege, as the unit does. Then:

- a job is entered by the installed client, and the wall screen is fetched;
- the page of metrics is read by Prometheus's own parsers (tests/python/scrape.py);
- `lamella doctor` judges this daemon, and four that have something wrong with them.

Only the kernel's walls of the unit are not tried, as no systemd runs here: what
`systemd-analyze security` thinks of them is.
"""

import contextlib
import json
import os
import shlex
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from installed import STORE, Installed, installed
from package import CONFIGURATION, DASHBOARD, UNITS, expect, run, say, unit, wanted

SCRAPE = Path(__file__).parent.parent / "python/scrape.py"
PYTHON = os.environ.get("LAMELLA_TEST_PYTHON", sys.executable)
PATIENCE_SECONDS = 60

UNPRIVILEGED = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups", "--no-new-privs", "--bounding-set=-all"]
"""The unit's user has no more rights than this one."""

MOST_EXPOSED = 2.5
"""What systemd calls OK ends at 5.0 of 10; this unit is far better, and is to stay so."""


def main() -> None:
    (deb,) = map(Path, sys.argv[1:])
    with installed(deb) as package:
        check_hardening(package)
        if wanted("systemd-socket-activate"):
            with activated(package) as daemon:
                check_calls(daemon)
                check_metrics(daemon)
                check_health(daemon)
            check_notices(daemon)
        check_no_daemon(package)
        check_broken_plugin(package)
        check_full_disk(package)
        if wanted("faketime"):
            check_wrong_clock(package)
    say("the service runs as it should")


# --- as the units start it -------------------------------------------------------


class Daemon:
    """A daemon of the package, on a store of its own."""

    def __init__(self, package: Installed, folder: Path) -> None:
        self.package = package
        self.folder = folder
        self.address = f"127.0.0.1:{free_port()}"
        self.metrics = f"127.0.0.1:{free_port()}"
        self.notices = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.notices.bind(str(folder / "notify"))
        # The daemon's user is not this one.
        (folder / "notify").chmod(0o666)
        self.store = folder / STORE.name
        self.store.mkdir(mode=0o700)
        shutil.chown(self.store, "nobody", "nogroup")

    def command(self) -> list[str]:
        """The unit's own command, in the package's root."""
        words = shlex.split(unit(self.package, "lamellad.service")["Service"]["ExecStart"])
        expect(words[1:] == ["--config", f"/{CONFIGURATION}"], f"the unit starts {words}")
        return [f"{self.package.root}{word}" if word.startswith("/") else word for word in words]

    def environment(self) -> dict[str, str]:
        """Where things are, which the configuration says for the machine's own root."""
        return {
            "LAMELLA_DATA_DIR": str(self.store),
            "LAMELLA_METRICS_LISTEN": self.metrics,
            "LAMELLA_WEB_ROOT": str(self.package.root / DASHBOARD),
            "NOTIFY_SOCKET": str(self.folder / "notify"),
            "NO_COLOR": "1",
            "TZ": "Etc/UTC",
        }

    def lamella(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        environment = {"PATH": os.environ["PATH"], "LAMELLA_SERVER": self.address, "NO_COLOR": "1", "TZ": "Etc/UTC"}
        command = [self.package.program("lamella"), *arguments]
        return subprocess.run(command, check=False, capture_output=True, text=True, timeout=PATIENCE_SECONDS, env=environment)

    def did(self, *arguments: str) -> str:
        done = self.lamella(*arguments)
        expect(done.returncode == 0, f"lamella {shlex.join(arguments)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
        return done.stdout


@contextlib.contextmanager
def activated(package: Installed) -> Iterator[Daemon]:
    """A daemon that is started by its first caller, at the unit's socket."""
    listen = unit(package, "lamellad.socket")["Socket"]["ListenStream"]
    expect(listen.startswith("127.0.0.1:"), f"the socket listens at {listen}, beyond this machine")
    with folder() as scratch:
        daemon = Daemon(package, scratch)
        command = ["systemd-socket-activate", f"--listen={daemon.address}"]
        for name, value in daemon.environment().items():
            command += ["--setenv", f"{name}={value}"]
        with process([*command, *UNPRIVILEGED, *daemon.command()], {"PATH": os.environ["PATH"]}) as started:
            wait_for("the socket", lambda: listens(daemon.address))
            yield daemon
            stop(started, signal.SIGTERM)
            said = started.communicate(timeout=PATIENCE_SECONDS)[1]
            expect(started.returncode == 0, f"the daemon ended with {started.returncode}:\n{said}")


@contextlib.contextmanager
def started(daemon: Daemon, *before: str, **more: str) -> Iterator[subprocess.Popen[str]]:
    """The same command without the tool, after these words; at its end it is stopped."""
    command = [*before, *UNPRIVILEGED, *daemon.command(), "--listen", daemon.address]
    environment = {"PATH": os.environ["PATH"], **daemon.environment(), **more}
    with process(command, environment) as child:
        wait_for("an answer", lambda: daemon.lamella("job", "list").returncode == 0 or child.poll() is not None)
        expect(child.poll() is None, "the daemon ended before it answered")
        yield child
        stop(child, signal.SIGTERM)
        child.communicate(timeout=PATIENCE_SECONDS)


@contextlib.contextmanager
def process(command: list[str], environment: dict[str, str]) -> Iterator[subprocess.Popen[str]]:
    with tempfile.TemporaryFile("w+") as log:
        # A group of its own, as what it is started through may stay beside it.
        child = subprocess.Popen(command, stderr=log, text=True, env=environment, start_new_session=True)
        try:
            yield child
        except AssertionError as wrong:
            log.seek(0)
            raise AssertionError(f"{wrong}\n--- the daemon wrote:\n{log.read()}") from wrong
        finally:
            stop(child, signal.SIGKILL)
            child.wait()


def stop(child: subprocess.Popen[str], how: signal.Signals) -> None:
    # The group is gone with its last process.
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child.pid, how)


# --- a daemon that is well -------------------------------------------------------


def check_calls(daemon: Daemon) -> None:
    expect(daemon.did("job", "list").strip() == "no jobs", "a new store has jobs")
    for name in ("Blue estate", "Red coupe"):
        daemon.did("job", "new", name)
    with urllib.request.urlopen(f"http://{daemon.address}/", timeout=PATIENCE_SECONDS) as answer:
        page = answer.read()
    expect(page == (daemon.package.root / DASHBOARD / "index.html").read_bytes(), f"the daemon serves {page!r}")
    say(f"activated: started by its first caller at {daemon.address}, two jobs entered, the page served")


def check_metrics(daemon: Daemon) -> None:
    pages = json.loads(run(PYTHON, SCRAPE, f"http://{daemon.metrics}/metrics"))
    for name, page in pages.items():
        samples = page["samples"]
        for sample, value in {
            call("CreateJob"): 2,
            call("ListJobs"): 1,
            "lamella_journal_sync_seconds_count{}": 2,
            "lamella_journal_last_sequence{}": 2,
            "lamella_projection_lag_events{}": 0,
            "lamella_store_read_only{}": 0,
        }.items():
            expect(samples.get(sample) == value, f"{name}: {sample} is {samples.get(sample)}, not {value}")
        say(f"metrics: {len(samples)} samples of {len(page['types'])} families read as {name}")


def call(method: str) -> str:
    return f'lamella_grpc_calls_total{{code="OK",method="{method}",service="lamella.v1.JobService"}}'


def check_health(daemon: Daemon) -> None:
    found, code = doctor(daemon)
    expect(code == 0, f"the doctor ends with {code} on a daemon that is well: {found}")
    # What the shop itself has still to say, and no more.
    expect(set(found) == {("note", "TAX_NOT_CONFIGURED")}, f"the doctor finds {found} on a daemon that is well")
    say("doctor: a daemon that is well is told so")


def check_notices(daemon: Daemon) -> None:
    daemon.notices.setblocking(False)
    notices = []
    with contextlib.suppress(BlockingIOError):
        while True:
            notices += daemon.notices.recv(4096).decode().split("\n")
    for wanted_notice in ("READY=1", "STOPPING=1"):
        expect(wanted_notice in notices, f"the service manager was told {notices}")
    say("notify: told when it was ready and when it stopped")


def check_hardening(package: Installed) -> None:
    if not wanted("systemd-analyze"):
        return
    judged = run("systemd-analyze", "security", "--offline=true", "--no-pager", package.root / UNITS / "lamellad.service")
    verdict = judged.strip().splitlines()[-1]
    exposure = float(verdict.split(":", 1)[1].split()[0])
    expect(exposure <= MOST_EXPOSED and " OK" in verdict, verdict)
    say(f"hardening: {verdict.lstrip('→ ')}")


# --- four that are not -----------------------------------------------------------


def check_no_daemon(package: Installed) -> None:
    with folder() as scratch:
        daemon = Daemon(package, scratch)
        expect_found(daemon, {("fail", "SERVER_REFUSED")}, 5, "no daemon")


def check_broken_plugin(package: Installed) -> None:
    component = package.root / "usr/share/lamella/plugins/tiered-pricing.wasm"
    with folder() as scratch:
        daemon = Daemon(package, scratch)
        # Compiled by a program that is not optimised, with others at work.
        with started(daemon):
            daemon.did("--timeout", f"{PATIENCE_SECONDS}s", "plugin", "install", "--id", "tiered-pricing", str(component))
        kept = [path for path in (daemon.store / "plugins").rglob("*.wasm")]
        expect(len(kept) == 1, f"the store keeps {kept}")
        kept[0].write_bytes(b"not what was installed")
        with started(daemon):
            expect_found(daemon, {("fail", "PLUGIN_FAILED")}, 3, "a plugin whose component was spoilt")


def check_full_disk(package: Installed) -> None:
    """The system lets the daemon write no byte more to any file, as a full disk would."""
    with folder() as scratch:
        daemon = Daemon(package, scratch)
        # Otherwise the system would end the daemon instead of refusing the write.
        with started(daemon, "sh", "-c", "trap '' XFSZ; exec \"$0\" \"$@\"") as child:
            daemon.did("job", "new", "Blue estate")
            # By its own user, as this root may not be allowed to.
            run(*UNPRIVILEGED, "prlimit", "--pid", str(child.pid), "--fsize=0")
            refused = daemon.lamella("job", "new", "Red coupe")
            expect(refused.returncode != 0, "a job was entered that could not be written")
            wrong = {("fail", "DATA_NOT_WRITABLE"), ("fail", "JOURNAL_FAILED")}
            expect_found(daemon, wrong, 3, "a disk that takes nothing more")


def check_wrong_clock(package: Installed) -> None:
    with folder() as scratch:
        daemon = Daemon(package, scratch)
        with started(daemon, "faketime", "-f", "+2m"):
            expect_found(daemon, {("warn", "CLOCK_OFF")}, 0, "a clock that is two minutes fast")


def expect_found(daemon: Daemon, wanted_findings: set[tuple[str, str]], wanted_code: int, what: str) -> None:
    found, code = doctor(daemon)
    wrong = {finding for finding in found if finding[0] != "note"}
    expect(wrong == wanted_findings and code == wanted_code, f"{what}: the doctor finds {found} and ends with {code}")
    for finding in wanted_findings:
        expect(found[finding], f"{what}: the doctor does not say what to do")
        say(f"doctor: {what}: {finding[0]} {finding[1]}; {found[finding]}")


def doctor(daemon: Daemon) -> tuple[dict[tuple[str, str], str], int]:
    """Level and code of all that is not ok, with what to do about it; the exit code."""
    # The free space is the machine's, and no part of this.
    done = daemon.lamella("doctor", "--min-free", "0B", "--output", "json")
    try:
        report = json.loads(done.stdout)
    except json.JSONDecodeError:
        raise AssertionError(f"the doctor says no JSON: {done.stdout}{done.stderr}") from None
    findings = {(one["level"], one["code"]): one.get("do", "") for one in report["findings"] if one["level"] != "ok"}
    return findings, done.returncode


# --- helpers ---------------------------------------------------------------------


@contextlib.contextmanager
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="lamella-service-") as scratch:
        Path(scratch).chmod(0o755)
        yield Path(scratch)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def listens(address: str) -> bool:
    """Whether somebody listens there; not asked by a call, which would be the first one."""
    host, port = address.split(":")
    wanted_entry = "".join(f"{int(byte):02X}" for byte in reversed(host.split("."))) + f":{int(port):04X}"
    lines = Path("/proc/net/tcp").read_text().splitlines()[1:]
    return any(line.split()[1] == wanted_entry and line.split()[3] == "0A" for line in lines)


def wait_for(what: str, holds) -> None:
    begun = time.monotonic()
    while not holds():
        expect(time.monotonic() - begun < PATIENCE_SECONDS, f"waited {PATIENCE_SECONDS} s in vain for {what}")
        time.sleep(0.02)


if __name__ == "__main__":
    try:
        main()
    except AssertionError as wrong:
        sys.exit(f"running.py: {wrong}")

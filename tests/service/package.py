"""Judges the Debian package: what is in it, and a life from install to purge.

usage: package.py [--version VERSION] PACKAGE.deb

Nothing of the machine is changed (see installed.py). Needs root, dpkg and Python; what
else it would like (man, bash, systemd-analyze) it says when it is not there, and fails
for it where CI=true.
"""

import argparse
import configparser
import contextlib
import fnmatch
import gzip
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile
import tomllib
import urllib.request
from collections.abc import Iterator
from pathlib import Path

from installed import STORE, Installed, installed

LIMIT_SECONDS = 120
"""Nothing may hang for ever; no check depends on how long anything takes."""

EXPECTED = """
-rw-r--r-- /etc/lamella/lamellad.toml
-rwxr-xr-x /usr/bin/lamella
-rwxr-xr-x /usr/bin/lamellad
-rw-r--r-- /usr/lib/systemd/system/lamellad.service
-rw-r--r-- /usr/lib/systemd/system/lamellad.socket
-rw-r--r-- /usr/share/bash-completion/completions/lamella
-rw-r--r-- /usr/share/bash-completion/completions/lamellad
-rw-r--r-- /usr/share/doc/lamella/CHANGELOG.md
-rw-r--r-- /usr/share/doc/lamella/CONFIGURATION.md
-rw-r--r-- /usr/share/doc/lamella/LICENSE-APACHE
-rw-r--r-- /usr/share/doc/lamella/LICENSE-MIT
-rw-r--r-- /usr/share/doc/lamella/README.md
-rw-r--r-- /usr/share/doc/lamella/THIRD-PARTY.gz
-rw-r--r-- /usr/share/doc/lamella/copyright
-rw-r--r-- /usr/share/fish/vendor_completions.d/lamella.fish
-rw-r--r-- /usr/share/fish/vendor_completions.d/lamellad.fish
-rw-r--r-- /usr/share/lamella/dashboard/assets/*
-rw-r--r-- /usr/share/lamella/dashboard/*.svg*
-rw-r--r-- /usr/share/lamella/dashboard/index.html
-rw-r--r-- /usr/share/lamella/dashboard/index.html.*
-rw-r--r-- /usr/share/lamella/lamellad.schema.json
-rw-r--r-- /usr/share/lamella/plugins/SHA256SUMS
-rw-r--r-- /usr/share/lamella/plugins/tiered-pricing.wasm
-rw-r--r-- /usr/share/lamella/plugins/workshop-products.wasm
-rw-r--r-- /usr/share/man/man1/lamella-*.1.gz
-rw-r--r-- /usr/share/man/man1/lamella.1.gz
-rw-r--r-- /usr/share/man/man1/lamellad-*.1.gz
-rw-r--r-- /usr/share/man/man1/lamellad.1.gz
-rw-r--r-- /usr/share/zsh/vendor-completions/_lamella
-rw-r--r-- /usr/share/zsh/vendor-completions/_lamellad
""".split("\n")[1:-1]
"""Every file, with its rights; each line is of at least one, and no file of none."""

CONFIGURATION = Path("etc/lamella/lamellad.toml")
DASHBOARD = Path("usr/share/lamella/dashboard")
UNITS = Path("usr/lib/systemd/system")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--version", help="the version that package and programs must have")
    parser.add_argument("deb", type=Path)
    given = parser.parse_args()
    check_contents(given.deb)
    version = check_control(given.deb, given.version)
    with installed(given.deb) as package:
        expect(package.status() == "install ok installed", f"it is `{package.status()}` after installing")
        check_programs(package, version)
        check_manual(package)
        check_completions(package)
        check_plugins(package)
        check_units(package)
        check_enabled(package)
        check_configuration(package)
        check_leaving(package)
    say("the package is what it should be")


# --- the file ------------------------------------------------------------------


def check_contents(deb: Path) -> None:
    lines = run("dpkg-deb", "--contents", deb).splitlines()
    # Rights, owner/group, size, date, time, name.
    entries = [line.split(maxsplit=5) for line in lines]
    owners = {owner for _, owner, *_ in entries}
    # By number where the archive has no names.
    expect(owners <= {"0/0", "root/root"}, f"files belong to {owners}, not to root")
    found = [f"{rights} {name.removeprefix('.')}" for rights, *_, name in entries if not rights.startswith("d")]
    strange = [file for file in found if not any(fnmatch.fnmatchcase(file, line) for line in EXPECTED)]
    missing = [line for line in EXPECTED if not fnmatch.filter(found, line)]
    expect(not strange and not missing, f"the package has {strange} too many and lacks {missing}")
    say(f"contents: {len(found)} files, {deb.stat().st_size} bytes")


def check_control(deb: Path, version: str | None) -> str:
    def field(name: str) -> str:
        return run("dpkg-deb", "--field", deb, name).strip()

    expect(field("Package") == "lamella", f"the package is called {field('Package')}")
    expect(field("Architecture") == run("dpkg", "--print-architecture").strip(), field("Architecture"))
    expect("libc6" in field("Depends"), f"it depends on {field('Depends')!r}, and not on the C library")
    upstream = field("Version").rsplit("-", 1)[0]
    expect(version in (None, upstream), f"its version is {upstream}, not {version}")
    with tempfile.TemporaryDirectory() as scratch:
        run("dpkg-deb", "--control", deb, scratch)
        conffiles = (Path(scratch) / "conffiles").read_text().split()
        expect(conffiles == [f"/{CONFIGURATION}"], f"configuration files are {conffiles}")
        for script in ("postinst", "prerm", "postrm"):
            run("sh", "-n", Path(scratch) / script)
    return upstream


# --- what was installed ---------------------------------------------------------


def check_programs(package: Installed, version: str) -> None:
    for name in ("lamella", "lamellad"):
        said = run(package.program(name), "--version").strip()
        expect(said == f"{name} {version}", f"{name} says that it is {said!r}, the package is {version}")
    say(f"programs: {version}")


def check_manual(package: Installed) -> None:
    pages = sorted((package.root / "usr/share/man/man1").iterdir())
    for page in pages:
        name = page.name.removesuffix(".1.gz")
        source = gzip.decompress(page.read_bytes()).decode()
        expect(f".TH {name} 1" in source, f"{page.name} is not the page of {name}")
        for title in ("NAME", "SYNOPSIS"):
            expect(f".SH {title}" in source, f"{page.name} has no {title}")
    for name in ("lamella", "lamella-film", "lamellad", "lamellad-verify"):
        expect(any(page.name == f"{name}.1.gz" for page in pages), f"{name} has no page")
    if not wanted("man"):
        return
    for page in pages:
        command = ["man", "--warnings", "--local-file", str(page)]
        environment = {**os.environ, "MANWIDTH": "80", "MANPAGER": "cat", "LC_ALL": "C.UTF-8"}
        shown = subprocess.run(command, check=False, capture_output=True, text=True, env=environment)
        name = page.name.removesuffix(".1.gz")
        # Bold is written as a letter over itself.
        plain = re.sub(".\b", "", shown.stdout)
        expect(shown.returncode == 0 and not shown.stderr, f"{page.name}: {shown.stderr}")
        expect("NAME" in plain and name in plain, f"{page.name} is shown as:\n{plain}")
    say(f"manual: {len(pages)} pages")


def check_completions(package: Installed) -> None:
    share = package.root / "usr/share"
    shells = {
        "bash": (["-n"], [share / "bash-completion/completions" / name for name in ("lamella", "lamellad")]),
        "zsh": (["-n"], [share / "zsh/vendor-completions" / name for name in ("_lamella", "_lamellad")]),
        "fish": (["--no-execute"], [share / "fish/vendor_completions.d" / f"{name}.fish" for name in ("lamella", "lamellad")]),
    }
    for shell, (flags, scripts) in shells.items():
        for script in scripts:
            expect("lamella" in script.read_text(), f"{script} completes nothing")
            # Only bash is on every machine that this runs on.
            if shutil.which(shell):
                run(shell, *flags, script)
    if not wanted("bash"):
        return
    # What a person gets who types `lamellad ver` and Tab.
    script = f"source {shlex.quote(str(shells['bash'][1][1]))}; COMP_WORDS=(lamellad ver) COMP_CWORD=1; " \
        '_lamellad lamellad ver lamellad; echo "${COMPREPLY[@]}"'
    completed = run("bash", "-c", script).split()
    expect(completed == ["verify"], f"bash completes `lamellad ver` to {completed}")
    say("completions: bash, zsh, fish")


def check_plugins(package: Installed) -> None:
    folder = package.root / "usr/share/lamella/plugins"
    run("sha256sum", "--check", "--strict", "SHA256SUMS", cwd=folder)


def check_units(package: Installed) -> None:
    service = unit(package, "lamellad.service")["Service"]
    words = shlex.split(service["ExecStart"])
    expect((package.root / words[0].lstrip("/")).is_file(), f"ExecStart={words[0]} is not in the package")
    config = words[words.index("--config") + 1]
    expect(config == f"/{CONFIGURATION}", f"the unit reads {config}")
    expect(service["StateDirectory"] == STORE.name, f"the unit keeps its state in {service['StateDirectory']}")
    expect("127.0.0.1:7575" in unit(package, "lamellad.socket")["Socket"]["ListenStream"], "the socket is elsewhere")
    if not wanted("systemd-analyze"):
        return
    with tempfile.TemporaryDirectory() as scratch:
        for name in ("lamellad.service", "lamellad.socket"):
            # It looks for the program on this machine.
            text = (package.root / UNITS / name).read_text()
            (Path(scratch) / name).write_text(text.replace("=/usr/bin/", f"={package.root}/usr/bin/"))
        paths = sorted(Path(scratch).iterdir())
        judged = subprocess.run(["systemd-analyze", "verify", "--man=no", *paths], check=False, capture_output=True, text=True)
        # Complaints about the machine's own units are not about these.
        about = [line for line in judged.stderr.splitlines() if "lamella" in line]
        expect(not about, "systemd-analyze says:\n" + "\n".join(about))
    say("units: as systemd would have them")


def check_enabled(package: Installed) -> None:
    wants = package.root / "etc/systemd/system"
    for link in ("sockets.target.wants/lamellad.socket", "multi-user.target.wants/lamellad.service"):
        if wanted("deb-systemd-helper"):
            expect((wants / link).is_symlink(), f"{link} is not enabled")


def check_configuration(package: Installed) -> None:
    """A daemon with the shipped configuration serves the page, and leaves a store."""
    config = package.root / CONFIGURATION
    live = tomllib.loads(config.read_text())
    expect(live.pop("web_root", None) == f"/{DASHBOARD}", "the configuration does not serve the shipped page")
    expect(not any(live.values()), f"the configuration sets more than it should: {live}")
    with daemon(package, "--config", config) as address, urllib.request.urlopen(f"http://{address}/") as answer:
        page = answer.read()
    expect(page == (package.root / DASHBOARD / "index.html").read_bytes(), f"the daemon serves {page!r}")
    say("configuration: taken, and the page is served")


@contextlib.contextmanager
def daemon(package: Installed, *arguments: str | Path) -> Iterator[str]:
    """The installed daemon on the store of the root; its address."""
    command = [package.program("lamellad"), *arguments, "--listen", "127.0.0.1:0"]
    # The configuration names the page as it will be on the machine.
    command += ["--data-dir", package.root / STORE, "--web-root", package.root / DASHBOARD]
    environment = {name: value for name, value in os.environ.items() if not name.startswith("LAMELLA_")}
    process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=environment)
    try:
        said = []
        for line in process.stderr or ():
            said.append(line)
            if line.startswith("ready address="):
                yield line.split()[1].removeprefix("address=")
                break
        else:
            raise AssertionError(f"the installed daemon does not start:\n{''.join(said)}")
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=LIMIT_SECONDS)
        expect(process.returncode == 0, f"the installed daemon ended with {process.returncode}")
    finally:
        process.kill()
        process.wait()


def check_leaving(package: Installed) -> None:
    store = {file for file in package.files() if Path(file).is_relative_to(STORE)}
    expect(any("journal" in file for file in store), f"the daemon left no journal: {sorted(store)}")
    package.remove()
    expect(str(CONFIGURATION) in package.files(), "removing took the configuration along")
    expect(not package.program("lamellad").exists(), "removing left the daemon")
    said = package.purge()
    left = package.files() - store
    expect(not left, f"purging leaves {sorted(left)}")
    expect(store <= package.files(), f"purging took {sorted(store - package.files())} of the store")
    expect(f"stay in /{STORE}" in said, f"purging does not say that the store stays:\n{said}")
    expect(not package.status().startswith("install"), f"it is `{package.status()}` after purging")
    say(f"purged: nothing left but the store, {len(store)} files")


# --- helpers -------------------------------------------------------------------


def unit(package: Installed, name: str) -> configparser.ConfigParser:
    """The unit by section and key; of a key that is there twice, the last."""
    parsed = configparser.ConfigParser(strict=False, interpolation=None, delimiters=("=",), comment_prefixes=("#", ";"))
    parsed.optionxform = str  # type: ignore[assignment, method-assign]
    parsed.read_string((package.root / UNITS / name).read_text())
    return parsed


def wanted(tool: str) -> bool:
    """Whether a tool is there, without which something is left out."""
    if shutil.which(tool):
        return True
    expect(os.environ.get("CI") != "true", f"{tool} is not at hand")
    say(f"SKIPPED: what takes {tool}")
    return False


def run(*command: str | Path, cwd: Path | None = None) -> str:
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=LIMIT_SECONDS, cwd=cwd)
    shown = " ".join(map(str, command))
    expect(done.returncode == 0, f"`{shown}` ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout


def expect(holds: bool, otherwise: str) -> None:
    if not holds:
        raise AssertionError(otherwise)


def say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    try:
        main()
    except AssertionError as wrong:
        sys.exit(f"package.py: {wrong}")

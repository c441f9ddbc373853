"""Builds the bindings packages as a stranger would, and runs them (`./tests/run bindings`).

usage: check.py --lamellad PROGRAM [python] [typescript] [rust]

For each language, in a folder of its own outside of the repository: install the
package from a copy of proto/, type-check, run the README's example as it is written
there against a live daemon, compare with the output that the README shows, and run
the checks beside this file. Nothing but Python itself is needed to run this.
"""

import argparse
import contextlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parent
PROTO = HERE.parent.parent / "proto"
LIMIT_SECONDS = 300
"""Nothing may hang for ever; no check depends on how long anything takes."""

MADE_HERE = shutil.ignore_patterns("node_modules", "dist", "gen", "target", "__pycache__", "*.egg-info")
"""What an install in the repository leaves behind, and a copy must not profit from."""


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--lamellad", type=Path, required=True)
    parser.add_argument("languages", nargs="*", default=list(CHECKS))
    given = parser.parse_args()
    lamellad = given.lamellad.resolve(strict=True)
    for language in given.languages:
        begun = time.monotonic()
        with tempfile.TemporaryDirectory(prefix=f"lamella-{language}-") as scratch:
            CHECKS[language](Path(scratch), lamellad)
        say(f"{language}: passed in {time.monotonic() - begun:.0f} s")


# --- the languages -------------------------------------------------------------


def check_python(scratch: Path, lamellad: Path) -> None:
    package = copy_of_protos(scratch) / "python"
    before = listing(package)
    run(sys.executable, "-m", "venv", scratch / "venv")
    python = scratch / "venv" / "bin" / "python"
    pip = (python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check")
    say("python: pip install ./proto/python")
    run(*pip, f"{package}[types]", "--requirement", HERE / "requirements.txt")
    left = listing(package) - before
    expect(not left, f"an install leaves files behind in proto/python: {sorted(left)}")

    say("python: the same from a source distribution")
    # `build` makes the wheel from the source distribution, away from the protos. It
    # would set up one environment for each of the two; this is one for both.
    builder = scratch / "builder" / "bin" / "python"
    needed = tomllib.loads((package / "pyproject.toml").read_text(encoding="utf-8"))["build-system"]["requires"]
    run(sys.executable, "-m", "venv", scratch / "builder")
    run(builder, *pip[1:], "build==1.6.1", *needed)
    run(builder, "-m", "build", "--no-isolation", "--outdir", scratch / "built", package)
    [wheel] = (scratch / "built").glob("*.whl")
    run(*pip, "--no-deps", "--target", scratch / "from-sdist", wheel)
    installed = Path(run(python, "-c", "import lamella; print(lamella.__path__[0])").strip())
    expect(
        contents(scratch / "from-sdist" / "lamella") == contents(installed),
        "the source distribution makes another package than the folder",
    )

    say("python: types")
    example = write_example(package / "README.md", "python", scratch / "readme.py")
    checks = shutil.copy(HERE / "behaviour.py", scratch)
    run(python, "-m", "mypy", "--strict", "--no-error-summary", example, checks, cwd=scratch)
    run(python, "-m", "mypy", "--strict", "--no-error-summary", "--package", "lamella", cwd=scratch)

    with daemon(lamellad) as server:
        say("python: the README's example")
        compare(package / "README.md", run(python, example, env={"LAMELLA_SERVER": server}))
        say("python: behaviour")
        run(python, checks, *service_names(), env={"LAMELLA_SERVER": server}, show=True)


def check_typescript(scratch: Path, lamellad: Path) -> None:
    package = copy_of_protos(scratch) / "typescript"
    app = scratch / "app"
    app.mkdir()
    (app / "package.json").write_text('{"name": "app", "private": true, "type": "module"}\n')
    say("typescript: npm install ./proto/typescript")
    run("npm", "install", "--silent", "--no-audit", "--no-fund", package, cwd=app)

    say("typescript: types")
    tools = package / "node_modules" / ".bin"
    write_example(package / "README.md", "ts", app / "readme.ts")
    for checks in HERE.glob("*.ts"):
        shutil.copy(checks, app)
    for settings in ("node", "browser"):
        shutil.copy(HERE / f"tsconfig.{settings}.json", app)
        run(tools / "tsc", "--project", f"tsconfig.{settings}.json", cwd=app)

    with daemon(lamellad) as server:
        say("typescript: the README's example")
        compare(package / "README.md", run("node", "readme.js", cwd=app, env={"LAMELLA_SERVER": server}))
        say("typescript: behaviour")
        run("node", "behaviour.js", *service_names(), cwd=app, env={"LAMELLA_SERVER": server}, show=True)
        run("node", "behaviour_node.js", cwd=app, env={"LAMELLA_SERVER": server}, show=True)

    say("typescript: a packed copy")
    packed = run("npm", "pack", "--silent", "--pack-destination", scratch, cwd=package).split()[-1]
    unpacked = scratch / "unpacked"
    unpacked.mkdir()
    run("tar", "-xzf", scratch / packed, "-C", unpacked)
    for file in ("index.js", "index.d.ts"):
        expect((unpacked / "package" / "dist" / file).is_file(), f"the packed copy has no dist/{file}")
    expect(not (unpacked / "package" / "src").exists(), "the packed copy holds the sources too")

    say("typescript: error details as published")
    run(tools / "buf", "build", package / "standard", "--output", scratch / "ours.binpb")
    run(sys.executable, "-m", "venv", scratch / "venv")
    python = scratch / "venv" / "bin" / "python"
    run(python, "-m", "pip", "install", "--quiet", "googleapis-common-protos==1.76.0")
    run(python, HERE / "standard.py", scratch / "ours.binpb")


def check_rust(scratch: Path, lamellad: Path) -> None:
    example = write_example(PROTO / "README.md", "rust", scratch / "readme.rs").read_text()
    program = (PROTO / "examples" / "first_job.rs").read_text()
    expect(program.endswith(f"\n{example}"), "proto/README.md and proto/examples/first_job.rs differ")
    with daemon(lamellad) as server:
        say("rust: the README's example")
        cargo = ("cargo", "run", "--quiet", "--example", "first_job")
        compare(PROTO / "README.md", run(*cargo, cwd=PROTO.parent, env={"LAMELLA_SERVER": server}))


CHECKS = {"python": check_python, "typescript": check_typescript, "rust": check_rust}


# --- the READMEs ---------------------------------------------------------------


def block(readme: Path, fence: str) -> str:
    """The one code block that opens with this fence, as it is written there."""
    [found] = re.findall(rf"^```{fence}\n(.*?)^```$", readme.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    return found


def write_example(readme: Path, fence: str, to: Path) -> Path:
    to.write_text(block(readme, fence), encoding="utf-8")
    return to


def compare(readme: Path, output: str) -> None:
    """The output must be what the README shows, but for the job's random name."""
    shown, printed = (re.sub(r"jobs/\w{26}\b", "jobs/NAME", text) for text in (shown_output(readme), output))
    expect("jobs/NAME" in shown, f"{readme} shows no output")
    expect(printed == shown, f"{readme} shows\n{shown}\nand its example prints\n{printed}")


def shown_output(readme: Path) -> str:
    """The last block without a language."""
    lines = readme.read_text(encoding="utf-8").splitlines(keepends=True)
    fences = [number for number, line in enumerate(lines) if line.startswith("```")]
    opening, closing = [
        (first, last)
        for first, last in zip(fences[::2], fences[1::2], strict=True)
        if lines[first].strip() == "```"
    ][-1]
    return "".join(lines[opening + 1 : closing])


# --- the daemon and other programs ---------------------------------------------


@contextlib.contextmanager
def daemon(lamellad: Path) -> Iterator[str]:
    """A daemon with an empty store on a free port of this machine; its address."""
    with tempfile.TemporaryDirectory(prefix="lamella-data-") as data:
        log = Path(data) / "log"
        with log.open("w") as stderr:
            process = subprocess.Popen(
                (lamellad, "--data-dir", Path(data) / "store", "--listen", "127.0.0.1:0"),
                env=clean_environment(),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=stderr,
            )
        try:
            yield ready_address(process, log)
        except BaseException:
            print(f"--- lamellad wrote:\n{log.read_text()}---", file=sys.stderr)
            raise
        finally:
            process.kill()
            process.wait()


def ready_address(process: subprocess.Popen[bytes], log: Path) -> str:
    deadline = time.monotonic() + LIMIT_SECONDS
    while time.monotonic() < deadline:
        ended = process.poll() is not None
        if ready := re.search(r"^ready address=(\S+) ", log.read_text(), re.MULTILINE):
            return ready[1]
        expect(not ended, f"lamellad ended with {process.returncode} before it was ready")
        time.sleep(0.02)
    raise AssertionError("lamellad does not get ready")


def run(*command: str | Path, cwd: Path | None = None, env: dict[str, str] | None = None, show: bool = False) -> str:
    """Runs a program that must succeed; what it printed."""
    named = " ".join(map(str, command))
    with subprocess.Popen(
        command,
        cwd=cwd,
        env=clean_environment() | (env or {}),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        try:
            stdout, stderr = process.communicate(timeout=LIMIT_SECONDS)
            how = f"ended with {process.returncode}"
        except subprocess.TimeoutExpired:
            process.kill()
            stdout, stderr = process.communicate()
            how = f"did not end within {LIMIT_SECONDS} s"
    if show or process.returncode != 0:
        print(stdout, stderr, sep="", end="", flush=True)
    expect(process.returncode == 0, f"{named} {how}")
    return stdout


def clean_environment() -> dict[str, str]:
    """Without settings that would lead to another daemon or other Python modules."""
    dropped = ("LAMELLA_", "PYTHON", "VIRTUAL_ENV", "NODE_PATH")
    return {name: value for name, value in os.environ.items() if not name.startswith(dropped)}


# --- files ---------------------------------------------------------------------


def copy_of_protos(scratch: Path) -> Path:
    return Path(shutil.copytree(PROTO, scratch / "proto", ignore=MADE_HERE))


def service_names() -> list[str]:
    """The services of the API, as its protos have them."""
    found = [
        f"lamella.v1.{name}"
        for file in sorted((PROTO / "lamella" / "v1").glob("*.proto"))
        for name in re.findall(r"^service (\w+)", file.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    expect(len(found) >= 5, f"only {found} found; is {PROTO} right?")
    return found


def listing(folder: Path) -> set[str]:
    """All but what Python caches of the build hook."""
    found = (path.relative_to(folder) for path in folder.rglob("*"))
    return {path.as_posix() for path in found if "__pycache__" not in path.parts}


def contents(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file() and path.suffix in {".py", ".pyi", ".typed"})
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def expect(condition: bool, what: str) -> None:
    if not condition:
        raise AssertionError(what)


def say(what: str) -> None:
    print(f"  {what}", flush=True)


if __name__ == "__main__":
    try:
        main()
    except AssertionError as failed:
        sys.exit(f"bindings: {failed}")

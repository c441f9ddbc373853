"""The Debian package in a root of its own: installed, removed, purged.

    with installed(deb) as package:
        run(package.program("lamellad"), "--version")

The root is a scratch directory with a dpkg database of its own. Nothing of the machine
is changed: dpkg is told the root, and the package's scripts, which run outside of it
with DPKG_ROOT set, keep to that. What the package depends on is not looked for there,
as its programs run on this machine. It takes root, as files get their owners.
"""

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

NAME = "lamella"
STORE = Path("var/lib/lamella")
"""Where the shop's jobs are; the package leaves it alone."""

DATABASE = Path("var/lib/dpkg")
"""What dpkg knows, which is no part of the package."""


class Installed:
    """The package in its root."""

    def __init__(self, deb: Path, root: Path) -> None:
        self.deb = deb
        self.root = root
        (root / DATABASE / "info").mkdir(parents=True)
        (root / DATABASE / "updates").mkdir()
        (root / DATABASE / "status").touch()
        (root / DATABASE / "available").touch()

    def install(self) -> str:
        """Unpacks and configures it; what dpkg and the scripts said."""
        return self._dpkg("--force-depends", "--install", str(self.deb))

    def remove(self) -> str:
        """Takes it away, but for its configuration."""
        return self._dpkg("--remove", NAME)

    def purge(self) -> str:
        """Takes its configuration away as well."""
        return self._dpkg("--purge", NAME)

    def status(self) -> str:
        """dpkg's word for it: `install ok installed`, or nothing where it knows none."""
        query = ["dpkg-query", f"--admindir={self.root / DATABASE}", "--show", "--showformat=${Status}", NAME]
        return subprocess.run(query, check=False, capture_output=True, text=True).stdout

    def program(self, name: str) -> Path:
        """One of its programs."""
        return self.root / "usr/bin" / name

    def files(self) -> set[str]:
        """Every file in the root that is not dpkg's own; without the leading slash."""
        found = (path for path in self.root.rglob("*") if path.is_symlink() or not path.is_dir())
        names = (path.relative_to(self.root) for path in found)
        return {str(name) for name in names if not name.is_relative_to(DATABASE)}

    def _dpkg(self, *arguments: str) -> str:
        command = ["dpkg", f"--root={self.root}", "--force-script-chrootless", *arguments]
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive", "LC_ALL": "C"}
        done = subprocess.run(command, check=False, capture_output=True, text=True, env=environment)
        said = done.stdout + done.stderr
        if done.returncode != 0:
            raise AssertionError(f"{' '.join(command)} ended with {done.returncode}:\n{said}")
        return said


@contextlib.contextmanager
def installed(deb: Path) -> Iterator[Installed]:
    """The package, installed; its root goes at the end, whatever happened."""
    root = Path(tempfile.mkdtemp(prefix="lamella-root-"))
    try:
        # Whoever looks into it may not be root: the daemon's own user, for one.
        root.chmod(0o755)
        package = Installed(deb.resolve(strict=True), root)
        package.install()
        yield package
    finally:
        shutil.rmtree(root)

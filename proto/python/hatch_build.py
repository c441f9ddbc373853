"""Generates the client's modules when the package is built.

Every proto of lamella/v1 is taken, by folder and not by name: a new proto file or
service needs nothing here. Nothing is written into the source tree.

Made for each proto: messages (`job_pb2`), stubs (`job_service_pb2_grpc`), and typed
descriptions of both. Made once: `lamella/v1/__init__.py`, which exports every
message and enum, and `lamella/services.py`, which has a stub of every service.
"""

import keyword
import re
import shutil
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from google.protobuf.descriptor_pb2 import FileDescriptorProto, FileDescriptorSet
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

PACKAGE = "lamella/v1"


class Generate(BuildHookInterface):
    """Adds the generated modules to the wheel."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        self.made = Path(tempfile.mkdtemp(prefix="lamella-python-"))
        files = compile_protos(protos_root(Path(self.root)), self.made)
        write(self.made / PACKAGE / "__init__.py", package_module(files))
        write(self.made / "lamella" / "services.py", services_module(files))
        # One by one: the folder itself is there already, with what is written by hand.
        for path in sorted(self.made.rglob("*.py*")):
            build_data["force_include"][str(path)] = str(path.relative_to(self.made))

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        shutil.rmtree(self.made)


def protos_root(root: Path) -> Path:
    """The folder that holds lamella/v1: inside a source distribution, or above."""
    for candidate in (root / "protos", root.parent):
        if (candidate / PACKAGE).is_dir():
            return candidate
    raise FileNotFoundError(f"{PACKAGE} is neither in {root / 'protos'} nor in {root.parent}")


def compile_protos(protos: Path, out: Path) -> list[FileDescriptorProto]:
    """Writes modules and typed descriptions; what the protos define."""
    import grpc_tools
    from grpc_tools import protoc

    names = sorted(path.relative_to(protos).as_posix() for path in (protos / PACKAGE).glob("*.proto"))
    described = out / "described.bin"
    # The plugins are beside this interpreter, which need not be first on the path.
    programs = Path(sys.executable).parent
    arguments = [
        "protoc",
        f"--proto_path={protos}",
        f"--proto_path={Path(grpc_tools.__file__).parent / '_proto'}",
        f"--descriptor_set_out={described}",
        f"--python_out={out}",
        f"--grpc_python_out={out}",
        f"--mypy_out={out}",
        f"--mypy_grpc_out={out}",
        *(f"--plugin={name}={plugin(programs, name)}" for name in ("protoc-gen-mypy", "protoc-gen-mypy_grpc")),
        *names,
    ]
    if protoc.main(arguments) != 0:
        raise RuntimeError("the protos cannot be compiled; the lines above say where")
    files = FileDescriptorSet.FromString(described.read_bytes()).file
    described.unlink()
    for file in files:
        if not file.service:
            # grpcio-tools writes an empty one.
            for path in out.glob(f"{file.name.removesuffix('.proto')}_pb2_grpc.py*"):
                path.unlink()
    return list(files)


def plugin(programs: Path, name: str) -> str:
    """A plugin's program."""
    found = shutil.which(name, path=str(programs)) or shutil.which(name)
    if found is None:
        raise FileNotFoundError(f"{name} of mypy-protobuf is neither in {programs} nor on the path")
    return found


def package_module(files: list[FileDescriptorProto]) -> str:
    """A module that exports every message, enum, enum value and stub."""
    exports = {
        **{module(file, "_pb2"): sorted(defined(file)) for file in files},
        **{module(file, "_pb2_grpc"): [f"{s.name}Stub" for s in file.service] for file in files},
    }
    return "\n".join(
        [
            '"""Every message, enum and stub of the API. Written by hatch_build.py."""',
            "",
            *(f"from {name} import {n} as {n}" for name, names in exports.items() for n in names),
            "",
        ]
    )


def defined(file: FileDescriptorProto) -> Iterable[str]:
    """What a file's module has at its top."""
    for message in file.message_type:
        yield message.name
    for enum in file.enum_type:
        yield enum.name
        for value in enum.value:
            yield value.name


def services_module(files: list[FileDescriptorProto]) -> str:
    """A class with a stub of each service."""
    services = [(module(file, "_pb2_grpc"), service.name) for file in files for service in file.service]
    return "\n".join(
        [
            '"""A stub of each service. Written by hatch_build.py."""',
            "",
            "import grpc",
            "",
            *(f"from {name} import {service}Stub" for name, service in services),
            "",
            "",
            "class Services:",
            '    """A stub of each service, by its short name: JobService is `job`."""',
            "",
            "    def __init__(self, channel: grpc.Channel) -> None:",
            *(f"        self.{short_name(service)} = {service}Stub(channel)" for _, service in services),
            "",
        ]
    )


def module(file: FileDescriptorProto, suffix: str) -> str:
    """The name of one of a file's modules."""
    return file.name.removesuffix(".proto").replace("/", ".") + suffix


def short_name(service: str) -> str:
    """`JobService` is `job`, `SunMoonService` is `sun_moon`."""
    name = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", service.removesuffix("Service")).lower()
    return f"{name}_" if keyword.iskeyword(name) else name


def write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")

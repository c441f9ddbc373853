"""What an error of a call says, in a form that a program can act on."""

from dataclasses import dataclass
from typing import Any, Self

import grpc
from google.rpc import error_details_pb2  # type: ignore[import-untyped]
from grpc_status import rpc_status


@dataclass(frozen=True)
class Violation:
    """One fault of one field."""

    field: str
    """Path of the field, for example `job.display_name`."""
    description: str
    """What is wrong with it."""


@dataclass(frozen=True)
class Condition:
    """One condition that is not met."""

    type: str
    """Stable, in upper case, for example `PANEL_NOT_MEASURED`."""
    subject: str
    """What it is about, for example `panels/hood`."""
    description: str
    """What is missing."""


class LamellaError(Exception):
    """Why a call failed. `__cause__` is gRPC's own error."""

    code: grpc.StatusCode
    """The canonical gRPC code."""
    reason: str
    """Stable, in upper case, for example `CONDITIONS_UNMET`; empty when the error did
    not come from the daemon, as where it cannot be reached."""
    message: str
    """For people: what was wrong, what was expected, where."""
    violations: tuple[Violation, ...]
    """Faults of the request, one for each."""
    conditions: tuple[Condition, ...]
    """Conditions that are not met, one for each."""

    def __init__(
        self,
        code: grpc.StatusCode,
        message: str,
        reason: str = "",
        violations: tuple[Violation, ...] = (),
        conditions: tuple[Condition, ...] = (),
    ) -> None:
        super().__init__(code, message, reason, violations, conditions)
        self.code = code
        self.message = message
        self.reason = reason
        self.violations = violations
        self.conditions = conditions

    def __str__(self) -> str:
        reason = f" ({self.reason})" if self.reason else ""
        return f"{self.code.name}{reason}: {self.message}"

    @classmethod
    def of(cls, error: grpc.RpcError) -> Self:
        """Reads gRPC's own error, with the google.rpc details that it carries."""
        if not isinstance(error, grpc.Call):
            return cls(grpc.StatusCode.UNKNOWN, str(error))
        reason = ""
        violations: list[Violation] = []
        conditions: list[Condition] = []
        for detail in details(error):
            info = error_details_pb2.ErrorInfo()
            request = error_details_pb2.BadRequest()
            failure = error_details_pb2.PreconditionFailure()
            if detail.Unpack(info):
                reason = reason or info.reason
            elif detail.Unpack(request):
                violations += (Violation(v.field, v.description) for v in request.field_violations)
            elif detail.Unpack(failure):
                conditions += (Condition(v.type, v.subject, v.description) for v in failure.violations)
        return cls(error.code(), error.details() or "", reason, tuple(violations), tuple(conditions))


def details(error: grpc.Call) -> list[Any]:
    """The google.rpc details; none where a proxy or gRPC itself made the error."""
    try:
        status = rpc_status.from_call(error)
    except ValueError:
        # Details that contradict the code or message: those are left aside.
        return []
    return [] if status is None else list(status.details)

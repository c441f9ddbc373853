"""Gives calls their deadline, and raises `LamellaError` in place of gRPC's error."""

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import grpc

from lamella.errors import LamellaError


class Details(NamedTuple):
    """What grpcio passes from interceptor to interceptor, in a form that can be made."""

    method: str
    timeout: float | None
    metadata: Any
    credentials: Any
    wait_for_ready: bool | None
    compression: Any


class Call:
    """A call under way: as gRPC's own, but for the error that it raises."""

    def __init__(self, call: Any) -> None:
        self._call = call

    def __getattr__(self, name: str) -> Any:
        return getattr(self._call, name)

    def __iter__(self) -> Iterator[Any]:
        return self

    def __next__(self) -> Any:
        return mapped(self._call.__next__)

    def result(self, timeout: float | None = None) -> Any:
        return mapped(lambda: self._call.result(timeout))

    def exception(self, timeout: float | None = None) -> Exception | None:
        error = self._call.exception(timeout)
        return LamellaError.of(error) if isinstance(error, grpc.RpcError) else error

    def add_done_callback(self, callback: Callable[[Any], Any]) -> None:
        self._call.add_done_callback(lambda _: callback(self))


class Interceptor(
    grpc.UnaryUnaryClientInterceptor,
    grpc.UnaryStreamClientInterceptor,
    grpc.StreamUnaryClientInterceptor,
    grpc.StreamStreamClientInterceptor,
):
    """For calls of every kind."""

    def __init__(self, timeout_seconds: float | None) -> None:
        self._timeout_seconds = timeout_seconds

    def intercept_unary_unary(self, continuation: Any, details: Any, request: Any) -> Any:
        timeout = self._timeout_seconds if details.timeout is None else details.timeout
        limited = Details(
            details.method,
            timeout,
            details.metadata,
            details.credentials,
            details.wait_for_ready,
            details.compression,
        )
        return Call(continuation(limited, request))

    def intercept_unary_stream(self, continuation: Any, details: Any, request: Any) -> Any:
        return Call(continuation(details, request))

    def intercept_stream_unary(self, continuation: Any, details: Any, requests: Any) -> Any:
        return Call(continuation(details, requests))

    def intercept_stream_stream(self, continuation: Any, details: Any, requests: Any) -> Any:
        return Call(continuation(details, requests))


def mapped(call: Callable[[], Any]) -> Any:
    """What the call gives, or its error as a `LamellaError`."""
    try:
        return call()
    except grpc.RpcError as error:
        raise LamellaError.of(error) from error

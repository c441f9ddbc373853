"""The way to the daemon: a channel, and a stub of each service on it."""

import os
from types import TracebackType
from typing import Self

import grpc

from lamella.interceptor import Interceptor
from lamella.services import Services

DEFAULT_SERVER = "127.0.0.1:7575"
"""Where the daemon listens unless told otherwise."""

DEFAULT_TIMEOUT_SECONDS = 10.0
"""After which a call ends unless told otherwise."""

MESSAGE_LIMIT_BYTES = 64 * 1024 * 1024
"""Largest message taken. A full page of long jobs is larger than gRPC's usual 4 MiB."""


class Lamella(Services):
    """A connection to the daemon, with a stub of each service.

    Closed by `close()` or at the end of a `with`; calls and watches that are under
    way then end.
    """

    def __init__(self, channel: grpc.Channel) -> None:
        super().__init__(channel)
        self._channel = channel

    def close(self) -> None:
        """Ends the connection."""
        self._channel.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def connect(
    server: str | None = None,
    *,
    timeout_seconds: float | None = DEFAULT_TIMEOUT_SECONDS,
) -> Lamella:
    """Gives a stub of each service. Nothing is sent before the first call.

    `server` is `HOST:PORT`, `http://HOST:PORT` or `unix:PATH`; unset, the environment's
    `LAMELLA_SERVER`, else `127.0.0.1:7575`. `timeout_seconds` is the deadline of calls
    that give no `timeout` of their own; None for none. Streams have none unless they
    give one: a watch is meant to last.

    Calls that fail raise `LamellaError`. A `server` of no such form is a `ValueError`.
    """
    given = os.environ.get("LAMELLA_SERVER") or DEFAULT_SERVER if server is None else server
    options = [
        ("grpc.max_receive_message_length", MESSAGE_LIMIT_BYTES),
        # A local daemon is never behind the environment's proxy.
        ("grpc.enable_http_proxy", 0),
    ]
    channel = grpc.insecure_channel(target(given), options)
    return Lamella(grpc.intercept_channel(channel, Interceptor(timeout_seconds)))


def target(server: str) -> str:
    """What gRPC calls the address."""
    expected = "expected HOST:PORT, http://HOST:PORT or unix:PATH"
    if server.startswith("unix:"):
        if server == "unix:":
            raise ValueError(f"`{server}` names no path; {expected}")
        return server
    bare = server.removeprefix("http://").removesuffix("/")
    host, _, port = bare.rpartition(":")
    if not host or "/" in bare or "@" in bare or not (port.isascii() and port.isdigit() and int(port) <= 65535):
        raise ValueError(f"`{server}` is no address; {expected}")
    return bare

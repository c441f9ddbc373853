"""Checks the installed Python client against a live daemon.

usage: behaviour.py SERVICE... with LAMELLA_SERVER set

SERVICEs are those of the protos. Any surprise is an exception.
"""

import os
import queue
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import grpc
from google.protobuf.message import Message
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import (
    ProtoReflectionDescriptorDatabase,
)

import lamella
from lamella import v1
from lamella.client import target

CHECKS: list[Callable[[lamella.Lamella], None]] = []


def check(function: Callable[[lamella.Lamella], None]) -> Callable[[lamella.Lamella], None]:
    CHECKS.append(function)
    return function


def expect_equal(found: object, expected: object) -> None:
    if found != expected:
        raise AssertionError(f"expected {expected!r}, got {found!r}")


def refused(call: Callable[[], object]) -> lamella.LamellaError:
    try:
        answer = call()
    except lamella.LamellaError as error:
        return error
    raise AssertionError(f"expected a refusal, got {answer!r}")


def new_job(shop: lamella.Lamella) -> v1.Job:
    return shop.job.CreateJob(v1.CreateJobRequest(job=v1.Job(display_name="Blue estate")))


@check
def every_service_of_the_protos_has_a_stub(shop: lamella.Lamella) -> None:
    stubs = [type(stub).__name__ for stub in vars(shop).values()]
    found = [f"lamella.v1.{name.removesuffix('Stub')}" for name in stubs if name.endswith("ServiceStub")]
    expect_equal(sorted(found), sorted(sys.argv[1:]))


@check
def every_method_that_the_daemon_serves_can_be_called(shop: lamella.Lamella) -> None:
    with grpc.insecure_channel(target(SERVER)) as channel:
        database = ProtoReflectionDescriptorDatabase(channel)
        served = [name for name in database.get_services() if name.startswith("lamella.")]
        expect_equal(bool(served), True)
        for service in served:
            stub = next(s for s in vars(shop).values() if type(s).__name__ == f"{service.split('.')[-1]}Stub")
            file = database.FindFileContainingSymbol(service)
            [methods] = [s.method for s in file.service if service == f"{file.package}.{s.name}"]
            for method in methods:
                expect_equal(callable(getattr(stub, method.name)), True)


@check
def faults_of_fields_are_listed(shop: lamella.Lamella) -> None:
    error = refused(lambda: shop.job.CreateJob(v1.CreateJobRequest(job=v1.Job(), job_id="Not An Id")))
    expect_equal(error.code, grpc.StatusCode.INVALID_ARGUMENT)
    expect_equal(error.reason, "INPUT_INVALID")
    expect_equal(sorted(v.field for v in error.violations), ["job.display_name", "job_id"])
    expect_equal(all(v.description for v in error.violations), True)
    expect_equal(error.conditions, ())
    expect_equal(str(error), f"INVALID_ARGUMENT (INPUT_INVALID): {error.message}")
    expect_equal(isinstance(error.__cause__, grpc.RpcError), True)


@check
def unmet_conditions_are_listed(shop: lamella.Lamella) -> None:
    job = new_job(shop)
    error = refused(lambda: shop.job.AdvanceStage(v1.AdvanceStageRequest(name=job.name)))
    expect_equal((error.code, error.reason), (grpc.StatusCode.FAILED_PRECONDITION, "CONDITIONS_UNMET"))
    expect_equal([c.type for c in error.conditions], ["VEHICLE_MISSING"])
    expect_equal(error.violations, ())


@check
def other_refusals_carry_their_reason(shop: lamella.Lamella) -> None:
    error = refused(lambda: shop.job.GetJob(v1.GetJobRequest(name="jobs/nobody")))
    expect_equal((error.code, error.reason), (grpc.StatusCode.NOT_FOUND, "RESOURCE_NOT_FOUND"))
    job = new_job(shop)
    shop.job.UpdateJob(v1.UpdateJobRequest(job=v1.Job(name=job.name, wishes="no dust")))
    stale = v1.Job(name=job.name, etag=job.etag, wishes="none")
    error = refused(lambda: shop.job.UpdateJob(v1.UpdateJobRequest(job=stale)))
    expect_equal((error.code, error.reason), (grpc.StatusCode.ABORTED, "ETAG_STALE"))


@check
def a_stream_to_the_daemon_can_be_refused(shop: lamella.Lamella) -> None:
    nothing: list[v1.TryPluginRequest] = []
    error = refused(lambda: shop.plugin.TryPlugin(iter(nothing)))
    expect_equal((error.code, [v.field for v in error.violations]), (grpc.StatusCode.INVALID_ARGUMENT, ["header"]))


@check
def futures_and_calls_with_metadata_raise_the_same(shop: lamella.Lamella) -> None:
    request = v1.GetJobRequest(name="jobs/nobody")
    future: Any = shop.job.GetJob.future(request)
    expect_equal(refused(future.result).reason, "RESOURCE_NOT_FOUND")
    expect_equal(future.exception().reason, "RESOURCE_NOT_FOUND")
    expect_equal(refused(lambda: shop.job.GetJob.with_call(request)).reason, "RESOURCE_NOT_FOUND")
    told: queue.SimpleQueue[Any] = queue.SimpleQueue()
    again: Any = shop.job.GetJob.future(request)
    again.add_done_callback(told.put)
    expect_equal(told.get(timeout=60).exception().reason, "RESOURCE_NOT_FOUND")
    answer, call = shop.job.GetJob.with_call(v1.GetJobRequest(name=new_job(shop).name))
    expect_equal((answer.stage, call.code()), (v1.STAGE_BOOKED, grpc.StatusCode.OK))


@check
def a_watch_resumes_ends_and_fails(shop: lamella.Lamella) -> None:
    def watched(token: str, job: str) -> tuple[list[str | None], str]:
        stream = shop.job.WatchJobs(v1.WatchJobsRequest(resume_token=token, job=job))
        changes: list[str | None] = []
        for message in stream:
            token = message.resume_token
            if message.HasField("caught_up"):
                stream.cancel()
                expect_equal(refused(lambda: next(stream)).code, grpc.StatusCode.CANCELLED)
                return changes, token
            changes.append(message.event.WhichOneof("change"))
        raise AssertionError("the watch ended before it had caught up")

    job = new_job(shop).name
    changes, token = watched("0", job)
    expect_equal(changes, ["created"])
    shop.job.UpdateJob(v1.UpdateJobRequest(job=v1.Job(name=job, wishes="no dust")))
    expect_equal(watched(token, job)[0], ["updated"])
    ahead = shop.job.WatchJobs(v1.WatchJobsRequest(resume_token="999999"))
    expect_equal(refused(lambda: next(ahead)).reason, "RESUME_TOKEN_AHEAD")


@check
def a_dilution_keeps_the_product(shop: lamella.Lamella) -> None:
    # Volume of product before and after: stock * 91 % = 1000 ml * 35 % (balance of
    # ideal volumes, a definition and no trade fact).
    request = v1.DiluteRequest(stock=v1.Strength(percent=91), target=v1.Strength(percent=35), total_ml=1000)
    answer = shop.calculator.Dilute(request)
    expect_equal(round(answer.concentrate_ml, 2), round(1000 * 35 / 91, 2))


@check
def an_unreachable_daemon_is_an_error_without_reason(shop: lamella.Lamella) -> None:
    # Bound and not listening: nobody else can take the port meanwhile.
    with socket.socket() as bound:
        bound.bind(("127.0.0.1", 0))
        with lamella.connect(f"127.0.0.1:{bound.getsockname()[1]}") as nobody:
            error = refused(lambda: nobody.job.GetJob(v1.GetJobRequest(name="jobs/a")))
    expect_equal((error.code, error.reason), (grpc.StatusCode.UNAVAILABLE, ""))


@check
def addresses_are_taken_and_refused(shop: lamella.Lamella) -> None:
    expect_equal(target("127.0.0.1:7575"), "127.0.0.1:7575")
    expect_equal(target("http://[::1]:7575/"), "[::1]:7575")
    expect_equal(target("unix:/run/lamella.sock"), "unix:/run/lamella.sock")
    for wrong in ("", "unix:", "localhost", "localhost:", ":7575", "https://a:1", "a:99999", "a:b", "http://a:1/b"):
        try:
            lamella.connect(wrong)
        except ValueError as error:
            expect_equal(f"`{wrong}`" in str(error), True)
        else:
            raise AssertionError(f"`{wrong}` was taken")


def deadline(context: grpc.ServicerContext) -> str:
    """The deadline that a call came with: gRPC rounds it up, and some of it has passed."""
    remaining: float | None = context.time_remaining()
    if remaining is None or remaining > 1e6:
        # What gRPC calls no deadline is one in some centuries.
        return "none"
    return "at most 11 s" if remaining <= 11 else "more than 11 s"


@check
def calls_have_a_deadline_and_streams_have_none(shop: lamella.Lamella) -> None:
    end = threading.Event()

    def get_job(request: v1.GetJobRequest, context: grpc.ServicerContext) -> v1.Job:
        if request.name == "jobs/never":
            end.wait()
        return v1.Job(display_name=deadline(context))

    def watch_jobs(request: v1.WatchJobsRequest, context: grpc.ServicerContext) -> Iterator[v1.WatchJobsResponse]:
        yield v1.WatchJobsResponse(resume_token=deadline(context))

    def write(message: Message) -> bytes:
        return message.SerializeToString()

    def try_plugin(requests: Iterator[v1.TryPluginRequest], context: grpc.ServicerContext) -> v1.TryPluginResponse:
        context.abort(grpc.StatusCode.ABORTED, f"after {len(list(requests))}, {deadline(context)}")

    jobs: dict[str, Any] = {
        "GetJob": grpc.unary_unary_rpc_method_handler(get_job, v1.GetJobRequest.FromString, write),
        "WatchJobs": grpc.unary_stream_rpc_method_handler(watch_jobs, v1.WatchJobsRequest.FromString, write),
    }
    plugins: dict[str, Any] = {
        "TryPlugin": grpc.stream_unary_rpc_method_handler(try_plugin, v1.TryPluginRequest.FromString, write),
    }
    server = grpc.server(ThreadPoolExecutor(max_workers=4))
    for service, methods in {"JobService": jobs, "PluginService": plugins}.items():
        handler = grpc.method_handlers_generic_handler(f"lamella.v1.{service}", methods)
        server.add_generic_rpc_handlers([handler])
    address = f"127.0.0.1:{server.add_insecure_port('127.0.0.1:0')}"
    server.start()
    get, watch = v1.GetJobRequest(name="jobs/a"), v1.WatchJobsRequest()
    try:
        with lamella.connect(address) as client:
            expect_equal(client.job.GetJob(get).display_name, "at most 11 s")
            expect_equal(client.job.GetJob(get, timeout=1000).display_name, "more than 11 s")
            expect_equal([m.resume_token for m in client.job.WatchJobs(watch)], ["none"])
            expect_equal([m.resume_token for m in client.job.WatchJobs(watch, timeout=1000)], ["more than 11 s"])
            sent = iter([v1.TryPluginRequest(), v1.TryPluginRequest()])
            error = refused(lambda: client.plugin.TryPlugin(sent))
            expect_equal((error.code, error.message), (grpc.StatusCode.ABORTED, "after 2, none"))
        with lamella.connect(address, timeout_seconds=None) as client:
            expect_equal(client.job.GetJob(get).display_name, "none")
        with lamella.connect(address, timeout_seconds=0.05) as client:
            error = refused(lambda: client.job.GetJob(v1.GetJobRequest(name="jobs/never")))
            expect_equal(error.code, grpc.StatusCode.DEADLINE_EXCEEDED)
    finally:
        end.set()
        server.stop(None).wait()


if TYPE_CHECKING:

    def _what_a_type_checker_refuses(shop: lamella.Lamella) -> None:
        shop.job.GetJob(v1.ListJobsRequest())  # type: ignore[arg-type]
        shop.job.GetJobs  # type: ignore[attr-defined]
        v1.Job(display_nam="Blue estate")  # type: ignore[call-arg]
        new_job(shop).stage = "booked"  # type: ignore[assignment]
        shop.nothing  # type: ignore[attr-defined]


if __name__ == "__main__":
    SERVER = os.environ["LAMELLA_SERVER"]
    for each in CHECKS:
        with lamella.connect() as connected:
            each(connected)
        print(f"    ok {each.__name__.replace('_', ' ')}")

"""Creates, advances, lists and watches jobs from Python.

It has no generated code: every service and message comes from the daemon's
reflection, as any tool could do it. Prints one line of JSON saying what it did;
any surprise is an exception, and so an exit code other than 0.

usage: client.py HOST:PORT
"""

import json
import sys

import grpc
from google.protobuf import json_format, message_factory
from google.protobuf.descriptor_pool import DescriptorPool
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import (
    ProtoReflectionDescriptorDatabase,
)

# Nothing may hang for ever; no test depends on how long anything takes.
LIMIT_SECONDS = 60


class Service:
    """A service as reflection describes it; calls take and give plain dicts."""

    def __init__(self, channel, pool, name):
        self._channel = channel
        self._descriptor = pool.FindServiceByName(name)

    def _prepare(self, method, request):
        descriptor = self._descriptor.methods_by_name[method]
        message = message_factory.GetMessageClass(descriptor.input_type)()
        json_format.ParseDict(request, message)
        answer = message_factory.GetMessageClass(descriptor.output_type)
        path = f"/{self._descriptor.full_name}/{method}"
        return path, message, answer.FromString

    def call(self, method, **request):
        path, message, read = self._prepare(method, request)
        invoke = self._channel.unary_unary(
            path,
            request_serializer=lambda message: message.SerializeToString(),
            response_deserializer=read,
        )
        return as_dict(invoke(message, timeout=LIMIT_SECONDS))

    def stream(self, method, **request):
        path, message, read = self._prepare(method, request)
        invoke = self._channel.unary_stream(
            path,
            request_serializer=lambda message: message.SerializeToString(),
            response_deserializer=read,
        )
        return invoke(message, timeout=LIMIT_SECONDS)


def as_dict(message):
    return json_format.MessageToDict(message, preserving_proto_field_name=True)


def expect(condition, what):
    if not condition:
        raise AssertionError(what)


def refused(call, code):
    """The error that a call must end with."""
    try:
        answer = call()
    except grpc.RpcError as error:
        expect(error.code() == code, f"expected {code}, got {error}")
        return error
    raise AssertionError(f"expected {code}, got {answer}")


def watch_until_caught_up(jobs, token):
    """The events after a token, and where to resume."""
    events = []
    stream = jobs.stream("WatchJobs", resume_token=token)
    for message in stream:
        message = as_dict(message)
        token = message["resume_token"]
        if "event" in message:
            events.append(message["event"])
        elif "caught_up" in message:
            stream.cancel()
            return events, token
    raise AssertionError("the watch ended before it had caught up")


def main(address):
    with grpc.insecure_channel(address) as channel:
        pool = DescriptorPool(ProtoReflectionDescriptorDatabase(channel))
        jobs = Service(channel, pool, "lamella.v1.JobService")
        vehicles = Service(channel, pool, "lamella.v1.VehicleService")

        create = {
            "job": {"display_name": "Blue estate from Python"},
            "request_id": "python-1",
        }
        job = jobs.call("CreateJob", **create)
        expect(job["stage"] == "STAGE_BOOKED", job)
        expect(jobs.call("CreateJob", **create) == job, "a retry got another answer")

        # Refused, with the condition and the field readable from here.
        error = refused(
            lambda: jobs.call("AdvanceStage", name=job["name"]),
            grpc.StatusCode.FAILED_PRECONDITION,
        )
        expect("vehicle" in error.details(), error.details())
        refused(lambda: jobs.call("CreateJob", job={}), grpc.StatusCode.INVALID_ARGUMENT)

        before, token = watch_until_caught_up(jobs, "0")
        expect([event["job"] for event in before] == [job["name"]], before)

        vehicle = vehicles.call("CreateVehicle", vehicle={"display_name": "Blue estate"})
        change = {"name": job["name"], "vehicle": vehicle["name"], "etag": job["etag"]}
        jobs.call("UpdateJob", job=change)
        moved = jobs.call("AdvanceStage", name=job["name"])
        expect(moved["job"]["stage"] == "STAGE_RECEIVED", moved)

        listed = jobs.call("ListJobs", page_size=1000, filter={"stages": ["STAGE_RECEIVED"]})
        expect(listed["jobs"] == [moved["job"]], listed)

        after, token = watch_until_caught_up(jobs, token)
        expect(["updated" in e or "stage_changed" in e for e in after] == [True, True], after)
        events = before + after
        told = {"job": job["name"], "watched": [event["sequence"] for event in events]}
        print(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1])

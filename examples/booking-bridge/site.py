#!/usr/bin/env python3
"""An invented booking site, small enough to read: a real HTTP server with a list
of bookings to pull and an address that job events are pushed to.

usage: site.py --secret-file FILE [--listen HOST:PORT] [--received FILE]

  POST /bookings          enter or change a booking; the site counts its revisions
  GET  /bookings?after=N  changes after number N, each with its own number
  POST /jobs              {"external_id": ..., "job": "jobs/..."}: which job the
                          workshop made of a booking
  GET  /status            the stage of each booking's job, from the events so far
  POST /job-events        what the daemon's outbox sends; refused unless its
                          signature is right and new. Taken events are appended to
                          the --received file before they are acknowledged.
  POST /trouble           {"refuse": N}: answer the next N events with 503;
                          {"never": "jobs/x"}: answer events of that job with 422

Only Python's own library is needed.
"""

import argparse
import datetime
import hashlib
import hmac
import json
import threading
import time
import urllib.parse
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

# How far the clocks of the two sides may differ before a delivery counts as a
# copy of an old one.
OLDEST_SECONDS = 300


class Site:
    """What the site knows. The lock guards all of it."""

    def __init__(self, secret, received):
        self.lock = threading.Lock()
        self.secret = secret
        self.received = received
        self.changes = []
        self.revisions = {}
        self.jobs = {}
        self.stages = {}
        self.refuse = 0
        self.never = set()

    def enter(self, booking):
        with self.lock:
            number = booking["external_id"]
            revision = self.revisions.get(number, -1) + 1
            self.revisions[number] = revision
            now = datetime.datetime.now(datetime.timezone.utc)
            made = now.isoformat().replace("+00:00", "Z")
            booking["revision"] = {"sequence": revision, "time": made}
            self.changes.append({"change": len(self.changes) + 1, "booking": booking})
            return self.changes[-1]

    def after(self, change):
        with self.lock:
            return [c for c in self.changes if c["change"] > change]

    def take(self, headers, body):
        """The status that an event is answered with."""
        stamp = headers.get("lamella-timestamp", "")
        if not right(self.secret, stamp, headers.get("lamella-signature", ""), body):
            return 401
        if abs(time.time() - int(stamp)) > OLDEST_SECONDS:
            return 401
        event = json.loads(body)
        with self.lock:
            if self.refuse > 0:
                self.refuse -= 1
                return 503
            if event["job"] in self.never:
                return 422
            with open(self.received, "ab") as received:
                received.write(body + b"\n")
                received.flush()
            # Not every event holds the job; a delivery that comes twice says the
            # same again.
            change = event.get("stageChanged") or event.get("updated") or {}
            job = event.get("created") or event.get("deleted") or change.get("job") or {}
            if "stage" in job:
                self.stages[event["job"]] = job["stage"]
            return 204

    def status(self):
        with self.lock:
            return {number: self.stages.get(job) for number, job in self.jobs.items()}

    def belongs(self, number, job):
        with self.lock:
            self.jobs[number] = job

    def trouble(self, trouble):
        with self.lock:
            self.refuse = trouble.get("refuse", self.refuse)
            if "never" in trouble:
                self.never.add(trouble["never"])
            if "again" in trouble:
                self.never.discard(trouble["again"])


def right(secret, stamp, signature, body):
    """HMAC-SHA256 over timestamp, full stop and body, compared in constant time."""
    if not stamp.isdigit():
        return False
    wanted = hmac.new(secret, stamp.encode() + b"." + body, hashlib.sha256).hexdigest()
    return hmac.compare_digest("sha256=" + wanted, signature)


class Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_GET(self):
        address = urllib.parse.urlsplit(self.path)
        if address.path == "/status":
            return self.answer(200, self.server.site.status())
        if address.path != "/bookings":
            return self.answer(404)
        query = urllib.parse.parse_qs(address.query)
        return self.answer(200, self.server.site.after(int(query.get("after", ["0"])[0])))

    def do_POST(self):
        body = self.rfile.read(int(self.headers.get("content-length", "0")))
        site = self.server.site
        if self.path == "/job-events":
            return self.answer(site.take(self.headers, body))
        if self.path == "/bookings":
            return self.answer(201, site.enter(json.loads(body)))
        if self.path == "/jobs":
            told = json.loads(body)
            site.belongs(told["external_id"], told["job"])
            return self.answer(204)
        if self.path == "/trouble":
            site.trouble(json.loads(body))
            return self.answer(204)
        return self.answer(404)

    def answer(self, status, value=None):
        body = b"" if value is None else json.dumps(value).encode()
        self.send_response(status)
        if status != 204:
            self.send_header("content-length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        pass


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--listen", default="127.0.0.1:8099")
    parser.add_argument("--secret-file", required=True)
    parser.add_argument("--received", default="received.jsonl")
    arguments = parser.parse_args()
    host, port = arguments.listen.rsplit(":", 1)
    with open(arguments.secret_file, "rb") as file:
        secret = file.read().rstrip()
    server = ThreadingHTTPServer((host, int(port)), Handler)
    server.site = Site(secret, arguments.received)
    print(f"ready address={host}:{server.server_address[1]}", flush=True)
    server.serve_forever()


if __name__ == "__main__":
    main()

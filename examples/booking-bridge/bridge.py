#!/usr/bin/env python3
"""Carries bookings from a site to the workshop's daemon.

Asks the site for the changes since the last time, hands each to
`BookingService/UpsertBooking` and tells the site which job it became: the events
that the daemon's outbox sends there name the job. It keeps its place in a small file that it writes
after a change was taken in: after a crash some are handed in again, which the
daemon recognises by source, id and revision. Nothing has to be exact here.

usage: bridge.py --site URL --place FILE [--source NAME] [--every SECONDS]

Without --every it carries what there is and ends. The daemon is found as
`lamella` finds it (LAMELLA_SERVER); LAMELLA names the client's program. Only
Python's own library and the `lamella` program are needed.
"""

import argparse
import json
import os
import subprocess
import sys
import time
import urllib.error
import urllib.request


def place_of(path):
    try:
        with open(path, encoding="utf-8") as file:
            return int(file.read() or 0)
    except FileNotFoundError:
        return 0


def keep_place(path, change):
    """Whole or not at all, also when the power goes."""
    with open(path + ".new", "w", encoding="utf-8") as file:
        file.write(str(change))
        file.flush()
        os.fsync(file.fileno())
    os.replace(path + ".new", path)


def hand_in(booking, source):
    """The daemon's answer to a booking; None when it refused it for good."""
    request = json.dumps({"booking": {**booking, "source": source}})
    ran = subprocess.run(
        # By standard input: a customer's data has no place in the list of processes.
        [os.environ.get("LAMELLA", "lamella"), "call", "BookingService/UpsertBooking", "-"],
        input=request,
        capture_output=True,
        text=True,
        check=False,
    )
    if ran.returncode == 0:
        return json.loads(ran.stdout)
    # 3: refused. Trying again would not help, and must not hold up the others.
    if ran.returncode == 3:
        print(f"{booking.get('external_id')}: {ran.stderr.strip()}", file=sys.stderr)
        return None
    raise ConnectionError(ran.stderr.strip())


def tell(site, which):
    body = json.dumps(which).encode()
    urllib.request.urlopen(f"{site}/jobs", data=body, timeout=30).close()


def carry(arguments):
    place = place_of(arguments.place)
    with urllib.request.urlopen(f"{arguments.site}/bookings?after={place}", timeout=30) as answer:
        changes = json.load(answer)
    for change in changes:
        number = change["booking"]["external_id"]
        answer = hand_in(change["booking"], arguments.source)
        if answer is None:
            print(number, "refused", flush=True)
        else:
            tell(arguments.site, {"external_id": number, "job": answer["booking"].get("job", "")})
            print(number, answer["outcome"].removeprefix("BOOKING_OUTCOME_").lower(), flush=True)
        keep_place(arguments.place, change["change"])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--site", required=True, help="for example http://127.0.0.1:8099")
    parser.add_argument("--place", required=True, help="file that keeps how far it got")
    parser.add_argument("--source", default="booking-site")
    parser.add_argument("--every", type=float, help="go on, asking again after so many seconds")
    arguments = parser.parse_args()
    while True:
        try:
            carry(arguments)
        except (ConnectionError, urllib.error.URLError) as error:
            print(f"not carried, will be tried again: {error}", file=sys.stderr)
            if arguments.every is None:
                return 1
        if arguments.every is None:
            return 0
        time.sleep(arguments.every)


if __name__ == "__main__":
    sys.exit(main())

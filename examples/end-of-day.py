#!/usr/bin/env python3
"""Writes what happened on a day as four CSV files: jobs, labour, materials,
takings.

It needs the `lamella` client and nothing else: every question goes through
`lamella call`. The day is the machine's local day. Files are as RFC 4180 has
them; money stays in the currency's minor unit, so that nothing is rounded.

usage: end-of-day.py [--day YYYY-MM-DD] [--to DIR]
"""

import argparse
import csv
import datetime as dt
import json
import os
import pathlib
import subprocess
import sys

# Where the client is; on the PATH unless told otherwise.
LAMELLA = os.environ.get("LAMELLA", "lamella")


def call(method, request):
    """One answer of the daemon; its refusal, on stderr, ends the script."""
    command = [LAMELLA, "call", method, "-", "--compact"]
    done = subprocess.run(command, input=json.dumps(request), text=True, stdout=subprocess.PIPE)
    if done.returncode != 0:
        sys.exit(done.returncode)
    return json.loads(done.stdout)


def pages(method, items, request):
    """Everything in a list, over as many pages as there are."""
    token = ""
    while True:
        page = call(method, {**request, "pageSize": 1000, "pageToken": token})
        yield from page.get(items, [])
        token = page.get("nextPageToken", "")
        if not token:
            return


def day_of(instant):
    """The local day of an RFC 3339 instant."""
    return dt.datetime.fromisoformat(instant.replace("Z", "+00:00")).astimezone().date()


def hours(labour):
    """The length of a piece of work, in hours with two decimals."""
    times = (labour["fromTime"], labour["toTime"])
    begin, end = (dt.datetime.fromisoformat(time.replace("Z", "+00:00")) for time in times)
    return f"{(end - begin).total_seconds() / 3600:.2f}"


def of_day(job, day):
    """The rows that one job gives the day, by file."""
    rows = {"jobs": [], "labour": [], "materials": [], "takings": []}
    who = [job["name"], job["displayName"]]
    for event in pages("JobService/ListJobHistory", "events", {"name": job["name"]}):
        moved, record = event.get("stageChanged"), event.get("recorded", {})
        if moved and day_of(event["eventTime"]) == day:
            stage = moved["toStage"].removeprefix("STAGE_").lower().replace("_", "-")
            rows["jobs"].append([*who, stage, event["eventTime"], moved.get("note", "")])
            amount = moved["job"].get("approval", {}).get("amount")
            if stage == "handed-over" and amount:
                minor_units = amount.get("minorUnits", "0")
                rows["takings"].append([*who, amount["currencyCode"], minor_units])
        if "labour" in record and day_of(record["labour"]["fromTime"]) == day:
            work = record["labour"]
            times = [work["fromTime"], work["toTime"], hours(work)]
            rows["labour"].append([*who, work["worker"], work["activity"], *times])
        if record and day_of(record["recordTime"]) == day:
            rows["materials"].extend([*who, *used] for used in materials(record))
    return rows


def materials(record):
    """What a record used up: product, quantity, unit, lot."""
    if mix := record.get("mix"):
        yield [mix["product"], mix["concentrateMl"], "ml", mix.get("lot", "")]
    if film := record.get("filmPiece"):
        square_metres = film["widthMm"] * film["lengthMm"] / 1e6
        yield [film["film"], f"{square_metres:.4f}", "m2", film.get("lot", "")]
    if coat := record.get("coatLayer"):
        layer = f"layer {coat.get('layer', 1)} on {len(coat['panels'])} panels"
        yield [coat["coating"]["product"], layer, "", coat.get("lot", "")]


HEADERS = {
    "jobs": ["job", "name", "stage", "time", "note"],
    "labour": ["job", "name", "worker", "activity", "from", "to", "hours"],
    "materials": ["job", "name", "product", "quantity", "unit", "lot"],
    "takings": ["job", "name", "currency", "minor_units"],
}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    today = dt.date.today()
    parser.add_argument("--day", type=dt.date.fromisoformat, default=today, metavar="YYYY-MM-DD")
    parser.add_argument("--to", type=pathlib.Path, default=pathlib.Path("."), metavar="DIR")
    args = parser.parse_args()
    files = {name: [] for name in HEADERS}
    for job in pages("JobService/ListJobs", "jobs", {}):
        for name, rows in of_day(job, args.day).items():
            files[name].extend(rows)
    args.to.mkdir(parents=True, exist_ok=True)
    for name, rows in files.items():
        path = args.to / f"{args.day}-{name}.csv"
        # newline="": the writer ends its records itself, with CR LF.
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([HEADERS[name], *rows])
        print(f"{path}: {len(rows)} rows")


if __name__ == "__main__":
    main()

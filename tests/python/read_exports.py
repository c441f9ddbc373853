"""Judges exports as foreign programs read them.

usage: read_exports.py ZONE API_JSON CSV_DIR JSONL_DIR PARQUET_DIR

API_JSON is all that the daemon answers about its jobs. Each dataset is read with
Python's csv and json modules, pandas, DuckDB, pyarrow and, as a spreadsheet,
openpyxl. All must agree to the last digit, and with rows worked out here from the
API's answers, with Python's own time zones. The number of rows of each dataset is
printed as JSON.
"""

import csv
import datetime as dt
import decimal
import hashlib
import json
import pathlib
import sys
import zoneinfo
from decimal import Decimal

import duckdb
import openpyxl
import pandas
import pyarrow
import pyarrow.parquet

UTC = dt.timezone.utc


def same(what, left, right):
    """Fails where two readers differ, and shows where."""
    if left != right:
        for one, other in zip(left, right):
            if one != other:
                sys.exit(f"{what}:\n  {one}\n  {other}")
        sys.exit(f"{what}: {len(left)} rows against {len(right)}")


def neutral(text):
    """What a spreadsheet does not take for a formula."""
    risky = text[:1] and text[0] in "=+-@\t\r\n＝＋－＠"
    return "'" + text if risky else text


def typed(kind, text):
    """A cell of CSV or JSON as the value that it stands for."""
    if text is None or text == "" or text != text:
        return None
    if pyarrow.types.is_string(kind):
        return text
    if pyarrow.types.is_int64(kind):
        assert int(text) == float(text)
        return int(text)
    if pyarrow.types.is_decimal(kind):
        assert isinstance(text, str), "a decimal is no float"
        return Decimal(text)
    if pyarrow.types.is_timestamp(kind):
        moment = dt.datetime.fromisoformat(text)
        offset = moment.astimezone(ZONE).utcoffset()
        assert moment.utcoffset() == offset, f"{text} has another offset than {ZONE}"
        return moment.astimezone(UTC)
    assert pyarrow.types.is_date(kind), kind
    return dt.date.fromisoformat(text)


def plain(value):
    """A value of a reader as Python's own."""
    if value is None or value is pandas.NaT or value != value:
        return None
    if isinstance(value, dt.datetime):
        return value.astimezone(UTC).replace(tzinfo=UTC) if value.tzinfo else value
    return value.item() if hasattr(value, "item") else value


def frame(data):
    """The rows of a pandas frame."""
    return [[plain(value) for value in row] for row in data.astype(object).values.tolist()]


def fetched(sql, path):
    """The rows that DuckDB reads."""
    connection = duckdb.connect()
    connection.execute("SET TimeZone = 'UTC'")
    rows = connection.execute(sql, [str(path)]).fetchall()
    return [[plain(value) for value in row] for row in rows]


def spreadsheet(rows):
    """The cells as a workbook gives them back; none may have become a formula."""
    book = openpyxl.Workbook()
    for row in rows:
        # A carriage return does not live in a workbook's XML.
        book.active.append([cell.replace("\r", "") for cell in row])
    book.active.append(["=1+1"])
    path = CSV / "book.xlsx"
    book.save(path)
    *cells, control = openpyxl.load_workbook(path).active.iter_rows()
    path.unlink()
    assert control[0].data_type == "f", "a formula that is not neutralised is one"
    formulas = [cell.value for row in cells for cell in row if cell.data_type == "f"]
    assert not formulas, formulas
    return [["" if cell.value is None else cell.value for cell in row] for row in cells]


def read(name):
    """A dataset's columns and rows, after all readers have agreed."""
    table = pyarrow.parquet.read_table(PARQUET / f"{name}.parquet")
    assert table.schema.metadata[b"time_zone"].decode() == str(ZONE)
    names, kinds = table.column_names, [field.type for field in table.schema]
    rows = [[plain(row[column]) for column in names] for row in table.to_pylist()]

    with (CSV / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        header, *texts = csv.reader(file, strict=True)
    assert header == names, header
    wanted = [[neutral(v) if isinstance(v, str) else v for v in row] for row in rows]
    convert = lambda rows: [[typed(*pair) for pair in zip(kinds, row)] for row in rows]
    same(f"{name}: csv module", convert(texts), wanted)
    data = pandas.read_csv(CSV / f"{name}.csv", dtype=str, keep_default_na=False)
    same(f"{name}: CSV in pandas", convert(data.values.tolist()), wanted)
    columns = "{" + ", ".join(f"'{column}': 'VARCHAR'" for column in names) + "}"
    sql = f"FROM read_csv(?, header = true, columns = {columns}, delim = ',', quote = '\"', escape = '\"', new_line = '\\r\\n', auto_detect = false)"
    same(f"{name}: CSV in DuckDB", convert(fetched(sql, CSV / f"{name}.csv")), wanted)
    lean = [[cell.replace("\r", "") for cell in row] for row in texts]
    same(f"{name}: CSV in a spreadsheet", spreadsheet(texts), lean)

    lines = (JSONL / f"{name}.jsonl").read_text(encoding="utf-8").split("\n")
    assert lines.pop() == "", "the last line ends"
    objects = [json.loads(line, parse_float=lambda text: sys.exit(f"float {text}")) for line in lines]
    assert all(list(row) == names for row in objects)
    same(f"{name}: json module", convert([list(row.values()) for row in objects]), rows)
    if rows:
        data = pandas.read_json(JSONL / f"{name}.jsonl", lines=True, dtype=False, convert_dates=False)
        same(f"{name}: JSON in pandas", convert(data.astype(object).values.tolist()), rows)
        sql = f"FROM read_json(?, format = 'newline_delimited', columns = {columns})"
        same(f"{name}: JSON in DuckDB", convert(fetched(sql, JSONL / f"{name}.jsonl")), rows)

    same(f"{name}: Parquet in pandas", frame(pandas.read_parquet(PARQUET / f"{name}.parquet")), rows)
    same(f"{name}: Parquet in DuckDB", fetched("FROM read_parquet(?)", PARQUET / f"{name}.parquet"), rows)
    return [dict(zip(names, row)) for row in rows]


# --- rows as they follow from what the API answers ---------------------------


def moment(text):
    return dt.datetime.fromisoformat(text.replace("Z", "+00:00")) if text else None


def rounded(value, scale):
    """A measured number with so many decimals, halves away from zero."""
    if value is None:
        return None
    unit = Decimal(1).scaleb(-scale)
    return Decimal(repr(value)).quantize(unit, decimal.ROUND_HALF_UP)


def stage(text):
    return text.removeprefix("STAGE_").lower().replace("_", "-")


def job_at_end(job):
    """The job after its last change within the days, or else as it was created."""
    found = None
    for event in job["history"]["events"]:
        changes = [event.get(kind) for kind in ("created", "deleted", "undeleted")]
        changes += [event.get(kind, {}).get("job") for kind in ("updated", "stage_changed", "quote_accepted")]
        within = moment(event["event_time"]).astimezone(ZONE).date() <= LAST
        for state in changes:
            if state and (within or found is None):
                found = state
    return found


def happenings(api):
    """Every job event within the days, with its moment, in order."""
    found = []
    for job in api["jobs"]:
        for event in job["history"]["events"]:
            record = event.get("recorded", {})
            at = moment(event["event_time"])
            if record:
                at = moment(record.get("labour", record).get("from_time", record["record_time"]))
            if FIRST <= at.astimezone(ZONE).date() <= LAST:
                found.append((at, int(event["sequence"]), job, event))
    return sorted(found, key=lambda found: found[:2])


def expected(api):
    """The rows of every dataset that the API's answers alone determine."""
    sets = {name: [] for name in ("jobs", "stage_changes", "labour", "mixes", "film", "coatings")}
    for at, sequence, job, event in happenings(api):
        state = job_at_end(job)
        name, title = state["name"], state["display_name"]
        row = {"day": at.astimezone(ZONE).date(), "time": at, "job": name, "job_name": title}
        row["sequence"] = sequence
        if all(known["job"] != name for known in sets["jobs"]):
            states = {"stage": stage(state["stage"]), "vehicle": state.get("vehicle") or None}
            states |= {"create_time": moment(state["create_time"]), "first_time": at}
            sets["jobs"].append({"job": name, "job_name": title, **states})
        if made := event.get("created"):
            change = {"from_stage": None, "to_stage": stage(made["stage"]), "note": None}
            sets["stage_changes"].append({**row, **change})
        if moved := event.get("stage_changed"):
            change = {"from_stage": stage(moved["from_stage"]), "to_stage": stage(moved["to_stage"])}
            sets["stage_changes"].append({**row, **change, "note": moved.get("note")})
        record = event.get("recorded", {})
        row |= {"author": record.get("author"), "record": record.get("name")}
        if work := record.get("labour"):
            begin, end = moment(work["from_time"]), moment(work["to_time"])
            micros = (end - begin) // dt.timedelta(microseconds=1)
            hours = (Decimal(micros) / 3_600_000_000).quantize(Decimal("0.001"), decimal.ROUND_HALF_UP)
            row |= {"worker": work["worker"], "activity": work["activity"]}
            sets["labour"].append({**row, "from_time": begin, "to_time": end, "hours": hours})
        if mix := record.get("mix"):
            row |= {"product": mix["product"], "lot": mix.get("lot")}
            row |= {"panels": "; ".join(mix.get("panels", [])) or None}
            for column in ("concentrate_ml", "diluent_ml", "strength_percent"):
                row[column] = rounded(mix.get(column), 3)
            sets["mixes"].append(row)
        if film := record.get("film_piece"):
            row |= {column: film.get(column) for column in ("panel", "film", "roll", "lot")}
            row |= {column: rounded(film[column], 3) for column in ("width_mm", "length_mm")}
            area = Decimal(repr(film["width_mm"])) * Decimal(repr(film["length_mm"])) / 1_000_000
            row["area_m2"] = area.quantize(Decimal("0.000001"), decimal.ROUND_HALF_UP)
            sets["film"].append(row)
        if coat := record.get("coat_layer"):
            due = {m["kind"].removeprefix("CURE_MILESTONE_KIND_"): m["due_time"] for m in coat["milestones"]}
            row |= {"panels": "; ".join(coat["panels"]), "product": coat["coating"]["product"]}
            row |= {"layer": coat["layer"], "lot": coat.get("lot")}
            row |= {"dry_time": moment(due["DRY"]), "panel_c": rounded(coat["panel_c"], 3)}
            sets["coatings"].append(row)
    return sets


def balanced(rows):
    """Every entry of the journal, and the whole, balance in each currency."""
    sums = {}
    for row in rows:
        assert (row["debit_minor"] is None) != (row["credit_minor"] is None), row
        for entry in (row["entry"], "all"):
            for unit in ("_minor", ""):
                key = (entry, row["currency"], unit)
                debit = Decimal(row["debit" + unit] or 0) - Decimal(row["credit" + unit] or 0)
                sums[key] = sums.get(key, Decimal(0)) + debit
    assert not any(sums.values()), sums


def check_manifest(folder):
    """The manifest's days; every file is as long and hashes as it says."""
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    for file in manifest["files"]:
        bytes_ = (folder / file["file"]).read_bytes()
        assert hashlib.sha256(bytes_).hexdigest() == file["sha256"], file
        assert len(bytes_) == file["size_bytes"], file
    first = dt.date.fromisoformat(manifest["from_date"])
    last = dt.date.fromisoformat(manifest["to_date"])
    midnight = lambda day: dt.datetime.combine(day, dt.time(), ZONE).astimezone(UTC)
    assert moment(manifest["from_time"]) == midnight(first), manifest
    assert moment(manifest["before_time"]) == midnight(last + dt.timedelta(days=1)), manifest
    rows = {file["dataset"]: file["rows"] for file in manifest["files"]}
    return first, last, rows


ZONE = zoneinfo.ZoneInfo(sys.argv[1])
CSV, JSONL, PARQUET = (pathlib.Path(path) for path in sys.argv[3:6])
FIRST, LAST, COUNTS = check_manifest(CSV)
assert check_manifest(JSONL) == check_manifest(PARQUET) == (FIRST, LAST, COUNTS)
tables = {name: read(name) for name in COUNTS}
assert {name: len(rows) for name, rows in tables.items()} == COUNTS, COUNTS
for name, wanted in expected(json.loads(pathlib.Path(sys.argv[2]).read_text())).items():
    columns = wanted[0].keys() if wanted else ()
    same(f"{name}: the API", [{c: row[c] for c in columns} for row in tables[name]], wanted)
balanced(tables["journal"])
for row in tables["takings"]:
    assert row["gross"].scaleb(2) == row["gross_minor"], "two decimals, as EUR has"
print(json.dumps(COUNTS))

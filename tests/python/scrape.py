"""Reads a page of metrics in both of its formats with Prometheus's own parsers.

    scrape.py URL

Prints one JSON object: for "text" and "openmetrics" the types of the families and
the value of every sample, by its name and labels as Prometheus writes them.
"""

import json
import sys
import urllib.request

from prometheus_client.openmetrics.parser import text_string_to_metric_families as openmetrics
from prometheus_client.parser import text_string_to_metric_families as text

FORMATS = {
    "text": ("text/plain", "text/plain; version=0.0.4; charset=utf-8", text),
    "openmetrics": (
        "application/openmetrics-text",
        "application/openmetrics-text; version=1.0.0; charset=utf-8",
        openmetrics,
    ),
}


def scrape(url: str, accept: str, wanted: str, parse) -> dict:
    request = urllib.request.Request(url, headers={"Accept": accept})
    with urllib.request.urlopen(request, timeout=10) as answer:
        kind, page = answer.headers["Content-Type"], answer.read().decode()
    if kind != wanted:
        sys.exit(f"Content-Type is {kind}, expected {wanted}")
    types, samples = {}, {}
    for family in parse(page):
        if not family.documentation:
            sys.exit(f"{family.name} has no help")
        types[family.name] = family.type
        for sample in family.samples:
            labels = ",".join(f'{key}="{value}"' for key, value in sorted(sample.labels.items()))
            samples[f"{sample.name}{{{labels}}}"] = sample.value
    return {"types": types, "samples": samples}


def main() -> None:
    (url,) = sys.argv[1:]
    pages = {name: scrape(url, *format) for name, format in FORMATS.items()}
    print(json.dumps(pages))


main()

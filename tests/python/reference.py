"""Prints what reference libraries answer, as one JSON object.

Each calculator has a module reference_NAME.py with a function values() that
returns a dict; its keys get the prefix "NAME.". Values are numbers, lists of
numbers, or lists of rows of numbers. The Rust half is tests/tests/calc/.
"""

import importlib
import json
import sys

# One line for each calculator.
MODULES = [
    "air",
    "cure",
    "escalation",
    "heat",
    "mix",
    "paint",
]


def main() -> None:
    answers = {}
    for name in MODULES:
        module = importlib.import_module(f"reference_{name}")
        for key, value in module.values().items():
            answers[f"{name}.{key}"] = value
    # NaN is not JSON: a library that has no answer must fail here, not pass.
    json.dump(answers, sys.stdout, allow_nan=False)


if __name__ == "__main__":
    main()

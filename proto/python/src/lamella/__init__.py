"""Typed client of the `lamella.v1` API.

- `connect`: stubs of all services, with a deadline and errors to act on
- `LamellaError`: what an error says: code, reason, violations, conditions
- `lamella.v1`: every message and enum of the API
"""

from lamella.client import Lamella, connect
from lamella.errors import Condition, LamellaError, Violation

__all__ = ["Condition", "Lamella", "LamellaError", "Violation", "connect"]

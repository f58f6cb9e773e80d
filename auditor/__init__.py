"""Says which lines of an orchestral mock-up a listener would barely hear.

>>> from auditor import audit, open_case
>>> result = audit(open_case(folder))  # doctest: +SKIP
"""

from importlib import import_module
from typing import Any

# Where each public name lives; nothing heavy is imported before it is asked for.
_HOMES = {
    "Audit": "auditor.auditing",
    "AuditError": "auditor.errors",
    "Case": "auditor.case",
    "audit": "auditor.auditing",
    "open_case": "auditor.case",
}
__all__ = ["Audit", "AuditError", "Case", "audit", "open_case"]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'auditor' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})

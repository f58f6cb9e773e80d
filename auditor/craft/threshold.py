"""One threshold of a craft check: its value with what it says and where it comes from."""

from __future__ import annotations

from dataclasses import field
from typing import Any

from auditor.craft.remark import COMMON_PRACTICE


def limit(default: float, says: str, source: str = COMMON_PRACTICE) -> Any:
    """One threshold: its value, what it says (with the unit), and where it comes from."""
    return field(default=default, metadata={"says": says, "source": source})

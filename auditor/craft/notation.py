"""Notation that costs rehearsal time: every check of it, in one family."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.craft import articulation, keys, marks, words
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.remark import Remark


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on notation."""
    yield from marks.remarks(page, limits)
    yield from articulation.remarks(page, limits)
    yield from words.remarks(page, limits)
    yield from keys.remarks(page, limits)

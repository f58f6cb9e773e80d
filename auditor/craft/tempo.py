"""What rests on a tempo the page does not give weighs no more than a question."""

from __future__ import annotations

from auditor.craft.page import Page
from auditor.craft.remark import WEIGHTS


def weighed(page: Page, quarters: float, weight: str) -> str:
    """The weight of a remark on seconds: the lightest where the tempo is only assumed."""
    return WEIGHTS[0] if page.tempo_is_assumed(quarters) else weight

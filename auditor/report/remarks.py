"""What the page says of the page: remarks on craft, in words ready to print."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.auditing import Audit
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.report.places import bars_in_words, part_name


@dataclass(frozen=True, slots=True)
class RemarkView:
    """One remark as the page shows it."""

    where: str
    part: str
    weight: str
    sentence: str
    why: str
    remedy: str
    source: str


def remark_views(audit: Audit) -> tuple[RemarkView, ...]:
    """Every remark of an audit, in its order."""
    return tuple(_view(audit, remark) for remark in audit.craft)


def _view(audit: Audit, remark: Remark) -> RemarkView:
    return RemarkView(
        where=bars_in_words(audit.score, remark.first_bar, remark.last_bar),
        part=part_name(audit.score, remark.part) if remark.part else "the orchestra",
        weight=remark.weight,
        sentence=remark.sentence,
        why=remark.why,
        remedy=remark.remedy,
        source="" if remark.source == COMMON_PRACTICE else remark.source,
    )

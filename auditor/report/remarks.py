"""What the page says of the page: remarks on craft, in words ready to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.auditing import Audit
from auditor.craft.remark import COMMON_PRACTICE, WEIGHTS, Remark
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


@dataclass(frozen=True, slots=True)
class Thought:
    """Light remarks that have one reason and one advice, as the page shows them."""

    why: str
    remedy: str
    source: str
    places: tuple[RemarkView, ...]


def remark_views(audit: Audit) -> tuple[RemarkView, ...]:
    """Every remark of an audit, in its order."""
    return tuple(_view(audit, remark) for remark in audit.craft)


def told_apart(
    views: Sequence[RemarkView],
) -> tuple[tuple[RemarkView, ...], tuple[Thought, ...]]:
    """The heavier remarks, and the lightest gathered by their reason, both in their order."""
    heavy = tuple(v for v in views if v.weight != WEIGHTS[0])
    gathered: dict[tuple[str, str, str], list[RemarkView]] = {}
    for v in views:
        if v.weight == WEIGHTS[0]:
            gathered.setdefault((v.why, v.remedy, v.source), []).append(v)
    return heavy, tuple(Thought(*same, tuple(places)) for same, places in gathered.items())


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

"""Every craft check, run once over a page, and its remarks put together for reading."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from auditor.craft import (
    brass,
    chairs,
    changes,
    forces,
    harp,
    keyboards,
    leading,
    notation,
    percussion,
    strings,
    texture,
    timpani,
    winds,
)
from auditor.craft import range as ranges
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.remark import Remark, in_order
from auditor.score.notes import Score

CAUTION = (
    "The player's word overrules every remark here. Reach, hand and playing load differ from "
    "player to player: never push through pain, and ask before insisting."
)

Family = Callable[[Page, CraftLimits], Iterable[Remark]]

# One line a family: its name and the function that gives its remarks.
FAMILIES: tuple[tuple[str, Family], ...] = (
    ("strings", strings.remarks),
    ("harp", harp.remarks),
    ("timpani", timpani.remarks),
    ("percussion", percussion.remarks),
    ("keyboards", keyboards.remarks),
    ("range", ranges.remarks),
    ("winds", winds.remarks),
    ("brass", brass.remarks),
    ("chairs", chairs.remarks),
    ("changes", changes.remarks),
    ("texture", texture.remarks),
    ("leading notes", leading.remarks),
    ("notation", notation.remarks),
    ("forces", forces.remarks),
)

# More places than this are counted instead of listed.
_PLACES = 6


def remarks_on(score: Score, limits: CraftLimits | None = None) -> tuple[Remark, ...]:
    """Every remark on a page in the order of the music; like ones near each other are one.

    Parameters
    ----------
    score
        The page; only the first pass of repeats is read.
    limits
        Thresholds; those of `CraftLimits` if None.
    """
    limits = limits or CraftLimits()
    page = Page(score, limits)
    found = [remark for _, family in FAMILIES for remark in family(page, limits)]
    return put_together(found, score, limits)


def put_together(
    remarks: Iterable[Remark], score: Score, limits: CraftLimits
) -> tuple[Remark, ...]:
    """Remarks with neighbours and repeats merged, in the order of the music."""
    groups: dict[tuple[str, str, int], list[Remark]] = defaultdict(list)
    for remark in in_order(remarks):
        groups[(remark.kind, remark.weight, remark.part)].append(remark)
    merged: list[Remark] = []
    for group in groups.values():
        merged += _repeats(_neighbours(group, limits.neighbour_bars), score)
    return in_order(merged)


def _neighbours(remarks: Sequence[Remark], reach: float) -> list[Remark]:
    """Like remarks in neighbouring bars told as one."""
    rows: list[list[Remark]] = []
    for remark in remarks:
        last = rows[-1] if rows else []
        if last and remark.first_bar <= max(r.last_bar for r in last) + reach:
            last.append(remark)
        else:
            rows.append([remark])
    return [_one_of(row) for row in rows]


def _one_of(row: Sequence[Remark]) -> Remark:
    sentences = list(dict.fromkeys(r.sentence for r in row))
    more = len(sentences) - 1
    tail = f" ({more} more of this kind close by)" if more else ""
    return replace(
        row[0],
        last_bar=max(r.last_bar for r in row),
        notes=tuple(dict.fromkeys(n for r in row for n in r.notes)),
        sentence=f"{sentences[0]}{tail}",
    )


def _repeats(remarks: Sequence[Remark], score: Score) -> list[Remark]:
    """The same sentence about other bars told once, with its places."""
    same: dict[str, list[Remark]] = defaultdict(list)
    for remark in remarks:
        same[remark.sentence].append(remark)
    return [_with_places(group, score) for group in same.values()]


def _with_places(group: Sequence[Remark], score: Score) -> Remark:
    first, *others = group
    if not others:
        return first
    if len(others) > _PLACES:
        places = f"{len(others)} more places, the last in bar {_bar(others[-1], score)}"
    else:
        numbers = list(dict.fromkeys(_bar(r, score) for r in others))
        places = f"bar{'s' if len(numbers) > 1 else ''} {', '.join(numbers)}"
    return replace(
        first,
        notes=tuple(dict.fromkeys(n for r in group for n in r.notes)),
        sentence=f"{first.sentence} The same again: {places}.",
    )


def _bar(remark: Remark, score: Score) -> str:
    return score.bars[remark.first_bar].number

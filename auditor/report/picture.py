"""The audibility picture: lines in score order against bars, broken into systems."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from auditor.auditing import Audit
from auditor.report.places import bars_in_words, listed
from auditor.report.printing import concerns, praises
from auditor.report.weight import BarWeight, Ground, grounds

# How much of a note is left is drawn as how much of a notehead is filled.
SIGNS = {
    "clear": "●",
    "faint": "◐",
    "covered": "○",
    "blended": "+",
    "silent": "×",
    "undecided": "?",
    "not judged": "–",
}
MEANINGS = {
    "clear": "heard as a line of its own",
    "faint": "partly heard; goes under when attention is elsewhere",
    "covered": "barely heard, or not at all",
    "blended": "not heard by itself, but what it joins is heard",
    "silent": "written, but the rendering has no sound here",
    "undecided": "the sound cannot tell this line from its partner",
    "not judged": "the sound could not be matched to the score here",
}
# Worst first: decides between states that fill the same time of a bar.
_ORDER = ("covered", "silent", "faint", "undecided", "blended", "clear", "not judged")

# A system of more bars would not fit a desktop page at a readable size.
BARS_A_SYSTEM = 28
SHAKY = 0.5


@dataclass(frozen=True, slots=True)
class Cell:
    """One line in one bar.

    Parameters
    ----------
    state
        State that fills most of its time.
    lead
        True where the line leads.
    ratio, margin
        Distinct ratio, and dB above masked threshold, as text; empty where not judged.
    cover
        Number of the line that covers most, 0 for none.
    href
        Where the cell leads: a finding or the bar's row.
    """

    state: str
    lead: bool
    ratio: str
    margin: str
    cover: int
    href: str


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a system: its name and its cells, None where it rests."""

    line: int
    name: str
    cells: tuple[Cell | None, ...]


@dataclass(frozen=True, slots=True)
class Head:
    """One bar above a system: its number, index and whether its place is uncertain."""

    number: str
    index: int
    shaky: bool


@dataclass(frozen=True, slots=True)
class System:
    """A run of bars with the lines that play in it."""

    words: str
    summary: str
    heads: tuple[Head, ...]
    rows: tuple[Row, ...]
    ground: tuple[Ground, ...]
    open: bool


def systems(audit: Audit, weights: Sequence[BarWeight]) -> tuple[System, ...]:
    """Picture of the whole piece, a system after the other, resting lines left out.

    Parameters
    ----------
    audit
        What was heard.
    weights
        Of every bar, drawn beneath the lines.
    """
    count = len(audit.score.bars)
    if count == 0:
        return ()
    lines = math.ceil(count / BARS_A_SYSTEM)
    length = math.ceil(count / lines)
    cells = _cells(audit)
    heaviest = concerns(audit)[:5]
    made = []
    for first in range(0, count, length):
        last = min(first + length, count) - 1
        needed = any(f.first_bar <= last and f.last_bar >= first for f in heaviest)
        ground = grounds(weights, first, last)
        made.append(_system(audit, cells, (first, last), ground, needed or lines <= 3))
    return tuple(made)


def _system(
    audit: Audit,
    cells: dict[tuple[int, int], Cell],
    ends: tuple[int, int],
    ground: tuple[Ground, ...],
    is_open: bool,
) -> System:
    first, last = ends
    span = range(first, last + 1)
    rows = tuple(
        Row(line.number, line.name, tuple(cells.get((line.number, bar)) for bar in span))
        for line in audit.score.lines
        if any((line.number, bar) in cells for bar in span)
    )
    heads = tuple(
        Head(audit.score.bars[bar].number, bar, audit.timeline.bars[bar].confidence < SHAKY)
        for bar in span
    )
    words = bars_in_words(audit.score, first, last)
    return System(words, _summary(rows), heads, rows, ground, is_open)


def _summary(rows: tuple[Row, ...]) -> str:
    """Which lines go under in a system, in words."""
    covered = [
        row.name
        for row in rows
        if any(c is not None and c.state == "covered" for c in row.cells)
    ]
    if not covered:
        return "no line is covered"
    if len(covered) > 4:
        return f"{len(covered)} of {len(rows)} lines are covered in some bar"
    return f"covered in some bar: {listed(covered)}"


def _cells(audit: Audit) -> dict[tuple[int, int], Cell]:
    """Cells by line number and bar index."""
    members: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, note in enumerate(audit.score.notes):
        members[note.line, note.bar].append(i)
    targets = _targets(audit)
    return {
        place: _cell(audit, place, notes, targets.get(place, f"#bar-{place[1]}"))
        for place, notes in members.items()
    }


def _targets(audit: Audit) -> dict[tuple[int, int], str]:
    """Find what each place belongs to, the heaviest first, numbered as on the page."""
    targets: dict[tuple[int, int], str] = {}
    for number, finding in enumerate((*concerns(audit), *praises(audit)), start=1):
        for line in finding.lines:
            for bar in range(finding.first_bar, finding.last_bar + 1):
                targets.setdefault((line, bar), f"#finding-{number}")
    return targets


def _cell(audit: Audit, place: tuple[int, int], notes: list[int], href: str) -> Cell:
    line, bar = place
    time: dict[str, float] = defaultdict(float)
    cover: dict[int, float] = defaultdict(float)
    ratio = margin = weight = 0.0
    for i in notes:
        # A grace note has no length of its own; a little, so that it can be seen.
        length = audit.score.notes[i].duration or 0.05
        time[audit.heard.note_state[i]] += length
        heard = float(audit.heard.notes.distinct_ratio[i])
        if math.isfinite(heard):
            ratio += heard * length
            margin += float(np.nan_to_num(audit.heard.notes.margin_db[i])) * length
            weight += length
        row = int(audit.heard.notes.covered_by[i])
        if row >= 0:
            cover[row] += length
    state = max(time, key=lambda s: (time[s], -_ORDER.index(s)))
    judged = weight > 0 and state != "not judged"
    return Cell(
        state=state,
        lead=audit.intent.role[line - 1][bar] == "leading",
        ratio=f"{ratio / weight:.2f}" if judged else "",
        margin=f"{margin / weight + 0.0:+.0f}".replace("-", "−") if judged else "",
        cover=max(cover, key=lambda r: (cover[r], -r)) + 1 if judged and cover else 0,
        href=href,
    )

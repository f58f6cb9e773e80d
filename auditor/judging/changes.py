"""Faults of the rendering: a written change of dynamic, sudden or gradual, that is not made.

Over some bars the heard level of a line's notes is held against what their marks ask, as a
straight line: a slope of 1 follows the marks, 0 stays as loud as it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import bars_named, listed, mark, opening
from auditor.intent.signs import stressed
from auditor.judging.levels import asked_db
from auditor.judging.saying import remark
from auditor.judging.scene import FloatArray, IntArray, Scene

# Bars that are looked at together: a short hairpin must not drown in what stands around it.
WINDOWS = (8, 7, 6, 5, 4, 3)
# The marks must ask for so many dB and steps between the softest and the loudest notes, an
# eighth of all each and so many at least, of which there are so many in all (our choice:
# nearly two marks; a register may change a level by half of it).
ASKED_DB, ASKED_STEPS, EXTREME, NOTES = 6.0, 1.6, 3, 8
# The slope that counts as not made, with so many standard errors added (our choice).
FLAT, ERRORS = 0.3, 1.65
# A rendering that follows the marks no more than this everywhere is told so once.
HARDLY = 0.35
# Lines that make a rendering, and remarks at most in 100 bars, and at least.
LINES, PER_100_BARS, AT_LEAST = 3, 3, 2
# States of notes whose level can be trusted.
_TRUSTED = ("clear", "faint", "blended")


@dataclass(frozen=True, slots=True)
class Change:
    """A stretch of one line in which the marks change.

    `slope` is what the sound makes of each dB asked, `error` its standard error.
    """

    row: int
    first: int
    last: int
    notes: IntArray
    asked_db: float
    slope: float
    error: float


def _slope(asked: FloatArray, heard: FloatArray) -> tuple[float, float]:
    """Least-squares slope and its standard error."""
    x = asked - asked.mean()
    square = float(x @ x)
    slope = float(x @ heard) / square
    rest = heard - heard.mean() - slope * x
    return slope, float(np.sqrt(rest @ rest / max(asked.size - 2, 1) / square))


def changes(s: Scene, asked: FloatArray) -> list[Change]:
    """Every window of every line in which the marks ask for a change."""
    heard = s.heard.notes.level_db
    trusted = np.array([state in _TRUSTED for state in s.heard.note_state])
    # What is marked sf has that level for its attack only.
    trusted &= ~stressed(s.score)
    steps = np.array([n.dynamic for n in s.score.notes])
    out: list[Change] = []
    for row, line in enumerate(s.score.lines):
        for first, last in _spans(len(s.score.bars)):
            notes = s.notes((line.number,), first, last)
            notes = notes[
                trusted[notes] & np.isfinite(asked[notes]) & np.isfinite(heard[notes])
            ]
            if notes.size < NOTES:
                continue
            span_db, span = _spread(asked[notes]), _spread(steps[notes])
            if span_db < ASKED_DB or span < ASKED_STEPS:
                continue
            slope, error = _slope(asked[notes], heard[notes])
            out.append(Change(row, first, last, notes, span_db, slope, error))
    return out


def _spans(bars: int) -> list[tuple[int, int]]:
    """First and last bar of every window, each once."""
    spans = {
        (first, min(first + width, bars) - 1)
        for width in WINDOWS
        for first in range(max(bars - width // 2, 1))
    }
    return sorted(spans)


def _spread(values: FloatArray) -> float:
    """From the mean of the lowest eighth to that of the highest."""
    ordered, count = np.sort(values), max(values.size // 8, EXTREME)
    return float(ordered[-count:].mean() - ordered[:count].mean())


def _finding(s: Scene, group: list[Change]) -> Finding:
    first = min(int(s.score.notes[int(c.notes[0])].bar) for c in group)
    last = max(int(s.score.notes[int(c.notes[-1])].bar) for c in group)
    lines = tuple(s.score.lines[row].number for row in sorted({c.row for c in group}))
    steps = np.concatenate([[s.score.notes[int(n)].dynamic for n in c.notes] for c in group])
    low, high = mark(float(np.quantile(steps, 0.1))), mark(float(np.quantile(steps, 0.9)))
    where = bars_named(s.score.bars, first, last)
    names = listed(s.names(lines))
    verb, whose = ("are", "their") if len(lines) > 1 else ("is", "its")
    reliance = max(s.reliance(lines, bar) for bar in range(first, last + 1))
    return remark(
        s, "hairpin", lines, (first, last), own=len(lines),
        weight=0.25 + 0.3 * reliance,
        why=f"the page moves between {low} and {high}",
        cause="the sound stays about as loud throughout",
        remedies=(f"ride the dynamics of {names}, or see whether its patch follows them",),
        sentence=(
            f"{opening(where)}: {names} {verb} marked from {low} to {high} "
            f"here, but {whose} level hardly changes in this rendering. That is the "
            f"rendering's doing: check its dynamics before you change the scoring."
        ),
    )  # fmt: skip


def _throughout(s: Scene, found: list[Change]) -> list[Finding]:
    """One remark where the marks are hardly followed anywhere."""
    lines = tuple(sorted({s.score.lines[c.row].number for c in found}))
    first, last = min(c.first for c in found), max(c.last for c in found)
    return [remark(
        s, "hairpin", lines, (first, last), own=len(lines), weight=0.6,
        why="the page changes its dynamics many times",
        cause="the sound makes little of it anywhere",
        remedies=("see whether the patches follow velocity or a controller at all",),
        sentence=(
            f"{listed(s.names(lines), 4)}: the written dynamics are hardly made anywhere in "
            f"this rendering. See whether the patches follow their controller before anything "
            f"is said about balance."
        ),
    )]  # fmt: skip


def find_flat_renderings(s: Scene) -> list[Finding]:
    """Find written changes of dynamic that the sound does not make."""
    found = changes(s, asked_db(s))
    if not found:
        return []
    flat = [c for c in found if c.slope + ERRORS * c.error < FLAT]
    usual = float(np.median([c.slope for c in found]))
    if usual < HARDLY and len({c.row for c in flat}) >= LINES:
        return _throughout(s, found)
    groups: list[list[Change]] = []
    for c in sorted(flat, key=lambda c: (c.first, c.row)):
        same = [g for g in groups if g[-1].last >= c.first and g[0].first <= c.last
                and (g[-1].row == c.row or g[-1].first == c.first)]  # fmt: skip
        if same:
            same[0].append(c)
        else:
            groups.append([c])
    most = max(AT_LEAST, round(PER_100_BARS * len(s.score.bars) / 100))
    told = [_finding(s, g) for g in groups]
    return sorted(told, key=lambda f: -f.weight)[:most]

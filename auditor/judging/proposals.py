"""What a teacher would propose for a covered passage, each proposal ready to be heard."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import change_of_marks, listed
from auditor.judging.altered import both, given_to, marked, moved, shortened, silenced
from auditor.judging.remedies import LOUDEST, RESERVE, SOFTEST, free_players
from auditor.judging.trial import Change, Ground
from auditor.score.notes import Line

# A coverer that the score itself relies on is not asked to rest or to move.
_RELIED = 0.45


@dataclass(frozen=True, slots=True)
class Idea:
    """A change to try: words for the player, its size, whose lines, and how to make it."""

    words: str
    kind: str
    rows: tuple[int, ...]
    cost: float
    change: Change

    @property
    def compound(self) -> bool:
        """Whether it asks for two things at once."""
        return len({(what, by > 0 if what == "mark" else True)
                    for _, what, by in self.change.edits}) > 1  # fmt: skip


def ideas(g: Ground, finding: Finding) -> Iterator[Idea]:
    """Every change worth trying for a finding."""
    covers = tuple(g.s.row[c.line] for c in finding.covers if g.of(g.s.row[c.line]))
    yield from _softer(g, covers)
    yield from _louder(g, covers)
    yield from _brass(g, covers)
    yield from _undoubled(g, finding, covers)
    yield from _thinner(g, finding, covers)
    yield from _octaves(g, finding, covers)
    yield from _others(g, finding, covers)


def _dynamic(g: Ground, row: int) -> float:
    level = [g.s.score.notes[int(g.notes[k])].dynamic for k in g.of(row)]
    return float(np.mean(level)) if level else 3.0


def _name(g: Ground, rows: Sequence[int]) -> str:
    return listed([g.s.score.lines[r].name for r in rows])


def _marks(g: Ground, rows: Sequence[int], by: int) -> str:
    players = [
        (g.s.score.lines[r].name, [g.s.score.notes[int(g.notes[k])].dynamic for k in g.of(r)])
        for r in rows
    ]
    return change_of_marks(players, by)


# More players than this are not named one by one.
_NAMED = 2


def _softer(g: Ground, covers: Sequence[int]) -> Iterator[Idea]:
    able = [r for r in covers if _dynamic(g, r) >= SOFTEST][:3]
    for count, cost in ((1, 1.0), (2, 1.5), (3, 1.9)):
        if len(able) >= count:
            rows = tuple(able[:count])
            yield Idea(
                _marks(g, rows, -1), "softer", rows, cost, marked(g, [(r, -1.0) for r in rows])
            )
    deep = tuple(r for r in able[:2] if _dynamic(g, r) >= SOFTEST + 1)
    if deep:
        yield Idea(
            _marks(g, deep, -2), "softer", deep, 2.6, marked(g, [(r, -2.0) for r in deep])
        )


def _louder(g: Ground, covers: Sequence[int]) -> Iterator[Idea]:
    able = [r for r in g.lines if _dynamic(g, r) < LOUDEST]
    if not able:
        return
    up = marked(g, [(r, 1.0) for r in able])
    few = len(able) <= _NAMED
    louder = _marks(g, able, 1) if few else "mark all who play the line one degree louder"
    yield Idea(louder, "louder", tuple(able), 1.2, up)
    soft = [r for r in covers if _dynamic(g, r) >= SOFTEST][:2]
    for by, cost in ((-1, 2.2), (-2, 3.2)):
        rows = [r for r in soft if _dynamic(g, r) >= SOFTEST - 1 - by]
        if rows:
            down = marked(g, [(r, float(by)) for r in rows])
            words = f"{louder}, and {_marks(g, rows, by)}"
            yield Idea(words, "both", (*able, *rows), cost, both(up, down, g))


def _brass(g: Ground, covers: Sequence[int]) -> Iterator[Idea]:
    """Brass one mark below the rest: its spectrum changes with its level."""
    rows = [
        k
        for k, line in enumerate(g.s.score.lines)
        if line.instrument.family == "brass" and k not in g.lines and g.of(k)
    ]
    rows = [r for r in rows if _dynamic(g, r) >= SOFTEST]
    if len(rows) < 2 or not set(rows) & set(covers) or set(rows) <= set(covers[:2]):
        return
    words = "mark all the brass one degree below the rest here"
    yield Idea(words, "softer", tuple(rows), 1.8, marked(g, [(r, -1.0) for r in rows]))


def _needed(g: Ground, finding: Finding, row: int) -> bool:
    """Whether the score relies on a coverer there too."""
    held = g.s.intent.reliance[row, finding.first_bar : finding.last_bar + 1]
    return bool(held.size) and float(held.max()) >= _RELIED


def _partner(g: Ground, finding: Finding, row: int) -> int | None:
    """Row of a line that has the notes of a coverer as well, all through the passage."""
    number = g.s.score.lines[row].number
    inside: list[set[int]] = []
    for bar in range(finding.first_bar, finding.last_bar + 1):
        if (row, bar) not in g.s.places:
            continue
        pairs = [(d.line, d.of) for d in g.s.doubled.get(bar, ()) if number in (d.line, d.of)]
        inside.append({a if b == number else b for a, b in pairs})
    both = set.intersection(*inside) if inside else set()
    return min((g.s.row[n] for n in both), default=None)


def _undoubled(g: Ground, finding: Finding, covers: Sequence[int]) -> Iterator[Idea]:
    """A doubling removed: its notes stay, with whoever else has them."""
    for row in covers[:3]:
        other = _partner(g, finding, row)
        if other is not None:
            left, stays = _name(g, [row]), _name(g, [other])
            words = f"let {left} leave these notes to {stays}, who has them as well"
            yield Idea(words, "rest", (row,), 1.7, silenced(g, [row]))


def _thinner(g: Ground, finding: Finding, covers: Sequence[int]) -> Iterator[Idea]:
    free = [
        r for r in covers
        if not _needed(g, finding, r) and _partner(g, finding, r) is None
    ]  # fmt: skip
    for row in free[:2]:
        name = _name(g, [row])
        yield Idea(f"let {name} rest here", "rest", (row,), 2.0, silenced(g, [row]))
    if len(free) > 1:
        rows = tuple(free[:3])
        words = f"let {_name(g, rows)} rest here"
        yield Idea(words, "rest", rows, 2.6, silenced(g, rows))
    held = [r for r in covers if _held(g, r)][:2]
    if held:
        yield Idea(
            f"let {_name(g, held)} take shorter notes here", "shorter", tuple(held), 2.0,
            shortened(g, held),
        )  # fmt: skip


def _held(g: Ground, row: int) -> bool:
    own = [bool(g.s.windows.sustained[g.notes[k]]) for k in g.of(row)]
    return bool(own) and float(np.mean(own)) > 0.5


def _octaves(g: Ground, finding: Finding, covers: Sequence[int]) -> Iterator[Idea]:
    if len(g.lines) == 1:
        row = g.lines[0]
        for by, way in ((12, "higher"), (-12, "lower")):
            if _in_range(g, row, by):
                name = _name(g, [row])
                words = f"put {name} an octave {way}, if the player finds it comfortable"
                yield Idea(words, "octave", (row,), 3.0, moved(g, row, by))
    for row in [r for r in covers if not _needed(g, finding, r)][:1]:
        for by, way in ((-12, "lower"), (12, "higher")):
            if _in_range(g, row, by):
                yield Idea(
                    f"move {_name(g, [row])} an octave {way}, out of the way",
                    "octave", (row,), 3.5, moved(g, row, by),
                )  # fmt: skip


def _in_range(g: Ground, row: int, by: int) -> bool:
    line: Line = g.s.score.lines[row]
    pitches = [int(g.s.windows.pitch[g.notes[k]]) for k in g.of(row)]
    if not line.instrument.pitched or not pitches or min(pitches) <= 0:
        return False
    low, high = line.instrument.low + RESERVE, line.instrument.high - RESERVE
    return min(pitches) + by >= low and max(pitches) + by <= high


def _others(g: Ground, finding: Finding, covers: Sequence[int]) -> Iterator[Idea]:
    """A doubling added from players who rest, or the line given to one of them.

    A solo is neither doubled nor given away.
    """
    notes = g.notes[g.target]
    if g.s.marked_solo(finding.lines, finding.first_bar, finding.last_bar):
        return
    free = free_players(g.s, finding.lines, finding.first_bar, finding.last_bar, notes)
    for line in free[:2]:
        row = g.s.row[line.number]
        yield Idea(
            f"let {line.name}, who rests here, double it", "doubling", (row,), 2.8,
            given_to(g, row, instead=False),
        )  # fmt: skip
    soft = [r for r in covers if _dynamic(g, r) >= SOFTEST][:2]
    if free and soft:
        row = g.s.row[free[0].number]
        down = marked(g, [(r, -1.0) for r in soft])
        yield Idea(
            f"let {free[0].name}, who rests here, double it, and {_marks(g, soft, -1)}",
            "doubling", (row, *soft), 3.8, both(given_to(g, row, instead=False), down, g),
        )  # fmt: skip
    if free and len(finding.lines) == 1:
        row = g.s.row[free[0].number]
        yield Idea(
            f"give the line to {free[0].name}, who rests here", "player", (row,), 4.0,
            given_to(g, row, instead=True),
        )  # fmt: skip

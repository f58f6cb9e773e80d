"""What to try for a covered passage, in words, the smallest change first."""

from __future__ import annotations

import numpy as np

from auditor.findings.wording import change_of_marks, listed
from auditor.judging.causes import Covering
from auditor.judging.scene import IntArray, Scene
from auditor.score.notes import Instrument, Line

# Marks beyond which asking for less or more is no remedy: pp and ff.
SOFTEST, LOUDEST = 0.5, 4.5
# Semitones kept from the end of a range when a line is moved: extremes are the player's call.
RESERVE = 3
# From f on, trumpets and trombones may help out.
LOUD = 3.5
# Suggestions given at most.
MOST = 4


def _level(s: Scene, notes: IntArray) -> float:
    return float(np.mean([s.score.notes[int(n)].dynamic for n in notes]))


def _softer(s: Scene, cover: Covering, first: int, last: int) -> str:
    able = tuple(
        c.line
        for c in cover.covers[:2]
        if np.mean(s.dynamics(c.line, first, last) or [0.0]) >= SOFTEST
    )
    return change_of_marks(s.players(able, first, last), -1) if able else ""


def _louder(s: Scene, lines: tuple[int, ...], bars: tuple[int, int], notes: IntArray) -> str:
    if _level(s, notes) >= LOUDEST:
        return ""
    return change_of_marks(s.players(lines, *bars), 1)


def _octave(s: Scene, lines: tuple[int, ...], cover: Covering, notes: IntArray) -> str:
    if len(lines) != 1 or cover.kind not in ("register", "partials", "unison"):
        return ""
    instrument = s.line(lines[0]).instrument
    pitches = s.windows.pitch[notes]
    if not instrument.pitched or not (pitches > 0).all():
        return ""
    if int(pitches.max()) + 12 > instrument.high - RESERVE:
        return ""
    name = s.line(lines[0]).name
    return f"put {name} an octave higher, if the player finds it comfortable"


def _suits(helper: Instrument, target: Instrument, *, loud: bool) -> bool:
    """Whether a player may double another without taking over (common practice, no source)."""
    mild = helper.family in ("woodwind", "strings") or helper.key == "horn"
    if helper.family == target.family:
        return mild or loud or helper.family != "brass"
    return mild and target.family in ("woodwind", "strings", "brass", "saxophone")


def free_players(
    s: Scene, lines: tuple[int, ...], first: int, last: int, notes: IntArray
) -> list[Line]:
    """Lines that rest there and have the notes, those of the line's own family first."""
    pitches = s.windows.pitch[notes]
    if not (pitches > 0).any() or len(lines) > 2:
        return []
    low, high = int(pitches[pitches > 0].min()), int(pitches.max())
    busy = set(s.sounding(first, last))
    target = s.line(lines[0]).instrument
    loud = _level(s, notes) >= LOUD
    free = [
        line
        for line in s.score.lines
        if line.number not in busy
        and line.instrument.pitched
        and line.instrument.kind == "sustained"
        and _suits(line.instrument, target, loud=loud)
        and line.instrument.low + RESERVE <= low
        and high <= line.instrument.high - RESERVE
    ]
    return sorted(free, key=lambda x: (x.instrument.family != target.family, x.number))


def _helper(s: Scene, lines: tuple[int, ...], first: int, last: int, notes: IntArray) -> str:
    """Name a player who rests there and has the notes."""
    free = free_players(s, lines, first, last, notes)
    return f"let {free[0].name}, who rests here, double it" if free else ""


def remedies(
    s: Scene, lines: tuple[int, ...], cover: Covering, bars: tuple[int, int], notes: IntArray
) -> tuple[str, ...]:
    """Suggest changes for a passage, the smallest first.

    Octave and doubling are offered only inside a range with some reserve; what is
    comfortable there is for the player to say.
    """
    first, last = bars
    said = [_softer(s, cover, first, last), _louder(s, lines, bars, notes)]
    names = [s.line(c.line).name for c in cover.covers]
    if cover.kind == "unison":
        said.insert(0, f"let {names[0]} leave these notes to it")
    said += [_octave(s, lines, cover, notes), _helper(s, lines, first, last, notes)]
    if len(names) > 1:
        said.append(f"thin out: let one of {listed(names, 3)} rest here")
    elif cover.kind == "decay" and names:
        said.append(f"let {names[0]} take shorter notes here")
    return tuple([x for x in said if x][:MOST])

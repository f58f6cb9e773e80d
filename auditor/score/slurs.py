"""Slurs: which notes stand under one."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.score.noteheads import Notehead


@dataclass(frozen=True, slots=True)
class SlurEnd:
    """One end of a slur as the file gives it.

    Parameters
    ----------
    event
        Chord it hangs on, counted within the part.
    voice
        Voice of that chord.
    way
        ``start``, ``continue`` or ``stop``.
    number
        Tells slurs apart that run at once.
    """

    event: int
    voice: str
    way: str
    number: str


@dataclass(frozen=True, slots=True)
class Slur:
    """A slur from one chord to a later one, by their count within the part."""

    first: int
    last: int
    voices: frozenset[str]


def pair(ends: Iterable[SlurEnd]) -> list[Slur]:
    """Join the ends of slurs, voice by voice; an end without its other is left out."""
    waiting: list[SlurEnd] = []
    found: list[Slur] = []
    # On a note where one slur ends and another begins, the end comes first.
    for end in sorted(ends, key=lambda e: (e.event, e.way == "start")):
        if end.way == "start":
            waiting = [w for w in waiting if (w.voice, w.number) != (end.voice, end.number)]
            waiting.append(end)
        elif end.way == "stop":
            fits = [w for w in waiting if w.number == end.number]
            if fits:
                begin = max(fits, key=lambda w: (w.voice == end.voice, w.event))
                waiting.remove(begin)
                found.append(Slur(begin.event, end.event, frozenset((begin.voice, end.voice))))
    return sorted((slur for slur in found if slur.last > slur.first), key=lambda s: s.first)


def with_slurred(heads: Sequence[Notehead], slurs: Sequence[Slur]) -> list[Notehead]:
    """Noteheads, those under a slur but not at its beginning marked ``slurred``."""
    under: dict[str, set[int]] = {}
    for slur in slurs:
        for voice in slur.voices:
            under.setdefault(voice, set()).update(range(slur.first + 1, slur.last + 1))
    return [
        dataclasses.replace(head, techniques=(*head.techniques, "slurred"))
        if head.event in under.get(head.voice, ())
        else head
        for head in heads
    ]

"""Stops on four strings: whether one left hand can finger a chord, and how far it stretches.

A string of length :math:`L` stopped :math:`n` semitones above the open string is stopped
:math:`L (1 - 2^{-n/12})` from the nut (equal temperament); the stretch of a fingering is the
distance between its outermost stopped fingers. Open strings cost nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

from auditor.craft.limits import CraftLimits
from auditor.score.harmonics import OPEN_STRINGS


@dataclass(frozen=True, slots=True)
class Neck:
    """An instrument as a left hand meets it.

    Parameters
    ----------
    strings
        Sounding MIDI pitches of the open strings, lowest first.
    length_mm
        Sounding length of an open string.
    usual_mm, widest_mm
        How far apart the outer stopped fingers may stand in ordinary playing, and at most.
    highest
        Semitones above the open string of the highest stop.
    """

    strings: tuple[int, ...]
    length_mm: float
    usual_mm: float
    widest_mm: float
    highest: int


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to stop a chord: string and semitones above it for each note, and the stretch."""

    places: tuple[tuple[int, int], ...]
    stretch_mm: float


# Open strings: music21 10.5 (stringPitches of each instrument). Lengths: usual full-size
# instruments, from memory.
_STRINGS: dict[str, tuple[tuple[int, ...], float, str]] = {
    "violin": (OPEN_STRINGS["violin"], 328.0, "violin"),
    "viola": (OPEN_STRINGS["viola"], 370.0, "viola"),
    "cello": (OPEN_STRINGS["cello"], 690.0, "cello"),
    "double-bass": (OPEN_STRINGS["double-bass"], 1060.0, "bass"),
}


def neck_of(key: str, limits: CraftLimits) -> Neck | None:
    """The neck of an instrument; None for one whose strings are not in the table."""
    if key not in _STRINGS:
        return None
    strings, length, name = _STRINGS[key]
    return Neck(
        strings,
        length,
        getattr(limits, f"{name}_reach_mm"),
        getattr(limits, f"{name}_reach_widest_mm"),
        int(limits.stop_highest),
    )


def from_nut_mm(semitones: float, length_mm: float) -> float:
    """Where a string is stopped, in mm from the nut."""
    return length_mm * (1.0 - math.exp2(-semitones / 12.0))


def fingerings(
    pitches: Sequence[int], neck: Neck, *, bowed: bool = True
) -> Iterator[Fingering]:
    """Every way to lay a chord over the strings, one string a note, however wide.

    A bow takes neighbouring strings only; a plucking hand may leave one out.
    """
    for strings in permutations(range(len(neck.strings)), len(pitches)):
        if bowed and max(strings) - min(strings) >= len(strings):
            continue
        above = [pitch - neck.strings[s] for pitch, s in zip(pitches, strings, strict=True)]
        if all(0 <= semitones <= neck.highest for semitones in above):
            stopped = [from_nut_mm(n, neck.length_mm) for n in above if n > 0]
            stretch = max(stopped) - min(stopped) if stopped else 0.0
            yield Fingering(tuple(zip(strings, above, strict=True)), stretch)


def best_fingering(
    pitches: Sequence[int], neck: Neck, *, bowed: bool = True
) -> Fingering | None:
    """The fingering with the least stretch; None where no strings are left for the notes."""
    if len(pitches) > len(neck.strings):
        return None
    found = fingerings(pitches, neck, bowed=bowed)
    return min(found, key=lambda f: (f.stretch_mm, f.places), default=None)

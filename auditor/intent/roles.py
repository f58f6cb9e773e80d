"""The records of what the music leans on: strands, layers, roles and reliance."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

# What a line does in the texture; the order is the order of tables.
ROLES: tuple[str, ...] = ("leading", "answer", "bass", "harmony", "figuration", "rhythm")


@dataclass(frozen=True, slots=True)
class Strand:
    """One musical line carried by one or more lines, or what does one job in the texture.

    Parameters
    ----------
    id
        Stable: ``S1`` ... for strands, ``L-bass`` ... for layers.
    kind
        ``strand`` or ``layer``.
    role
        One of `ROLES`.
    lines
        Numbers of the lines that carry it, in score order.
    notes
        Positions in ``score.notes``, ascending.
    first_bar, last_bar
        Indices on the played axis.
    doublings
        Intervals between the carriers in plain words: ``Flute 1 an octave above Violin I``.
    """

    id: str
    kind: str
    role: str
    lines: tuple[int, ...]
    notes: tuple[int, ...]
    first_bar: int
    last_bar: int
    doublings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubling:
    """A span in which one line carries another's notes.

    Parameters
    ----------
    line, of
        Numbers of the doubling line and of the line it doubles.
    interval
        Semitones from `of` to `line`: 0, 12, -12, 24 ...
    first_bar, last_bar
        Indices on the played axis.
    notes
        Positions in ``score.notes`` of the doubling line's notes.
    """

    line: int
    of: int
    interval: int
    first_bar: int
    last_bar: int
    notes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Parallel:
    """A span in which one line moves with another in thirds or sixths.

    Parameters
    ----------
    line, of
        Numbers of the lower line and of the upper one.
    interval
        ``third`` or ``sixth``, octaves between left aside.
    first_bar, last_bar
        Indices on the played axis.
    """

    line: int
    of: int
    interval: str
    first_bar: int
    last_bar: int


@dataclass(frozen=True, slots=True)
class Intent:
    """What the music leans on, bar by bar.

    Parameters
    ----------
    strands
        Strands and layers.
    doublings
        Doubling spans.
    role : tuple of tuple of str, (lines, bars)
        Role of each line in each bar of the played axis; empty where it rests.
    reliance : ndarray, shape (lines, bars)
        0 to 1: how much the score relies on the line there; 0 where it rests.
    reasons : mapping as tuple of ((line, first_bar, last_bar), words)
        Why, in words.
    certainty : ndarray, shape (bars,)
        How likely the leading strand is the right one, 0 to 1; below 0.5 it is unclear who
        leads. Empty where nobody asked.
    """

    strands: tuple[Strand, ...]
    doublings: tuple[Doubling, ...]
    role: tuple[tuple[str, ...], ...]
    reliance: NDArray[np.float64]
    reasons: tuple[tuple[tuple[int, int, int], str], ...] = ()
    certainty: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    parallels: tuple[Parallel, ...] = ()

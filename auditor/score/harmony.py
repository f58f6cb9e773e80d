"""How well a part's notes fit what the other parts sound, for readings of its transposition.

A wrong transposition puts most notes outside the chords of the others, a right one puts
them inside. Octaves make no difference here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# Cells of a quarter of a quarter note; coarser where a page is endless.
_CELLS_PER_QUARTER = 4.0
_MOST_CELLS = 100_000
# A long note tells hardly more than a half note does.
_LONGEST_QUARTERS = 2.0


@dataclass(frozen=True, slots=True)
class Written:
    """The pitched noteheads of one part on the written axis.

    Parameters
    ----------
    start, end : ndarray, shape (heads,)
        Quarters.
    pitch : ndarray of int, shape (heads,)
        MIDI numbers as printed, harmonics lifted.
    shift : ndarray of int, shape (heads,)
        Semitones to the sounding pitch, as read so far.
    """

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    pitch: NDArray[np.int64]
    shift: NDArray[np.int64]

    @property
    def sounding(self) -> NDArray[np.int64]:
        """Sounding MIDI numbers."""
        return self.pitch + self.shift


class Chords:
    """Which pitch classes sound in each cell of the page, counted over some parts."""

    def __init__(self, parts: Sequence[Written], quarters: float) -> None:
        self.per_quarter = min(_CELLS_PER_QUARTER, _MOST_CELLS / max(quarters, 1.0))
        self.cells = int(quarters * self.per_quarter) + 2
        self.count = np.zeros((self.cells, 12), dtype=np.int16)
        for part in parts:
            self.add(part)

    def cell(self, place: NDArray[np.float64]) -> NDArray[np.int64]:
        """Cells of places in quarters."""
        cell = np.floor(place * self.per_quarter + 1e-3).astype(np.int64)
        return np.clip(cell, 0, self.cells - 1)

    def add(self, part: Written, times: int = 1) -> None:
        """Count a part's notes in, or out again with -1."""
        first = self.cell(part.start)
        length = np.maximum(self.cell(part.end - 1e-2) - first + 1, 1)
        which = np.repeat(np.arange(first.size), length)
        along = np.arange(which.size) - np.repeat(np.cumsum(length) - length, length)
        cells = np.minimum(first[which] + along, self.cells - 1)
        np.add.at(self.count, (cells, part.sounding[which] % 12), times)

    def fit(self, part: Written, shifts: Sequence[int]) -> tuple[NDArray[np.float64], float]:
        """Share of a part's notes inside the chords, above chance, for each shift.

        Parameters
        ----------
        part
            The part in question, which must not be counted in.
        shifts
            Semitones from written to sounding to try.

        Returns
        -------
        fit : ndarray, shape (shifts,)
            1 if every note were in a chord of one pitch class; chance gives 0.
        notes : float
            How many equal notes would tell as much as those that had a chord of the others
            to stand in.
        """
        cell = self.cell(part.start)
        chord = self.count[cell] > 0
        size = chord.sum(axis=1)
        weight = np.minimum(part.end - part.start, _LONGEST_QUARTERS) * (size > 0)
        total = float(weight.sum())
        if total <= 0:
            return np.zeros(len(shifts)), 0.0
        rows = np.arange(cell.size)
        inside = np.stack([chord[rows, (part.pitch + shift) % 12] for shift in shifts])
        above = inside - size[None, :] / 12.0
        return (above @ weight) / total, total**2 / float(np.square(weight).sum())

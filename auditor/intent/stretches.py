"""Stretches of music through which two lines keep company, tolerant of small partings."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.intent.texture import CELL, Texture

# Of the time either line sounds, this share must agree: the reading of "constant unison or
# octave" used for analysts' part relations (95 %), loosened for ornaments and dropped notes.
AGREEMENT = 0.80
# One line may leave the other for this long (quarters) inside a doubling.
GAP = 1.0
# Both may rest together for this long (quarters) inside a doubling.
REST = 4.0
# The shortest doubling: four notes that move, or two bars.
NOTES, BARS = 4, 2


@dataclass(frozen=True, slots=True)
class Pair:
    """Agreement of rows a and b over cells: at the interval, or apart."""

    agree: NDArray[np.bool_]
    apart: NDArray[np.bool_]


def best_stretches(pair: Pair) -> list[tuple[int, int]]:
    """Maximal stretches of cells in which agreement outweighs what stands apart.

    Ruzzo and Tompa's maximal scoring subsequences ("A linear time algorithm for finding all
    maximal scoring subsequences", ISMB 1999), agreeing cells weighing for, others against.
    """
    against = AGREEMENT / (1.0 - AGREEMENT)
    found: list[tuple[int, int]] = []
    for first, last in _islands(pair):
        weight = np.where(
            pair.agree[first:last], 1.0, np.where(pair.apart[first:last], -against, 0)
        )
        found += [(first + a, first + b) for a, b in _maximal(weight)]
    return found


def _islands(pair: Pair) -> list[tuple[int, int]]:
    """Find runs of agreement, split where the lines part or rest for too long."""
    cells = np.flatnonzero(pair.agree)
    if cells.size == 0:
        return []
    parted = np.concatenate([[0], np.cumsum(pair.apart)])
    bad = parted[cells[1:]] - parted[cells[:-1]]
    cut = (bad * CELL > GAP + 1e-9) | (np.diff(cells) * CELL > REST + 1e-9)
    edges = np.concatenate([[-1], np.flatnonzero(cut), [cells.size - 1]])
    return [(int(cells[i + 1]), int(cells[j]) + 1) for i, j in pairwise(edges.tolist())]


def _maximal(weight: NDArray[np.float64]) -> list[tuple[int, int]]:
    change = np.flatnonzero(np.diff(weight)) + 1
    edges = np.concatenate([[0], change, [weight.size]]).astype(int)
    runs: list[tuple[int, int, float, float]] = []  # start, end, sum before, sum after
    total = 0.0
    for a, b in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        gain = float(weight[a]) * (b - a)
        if gain > 0:
            _push(runs, (a, b, total, total + gain))
        total += gain
    return [(a, b) for a, b, _, _ in runs]


def _push(
    runs: list[tuple[int, int, float, float]], new: tuple[int, int, float, float]
) -> None:
    while True:
        j = next((k for k in range(len(runs) - 1, -1, -1) if runs[k][2] < new[2]), None)
        if j is None or runs[j][3] >= new[3]:
            runs.append(new)
            return
        new = (runs[j][0], new[1], runs[j][2], new[3])
        del runs[j:]


def long_enough(texture: Texture, row: int, pair: Pair, first: int, last: int) -> bool:
    """Two bars, or four notes at three pitches at least, all agreeing."""
    agree = pair.agree[first:last]
    notes = texture.note[row, first:last][agree]
    notes = notes[notes >= 0]
    pitches = texture.top[row, first:last][agree]
    if np.unique(notes).size >= NOTES and np.unique(pitches).size >= NOTES - 1:
        return True
    bars = texture.starts[texture.bar[first] : texture.bar[first] + BARS + 1]
    return bool(np.count_nonzero(agree) >= (bars[-1] - bars[0]) * 0.95 and bars.size > BARS)

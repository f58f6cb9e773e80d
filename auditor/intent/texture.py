"""The score laid on a fine grid of time: which line sounds what, where.

Cells are an eighth of a quarter wide, so that held notes, repeated notes and
ornaments can be compared by what sounds at a time and not only by where notes start.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.score.notes import Score

# Quarters per cell: a 32nd note, the shortest value common in orchestral parts.
CELL = 0.125


@dataclass(frozen=True, slots=True)
class Texture:
    """What sounds in each cell.

    Parameters
    ----------
    top, low : ndarray, shape (lines, cells), int16
        Highest and lowest sounding MIDI pitch; -1 in rests and for unpitched notes.
    active : ndarray, shape (lines, cells), bool
        Whether the line sounds.
    onset : ndarray, shape (lines, cells), bool
        Whether a note starts.
    level : ndarray, shape (lines, cells), float32
        Written dynamic in steps; NaN in rests.
    note : ndarray, shape (lines, cells), int32
        Position in ``score.notes`` of the highest note; -1 in rests.
    bar : ndarray, shape (cells,), int32
        Index of the bar on the played axis.
    starts : ndarray, shape (bars + 1,), int32
        First cell of each bar, and the number of cells.
    row : mapping as dict
        Line number to row.
    """

    top: NDArray[np.int16]
    low: NDArray[np.int16]
    active: NDArray[np.bool_]
    onset: NDArray[np.bool_]
    level: NDArray[np.float32]
    note: NDArray[np.int32]
    bar: NDArray[np.int32]
    starts: NDArray[np.int32]
    row: dict[int, int]


def _span(onset: float, duration: float, cells: int) -> tuple[int, int]:
    """Cells whose middle the note covers; at least the one it starts in."""
    first = int(np.ceil(onset / CELL - 0.5 - 1e-6))
    last = int(np.ceil((onset + duration) / CELL - 0.5 - 1e-6))
    first = min(max(first, 0), cells - 1)
    return first, max(first + 1, min(last, cells))


def lay_out(score: Score) -> Texture:
    """Lay the notes of a score on the grid; grace notes are left out."""
    row = {line.number: i for i, line in enumerate(score.lines)}
    edges = [bar.onset for bar in score.bars] + [score.duration]
    starts = np.round(np.asarray(edges) / CELL).astype(np.int32)
    cells = max(int(starts[-1]), 1)
    shape = (len(score.lines), cells)
    top = np.full(shape, -1, np.int16)
    low = np.full(shape, -1, np.int16)
    active, onset = np.zeros(shape, bool), np.zeros(shape, bool)
    level = np.full(shape, np.nan, np.float32)
    note = np.full(shape, -1, np.int32)
    for position, n in enumerate(score.notes):
        if n.grace or n.onset >= score.duration:
            continue
        i = row[n.line]
        a, b = _span(n.onset, n.duration, cells)
        onset[i, a] = True
        active[i, a:b] = True
        level[i, a:b] = n.dynamic
        pitch = -1 if n.unpitched else n.pitch
        higher = pitch >= top[i, a:b]
        note[i, a:b][higher] = position
        top[i, a:b][higher] = pitch
        if pitch >= 0:
            lower = (low[i, a:b] < 0) | (low[i, a:b] > pitch)
            low[i, a:b][lower] = pitch
    bar = np.repeat(np.arange(len(score.bars), dtype=np.int32), np.diff(starts))
    bar = np.resize(bar, cells) if bar.size != cells else bar
    return Texture(top, low, active, onset, level, note, bar, starts, row)


def per_bar(values: NDArray[np.float64], texture: Texture) -> NDArray[np.float64]:
    """Sum cells into bars: (lines, cells) to (lines, bars)."""
    padded = np.concatenate(
        [np.zeros((values.shape[0], 1)), np.cumsum(values, axis=1, dtype=np.float64)], axis=1
    )
    sums: NDArray[np.float64] = np.diff(padded[:, texture.starts], axis=1)
    return sums

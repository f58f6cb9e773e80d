"""A bar and its surroundings: sums, shares and comparisons among the lines that sound."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.score.notes import Score

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Table = dict[str, FloatArray]


def window_bars(score: Score) -> int:
    """Bars on each side that belong to a bar's surroundings: about four quarters."""
    lengths = [bar.duration for bar in score.bars]
    return int(np.clip(round(3.0 / max(float(np.median(lengths)), 0.5)), 1, 4))


def spread(values: FloatArray, radius: int) -> FloatArray:
    """Sum over a bar and its surroundings: (lines, bars) to (lines, bars)."""
    padded = np.pad(values, ((0, 0), (radius + 1, radius)))
    total = np.cumsum(padded, axis=1)
    width = 2 * radius + 1
    sums: FloatArray = total[:, width:] - total[:, :-width]
    return sums


def ratio(a: FloatArray, b: FloatArray) -> FloatArray:
    """Quotient, 0 where the divisor is 0."""
    out: FloatArray = np.divide(a, b, out=np.zeros(np.shape(a)), where=b > 1e-9)
    return out


def of_most(values: FloatArray, on: BoolArray) -> FloatArray:
    """Share of the largest value among the lines that sound in a bar."""
    held = np.where(on, values, 0.0)
    return ratio(held, held.max(axis=0) + np.zeros_like(held))


def shifted(values: FloatArray, by: int) -> FloatArray:
    """Values of the bar `by` bars earlier (later if negative), 0 beyond the ends."""
    out = np.zeros_like(values)
    if abs(by) >= values.shape[1]:
        return out
    if by >= 0:
        out[:, by:] = values[:, : values.shape[1] - by]
    else:
        out[:, :by] = values[:, -by:]
    return out

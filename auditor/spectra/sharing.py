"""One stem for a part whose player changes instruments: each line gets the time it plays.

A player has one instrument in hand at a time, so the stem is handed on from line to line and
the lines' shares add up to it again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# A stem is handed on this long before the next instrument's first note, unless the last
# note still sounds: more than alignment misses, less than a change of instrument takes.
AHEAD_S = 1.0
_FADE_S = 0.005


def handed_on(
    stems: NDArray[np.float32],
    part: Sequence[int],
    line: NDArray[np.int64],
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
    rate_hz: int,
) -> NDArray[np.float32]:
    """Stems in which lines of one part no longer share what only one of them plays.

    Parameters
    ----------
    stems : ndarray, shape (lines, samples)
        The same stem for all lines of a part.
    part
        Part of each line.
    line : ndarray of int, shape (notes,)
        Line of each note, as a row of `stems`.
    onset_s, offset_s : ndarray, shape (notes,)
        When it was played; NaN where it was not.
    rate_hz
        Samples a second.

    Returns
    -------
    ndarray, shape (lines, samples)
        `stems` itself where every part has one line.
    """
    shared = [p for p in dict.fromkeys(part) if list(part).count(p) > 1]
    if not shared:
        return stems
    out = stems.copy()
    for number in shared:
        rows = np.array([k for k, p in enumerate(part) if p == number])
        own = np.isin(line, rows) & np.isfinite(onset_s) & np.isfinite(offset_s)
        holder = _holders(line[own], onset_s[own], offset_s[own], stems.shape[1], rate_hz)
        for row in rows if holder is not None else ():
            out[row] *= _gate(holder == row, rate_hz)
    return out


def _holders(
    line: NDArray[np.int64],
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
    samples: int,
    rate_hz: int,
) -> NDArray[np.int64] | None:
    """Row of the line that has the stem at each sample; None without notes."""
    if not line.size:
        return None
    order = np.argsort(onset_s, kind="stable")
    line, onset_s = line[order], onset_s[order]
    ends = np.maximum.accumulate(offset_s[order])
    out = np.full(samples, line[0], dtype=np.int64)
    for k in np.flatnonzero(line[1:] != line[:-1]) + 1:
        at = max(min(float(ends[k - 1]), float(onset_s[k])), float(onset_s[k]) - AHEAD_S)
        out[max(0, int(at * rate_hz)) :] = line[k]
    return out


def _gate(held: NDArray[np.bool_], rate_hz: int) -> NDArray[np.float32]:
    """0 and 1 with short linear ramps, so that handing on does not click."""
    wide = 2 * int(_FADE_S * rate_hz) + 1
    total = np.cumsum(np.pad(held.astype(np.float64), (wide // 2 + 1, wide // 2), mode="edge"))
    smooth: NDArray[np.float32] = ((total[wide:] - total[:-wide]) / wide).astype(np.float32)
    return smooth

"""How late notes are heard: the attack's share of the placing, from the sound itself.

A bowed note takes a tenth of a second to reach its strength, a plucked one no time, so
the place where a rise is steepest lies later than the note-on by an amount that depends
on the players. How early the rise of an average note begins tells how slow it is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.sound.features import BINS, ONSET_FPS

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

# Frames around the placed onset that are averaged, and those that count as the attack.
_LAGS = np.arange(-25, 36)
_ATTACK = (_LAGS >= -14) & (_LAGS <= 24)
_FEWEST = 30
_OCTAVE = 12
# Tenth percentile of the average rise against the true lateness, on twelve performances
# with two sound fonts. What is left of the bias is 7 ms on their mean (12 with a constant
# alone); on twelve others with other fonts 7 ms (7). `tests/bench/alignment_bench.py`
# prints the bias of each.
_SLOPE, _OFFSET_MS = 1.0, -16.5
_RANGE_MS = (5.0, 60.0)
_USUAL_MS = 8.0


def latency_s(flux: F32, onset_s: F64, pitch: NDArray[np.int64]) -> float:
    """Seconds by which onsets were placed too late, over the whole sound.

    Parameters
    ----------
    flux : ndarray, shape (frames, 86)
        Rises, as heard.
    onset_s : ndarray, shape (notes,)
        Where onsets were placed.
    pitch : ndarray of int, shape (notes,)
        Bin of each note, -1 if none.
    """
    rise = _average_rise(flux, onset_s, pitch)
    if rise is None:
        return _USUAL_MS / 1000
    share = np.cumsum(rise) / rise.sum()
    start_ms = 1000 / ONSET_FPS * float(np.interp(0.1, share, _LAGS + 0.5))
    lead_ms = float(np.clip(-start_ms, *_RANGE_MS))
    return (_OFFSET_MS + _SLOPE * lead_ms) / 1000


def _average_rise(flux: F32, onset_s: F64, pitch: NDArray[np.int64]) -> F64 | None:
    """Mean rise in the bins of fundamental and octave, above the usual, shape (lags,)."""
    frame = np.rint(onset_s * ONSET_FPS).astype(np.int64)
    inside = (pitch >= 0) & (pitch < BINS - _OCTAVE)
    inside &= (frame + _LAGS[0] >= 0) & (frame + _LAGS[-1] < len(flux))
    if inside.sum() < _FEWEST:
        return None
    rows = frame[inside][:, None] + _LAGS
    column = pitch[inside][:, None]
    mean = (flux[rows, column] + flux[rows, column + _OCTAVE]).mean(axis=0).astype(np.float64)
    usual = np.median(np.concatenate([mean[:8], mean[-10:]]))
    rise: F64 = np.maximum(mean - usual, 0.0) * _ATTACK
    rise[: _foot(rise)] = 0.0
    return rise if rise.sum() > 0 else None


def _foot(rise: F64) -> int:
    """Where the main rise begins; what stands before it is the end of earlier notes."""
    peak = int(np.argmax(rise))
    at = peak
    while at > 0 and rise[at - 1] > 0.03 * rise[peak]:
        if rise[at] < 0.3 * rise[peak] and rise[at - 1] > rise[at]:
            break
        at -= 1
    return at

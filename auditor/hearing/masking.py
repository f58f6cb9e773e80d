"""Targets against maskers, frame by frame: the loops that take the time.

The formulas are those of `auditor.hearing.loudness`, written out for single numbers so
that they can be compiled; a test holds the two against each other.
"""

from __future__ import annotations

import math

import numba
import numpy as np
from numpy.typing import NDArray

from auditor.hearing.bands import BandTables
from auditor.hearing.loudness import (
    EARS,
    LOUD_DIVISOR,
    LOUD_EXCITATION,
    LOUD_EXPONENT,
    SONE_SCALE,
)

# A masker's excitation falls no faster than this after it stops. 7 dB per 23.2 ms frame
# was measured on made mixes; of the published figures (masking gone by about 200 ms after
# a loud masker, Jesteadt, Bacon and Lehman 1982) it agrees with the order of size only.
FORWARD_DECAY_DB_PER_S = 7.0 / (1024 / 44_100)
# A partner that starts together in unison or octaves masks four times (6 dB) as much:
# set so that doublings and drum pairs come out as players report them; no published figure.
FUSION_FACTOR = 4.0
# Weight of the target's excitation when masking is shared out: loudness grows like it.
_COVER_EXPONENT = 0.23
# Below a thousandth of its threshold a band adds less than a ten-thousandth of a
# threshold tone's loudness: not worth computing.
_NEGLIGIBLE = 1e-3

# Columns of the frame figures.
ALONE, PARTIAL, DISTINCT, BELOW, LOOK = range(5)
FIGURES = 5

Floats = NDArray[np.float32]


def packed(t: BandTables) -> NDArray[np.float64]:
    """Constants in the order the loops take them, shape (7, bands)."""
    in_quiet = (t.gain * t.threshold + t.growth) ** t.alpha
    return np.stack(
        [t.threshold, t.gain, t.alpha, t.growth, t.growth**t.alpha, t.ratio, in_quiet]
    )


@numba.njit(cache=True, fastmath=True)
def _response(x: float, gain: float, alpha: float, growth: float, rest: float) -> float:
    if x > LOUD_EXCITATION:
        return float(math.exp(LOUD_EXPONENT * math.log(x / LOUD_DIVISOR)))
    return float(math.exp(alpha * math.log(gain * x + growth)) - rest)


@numba.njit(cache=True, fastmath=True)
def _partial(s: float, m: float, masked: float, c: NDArray[np.float64], b: int) -> float:
    """Specific partial loudness before the constant C, not yet clipped."""
    if s < _NEGLIGIBLE * masked:
        return 0.0
    gain, alpha, growth, rest = c[1, b], c[2, b], c[3, b], c[4, b]
    both = _response(s + m, gain, alpha, growth, rest)
    at = _response(m + masked, gain, alpha, growth, rest)
    quiet = c[6, b] - rest
    if s >= masked:
        return float(both - (at - quiet) * math.exp(0.3 * math.log(masked / s)))
    alone = _response(m, gain, alpha, growth, rest)
    x = 2.0 * s / (s + masked)
    return float(x * math.sqrt(x) * quiet / max(at - alone, 1e-30) * (both - alone))


@numba.njit(cache=True, fastmath=True, nogil=True)
def hear_frames(
    target: Floats,
    masker: Floats,
    extra: Floats,
    c: NDArray[np.float64],
    step: float,
    register: NDArray[np.int64],
    limit: float,
    figures: Floats,
    lost: Floats,
    pull: Floats,
) -> None:
    """Fill the figures of each target in each frame.

    Parameters
    ----------
    target, masker, extra : ndarray, shape (frames, targets, bands)
        Excitation of the target, of what masks it, and what fused partners add to that.
    c : ndarray, shape (7, bands)
        From `packed`.
    step
        Spacing of the bands in Cam.
    register : ndarray of int, shape (bands,)
        Register of each band.
    limit
        Distinct ratio below which a frame counts as covered.
    figures : ndarray, shape (frames, targets, FIGURES)
        Out: loudness alone, partial, distinct (sone), loudness alone if covered, and the
        squared sum of signal-to-threshold ratios (multiple looks).
    lost : ndarray, shape (frames, targets, registers)
        Out: loudness lost to masking in each register, sone.
    pull : ndarray, shape (frames, targets, bands)
        Out: weight of each band when masking is shared out; may be empty.
    """
    sone = SONE_SCALE * step * EARS
    for f in range(target.shape[0]):
        for n in range(target.shape[1]):
            whole = partial = distinct = look = 0.0
            for b in range(target.shape[2]):
                s = float(target[f, n, b])
                if s < _NEGLIGIBLE * c[0, b]:
                    continue
                m, x = float(masker[f, n, b]), float(extra[f, n, b])
                near = min(2.0 * s / (s + c[0, b]), 1.0)
                alone = (
                    near * math.sqrt(near) * _response(s, c[1, b], c[2, b], c[3, b], c[4, b])
                )
                masked = c[5, b] * m + c[0, b]
                part = min(max(_partial(s, m, masked, c, b), 0.0), alone)
                clear = part
                if x > 0.0:
                    more = c[5, b] * (m + x) + c[0, b]
                    clear = min(max(_partial(s, m + x, more, c, b), 0.0), part)
                whole += alone
                partial += part
                distinct += clear
                ratio = min(s / masked, 1e6)
                look += ratio * ratio
                lost[f, n, register[b]] += sone * (alone - part)
                if pull.size:
                    pull[f, n, b] = math.exp(_COVER_EXPONENT * math.log(s)) / (s + m)
            figures[f, n, 0] = sone * whole
            figures[f, n, 1] = sone * partial
            figures[f, n, 2] = sone * distinct
            figures[f, n, 3] = sone * whole if distinct < limit * whole else 0.0
            figures[f, n, 4] = step * look


@numba.njit(cache=True, fastmath=True, nogil=True)
def linger(excitation: Floats, before: Floats, keep: float) -> Floats:
    """Excitation as it masks: it dies away no faster than by `keep` a frame.

    Parameters
    ----------
    excitation : ndarray, shape (frames, lines, bands)
        Excitation of each line.
    before : ndarray, shape (lines, bands)
        What lingers from the frame before the first; holds the last frame's afterwards.
    keep
        Power ratio that remains after one frame.
    """
    out = np.empty_like(excitation)
    for f in range(excitation.shape[0]):
        for n in range(excitation.shape[1]):
            for b in range(excitation.shape[2]):
                value = max(excitation[f, n, b], before[n, b] * keep)
                out[f, n, b] = value
                before[n, b] = value
    return out


@numba.njit(cache=True, nogil=True)
def add_spans(
    out: Floats,
    first: int,
    start: NDArray[np.int64],
    stop: NDArray[np.int64],
    row: NDArray[np.int64],
    column: NDArray[np.int64],
) -> None:
    """Add 1 to ``out[frame - first, row, column]`` for each frame of each span."""
    frames = out.shape[0]
    for i in range(start.size):
        for f in range(max(start[i] - first, 0), min(stop[i] - first, frames)):
            out[f, row[i], column[i]] += 1.0


@numba.njit(cache=True, nogil=True)
def sum_spans(
    values: Floats,
    first: int,
    start: NDArray[np.int64],
    stop: NDArray[np.int64],
    row: NDArray[np.int64],
    out: NDArray[np.float64],
) -> None:
    """Add the frames of each span, ``values[frame - first, row]``, to ``out[span]``."""
    frames = values.shape[0]
    for i in range(start.size):
        for f in range(max(start[i] - first, 0), min(stop[i] - first, frames)):
            for k in range(values.shape[2]):
                out[i, k] += values[f, row[i], k]

"""Banded warping between what is heard and what the score lets us expect, level by level.

The expected features are made anew on the current estimate before each level, so the
true path stays near the diagonal and the band can be narrow.

References
----------
.. [1] S. Ewert, M. Müller and P. Grosche, "High resolution audio synchronization using
       chroma onset features", Proc. ICASSP 2009, 1869-1872: decaying, locally
       normalised onset features beside chroma in one cost.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy.ndimage
from numba import njit
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
Rows = Callable[[int, int], tuple[F32, F32]]

# Weights of a step that moves on one axis only and on both: a detour costs 1.75 times the
# diagonal. On the fitting performances less smears less but strays more (1.5), more cannot
# follow the beat's jitter (2.3); the two onset weights were chosen there too.
SINGLE_WEIGHT = 1.75
DIAGONAL_WEIGHT = 2.0
ONSET_WEIGHT = 0.8
BROAD_WEIGHT = 0.15
# Onset features fade with this time constant, so that near misses are felt.
_FADE_S = 0.1
_LOCAL_S = 1.0


def unit_rows(rows: F32, floor: float) -> F32:
    """Rows scaled to length 1; rows shorter than `floor` fade to zero with their length."""
    length = np.sqrt(np.einsum("ij,ij->i", rows, rows))
    out: F32 = rows / np.maximum(length, max(floor, 1e-12))[:, None].astype(np.float32)
    return out


def onset_floor(flux: F32, fps: float) -> F64:
    """Below which lengths rises are noise, for pitches and for the broad column, shape (2,).

    Where nothing starts for long, noise must not be blown up.
    """
    return np.array(
        [0.1 * float(np.percentile(_tops(part, fps), 90)) + 1e-9 for part in _parts(flux)]
    )


def onset_rows(flux: F32, fps: float, floor: F64 | None = None) -> F32:
    """Fade rises out and scale them to their neighbourhood, after [1]_.

    Parameters
    ----------
    flux : ndarray, shape (frames, columns)
        The last column is the broadband rise, which is scaled by itself.
    fps
        Frames a second.
    floor : ndarray, shape (2,)
        As `onset_floor` of the whole sound; of this stretch if None.
    """
    floor = onset_floor(flux, fps) if floor is None else floor
    out = flux.copy()
    _fade(out, float(np.exp(-1.0 / (_FADE_S * fps))))
    for part, least in zip(_parts(out), floor, strict=True):
        part /= np.maximum(_tops(part, fps), least)[:, None].astype(np.float32)
    return out


def _parts(flux: F32) -> tuple[F32, F32]:
    return flux[:, :-1], flux[:, -1:]


def _tops(part: F32, fps: float) -> F64:
    """Longest row around each; fading does not move it."""
    length = np.sqrt(np.einsum("ij,ij->i", part, part))
    out: F64 = scipy.ndimage.maximum_filter1d(length, 2 * round(_LOCAL_S * fps) + 1)
    return out


def warp(heard: Rows, expected: Rows, frames: int, band: int, block: int) -> NDArray[np.int64]:
    """Cheapest monotone path near the diagonal between two sounds of one length.

    Parameters
    ----------
    heard, expected
        Called with a first frame and one past the last: give unit pitch rows and onset
        rows of these frames, shapes (n, 85) and (n, 86).
    frames
        Length of both.
    band
        Frames the path may lie off the diagonal.
    block
        Frames looked at at a time.

    Returns
    -------
    ndarray, shape (steps, 2)
        Pairs (frame heard, frame expected), rising on both axes.
    """
    width = 2 * band + 1
    # Silence around both, so that the first and last notes may lie off the diagonal too.
    total = frames + 2 * band
    steps = np.zeros((total, width), np.int8)
    last = np.full(width, np.inf)
    for start in range(0, total, block):
        stop = min(start + block, total)
        a, b = _padded(heard, start - band, stop - band, frames)
        c, d = _padded(expected, start - 2 * band, stop, frames)
        last = _accumulate(
            a, b, c, d, steps[start:stop], last, start, total, band,
            SINGLE_WEIGHT, DIAGONAL_WEIGHT, ONSET_WEIGHT, BROAD_WEIGHT,
        )  # fmt: skip
    path = _trace(steps, band) - band
    return path[((path >= 0) & (path < frames)).all(axis=1)]


def _padded(rows: Rows, start: int, stop: int, frames: int) -> tuple[F32, F32]:
    """Rows from start to stop, silence where these lie outside the sound."""
    first = min(max(start, 0), frames)
    last = max(first, min(stop, frames))
    before = min(max(-start, 0), stop - start)
    around = ((before, stop - start - before - (last - first)), (0, 0))
    pitch, onset = rows(first, last)
    return np.pad(pitch, around), np.pad(onset, around)


def first_heard(path: NDArray[np.int64], frames: int) -> F64:
    """First frame heard for each frame expected, shape (frames,)."""
    out = np.full(frames, np.nan)
    out[path[::-1, 1]] = path[::-1, 0]
    known = np.flatnonzero(np.isfinite(out))
    filled: F64 = np.interp(np.arange(frames), known, out[known])
    return filled


@njit(cache=True)
def _fade(rows: F32, keep: float) -> None:
    for t in range(1, rows.shape[0]):
        for k in range(rows.shape[1]):
            held = keep * rows[t - 1, k]
            if held > rows[t, k]:
                rows[t, k] = held


@njit(cache=True, fastmath=True)
def _cost(
    pitch_a: F32,
    onset_a: F32,
    pitch_b: F32,
    onset_b: F32,
    i: int,
    j: int,
    onset_weight: float,
    broad_weight: float,
) -> float:
    dot = np.float32(0.0)
    full_a = np.float32(0.0)
    full_b = np.float32(0.0)
    for k in range(pitch_a.shape[1]):
        a, b = pitch_a[i, k], pitch_b[j, k]
        dot += a * b
        full_a += a * a
        full_b += b * b
    apart = np.float32(0.0)
    broad = onset_a.shape[1] - 1
    for k in range(broad):
        d = onset_a[i, k] - onset_b[j, k]
        apart += d * d
    jolt = abs(onset_a[i, broad] - onset_b[j, broad])
    # Silence against silence costs nothing, silence against sound as much as no likeness.
    onsets = onset_weight * np.sqrt(apart) + broad_weight * jolt
    cost: float = max(full_a, full_b) - dot + onsets
    return cost


@njit(cache=True)
def _accumulate(
    pitch_a: F32,
    onset_a: F32,
    pitch_b: F32,
    onset_b: F32,
    step: NDArray[np.int8],
    last: F64,
    start: int,
    total: int,
    band: int,
    single: float,
    diagonal: float,
    onset_weight: float,
    broad_weight: float,
) -> F64:
    """Go on through one block: heard rows from `start`, expected ones from `band` before."""
    width = 2 * band + 1
    for i in range(pitch_a.shape[0]):
        now = np.full(width, np.inf)
        for c in range(width):
            j = start + i + c - band
            if j < 0 or j >= total:
                continue
            cost = (
                _cost(pitch_a, onset_a, pitch_b, onset_b, i, i + c, onset_weight, broad_weight)
                + 1e-6
            )
            if start + i == 0 and j == 0:
                now[c] = diagonal * cost
                continue
            best, which = last[c] + diagonal * cost, 0
            if c + 1 < width and last[c + 1] + single * cost < best:
                best, which = last[c + 1] + single * cost, 1
            if c > 0 and now[c - 1] + single * cost < best:
                best, which = now[c - 1] + single * cost, 2
            now[c], step[i, c] = best, which
        last = now
    return last


@njit(cache=True)
def _trace(step: NDArray[np.int8], band: int) -> NDArray[np.int64]:
    frames = step.shape[0]
    out = np.empty((2 * frames, 2), np.int64)
    i, j, n = frames - 1, frames - 1, 0
    while True:
        out[n, 0], out[n, 1] = i, j
        n += 1
        if i == 0 and j == 0:
            break
        which = step[i, j - i + band]
        if which != 2:
            i -= 1
        if which != 1:
            j -= 1
    return out[:n][::-1].copy()

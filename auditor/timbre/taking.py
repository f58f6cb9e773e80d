"""The template of one note, taken from its sound."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import HOP, RATE_HZ, pooled_power
from auditor.timbre.templates import AGE_FRAMES, FLOOR_DB

# Frames of sound before the note that the first spectrum needs.
LEAD_FRAMES = 4
_FIRST_FRAMES = 22  # half a second
_RELEASE_FRAMES = 8
# What a note that nobody ended leaves behind: its last age, 12 dB down.
_LEFT = 0.06


def take(
    samples: NDArray[np.float32],
    held_s: float | None,
    before: NDArray[np.float32] | None = None,
) -> tuple[NDArray[np.float64], float]:
    """Template of a note, and its level.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        From the note's onset on, mono at 44.1 kHz.
    held_s
        Seconds until its end, or None if it was left to ring.
    before : ndarray, shape (LEAD_FRAMES * HOP,)
        What sounded before the onset; its power is taken off as it dies away. Silence
        if None.

    Returns
    -------
    template : ndarray, shape (AGES, pools)
        dB; 0 is the mean power of the first half second.
    level_db : float
        That power in dB of full scale.
    """
    lead = np.zeros(LEAD_FRAMES * HOP, np.float32) if before is None else before
    whole = pooled_power(np.concatenate([lead, samples]))
    power = whole[LEAD_FRAMES:]
    if before is not None:
        power = power - _dying(whole[:LEAD_FRAMES], len(power))
        power = np.maximum(power, 1e-3 * whole[LEAD_FRAMES:])
    end = len(samples) // HOP if held_s is None else int(held_s * RATE_HZ) // HOP
    zero = float(power[: min(_FIRST_FRAMES, max(end, 3))].sum(axis=1).mean()) + 1e-20
    rows = [_age(power, low, high, end) for low, high in AGE_FRAMES]
    gone = power[end + 1 : end + 1 + _RELEASE_FRAMES]
    ended = held_s is not None and len(gone) > 0
    rows.append(gone.mean(axis=0) if ended else rows[-1] * _LEFT)
    template = np.maximum(10 * np.log10(np.array(rows) / zero + 1e-12), FLOOR_DB)
    return template, float(10 * np.log10(zero))


def _age(power: NDArray[np.float32], low: int, high: int, end: int) -> NDArray[np.float32]:
    # An age that a short note never reaches sounds like its end.
    first, last = (max(0, end - 4), end) if low >= end else (max(low, 0), min(high, end))
    piece = power[first:last]
    mean: NDArray[np.float32] = (piece if len(piece) else power[:2]).mean(axis=0)
    return mean


def _dying(lead: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
    """Power that earlier notes go on giving, shape (frames, pools).

    Taken from the two frames whose window ends before the note begins; it is let fall
    60 dB a second, so that rather too little than too much is taken off.
    """
    fall = 10 ** (-6.0 * np.arange(frames) * HOP / RATE_HZ)
    out: NDArray[np.float32] = (lead[:2].mean(axis=0)[None] * fall[:, None]).astype(np.float32)
    return out

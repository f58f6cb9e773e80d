"""What a room adds to stems that are dry: told from a missing part, and shared out."""

from __future__ import annotations

import numpy as np
import scipy.signal
from numpy.typing import NDArray

from auditor.sound.spectrum import HOP, RATE_HZ

F32 = NDArray[np.float32]

# Reverberation times tried, from a studio to a church.
_TIMES_S = (0.4, 0.9, 1.8, 3.5)
_RANGE_DB = 40.0
# Correlation of levels over frames and bands. On made mixes what a room left reached 0.9 and
# more, what a missing part left 0.75 at most (tests/spectra/test_buses.py keeps one of each).
_LIKE = 0.8


def _ringing(power: F32, time_s: float) -> F32:
    """Power that rings on, falling 60 dB in `time_s`, along the frames."""
    keep = 10 ** (-6.0 * HOP / RATE_HZ / time_s)
    out: F32 = scipy.signal.lfilter([1 - keep], [1, -keep], power, axis=-2).astype(np.float32)
    return out


def sounds_like_room(dry: F32, left: F32) -> bool:
    """Tell whether what is left of a mix follows its stems as a room does.

    Parameters
    ----------
    dry, left : ndarray, shape (frames, bands)
        Power of all stems together, and of what they leave of the mix.
    """
    return likeness(dry, left) > _LIKE


def likeness(dry: F32, left: F32) -> float:
    """Best correlation between what is left and the stems ringing on."""
    loud = left > left.max() * 10 ** (-_RANGE_DB / 10)
    if loud.sum() < 100:
        return 0.0
    # The room's own colour is no sign against it.
    target = _level(left)
    best = 0.0
    for time_s in _TIMES_S:
        model = _level(_ringing(dry, time_s))
        both = target - _colour(target, loud), model - _colour(model, loud)
        best = max(best, float(np.corrcoef(both[0][loud], both[1][loud])[0, 1]))
    return best


def _level(power: F32) -> F32:
    out: F32 = 10 * np.log10(power + 1e-4 * power.mean() + 1e-20)
    return out


def _colour(level: F32, counts: NDArray[np.bool_]) -> F32:
    """Mean level of each band where it counts, shape (bands,)."""
    number = np.maximum(counts.sum(axis=0), 1)
    out: F32 = (level * counts).sum(axis=0) / number
    return out


def room_share(power: F32, left: F32) -> F32:
    """Share a room's power out to the lines by what each has just played.

    Parameters
    ----------
    power : ndarray, shape (lines, frames, bands)
        Power of the lines, dry.
    left : ndarray, shape (frames, bands)
        Power of the room.

    Returns
    -------
    ndarray, shape (lines, frames, bands)
        What to add to each line; it sums to `left` wherever a line has played.
    """
    ringing = _ringing(power, _TIMES_S[2])
    total = ringing.sum(axis=0, keepdims=True)
    out: F32 = (ringing / np.maximum(total, 1e-20) * left[None]).astype(np.float32)
    return out

"""Conversions between physical units and the scales of hearing.

References
----------
.. [1] ISO 532-2:2017, Formulas 1 and 6 (after B. R. Glasberg and B. C. J. Moore,
       "Derivation of auditory filter shapes from notched-noise data",
       Hear. Res. 47 (1990), 103-138).
.. [2] ISO 16:1975, standard tuning frequency: A4 is 440 Hz.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.errors import InputError


def _frequencies(hz: ArrayLike) -> NDArray[np.float64]:
    f = np.asarray(hz, dtype=np.float64)
    if not np.all(np.isfinite(f)) or np.any(f < 0):
        raise InputError(
            f"frequency must be finite and at least 0 Hz, got {f.min()} to {f.max()}"
        )
    return f


def hz_to_erb(hz: ArrayLike) -> NDArray[np.float64]:
    """Equivalent rectangular bandwidth in Hz of the filter at a frequency in Hz [1]_."""
    return 24.673 * (0.004368 * _frequencies(hz) + 1.0)


def hz_to_cam(hz: ArrayLike) -> NDArray[np.float64]:
    """ERB-number in Cam of a frequency in Hz [1]_."""
    return 21.366 * np.log10(0.004368 * _frequencies(hz) + 1.0)


def cam_to_hz(cam: ArrayLike) -> NDArray[np.float64]:
    """Frequency in Hz of an ERB-number in Cam [1]_."""
    return (10.0 ** (np.asarray(cam, dtype=np.float64) / 21.366) - 1.0) / 0.004368


def midi_to_hz(pitch: ArrayLike) -> NDArray[np.float64]:
    """Equal-tempered frequency in Hz of a MIDI pitch [2]_."""
    semitones = np.asarray(pitch, dtype=np.float64) - 69.0
    hz: NDArray[np.float64] = 440.0 * np.exp2(semitones / 12.0)
    return hz


def power_to_db(power: ArrayLike, floor_db: float = -80.0) -> NDArray[np.float64]:
    """Power ratio to dB; nothing falls below `floor_db`."""
    floor = 10.0 ** (floor_db / 10.0)
    level: NDArray[np.float64] = 10.0 * np.log10(
        np.maximum(np.asarray(power, dtype=np.float64), floor)
    )
    return level


def db_to_power(level_db: ArrayLike) -> NDArray[np.float64]:
    """Level in dB to power ratio."""
    power: NDArray[np.float64] = np.power(10.0, np.asarray(level_db, dtype=np.float64) / 10.0)
    return power


def clock(seconds: float) -> str:
    """Seconds as minutes and seconds, ``1:05``; a dash when there is no time."""
    if not math.isfinite(seconds):
        return "–"
    whole = max(0, math.floor(seconds + 0.5))
    return f"{whole // 60}:{whole % 60:02d}"

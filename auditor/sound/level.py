"""Loudness of a sound as a file, and the sound pressure it is taken to have.

References
----------
.. [1] ITU-R BS.1770-5 (2023), Algorithms to measure audio programme loudness.
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
from numpy.typing import NDArray

from auditor.errors import AudioError, InputError
from auditor.sound.silence import SILENT_DBFS, block_levels
from auditor.units import db_to_power

# The level film mixing rooms are aligned to (SMPTE RP 200): a full orchestra, unamplified.
PLAYBACK_DB = 83.0
# Frames further below the loudest one do not count as music being played.
ACTIVE_RANGE_DB = 30.0
_SHORTEST_S = 0.4  # one gating block of [1]


def integrated_lufs(samples: NDArray[np.float32], rate_hz: int) -> float:
    """Integrated loudness after [1]_, in LUFS.

    Parameters
    ----------
    samples : ndarray, shape (samples,) or (samples, channels)
        Full scale 1; one channel counts as the left one alone.
    rate_hz
        Samples per second.

    Returns
    -------
    float
        Minus infinity when everything is gated out.

    Raises
    ------
    AudioError
        If the sound is shorter than one gating block.
    """
    if len(samples) < _SHORTEST_S * rate_hz:
        raise AudioError(
            f"loudness needs {_SHORTEST_S} s of sound, got {len(samples) / rate_hz:.2f} s"
        )
    # Silent blocks are log10(0) inside the meter.
    with np.errstate(divide="ignore"):
        return float(pyloudnorm.Meter(rate_hz).integrated_loudness(samples))


def active_level_db(samples: NDArray[np.float32], rate_hz: int) -> float:
    """Mean power of the active frames in dB of full scale (mean square 1 is 0 dB).

    Active is what lies within 30 dB of the loudest tenth of a second.
    """
    level = block_levels(samples, rate_hz)
    if level.max() < SILENT_DBFS:
        raise AudioError("the sound is silent, so no playback level can be set for it")
    active = level >= level.max() - ACTIVE_RANGE_DB
    return float(10.0 * np.log10(db_to_power(level[active]).mean()))


def calibration_db(
    samples: NDArray[np.float32], rate_hz: int = 44_100, *, playback_db: float = PLAYBACK_DB
) -> float:
    """DB to add to a power in dB of full scale to get the assumed dB SPL.

    The power mean over the active frames of the mix becomes `playback_db`. Listening
    at that level for long is loud: it is an assumption of the model, not an advice.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        The whole mix, full scale 1.
    rate_hz
        Samples per second.
    playback_db
        Level of the music at the listener, dB SPL.

    Raises
    ------
    AudioError
        If the mix is silent.
    InputError
        If the level is not between 40 and 110 dB SPL.
    """
    if not 40.0 <= playback_db <= 110.0:
        raise InputError(
            f"playback level {playback_db:g} dB SPL is not one for music; give 40 to 110"
        )
    return playback_db - active_level_db(samples, rate_hz)

"""Loudness of a sound, and what is left of it when others sound with it.

References
----------
.. [1] ANSI S3.4-2007, "Procedure for the computation of loudness of steady sounds".
.. [2] B. C. J. Moore, B. R. Glasberg and T. Baer, "A model for the prediction of
       thresholds, loudness and partial loudness", J. Audio Eng. Soc. 45 (1997), 224-240,
       equations 17 to 20.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.bands import BandTables

# [1]: makes a 1 kHz tone of 40 dB SPL, heard with both ears in free field, 1 sone.
SONE_SCALE = 0.046871
# Both ears hear the same: loudness adds (diotic, [2]).
EARS = 2.0
# [1]: above 100 dB excitation the response is the plain power law (E / 1.0707) ** 0.2.
LOUD_EXCITATION = 1e10
LOUD_DIVISOR = 1.0707
LOUD_EXPONENT = 0.2
# [2]: a tone is at absolute threshold at 0.003 sone.
THRESHOLD_SONE = 0.003

Array = NDArray[np.float64]


def _response(excitation: Array, t: BandTables) -> Array:
    """Compressed response above that to silence, before the constant C [1]_."""
    quiet = (t.gain * excitation + t.growth) ** t.alpha - t.growth**t.alpha
    loud = (excitation / LOUD_DIVISOR) ** LOUD_EXPONENT
    return np.where(excitation > LOUD_EXCITATION, loud, quiet)


def specific_loudness(excitation: Array, t: BandTables) -> Array:
    """Loudness per Cam at one ear in quiet [1]_.

    Parameters
    ----------
    excitation : ndarray, shape (..., bands)
        Power re 20 µPa squared at each filter.
    t
        Constants at the filters.
    """
    near = np.clip(2.0 * excitation / (excitation + t.threshold), 0.0, 1.0) ** 1.5
    return SONE_SCALE * near * _response(excitation, t)


def specific_partial_loudness(target: Array, masker: Array, t: BandTables) -> Array:
    """Loudness per Cam of a target heard in a masker, equations 17 to 20 of [2]_.

    It never exceeds the target's loudness in quiet and never falls below nothing. Above
    100 dB the response of quiet stands in for the older power law of equations 19 and 20.

    Parameters
    ----------
    target, masker : ndarray, shape (..., bands)
        Excitations with the same filter shapes, set by target and masker together.
    t
        Constants at the filters.
    """
    masked = t.ratio * masker + t.threshold
    both = _response(target + masker, t)
    at_threshold = _response(masker + masked, t)
    in_quiet = _response(t.threshold, t)
    alone = _response(masker, t)
    safe = np.maximum(target, 1e-30)
    above = both - (at_threshold - in_quiet) * (masked / safe) ** 0.3
    below = (
        (2.0 * target / (target + masked)) ** 1.5
        * in_quiet
        / np.maximum(at_threshold - alone, 1e-30)
        * (both - alone)
    )
    partial = SONE_SCALE * np.where(target >= masked, above, below)
    return np.clip(partial, 0.0, specific_loudness(target, t))


def loudness_sone(excitation: Array, t: BandTables) -> Array:
    """Loudness in sone with both ears, shape (...) from excitation (..., bands)."""
    total: Array = specific_loudness(excitation, t).sum(-1) * t.step * EARS
    return total


def partial_loudness_sone(target: Array, masker: Array, t: BandTables) -> Array:
    """Partial loudness in sone with both ears, shape (...)."""
    total: Array = specific_partial_loudness(target, masker, t).sum(-1) * t.step * EARS
    return total

"""Line spectra of stems as they are: one sound for each line."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import frame_times, pooled_power
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.units import power_to_db


def stem_spectra(samples: NDArray[np.float32], gain_db: float) -> LineSpectra:
    """Line spectra of stems as they are.

    Parameters
    ----------
    samples : ndarray, shape (lines, samples), float32
        One stem a line at 44.1 kHz, at the level it has in the mix.
    gain_db
        dB SPL of a full-scale mean square of 1.

    Returns
    -------
    LineSpectra
        With `source` ``stems`` and full confidence.
    """
    lines = len(samples)
    first = band_power(pooled_power(samples[0]))
    level = np.empty((lines, *first.shape), np.float32)
    for k in range(lines):
        power = first if k == 0 else band_power(pooled_power(samples[k]))
        level[k] = power_to_db(power * 10 ** (gain_db / 10), FLOOR_DB)
    return LineSpectra(
        level_db=level,
        frame_s=frame_times(len(first)),
        band_cam=BAND_CAM,
        confidence=np.ones((lines, len(first)), np.float32),
        source="stems",
    )

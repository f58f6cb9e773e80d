"""Power of each line in each auditory band over time: the array every judgement hears.

Mix, stems and forecast all end in this one record.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.units import db_to_power

# Half-Cam bands from 2 Cam (55 Hz) to 38 Cam (13.6 kHz); the ear's own filters are 1 Cam wide.
BAND_CAM: NDArray[np.float64] = np.arange(2.0, 38.01, 0.5)

# What stands for silence, so that dB never is minus infinity.
FLOOR_DB = -80.0


@dataclass(frozen=True, slots=True)
class LineSpectra:
    """Sound pressure level per line, frame and band at the listener, in free field.

    Parameters
    ----------
    level_db : ndarray, shape (lines, frames, bands), float32
        dB SPL of the power inside each band; `FLOOR_DB` where there is none.
    frame_s : ndarray, shape (frames,)
        Centre of each frame in seconds; equal steps.
    band_cam : ndarray, shape (bands,)
        Centre of each band on the ERB-number scale.
    confidence : ndarray, shape (lines, frames)
        0 to 1: how far the sound itself decided the line's share (1 for stems).
    source
        ``mix``, ``stems`` or ``forecast``.
    """

    level_db: NDArray[np.float32]
    frame_s: NDArray[np.float64]
    band_cam: NDArray[np.float64]
    confidence: NDArray[np.float32]
    source: str = "mix"

    def __post_init__(self) -> None:
        lines, frames, bands = self.level_db.shape
        if self.frame_s.shape != (frames,) or self.band_cam.shape != (bands,):
            raise InputError(
                f"level_db is {self.level_db.shape}, but there are {self.frame_s.size} frame "
                f"times and {self.band_cam.size} bands"
            )
        if self.confidence.shape != (lines, frames):
            raise InputError(
                f"confidence is {self.confidence.shape}, expected {(lines, frames)}"
            )


def heard_power(level_db: NDArray[np.float32]) -> NDArray[np.float64]:
    """Free-field power re 20 µPa squared; what lies at the floor is nothing."""
    power, heard = np.zeros(level_db.shape), level_db > FLOOR_DB
    power[heard] = db_to_power(level_db[heard])
    return power

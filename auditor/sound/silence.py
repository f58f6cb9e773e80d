"""Where a sound is silent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.errors import AudioError
from auditor.units import power_to_db

# 16-bit noise lies near -98 dB of full scale, a quiet pp of a mock-up above -70.
SILENT_DBFS = -80.0
_BLOCK_S = 0.1
_INSIDE_S = 2.0
_EDGE_S = 5.0


def silence_remarks(samples: NDArray[np.float32], rate_hz: int, name: str) -> list[str]:
    """Say where long silence lies.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Full scale 1.
    rate_hz
        Samples per second.
    name
        For the error.

    Raises
    ------
    AudioError
        If nothing sounds at all.
    """
    level = block_levels(samples, rate_hz)
    check_sounding(level.max(), name)
    remarks = []
    for first, last in _runs(level < SILENT_DBFS):
        start, end = first * _BLOCK_S, last * _BLOCK_S
        edge = first == 0 or last == level.size
        if end - start >= (_EDGE_S if edge else _INSIDE_S):
            remarks.append(f"the sound is silent from {start:.1f} s to {end:.1f} s")
    return remarks


def check_sounding(loudest_db: float, name: str) -> None:
    """Refuse a sound whose loudest tenth of a second, in dB of full scale, is silence.

    Raises
    ------
    AudioError
        If nothing sounds at all.
    """
    if loudest_db < SILENT_DBFS:
        raise AudioError(
            f"{name} is silent (loudest moment {loudest_db:.0f} dB of full scale); "
            f"check the export"
        )


def block_levels(samples: NDArray[np.float32], rate_hz: int) -> NDArray[np.float64]:
    """Mean square of tenths of a second in dB of full scale (1 is 0 dB), shape (blocks,).

    A constant offset is no sound and is left out.
    """
    size = round(_BLOCK_S * rate_hz)
    blocks = max(1, samples.size // size)
    cut = samples[: blocks * size].reshape(blocks, -1)
    return power_to_db(cut.var(axis=1), -120.0)


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past last index of each run of true."""
    edge = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    starts, ends = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    return [(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]

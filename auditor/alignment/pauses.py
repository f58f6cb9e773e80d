"""Silences that are no tempo: which frames of a sound are followed along the page."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Longer silences are taken for this long: general pauses are shorter.
PAUSE_S = 2.0


def without_pauses(silent: NDArray[np.bool_], fps: float) -> NDArray[np.int64]:
    """Frames to keep: of each silence only the first seconds, shape (kept,).

    A pause between movements or in an export is no tempo, however long it lasts.
    """
    run = np.zeros(silent.size, np.int64)
    for t in range(silent.size):
        run[t] = run[t - 1] + 1 if silent[t] and t else int(silent[t])
    return np.flatnonzero(run <= round(PAUSE_S * fps))

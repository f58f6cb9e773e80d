"""Short excerpts of the sound, to be heard inside the page."""

from __future__ import annotations

import base64
import io
import math

import numpy as np
import soundfile
from numpy.typing import NDArray

RATE_HZ = 44100
LONGEST_S = 12.0
FADE_S = 0.3


def cut(
    samples: NDArray[np.float32], start_s: float, end_s: float
) -> NDArray[np.float32] | None:
    """Stretch of the mix with faded ends, at the level it has in the mix.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    start_s, end_s
        Seconds; what is longer than 12 s is cut at its end.

    Returns
    -------
    ndarray, shape (samples,), or None
        None when there is nothing to hear: no times, or outside the sound.
    """
    if not (math.isfinite(start_s) and math.isfinite(end_s)):
        return None
    first = max(0, round(start_s * RATE_HZ))
    last = min(samples.size, round(min(end_s, start_s + LONGEST_S) * RATE_HZ))
    if last - first < RATE_HZ // 10:
        return None
    piece = np.clip(samples[first:last], -1.0, 1.0).astype(np.float32)
    ramp = np.linspace(0.0, 1.0, min(round(FADE_S * RATE_HZ), piece.size // 2))
    piece[: ramp.size] *= ramp
    piece[piece.size - ramp.size :] *= ramp[::-1]
    return piece


def data_uri(piece: NDArray[np.float32]) -> str:
    """Clip as an MP3 in a data URI; MP3 because its bytes are the same on every run."""
    out = io.BytesIO()
    soundfile.write(out, piece, RATE_HZ, format="MP3", subtype="MPEG_LAYER_III")
    return "data:audio/mpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")

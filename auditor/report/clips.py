"""Short excerpts of the sound, to be heard inside the page."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import soundfile
from numpy.typing import NDArray

RATE_HZ = 44100
LONGEST_S = 15.0
FADE_S = 0.1
# About 50 kbit/s for one channel: eighty takes of fifteen seconds stay under 10 MB.
COMPRESSION = 0.65


def reach(samples: NDArray[np.float32], start_s: float, end_s: float) -> tuple[int, int] | None:
    """First sample of a stretch and the one after its last, at most 15 s apart.

    Returns
    -------
    tuple of int or None
        None when there is nothing to hear: no times, or outside the sound.
    """
    if not (math.isfinite(start_s) and math.isfinite(end_s)):
        return None
    first = max(0, round(start_s * RATE_HZ))
    last = min(samples.size, round(min(end_s, start_s + LONGEST_S) * RATE_HZ))
    return None if last - first < RATE_HZ // 10 else (first, last)


def cut(samples: NDArray[np.float32], first: int, last: int) -> NDArray[np.float32]:
    """Stretch of a sound with faded ends, at the level it has there.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    first, last
        As from `reach`.
    """
    piece = samples[first:last].astype(np.float32)
    ramp = np.linspace(0.0, 1.0, min(round(FADE_S * RATE_HZ), piece.size // 2))
    piece[: ramp.size] *= ramp
    piece[piece.size - ramp.size :] *= ramp[::-1]
    return piece


def data_uri(piece: NDArray[np.float32]) -> str:
    """Clip as an MP3 in a data URI; MP3 because its bytes are the same on every run."""
    out = io.BytesIO()
    soundfile.write(
        out, np.clip(piece, -1.0, 1.0), RATE_HZ, format="MP3", subtype="MPEG_LAYER_III",
        compression_level=COMPRESSION, bitrate_mode="VARIABLE",
    )  # fmt: skip
    return "data:audio/mpeg;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def data_uris(pieces: Sequence[NDArray[np.float32]]) -> list[str]:
    """Clips as data URIs, in their order; two are coded at a time."""
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(data_uri, pieces))

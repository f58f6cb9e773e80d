"""Pooled power spectrum of a sound: fine enough for partials, coarse enough for fitting.

Single bins of the transform up to about 740 Hz, then bands of 1/48 octave up to 15 kHz.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
import scipy.sparse
from numpy.typing import NDArray

RATE_HZ = 44_100
FFT_SIZE = 4096
HOP = 1024
TOP_HZ = 15_000.0


def _edges() -> NDArray[np.float64]:
    step = RATE_HZ / FFT_SIZE
    edges = [1.5 * step]
    while edges[-1] < TOP_HZ:
        edges.append(edges[-1] + max(step, edges[-1] * (2 ** (1 / 48) - 1)))
    return np.array(edges)


_EDGES = _edges()
POOL_HZ: NDArray[np.float64] = 0.5 * (_EDGES[1:] + _EDGES[:-1])


def _pooling() -> scipy.sparse.csr_matrix:
    """Share of each transform bin that falls into each pool, shape (pools, bins)."""
    bins = np.fft.rfftfreq(FFT_SIZE, 1 / RATE_HZ)
    step = RATE_HZ / FFT_SIZE
    low = np.maximum(bins - step / 2, _EDGES[:-1, None])
    high = np.minimum(bins + step / 2, _EDGES[1:, None])
    return scipy.sparse.csr_matrix(np.clip(high - low, 0, None) / step, dtype=np.float32)


_POOL = _pooling()
_WINDOW = np.hanning(FFT_SIZE + 1)[:-1].astype(np.float32)
# Sums over bins to the mean square of the windowed stretch (Parseval, one-sided).
_SCALE = 2.0 / float((_WINDOW.astype(np.float64) ** 2).sum()) / FFT_SIZE


def pooled_power(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean square per pool over time; frame t is centred at ``t * HOP`` samples.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at `RATE_HZ`.

    Returns
    -------
    ndarray, shape (frames, pools), float32
    """
    x = np.pad(np.asarray(samples, dtype=np.float32), (FFT_SIZE // 2, FFT_SIZE // 2 + HOP))
    frames = np.lib.stride_tricks.sliding_window_view(x, FFT_SIZE)[::HOP]
    out = np.empty((len(frames), POOL_HZ.size), dtype=np.float32)
    for a in range(0, len(frames), 512):
        spectrum = scipy.fft.rfft(frames[a : a + 512] * _WINDOW, axis=1)
        power = (spectrum.real**2 + spectrum.imag**2) * np.float32(_SCALE)
        out[a : a + 512] = (_POOL @ power.T).T
    return out


def frame_times(frames: int) -> NDArray[np.float64]:
    """Centre of each frame in seconds, shape (frames,)."""
    times: NDArray[np.float64] = np.arange(frames, dtype=np.float64) * (HOP / RATE_HZ)
    return times

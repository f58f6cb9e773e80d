"""What happens to a stem between the player and the mix: colour, level, room, drift."""

from __future__ import annotations

import numpy as np
from fonts import RATE_HZ
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.signal import fftconvolve, istft, lfilter, stft

Samples = NDArray[np.float32]
_SIZE, _HOP = 4096, 1024


def velocity(level_db: float) -> int:
    """MIDI velocity that sounds `level_db` below velocity 118 (SF2: amplitude goes with v²)."""
    return int(np.clip(round(118 * 10 ** (min(level_db, 0.0) / 40)), 10, 127))


def _steps(
    onsets: NDArray[np.float64], dynamics: NDArray[np.float64], times: NDArray[np.float64]
) -> NDArray[np.float64]:
    order = np.argsort(onsets, kind="stable")
    place = np.searchsorted(onsets[order] - 0.03, times, "right") - 1
    return dynamics[order][np.maximum(place, 0)]


def colour(
    samples: Samples,
    onsets: NDArray[np.float64],
    dynamics: NDArray[np.float64],
    brighter_db: float,
    curve: NDArray[np.float64] | None = None,
) -> Samples:
    """Brighten with the dynamic, and lay a fixed equaliser over the whole stem.

    Parameters
    ----------
    onsets, dynamics : ndarray, shape (notes,)
        Seconds and dynamic steps.
    brighter_db
        dB per octave above 700 Hz for each step above mf.
    curve : ndarray, shape (2049,)
        dB at each bin of a 4096-point transform.
    """
    hz, times, bins = stft(samples, RATE_HZ, nperseg=_SIZE, noverlap=_SIZE - _HOP)
    octaves = np.clip(np.log2(np.maximum(hz, 1.0) / 700), 0, 3.5)
    gain = octaves[:, None] * brighter_db * (_steps(onsets, dynamics, times) - 3.0)[None]
    gain = np.clip(gain, -24, 12)
    if curve is not None:
        gain = gain + curve[:, None]
    out = istft(bins * 10 ** (gain / 20), RATE_HZ, nperseg=_SIZE, noverlap=_SIZE - _HOP)[1]
    return np.asarray(out[: samples.size], np.float32)


def equaliser(rng: np.random.Generator, spread_db: float) -> NDArray[np.float64]:
    """Draw a smooth random curve with the given standard deviation, dB at each bin."""
    octave = np.log2(np.maximum(np.fft.rfftfreq(_SIZE, 1 / RATE_HZ), 30.0) / 40)
    size = rng.normal(size=5) * spread_db / np.sqrt(2.5)
    phase = rng.uniform(0, 2 * np.pi, 5)
    waves = [np.cos(2 * np.pi * octave * (k + 1) / 9 + phase[k]) for k in range(5)]
    return np.asarray(size @ np.array(waves))


def room(rng: np.random.Generator, decay_s: float = 1.8, wet_db: float = -9.0) -> Samples:
    """Impulse response: the direct sound, then noise that falls 60 dB in `decay_s`."""
    time = np.arange(int(0.8 * decay_s * RATE_HZ)) / RATE_HZ
    tail = rng.normal(size=time.size) * 10 ** (-3 * time / decay_s)
    tail[time < 0.02] = 0
    tail *= 10 ** (wet_db / 20) / np.sqrt((tail**2).sum())
    tail[0] = 1.0
    return np.asarray(tail, np.float32)


def in_room(samples: Samples, response: Samples) -> Samples:
    """Convolve a stem with the room; the length stays."""
    return np.asarray(fftconvolve(samples, response)[: samples.size], np.float32)


def a_weighting_db(hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """A-weighting after IEC 61672-1, formula for A(f)."""
    f = np.maximum(hz, 1.0) ** 2
    top = 12194.0**2 * f**2
    low = (f + 20.6**2) * np.sqrt((f + 107.7**2) * (f + 737.9**2)) * (f + 12194.0**2)
    return np.asarray(20 * np.log10(top / low) + 2.0)


def sounding(
    onsets: NDArray[np.float64], offsets: NDArray[np.float64], size: int, longest_s: float
) -> NDArray[np.bool_]:
    """Say where a note sounds, at most `longest_s` of each, shape (size,)."""
    mask = np.zeros(size, bool)
    for on, off in zip(onsets, offsets, strict=True):
        mask[int(on * RATE_HZ) : int(min(off, on + longest_s) * RATE_HZ) + 1] = True
    return mask


def level_db(samples: Samples, mask: NDArray[np.bool_], by_ear: bool) -> float:
    """Mean power in dB where the mask is true, A-weighted if asked for."""
    played = np.asarray(samples, np.float64)
    if by_ear:
        bins = np.fft.rfft(played)
        hz = np.fft.rfftfreq(played.size, 1 / RATE_HZ)
        played = np.fft.irfft(bins * 10 ** (a_weighting_db(hz) / 20), played.size)
    return float(10 * np.log10(np.mean(played[mask[: played.size]] ** 2) + 1e-20))


def drifting(samples: Samples, rng: np.random.Generator, depth_db: float) -> Samples:
    """Ride the fader slowly by ± `depth_db`."""
    time = np.arange(samples.size) / RATE_HZ
    wave = np.sin(2 * np.pi * time / rng.uniform(8, 20) + rng.uniform(0, 2 * np.pi))
    return np.asarray(samples * 10 ** (depth_db * wave / 20), np.float32)


def bus_gain(mix: Samples) -> Samples:
    """Gain over time of a bus compressor and a limiter, shape (samples,), for all alike.

    3:1 above 12 dB under the loudest second, 10 ms up and 150 ms down; then the peaks more than
    4 dB above what is left are held down. Orders of magnitude of a mastering bus; common
    practice, no source.
    """
    power = np.atleast_2d(mix).astype(np.float64) ** 2
    loud = np.maximum(_smooth(power.mean(axis=0), 0.05), 1e-12)
    over = np.maximum(10 * np.log10(loud / loud.max()) + 12, 0.0)
    gain = _followed(-over * (1 - 1 / 3))
    peak = maximum_filter1d(np.sqrt(power.max(axis=0)), int(0.01 * RATE_HZ)) * 10 ** (gain / 20)
    ceiling = peak.max() * 10 ** (-4 / 20)
    held = np.minimum(20 * np.log10(ceiling / np.maximum(peak, 1e-9)), 0.0)
    return np.asarray(10 ** ((gain + _smooth(held, 0.003)) / 20), np.float32)


def _followed(gain_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """A gain that falls in 10 ms and comes back in 150 ms."""
    slow = _smooth(gain_db, 0.15)
    return np.minimum(_smooth(gain_db, 0.01), slow)


def _smooth(values: NDArray[np.float64], seconds: float) -> NDArray[np.float64]:
    keep = np.exp(-1 / (seconds * RATE_HZ))
    start = [keep * values[0]]
    return np.asarray(lfilter([1 - keep], [1, -keep], values, zi=start)[0])

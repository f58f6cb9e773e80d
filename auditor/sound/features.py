"""What the aligner hears: chroma, pitch bins and onsets over time, in small blocks.

Semitone bins run from MIDI 24 to 108 on equal-tempered centres (ISO 16: A4 is
440 Hz), moved by the tuning of the sound. Nothing here knows about a score.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import librosa
import numpy as np
import scipy.fft
import scipy.ndimage
import scipy.sparse
import soxr
from numba import njit
from numpy.typing import NDArray

from auditor.sound.spectrum import RATE_HZ
from auditor.units import midi_to_hz

# Enough for the highest fundamental and its overtone; divides into hops of 10 ms.
ANALYSIS_HZ = 22_000
ONSET_FPS = 100
PITCH_FPS = 50
CHROMA_FPS = 10
LOWEST, HIGHEST = 24, 108
BINS = HIGHEST - LOWEST + 1

_LONG = 4096  # 186 ms: separates semitones from about C3 up
_SHORT = 2048  # 93 ms
_BROAD = 512  # 23 ms
_BLOCK = 512  # frames at a time
_AUDIBLE = 5  # bins of the long window below 27 Hz are no music
# Half width of a semitone bin; overlapping, so that a detuned note falls into no gap.
_HALF_WIDTH = 0.75
# Loudness grows with about the third root of intensity (Stevens's power law).
COMPRESSION = 0.3
# Floor of the logarithm, below the loud frames.
_ONSET_RANGE_DB = 45.0

F32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Features:
    """Features of a whole sound; frame t of each is centred at t over its rate.

    Parameters
    ----------
    chroma : ndarray, shape (frames, 12), float32
        librosa chroma of power at 10 frames a second, compressed.
    pitch : ndarray, shape (frames, 85), float32
        Compressed power in semitone bins at 50 frames a second.
    flux : ndarray, shape (frames, 86), float32
        Rise of log power in semitone bins at 100 frames a second; the last column is
        the rise of the whole spectrum.
    level_db : ndarray, shape (frames,)
        Mean square at 10 frames a second, dB below the loudest frame.
    tuning
        Semitones from A4 = 440 Hz.
    duration_s
        Length of the sound.
    """

    chroma: F32
    pitch: F32
    flux: F32
    level_db: NDArray[np.float64]
    tuning: float
    duration_s: float


def listen(samples: F32) -> Features:
    """Features of a sound.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    """
    x = soxr.resample(samples, RATE_HZ, ANALYSIS_HZ, quality="HQ").astype(np.float32)
    x /= max(float(np.abs(x).max()), 1e-9)
    frames = x.size * ONSET_FPS // ANALYSIS_HZ // 10 * 10 + 10
    tuning = _tuning(x)
    pitch = np.empty((frames // 2, BINS), np.float32)
    chroma = np.empty((frames // 10, 12), np.float32)
    level = np.empty(frames // 10)
    bank = _bank(_LONG, round(tuning, 2))
    for at, power in _power(x, _LONG, ANALYSIS_HZ // PITCH_FPS, frames // 2, 5 * 100):
        pitch[at : at + len(power)] = (bank @ power.T).T ** COMPRESSION
        tenth = power[::5]
        rows = slice(at // 5, at // 5 + len(tenth))
        chroma[rows] = librosa.feature.chroma_stft(
            S=tenth.T, sr=ANALYSIS_HZ, n_fft=_LONG, tuning=tuning, norm=None
        ).T
        level[rows] = tenth[:, _AUDIBLE:].sum(axis=1)
    loudest = max(float(level.max()), 1e-20)
    return Features(
        chroma=chroma ** np.float32(COMPRESSION),
        pitch=pitch,
        flux=_flux(x, frames, tuning),
        level_db=10.0 * np.log10(np.maximum(level / loudest, 1e-12)),
        tuning=tuning,
        duration_s=samples.size / RATE_HZ,
    )


def pitch_response() -> F32:
    """Power that a sine at each semitone leaves in the bins, shape (85 sines, 85 bins)."""
    return _response(_LONG)


def flux_response() -> F32:
    """The same for the shorter window of the onset features."""
    return _response(_SHORT)


@cache
def _response(size: int) -> F32:
    hz = midi_to_hz(np.arange(LOWEST, HIGHEST + 1))
    time = np.arange(size) / ANALYSIS_HZ
    waves = np.sin(2 * np.pi * hz[:, None] * time).astype(np.float32) * _window(size)
    spectrum = np.abs(scipy.fft.rfft(waves, axis=1)) ** 2
    response = (_bank(size, 0.0) @ spectrum.T.astype(np.float32)).T
    out: F32 = (response / response.max(axis=1, keepdims=True)).astype(np.float32)
    return out


@cache
def _window(size: int) -> F32:
    return np.hanning(size + 1)[:-1].astype(np.float32)


@cache
def _bank(size: int, tuning: float) -> scipy.sparse.csr_matrix:
    """Triangles on the semitone scale, shape (85, transform bins)."""
    hz = np.fft.rfftfreq(size, 1 / ANALYSIS_HZ)
    pitch = 69.0 + 12.0 * np.log2(np.maximum(hz, 1.0) / 440.0) - tuning
    centre = np.arange(LOWEST, HIGHEST + 1)[:, None]
    # In the bass, where a transform bin is wider than a semitone, the bin's width counts.
    width = np.maximum(_HALF_WIDTH, 12.0 * np.log2(1.0 + hz[1] / midi_to_hz(centre)) * 0.75)
    return scipy.sparse.csr_matrix(
        np.clip(1.0 - np.abs(pitch - centre) / (2 * width), 0, None)
        * (np.abs(pitch - centre) < width),
        dtype=np.float32,
    )


def _power(x: F32, size: int, hop: int, frames: int, block: int) -> Iterator[tuple[int, F32]]:
    """Power spectra of centred frames, a block at a time: (first frame, (n, bins))."""
    window = _window(size)
    scale = np.float32(2.0 / float(window.sum()) ** 2)
    padded = np.pad(x, (size // 2, size // 2 + hop * 16))
    view = np.lib.stride_tricks.sliding_window_view(padded, size)[::hop]
    view = view[: min(frames, len(view))]
    for at in range(0, frames, block):
        cut = view[at : min(at + block, frames)]
        spectrum = scipy.fft.rfft(cut * window, axis=1)
        power = (spectrum.real**2 + spectrum.imag**2) * scale
        missing = min(block, frames - at) - len(cut)
        yield at, np.pad(power, ((0, missing), (0, 0))) if missing else power


def _tuning(x: F32) -> float:
    """Semitones from 440 Hz, from the loudest of frames spread over the sound."""
    hop = max(ANALYSIS_HZ // 2, x.size // 400)
    power = np.concatenate([p for _, p in _power(x, _LONG, hop, x.size // hop + 1, 64)])
    loud = np.argsort(power.sum(axis=1))[-120:]
    magnitude = np.sqrt(power[loud].T)
    if not magnitude.max() > 0:
        return 0.0
    pitch, height = librosa.piptrack(S=magnitude, sr=ANALYSIS_HZ, n_fft=_LONG)
    peak = height > 0
    off = 12.0 * np.log2(pitch[peak] / 440.0)
    # A mean on the circle of a semitone: a wide spread of intonations has no one mode.
    return float(np.angle(np.sum(height[peak] * np.exp(2j * np.pi * off))) / (2.0 * np.pi))


def _flux(x: F32, frames: int, tuning: float) -> F32:
    out = np.zeros((frames, BINS + 1), np.float32)
    bank = _bank(_SHORT, round(tuning, 2))
    hop = ANALYSIS_HZ // ONSET_FPS
    for at, power in _power(x, _SHORT, hop, frames, _BLOCK):
        out[at : at + len(power), :BINS] = (bank @ power.T).T
    for at, power in _power(x, _BROAD, hop, frames, _BLOCK):
        out[at : at + len(power), BINS] = power[:, 2:].sum(axis=1)
    for columns in (slice(0, BINS), slice(BINS, BINS + 1)):
        part = out[:, columns]
        loud = float(np.percentile(part.max(axis=1), 95))
        floor = np.float32(max(loud, 1e-12) * 10 ** (-_ONSET_RANGE_DB / 10))
        np.log10(1.0 + part / floor, out=part)
    _rise(out)
    return out


@njit(cache=True)
def _rise(level: F32) -> None:
    """Replace log levels by their rise over two frames, in place."""
    for k in range(level.shape[1]):
        before, last = level[0, k], level[0, k]
        level[0, k] = 0.0
        for t in range(1, level.shape[0]):
            now = level[t, k]
            level[t - 1, k] = max(0.0, now - before)
            before, last = last, now
        level[-1, k] = 0.0

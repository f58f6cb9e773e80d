"""What the aligner hears: chroma, pitch bins and onsets over time, in small blocks.

Semitone bins run from MIDI 24 to 108 on equal-tempered centres (ISO 16: A4 is
440 Hz), moved by the tuning of the sound. Nothing here knows about a score.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import librosa
import numpy as np
import scipy.fft
import scipy.sparse
import soxr
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
_BLOCK = 500  # frames at a time, a multiple of 5
_STRETCH = 3000  # frames of 10 ms between two reads of the sound
_READ_S = 20
# Spectra kept for the tuning before every second is dropped.
_MOST_SPECTRA = 400
_LEAST_POWER = 1e-12
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
    pitch : ndarray, shape (frames, 85), float16
        Compressed power in semitone bins at 50 frames a second.
    flux : ndarray, shape (frames, 86), float16
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
    pitch: NDArray[np.float16]
    flux: NDArray[np.float16]
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
    size = _READ_S * RATE_HZ
    return listen_to(lambda: (samples[at : at + size] for at in range(0, samples.size, size)))


def listen_to(blocks: Callable[[], Iterable[F32]]) -> Features:
    """Features of a sound that need not be in memory as a whole.

    Parameters
    ----------
    blocks
        Called twice: gives the sound in pieces, mono at 44.1 kHz, shape (samples,) each.
    """
    tuning, size = _tuning(blocks())
    frames = round(size * ANALYSIS_HZ / RATE_HZ) * ONSET_FPS // ANALYSIS_HZ // 10 * 10 + 10
    found = _Analysis(frames, tuning)
    for first, stretch in _stretches(blocks(), frames):
        found.add(first, stretch)
    return found.features(size / RATE_HZ)


def moved(features: Features, semitones: int) -> Features:
    """Features with bins so many semitones higher: a sound there fills the bins of its notes.

    A sound 60 cents sharp is heard as a semitone up and 40 cents flat; so moved by one, it
    stands where it is meant.
    """
    flux = features.flux.copy()
    flux[:, :BINS] = np.roll(features.flux[:, :BINS], -semitones, axis=1)
    return replace(
        features,
        chroma=np.roll(features.chroma, -semitones, axis=1),
        pitch=np.roll(features.pitch, -semitones, axis=1),
        flux=flux,
        tuning=features.tuning + semitones,
    )


class _Analysis:
    """Features as they come in, a stretch at a time; half precision, which is plenty."""

    def __init__(self, frames: int, tuning: float) -> None:
        self._tuning = tuning
        self._pitch = np.zeros((frames // 2, BINS), np.float16)
        self._chroma = np.zeros((frames // 10, 12), np.float32)
        self._level = np.zeros(frames // 10)
        self._rise = np.zeros((frames, BINS + 1), np.float16)
        self._long = _bank(_LONG, round(tuning, 2))
        self._short = _bank(_SHORT, round(tuning, 2))
        self._classes = _class_bank(round(tuning, 3))

    def add(self, first: int, x: F32) -> None:
        """Analyse a stretch: its frames from `first` on, half a long window around it."""
        for at, power in _power(x, _LONG, ANALYSIS_HZ // PITCH_FPS):
            row = first // 2 + at
            self._pitch[row : row + len(power)] = (self._long @ power.T).T ** COMPRESSION
            tenth, rows = power[::5], slice(row // 5, row // 5 + len(power[::5]))
            self._chroma[rows] = (self._classes @ tenth.T).T
            self._level[rows] = tenth[:, _AUDIBLE:].sum(axis=1)
        hop = ANALYSIS_HZ // ONSET_FPS
        for at, power in _power(x, _SHORT, hop):
            rows = slice(first + at, first + at + len(power))
            self._rise[rows, :BINS] = _log((self._short @ power.T).T)
        for at, power in _power(x, _BROAD, hop):
            rows = slice(first + at, first + at + len(power))
            self._rise[rows, BINS] = _log(power[:, 2:].sum(axis=1))

    def features(self, duration_s: float) -> Features:
        """Finish: what is relative to the whole is made so."""
        _to_rises(self._rise)
        loudest = max(float(self._level.max()), 1e-20)
        return Features(
            chroma=self._chroma ** np.float32(COMPRESSION),
            pitch=self._pitch,
            flux=self._rise,
            level_db=10.0 * np.log10(np.maximum(self._level / loudest, 1e-12)),
            tuning=self._tuning,
            duration_s=duration_s,
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


@cache
def _class_bank(tuning: float) -> F32:
    """Share of each transform bin in the twelve pitch classes, shape (12, bins)."""
    bank: F32 = librosa.filters.chroma(
        sr=ANALYSIS_HZ, n_fft=_LONG, tuning=tuning, dtype=np.float32
    )
    return bank


def _stretches(blocks: Iterable[F32], frames: int) -> Iterator[tuple[int, F32]]:
    """Cut a sound at the analysis rate into overlapping stretches.

    Yields the first frame (100 a second) of each and its samples, which begin and end half
    a long window outside its frames.
    """
    hop, margin = ANALYSIS_HZ // ONSET_FPS, _LONG // 2
    size = _STRETCH * hop
    resampler = soxr.ResampleStream(RATE_HZ, ANALYSIS_HZ, 1, dtype="float32", quality="HQ")
    kept, first = np.zeros(margin, np.float32), 0
    for block in blocks:
        kept = np.concatenate([kept, resampler.resample_chunk(block)])
        while len(kept) >= size + 2 * margin:
            yield first, kept[: size + 2 * margin]
            kept, first = kept[size:], first + _STRETCH
    kept = np.concatenate([kept, resampler.resample_chunk(np.zeros(0, np.float32), last=True)])
    while first < frames:
        rest = min(size, (frames - first) * hop) + 2 * margin
        yield first, np.pad(kept, (0, max(0, rest - len(kept))))[:rest]
        kept, first = kept[size:], first + _STRETCH


def _power(x: F32, size: int, hop: int) -> Iterator[tuple[int, F32]]:
    """Power spectra of the frames inside a stretch, some at a time: (first, (n, bins))."""
    window = _window(size)
    scale = np.float32(2.0 / float(window.sum()) ** 2)
    frames = (len(x) - _LONG) // hop
    inner = x[(_LONG - size) // 2 :]
    view = np.lib.stride_tricks.sliding_window_view(inner, size)[::hop][:frames]
    for at in range(0, frames, _BLOCK):
        spectrum = scipy.fft.rfft(view[at : at + _BLOCK] * window, axis=1)
        yield at, (spectrum.real**2 + spectrum.imag**2) * scale


def _tuning(blocks: Iterable[F32]) -> tuple[float, int]:
    """Semitones from 440 Hz, from the loudest of frames spread over the sound; its length.

    Twice the rate of the analysis, so twice its window: the same resolution.
    """
    window, every = 2 * _LONG, RATE_HZ // 2
    spectra: list[F32] = []
    size, due = 0, 0
    for block in blocks:
        for at in range(due - size, len(block) - window, every):
            cut = block[at : at + window] * _window(window)
            spectra.append(np.abs(scipy.fft.rfft(cut))[: _LONG // 2].astype(np.float32))
            due = size + at + every
            if len(spectra) >= _MOST_SPECTRA:
                spectra, every, due = spectra[::2], 2 * every, due + every
        size += len(block)
        due = max(due, size)
    return _mean_tuning(spectra), size


def _mean_tuning(spectra: list[F32]) -> float:
    loud = sorted(spectra, key=lambda s: -float(s @ s))[:120]
    if not loud or not max(float(s.max()) for s in loud) > 0:
        return 0.0
    magnitude = np.array(loud).T
    pitch, height = librosa.piptrack(S=magnitude, sr=RATE_HZ, n_fft=2 * _LONG)
    peak = height > 0
    off = 12.0 * np.log2(pitch[peak] / 440.0)
    # A mean on the circle of a semitone: a wide spread of intonations has no one mode.
    return float(np.angle(np.sum(height[peak] * np.exp(2j * np.pi * off))) / (2.0 * np.pi))


def _log(power: F32) -> F32:
    out: F32 = np.log10(np.maximum(power, np.float32(_LEAST_POWER)))
    return out


def _to_rises(level: NDArray[np.float16]) -> None:
    """Replace log powers by their rise above a floor, over two frames, in place."""
    for columns in (slice(0, BINS), slice(BINS, BINS + 1)):
        loud = float(np.percentile(level[:, columns].max(axis=1).astype(np.float32), 95))
        floor = np.float32(max(10**loud, 1e-12) * 10 ** (-_ONSET_RANGE_DB / 10))
        last = None
        for at in range(0, len(level), _STRETCH):
            rows = slice(at, at + _STRETCH)
            # The frames on both sides as they were before they were replaced.
            after = level[at + _STRETCH : at + _STRETCH + 1, columns]
            raw = np.concatenate([level[rows, columns], after]).astype(np.float32)
            part = np.log10(1.0 + 10.0**raw / floor)
            before = part[:1] if last is None else last
            here = len(part) - len(after)
            last = part[here - 1 : here].copy()
            around = np.concatenate([before, part, part[-1:][: 1 - len(after)]])
            level[rows, columns] = np.maximum(around[2:] - around[:-2], 0.0)[:here]
        level[[0, -1], columns] = 0.0

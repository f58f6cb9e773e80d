"""Evidence beside loudness: how a note's pitch stands out of the mix, and its colour.

References
----------
.. [1] J. Salamon and E. Gómez, "Melody extraction from polyphonic music signals using
       pitch contour characteristics", IEEE Trans. Audio Speech Lang. Process. 20 (2012),
       1759-1770: harmonic summation with 20 harmonics of weight 0.8, a cosine-squared
       tolerance of one semitone, peaks more than 40 dB under the strongest left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.measures import NoteWindows
from auditor.hearing.windows import NoteFrames, note_frames
from auditor.spectra.line_spectra import LineSpectra, heard_power
from auditor.units import cam_to_hz, midi_to_hz

_HARMONICS = 20
_WEIGHT = 0.8
_RANGE_DB = 40.0
# Pitches a partial could belong to: the range of the orchestra, A0 to C8.
_PITCHES = np.arange(21, 109)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Colour:
    """Timbre of each note's line while it sounds, arrays of shape (notes,).

    Parameters
    ----------
    centroid_hz
        Centre of gravity of the power spectrum; NaN where nothing sounds.
    attack_s
        From the start of the window to the loudest of its frames.
    """

    centroid_hz: Floats
    attack_s: Floats


def harmonic_weights(pool_hz: Floats) -> NDArray[np.float32]:
    """Weight of each spectral pool in the sum of each pitch [1]_.

    Parameters
    ----------
    pool_hz : ndarray, shape (pools,)
        Centres, rising.

    Returns
    -------
    ndarray, shape (pools, pitches), float32
        Where pools lie wider apart than a semitone, the tolerance is their spacing.
    """
    spacing = 12.0 * np.log2(1.0 + np.gradient(pool_hz) / pool_hz)
    reach = np.maximum(1.0, spacing)[:, None]
    weight = np.zeros((pool_hz.size, _PITCHES.size))
    for h in range(1, _HARMONICS + 1):
        away = 12.0 * np.log2(pool_hz[:, None] / (h * midi_to_hz(_PITCHES)[None, :]))
        near = np.abs(away) <= reach
        weight += near * np.cos(0.5 * np.pi * away / reach) ** 2 * _WEIGHT ** (h - 1)
    return weight.astype(np.float32)


def pitch_salience(
    power: NDArray[np.float32], pool_hz: Floats, frame_s: Floats, windows: NoteWindows
) -> Floats:
    """How far each note's pitch stands out among all pitches of the mix [1]_.

    Parameters
    ----------
    power : ndarray, shape (frames, pools)
        Mean square of the mix in narrow pools (`auditor.sound.spectrum`).
    pool_hz : ndarray, shape (pools,)
        Centres of the pools.
    frame_s : ndarray, shape (frames,)
        Seconds.
    windows
        When each note sounds.

    Returns
    -------
    ndarray, shape (notes,)
        0 to 1, 1 for the most salient pitch; NaN for notes without pitch or place.
    """
    frames = note_frames(windows, frame_s)
    amplitude = np.sqrt(power)
    floor = amplitude.max(axis=1, keepdims=True, initial=0.0) * 10 ** (-_RANGE_DB / 20)
    salience = np.where(amplitude >= floor, amplitude, 0.0) @ harmonic_weights(pool_hz)
    salience /= np.maximum(salience.max(axis=1, keepdims=True), 1e-20)
    reached = np.vstack([np.zeros(_PITCHES.size), np.cumsum(salience, axis=0, dtype=float)])
    out = np.full(windows.line.size, np.nan)
    row = windows.pitch - _PITCHES[0]
    use = np.flatnonzero(frames.judged & (row >= 0) & (row < _PITCHES.size))
    start, stop = frames.start[use], frames.stop[use]
    out[use] = (reached[stop, row[use]] - reached[start, row[use]]) / (stop - start)
    clipped: Floats = np.clip(out, 0.0, 1.0)
    return clipped


def _colour_of(power: Floats, hz: Floats, step_s: float) -> tuple[float, float]:
    """Centroid and attack of one window, power of shape (frames, bands)."""
    total = float(power.sum())
    if total <= 0.0:
        return float("nan"), float("nan")
    centroid = float((power.sum(axis=0) * hz).sum() / total)
    return centroid, float(power.sum(axis=1).argmax()) * step_s


def note_colour(spectra: LineSpectra, windows: NoteWindows) -> Colour:
    """Centroid and attack of each note from its line's spectra."""
    frames: NoteFrames = note_frames(windows, spectra.frame_s)
    hz = cam_to_hz(spectra.band_cam)
    step_s = float(np.diff(spectra.frame_s[:2]).sum())
    centroid = np.full(windows.line.size, np.nan)
    attack = np.full(windows.line.size, np.nan)
    for i in np.flatnonzero(frames.judged):
        level = spectra.level_db[windows.line[i], frames.start[i] : frames.stop[i]]
        centroid[i], attack[i] = _colour_of(heard_power(level), hz, step_s)
    return Colour(centroid_hz=centroid, attack_s=attack)

"""Sound with some of its lines louder, softer or alone: the mix weighed anew.

What a line has in the mix is known as power per frame and auditory band; the mix's own
transform, scaled bin by bin, is all there is to hear it with. The scale keeps powers
right: gains ``g`` on lines with shares ``s`` of a band's power give its bins
``sqrt(sum(g**2 * s) + rest)`` of their amplitude, so that no gain at all gives the mix
back. What falls into one band stays together: an approximation, and to be called one.

References
----------
.. [1] D. W. Griffin, J. S. Lim, "Signal estimation from modified short-time Fourier
       transform", IEEE Trans. Acoust. Speech Signal Process. 32 (1984), 236-243: overlap
       and add with the analysis window, divided by the sum of its squares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from auditor.sound.spectrum import FFT_SIZE, HOP, RATE_HZ, pooled_power
from auditor.spectra.line_spectra import BAND_CAM, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.units import db_to_power, hz_to_cam

Array = NDArray[np.float32]

_WINDOW = np.hanning(FFT_SIZE + 1)[:-1].astype(np.float32)
# Frames over which a share is averaged; a share that jumps rings like metal.
_SMOOTH = 3
_AROUND = FFT_SIZE // HOP


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the mix, ready to be weighed anew.

    Parameters
    ----------
    first, last
        Samples of the mix it covers, `last` not included.
    lead
        Samples that `spectrum` begins before `first`.
    spectrum : ndarray, shape (frames, bins), complex64
        Its transform.
    share
        Share of the mix's power by row of the line spectra, shape (frames, bands) each.
    """

    first: int
    last: int
    lead: int
    spectrum: NDArray[np.complex64]
    share: Mapping[int, Array]


def stretch_of(
    samples: Array,
    spectra: LineSpectra,
    rows: Sequence[int],
    span: tuple[int, int],
    calibration_db: float,
) -> Stretch:
    """Cut a stretch out of the mix and find what some lines have of it.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        The whole mix, mono at 44.1 kHz.
    spectra
        Of the same mix, its frames `HOP` samples apart.
    rows
        Lines of `spectra` that will be weighed.
    span
        First sample, and the one after the last.
    calibration_db
        dB SPL of a full-scale mean square of 1, as `spectra` was made with.
    """
    first, last = max(0, span[0]), min(samples.size, span[1])
    low = max(0, first // HOP - _AROUND)
    high = min(len(spectra.frame_s), last // HOP + _AROUND + 1)
    piece = _padded(samples, low * HOP, high * HOP)
    mix = band_power(pooled_power(piece)[: high - low])
    mix *= np.float32(10 ** (calibration_db / 10))
    lines = np.zeros_like(mix)
    for row in range(len(spectra.level_db)):
        lines += _power(spectra, row, low, high)
    # Stems of a mix that was limited afterwards may together have more than the mix.
    whole = np.maximum(np.maximum(mix, lines), np.float32(1e-12))
    share = {row: _smoothed(_power(spectra, row, low, high), whole) for row in rows}
    return Stretch(first, last, first - low * HOP, _transform(piece), share)


def reweighed(
    stretch: Stretch, gains_db: Mapping[int, float], *, rest_db: float = 0.0
) -> Array:
    """Weigh a stretch anew.

    Parameters
    ----------
    stretch
        From `stretch_of`.
    gains_db
        Gain by row of the line spectra; rows that are not named go with the rest.
    rest_db
        Gain of everything else; minus infinity to leave only the lines named.

    Returns
    -------
    ndarray, shape (last - first,), float32
        At the level it has in the mix.
    """
    rest = np.float32(db_to_power(rest_db))
    frames = len(stretch.spectrum)
    power = np.full((frames, BAND_CAM.size), rest, np.float32)
    for row, gain_db in gains_db.items():
        power += (np.float32(db_to_power(gain_db)) - rest) * stretch.share[row]
    scale = _on_bins(np.sqrt(np.maximum(power, 0.0)))
    sound = _sounding(stretch.spectrum * scale)
    return sound[stretch.lead : stretch.lead + stretch.last - stretch.first]


def _power(spectra: LineSpectra, row: int, low: int, high: int) -> Array:
    return db_to_power(spectra.level_db[row, low:high]).astype(np.float32)


def _padded(samples: Array, start: int, stop: int) -> Array:
    piece = samples[start : min(stop, samples.size)]
    return np.pad(piece, (0, max(0, stop - start - piece.size)))


def _smoothed(power: Array, whole: Array) -> Array:
    share = power / whole
    side = _SMOOTH // 2
    padded = np.pad(share, ((side, side), (0, 0)), mode="edge")
    total = np.sum([padded[k : k + len(share)] for k in range(_SMOOTH)], axis=0)
    return np.asarray(np.clip(total / _SMOOTH, 0.0, 1.0), np.float32)


def _on_bins(bands: Array) -> Array:
    """Values between the bands' centres, shape (frames, bands) to (frames, bins)."""
    hz = np.fft.rfftfreq(FFT_SIZE, 1 / RATE_HZ)
    place = (hz_to_cam(hz) - BAND_CAM[0]) / (BAND_CAM[1] - BAND_CAM[0])
    place = np.clip(place, 0.0, BAND_CAM.size - 1.0)
    low = np.minimum(place.astype(np.int64), BAND_CAM.size - 2)
    part = (place - low).astype(np.float32)
    return np.asarray(bands[:, low] * (1 - part) + bands[:, low + 1] * part, np.float32)


def _transform(piece: Array) -> NDArray[np.complex64]:
    x = np.pad(piece, (FFT_SIZE // 2, FFT_SIZE // 2))
    frames = np.lib.stride_tricks.sliding_window_view(x, FFT_SIZE)[::HOP][: len(piece) // HOP]
    return np.asarray(scipy.fft.rfft(frames * _WINDOW, axis=1), np.complex64)


def _sounding(spectrum: NDArray[np.complex64]) -> Array:
    """Overlap and add [1]_; the half window of padding before the start is cut off."""
    frames = scipy.fft.irfft(spectrum, FFT_SIZE, axis=1) * _WINDOW
    out = np.zeros((len(frames) - 1) * HOP + FFT_SIZE, np.float32)
    weight = np.zeros_like(out)
    for k, frame in enumerate(frames):
        at = slice(k * HOP, k * HOP + FFT_SIZE)
        out[at] += frame
        weight[at] += _WINDOW**2
    return np.asarray((out / np.maximum(weight, 1e-3))[FFT_SIZE // 2 :], np.float32)

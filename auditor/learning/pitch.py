"""The pitch of one steady note, by its period.

References
----------
.. [1] A. de Cheveigné, H. Kawahara, "YIN, a fundamental frequency estimator for speech
       and music", J. Acoust. Soc. Am. 111 (2002), 1917-1930.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import RATE_HZ
from auditor.units import midi_to_hz

_LOWEST_HZ, _HIGHEST_HZ = 25.0, 5000.0
_DEEP = 0.15  # of [1], step 4
_NEARLY = 0.1
_SHALLOW = 0.6
# How far an octave's odd partials lie under its even ones when only the upper octave sounds.
_ODD_DB = 22.0
_PARTIALS = 15


def sounding_pitch(samples: NDArray[np.float32], lowest: float = 19.0) -> float:
    """MIDI pitch with its fraction, NaN where there is no clear period.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        A steady stretch at 44.1 kHz, at least 0.15 s.
    lowest
        MIDI pitch below which none is looked for.
    """
    x = np.asarray(samples, np.float64)
    longest = int(RATE_HZ / max(_LOWEST_HZ, float(midi_to_hz(lowest))))
    window = min(x.size - longest, 8192)
    if window < 1024:
        return float("nan")
    dip = _normalised(x, window, longest)
    deepest = float(dip[int(RATE_HZ / _HIGHEST_HZ) :].min())
    if deepest > _SHALLOW:
        return float("nan")
    limit = max(_DEEP, deepest + _NEARLY)
    k = int(RATE_HZ / _HIGHEST_HZ)
    below = np.flatnonzero(dip[k:] < limit)
    k += int(below[0])
    while k + 1 < dip.size and dip[k + 1] < dip[k]:
        k += 1
    period = k + _vertex(dip, k)
    return float(69.0 + 12.0 * np.log2(RATE_HZ / period / 440.0))


def really(samples: NDArray[np.float32], wanted: int, off: float) -> bool:
    """Tell whether a period found `off` semitones from the wanted note is what sounds.

    An octave is told by the odd partials of the lower of both notes: if they sound, the
    lower one does. Any other note must hold more on its partials than the wanted one has:
    a strong third partial alone makes a period too.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        As for `sounding_pitch`.
    """
    if round(off) == 0:
        return True
    if round(off) % 12:
        found, own = (_partials(samples, p).sum() for p in (wanted + off, float(wanted)))
        return bool(found > own)
    each = _partials(samples, wanted + min(off, 0.0))
    odd, even = each[::2], float(each[1::2].sum())
    # One odd partial alone may be another string that rings along.
    total = float(odd.sum() - odd.max()) if off < 0 else float(odd.sum())
    heard = total > even * 10 ** (-_ODD_DB / 10)
    return heard if off < 0 else not heard


def _partials(samples: NDArray[np.float32], pitch: float) -> NDArray[np.float64]:
    """Power of each partial of a pitch, within a fifth of a semitone, shape (partials,)."""
    size = 1 << int(np.ceil(np.log2(2 * samples.size)))
    power = np.abs(np.fft.rfft(samples * np.hanning(samples.size), size)) ** 2
    lowest = float(midi_to_hz(pitch))
    hz = lowest * np.arange(1, _PARTIALS + 1)
    hz = hz[hz < RATE_HZ / 2.2]
    near = np.maximum(hz * (2 ** (0.2 / 12) - 1), 2.0 * RATE_HZ / samples.size)
    near = np.minimum(near, 0.25 * lowest)
    bins = np.fft.rfftfreq(size, 1 / RATE_HZ)
    low, high = np.searchsorted(bins, hz - near), np.searchsorted(bins, hz + near)
    total = np.concatenate([[0.0], np.cumsum(power)])
    return np.asarray(total[high] - total[low])


def _normalised(x: NDArray[np.float64], window: int, longest: int) -> NDArray[np.float64]:
    """Cumulative mean normalised difference function, eq. 8 of [1], shape (lags,)."""
    size = 1 << int(np.ceil(np.log2(window + longest)))
    head = np.fft.rfft(x[:window], size)
    both = np.fft.irfft(np.conj(head) * np.fft.rfft(x[: window + longest], size), size)
    power = np.concatenate([[0.0], np.cumsum(x[: window + longest] ** 2)])
    moved = power[window : window + longest] - power[:longest]
    difference = power[window] + moved - 2.0 * both[:longest]
    difference[0] = 0.0
    running = np.cumsum(difference) / np.maximum(np.arange(longest), 1)
    out: NDArray[np.float64] = difference / np.maximum(running, 1e-20)
    out[0] = 1.0
    return out


def _vertex(dip: NDArray[np.float64], k: int) -> float:
    """Where between samples the dip is deepest (parabola through three points)."""
    if not 0 < k < dip.size - 1:
        return 0.0
    a, b, c = dip[k - 1], dip[k], dip[k + 1]
    bend = a - 2 * b + c
    return 0.0 if bend <= 0 else float(0.5 * (a - c) / bend)

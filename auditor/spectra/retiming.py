"""Moves notes to where the sound begins: onsets that the alignment missed by some frames.

What is written at one place begins together, give or take what players do; each pitch rises
in the bands of its own partials when it begins. Both are weighed against the time that the
alignment gave.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from auditor.score.notes import Score
from auditor.sound.spectrum import RATE_HZ
from auditor.spectra.playing import is_sustained
from auditor.units import midi_to_hz

Floats = NDArray[np.float64]
F32 = NDArray[np.float32]

_SIZE, _HOP = 2048, 256  # 46 ms, so that a rise is seen within 10 ms
_PARTIALS = 6
_LOWEST_HZ, _HIGHEST_HZ = 90.0, 9000.0
_STRETCH = 5000  # frames looked at together, half a minute
_ARM = 4  # frames on either side of an onset between which the rise is taken
_QUIET_DB = -55.0  # under the loud frames
_REACH = 17  # frames that an onset is moved at most: 0.1 s
# Spreads in seconds: of the times given, and of players that begin together.
_GIVEN_S, _PLAYERS_S = 0.03, 0.006
# Until a tone has half risen: bowed and blown ones, struck and plucked ones.
_SPEAKS_S = (0.018, 0.006)
# How much a rise of one neper counts, and the most that counts.
_TRUST, _MOST = 1.0, 2.5


def _rises(samples: F32) -> F32:
    """How far each bin rises around each frame, nepers of power from 0, (frames, bins)."""
    x = np.pad(samples, (_SIZE // 2, _SIZE // 2 + _HOP))
    frames = np.lib.stride_tricks.sliding_window_view(x, _SIZE)[::_HOP]
    window = np.hanning(_SIZE + 1)[:-1].astype(np.float32)
    top = int(_HIGHEST_HZ * _SIZE / RATE_HZ) + 3
    level: F32 = np.empty((len(frames), top), np.float32)
    for a in range(0, len(frames), 1024):
        bins = scipy.fft.rfft(frames[a : a + 1024] * window, axis=1)[:, :top]
        level[a : a + 1024] = bins.real**2 + bins.imag**2
    loud = np.float32(np.percentile(level.max(axis=1), 90)) + np.float32(1e-9)
    level = np.log(level + loud * np.float32(10 ** (_QUIET_DB / 10)))
    out: F32 = np.zeros_like(level)
    if len(level) <= 2 * _ARM:
        return out
    out[_ARM:-_ARM] = np.clip(level[2 * _ARM :] - level[: -2 * _ARM], 0.0, _MOST)
    return out


def _evidence(rises: F32, at: NDArray[np.int64], pitch: NDArray[np.int64]) -> Floats:
    """Mean rise of each note's partials around its place, shape (notes, 2 * reach + 1)."""
    steps = np.arange(-_REACH, _REACH + 1)
    rows = np.clip(at[:, None] + steps[None], 0, len(rises) - 1)
    out = np.zeros(rows.shape)
    used = np.zeros(len(at))
    hz = midi_to_hz(pitch.astype(np.float64))
    for k in range(1, _PARTIALS + 1):
        partial = k * hz
        bins = np.round(partial * _SIZE / RATE_HZ).astype(np.int64)
        here = (pitch > 0) & (partial >= _LOWEST_HZ) & (partial <= _HIGHEST_HZ)
        out[here] += rises[rows[here], bins[here][:, None]]
        used += here
    return out / np.maximum(used, 1)[:, None]


def _by_stretches(samples: F32, at: NDArray[np.int64], pitch: NDArray[np.int64]) -> Floats:
    """`_evidence` of all notes, one stretch of the sound at a time."""
    out = np.zeros((len(at), 2 * _REACH + 1))
    around = _REACH + 2 * _ARM
    for stretch in np.unique(at // _STRETCH):
        here = np.flatnonzero(at // _STRETCH == stretch)
        first = max(0, int(stretch) * _STRETCH - around)
        last = (int(stretch) + 1) * _STRETCH + around
        rises = _rises(samples[first * _HOP : last * _HOP])
        out[here] = _evidence(rises, at[here] - first, pitch[here])
    return out


def retimed(
    samples: F32,
    onset_s: Floats,
    pitch: NDArray[np.int64],
    together: NDArray[np.int64],
    sustained: NDArray[np.bool_],
) -> Floats:
    """Onsets where the sound has them.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    onset_s : ndarray, shape (notes,)
        Seconds; NaN where a note was not played.
    pitch : ndarray of int, shape (notes,)
        Sounding MIDI number, 0 if unpitched.
    together : ndarray of int, shape (notes,)
        The same number for notes that are written to begin together.

    Returns
    -------
    ndarray, shape (notes,)
        At most 0.1 s from `onset_s`.
    """
    kept = np.flatnonzero(np.isfinite(onset_s))
    if not kept.size:
        return onset_s
    own_s = onset_s[kept]
    early = np.where(sustained[kept], *_SPEAKS_S)
    step = _HOP / RATE_HZ
    out = onset_s.copy()
    _, chord = np.unique(together[kept], return_inverse=True)
    # A chord is looked for around the mean of its notes' times.
    count = np.bincount(chord)
    middle = np.bincount(chord, own_s) / count
    at = np.round(middle / step).astype(np.int64)
    shifts = np.arange(-_REACH, _REACH + 1) * step
    place = np.round((middle[chord] + early) / step).astype(np.int64)
    own = _TRUST * _by_stretches(samples, place, pitch[kept])
    blur = np.exp(-0.5 * (np.arange(-4, 5) * step / _PLAYERS_S) ** 2)
    spread_s = np.hypot(_GIVEN_S, _PLAYERS_S)
    time = at[chord][:, None] * step + shifts[None]
    given = -0.5 * ((time - own_s[:, None]) / spread_s) ** 2
    whole = np.zeros((len(count), shifts.size))
    np.add.at(whole, chord, given + _blurred(own, blur))
    best = at * step + shifts[np.argmax(whole, axis=1)]
    single = own - 0.5 * ((time - own_s[:, None]) / _GIVEN_S) ** 2
    single -= 0.5 * ((time - best[chord][:, None]) / _PLAYERS_S) ** 2
    out[kept] = np.maximum(time[np.arange(len(kept)), np.argmax(single, axis=1)], 0.0)
    return out


def settled(
    samples: F32, score: Score, onset_s: Floats, offset_s: Floats
) -> tuple[Floats, Floats]:
    """Move notes to where the sound begins; each keeps its length.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        Mono at 44.1 kHz.
    score
        The page.
    onset_s, offset_s : ndarray, shape (notes,)
        When each note sounds as the timeline has it, NaN where it was not played.
    """
    notes = score.notes
    row = {line.number: line.instrument for line in score.lines}
    # A grace note has no place of its own on the page; it stays about where it was put.
    pitch = np.array([0 if n.unpitched or n.grace else n.pitch for n in notes], dtype=np.int64)
    _, together = np.unique([(n.onset, n.grace) for n in notes], axis=0, return_inverse=True)
    held = np.array([is_sustained(n, row[n.line]) for n in notes], dtype=bool)
    onset = retimed(samples, onset_s, pitch, together.ravel(), held)
    return onset, np.fmax(offset_s + (onset - onset_s), onset + 0.03)


def _blurred(rows: Floats, blur: Floats) -> Floats:
    wide = np.pad(rows, ((0, 0), (blur.size // 2, blur.size // 2)), mode="edge")
    each = np.lib.stride_tricks.sliding_window_view(wide, blur.size, axis=1)
    return np.asarray(each @ (blur / blur.sum()))

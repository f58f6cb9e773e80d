"""The finer passes: pitch bins and onsets at rising frame rates, each on the last estimate.

Rows are made for a minute at a time, so that an hour needs no more memory than its
features do.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment.attack import lags_s
from auditor.alignment.expected import Events, flux_rows, pitch_rows
from auditor.alignment.path import first_heard, onset_floor, onset_rows, unit_rows, warp
from auditor.alignment.performed import rising
from auditor.sound.features import ONSET_FPS, PITCH_FPS, Features

_log = logging.getLogger(__name__)

# Frames a second, and how far off the last estimate, in seconds, the path may lie.
LEVELS = ((10, 4.0), (50, 0.7), (100, 0.1))
BLOCK_S = 60
# Frames this far below the loud ones fade out of the likeness.
_QUIET = 0.03
# Beyond this neither fading nor the scaling of onsets reaches.
_HALO_S = 2.5
# The scale of the whole is taken from so many stretches of it.
_SAMPLED = 10

# This bin of a frame, in order of strength, is no note but noise (of 85).
_UNDER = 25
# Nepers of power a second by which rooms are told apart: reverberation times (60 dB is
# 13.8 nepers) of 0.7, 1.4 and 2.8 s.
_FALLS = (20.0, 10.0, 5.0)

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
Raw = Callable[[int, int], tuple[F32, F32]]


class Rows:
    """Unit pitch rows and onset rows of any stretch, scaled as the whole sound asks.

    Parameters
    ----------
    raw
        Called with a first frame and one past the last: pitch bins and rises there.
    frames, fps
        Length of the whole, and frames a second.
    """

    def __init__(self, raw: Raw, frames: int, fps: int) -> None:
        self.frames, self.fps, self._raw = frames, fps, raw
        block = BLOCK_S * fps
        starts = np.arange(0, frames, block)
        chosen = starts[:: max(1, -(-len(starts) // _SAMPLED))]
        lengths, floors = [], []
        for start in chosen:
            pitch, flux = raw(int(start), min(int(start) + block, frames))
            lengths.append(np.sqrt(np.einsum("ij,ij->i", pitch, pitch)))
            floors.append(onset_floor(flux, fps))
        self._quiet = _QUIET * float(np.percentile(np.concatenate(lengths), 95))
        self._floor = np.mean(floors, axis=0)

    def __call__(self, first: int, last: int) -> tuple[F32, F32]:
        """Rows of the frames from `first` to before `last`, shapes (n, 85) and (n, 86)."""
        halo = round(_HALO_S * self.fps)
        start = max(0, first - halo)
        pitch, flux = self._raw(start, min(self.frames, last + halo))
        inside = slice(first - start, last - start)
        onset = onset_rows(flux, self.fps, self._floor)
        return unit_rows(pitch[inside], self._quiet), onset[inside]


def place(features: Features, notes: Events, axis: F64, seconds: F64) -> F64:
    """Find the times of places on the performed axis, from a rough estimate of them.

    Parameters
    ----------
    features
        Of the sound.
    notes
        On the performed axis.
    axis, seconds : ndarray, shape (knots,)
        Quarters on the performed axis, and the estimate.

    Returns
    -------
    ndarray, shape (knots,)
        Seconds, strictly rising.
    """
    coarse = _placed(features, notes, axis, seconds, LEVELS[0], _FALLS[0])
    fall = _room(features, notes, axis, coarse)
    if fall != _FALLS[0]:
        coarse = _placed(features, notes, axis, seconds, LEVELS[0], fall)
    seconds = _placed(features, notes, axis, coarse, LEVELS[1], fall)
    onset_s = np.interp(notes.onset, axis, seconds) + notes.lag_s
    heard_lag_s = lags_s(features.flux, onset_s, notes.pitch, notes.kind)
    notes = replace(notes, lag_s=heard_lag_s)
    placed = _placed(features, notes, axis, seconds, LEVELS[2], fall)
    return rising(np.maximum(placed, 0.0))


def _placed(
    features: Features,
    notes: Events,
    axis: F64,
    seconds: F64,
    level: tuple[int, float],
    fall: float,
) -> F64:
    """Place once more, at one frame rate and within one reach."""
    fps, reach_s = level
    lag_s = _knot_lags(notes, axis)
    heard = heard_rows(features, fps)
    expected = expected_rows(notes, axis, seconds, heard.frames, fps, fall)
    path = warp(heard, expected, heard.frames, round(reach_s * fps), BLOCK_S * fps)
    heard_s = first_heard(path, heard.frames) / fps
    # Read where the rise stands: there the path is sure.
    risen = np.interp(seconds + lag_s, np.arange(heard.frames) / fps, heard_s)
    return rising(risen - lag_s)


def _room(features: Features, notes: Events, axis: F64, seconds: F64) -> float:
    """Find how fast the room lets notes fade: by which the sound is likest to the page."""
    fps = LEVELS[0][0]
    heard = heard_rows(features, fps)
    likeness = {}
    for fall in _FALLS:
        expected = expected_rows(notes, axis, seconds, heard.frames, fps, fall)
        likeness[fall] = 0.0
        for first in range(0, heard.frames, BLOCK_S * fps):
            last = min(first + BLOCK_S * fps, heard.frames)
            likeness[fall] += float(np.vdot(heard(first, last)[0], expected(first, last)[0]))
    _log.debug("likeness by fall of the room: %s", likeness)
    return max(likeness, key=lambda fall: likeness[fall])


def _knot_lags(notes: Events, axis: F64) -> F64:
    """Mean lag of the notes that start at each knot; between them interpolated."""
    at = np.searchsorted(axis, notes.onset)
    count = np.bincount(at, minlength=axis.size)
    total = np.bincount(at, notes.lag_s, minlength=axis.size)
    known = np.flatnonzero(count)
    out: F64 = np.interp(axis, axis[known], total[known] / count[known])
    return out


def heard_rows(features: Features, fps: int) -> Rows:
    """Rows of the sound at a frame rate: 10, 50 or 100."""
    per_pitch, per_flux = max(1, PITCH_FPS // fps), ONSET_FPS // fps
    repeated = max(1, fps // PITCH_FPS)
    frames = min(
        -(-len(features.pitch) // per_pitch) * repeated, -(-len(features.flux) // per_flux)
    )

    def raw(first: int, last: int) -> tuple[F32, F32]:
        low, high = max(0, first - 1), last + 1
        flux = features.flux[low * per_flux : high * per_flux].astype(np.float32)
        if per_flux > 1:
            flux = scipy.ndimage.maximum_filter1d(flux, per_flux, axis=0)[::per_flux]
        flux = flux[first - low : last - low]
        if repeated > 1:
            even = first // repeated
            pitch = features.pitch[even : -(-last // repeated)].astype(np.float32)
            pitch = np.repeat(pitch, repeated, axis=0)[first - even * repeated :]
            return tones(pitch[: last - first]), flux
        pitch = features.pitch[low * per_pitch : high * per_pitch].astype(np.float32)
        if per_pitch > 1:
            pitch = scipy.ndimage.uniform_filter1d(pitch, per_pitch, axis=0)[::per_pitch]
        return tones(pitch[first - low : last - low]), flux

    return Rows(raw, frames, fps)


def tones(pitch: F32) -> F32:
    """Take away what lies under most bins: drums, breath and late reverberation."""
    under = np.partition(pitch, _UNDER, axis=1)[:, _UNDER, None]
    out: F32 = np.maximum(pitch - under, np.float32(0.0))
    return out


def expected_rows(
    notes: Events, axis: F64, seconds: F64, frames: int, fps: int, fall: float = _FALLS[0]
) -> Rows:
    """Rows of the notes, placed by the estimate."""
    onset_s = np.interp(notes.onset, axis, seconds) + notes.lag_s
    offset_s = np.interp(notes.offset, axis, seconds)

    def raw(first: int, last: int) -> tuple[F32, F32]:
        near = (offset_s > first / fps - 1.0 - 6.0 / fall) & (onset_s < last / fps + 1.0)
        some = notes.chosen(near)
        on, off = onset_s[near] - first / fps, offset_s[near] - first / fps
        size = last - first
        return pitch_rows(some, on, off, size, fps, fall), flux_rows(some, on, size, fps)

    return Rows(raw, frames, fps)

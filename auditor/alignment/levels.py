"""The finer passes: pitch bins and onsets at rising frame rates, each on the last estimate."""

from __future__ import annotations

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment.attack import latency_s
from auditor.alignment.expected import Events, flux_rows, pitch_rows
from auditor.alignment.path import first_heard, onset_rows, unit_rows, warp
from auditor.alignment.performed import rising
from auditor.sound.features import ONSET_FPS, PITCH_FPS, Features

# Frames a second, and how far off the last estimate, in seconds, the path may lie.
LEVELS = ((10, 4.0), (50, 0.7), (100, 0.1))
# Frames this far below the loud ones fade out of the likeness.
_QUIET = 0.03

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
Rows = tuple[F32, F32]


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
    for fps, reach_s in LEVELS:
        heard = heard_rows(features, fps)
        frames = len(heard[0])
        expected = expected_rows(notes, axis, seconds, frames, fps)
        path = warp(heard, expected, round(reach_s * fps))
        heard_s = first_heard(path, frames) / fps
        seconds = rising(np.interp(seconds, np.arange(frames) / fps, heard_s))
    late_s = latency_s(features.flux, np.interp(notes.onset, axis, seconds), notes.pitch)
    return rising(np.maximum(seconds - late_s, 0.0))


def heard_rows(features: Features, fps: int) -> Rows:
    """Make unit pitch rows and onset rows of the sound at a frame rate."""
    flux, pitch = features.flux, features.pitch
    if fps < ONSET_FPS:
        step = ONSET_FPS // fps
        flux = scipy.ndimage.maximum_filter1d(flux, step, axis=0)[::step]
    if fps < PITCH_FPS:
        step = PITCH_FPS // fps
        pitch = scipy.ndimage.uniform_filter1d(pitch, step, axis=0)[::step]
    elif fps > PITCH_FPS:
        pitch = np.repeat(pitch, fps // PITCH_FPS, axis=0)
    frames = min(len(pitch), len(flux))
    return _unit(pitch[:frames]), onset_rows(flux[:frames], fps)


def expected_rows(notes: Events, axis: F64, seconds: F64, frames: int, fps: int) -> Rows:
    """Make unit pitch rows and onset rows of the notes, placed by the estimate."""
    onset_s = np.interp(notes.onset, axis, seconds)
    offset_s = np.interp(notes.offset, axis, seconds)
    pitch = pitch_rows(notes, onset_s, offset_s, frames, fps)
    return _unit(pitch), onset_rows(flux_rows(notes, onset_s, frames, fps), fps)


def _unit(rows: F32) -> F32:
    length = np.sqrt(np.einsum("ij,ij->i", rows, rows))
    return unit_rows(rows, _QUIET * float(np.percentile(length, 95)))

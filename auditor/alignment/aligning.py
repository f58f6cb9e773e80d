"""From a score and a sound to the timeline between them, coarse to fine.

The coarse pass (chroma) finds which bars are played; three warpings (pitch bins and
onsets at 10, 50 and 100 frames a second) place the notes.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage
from numpy.typing import NDArray

from auditor.alignment.expected import Events, events, flux_rows, pitch_rows
from auditor.alignment.order import Order, Visit, find_order
from auditor.alignment.path import first_heard, onset_rows, unit_rows, warp
from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.errors import AlignmentError
from auditor.score.notes import Score
from auditor.sound.features import ONSET_FPS, PITCH_FPS, Features, listen
from auditor.sound.reading import Sound

_log = logging.getLogger(__name__)

# Frames a second and how far off the diagonal, in seconds, the path may lie.
_LEVELS = ((10, 4.0), (50, 0.7), (100, 0.1))
_GAP_S = 1.0
_LEAST_S = 1e-3

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Run:
    """Bars that follow each other on the played axis and in the sound.

    Parameters
    ----------
    first, last
        Bars of the played axis.
    start_q, end_q
        Their quarters on the played axis.
    shift
        What to add to get quarters on the performed axis, where runs lie end to end.
    """

    first: int
    last: int
    start_q: float
    end_q: float
    shift: float


def align(score: Score, sound: Sound) -> Timeline:
    """Find when the notes of a score sound."""
    return place(score, listen(sound.samples))


def place(score: Score, features: Features) -> Timeline:
    """The same from features."""
    notes = events(score)
    order = find_order(score, notes, features)
    runs, knots = _runs(score, order)
    performed = _performed(notes, runs)
    axis = np.unique(np.concatenate([knots[0], performed.onset]))
    seconds = np.interp(axis, *knots)
    for fps, reach in _LEVELS:
        seconds = _refine(features, performed, axis, seconds, fps, reach)
    stretches = _stretches(runs, axis, seconds)
    return Timeline(stretches, (), tuple(v.bar for v in order.visits))


def _runs(score: Score, order: Order) -> tuple[list[Run], tuple[F64, F64]]:
    """Runs of bars, and knots (performed quarters, seconds) at their bar lines."""
    groups: list[list[Visit]] = []
    for visit in order.visits:
        follows = bool(groups) and visit.bar == groups[-1][-1].bar + 1
        if follows and visit.start_s - groups[-1][-1].end_s < _GAP_S:
            groups[-1].append(visit)
        else:
            groups.append([visit])
    runs, quarters, seconds, at = [], [], [], 0.0
    for group in groups:
        start_q = score.bars[group[0].bar].onset
        end = score.bars[group[-1].bar]
        end_q = end.onset + end.duration
        runs.append(Run(group[0].bar, group[-1].bar, start_q, end_q, at - start_q))
        for visit in group:
            quarters.append(score.bars[visit.bar].onset + at - start_q)
            seconds.append(visit.start_s)
        quarters.append(end_q + at - start_q)
        seconds.append(group[-1].end_s)
        # A hundredth of a quarter keeps the axis rising where one run meets the next.
        at += end_q - start_q + 0.01
    return runs, (np.array(quarters), _rising(np.array(seconds)))


def _rising(seconds: F64) -> F64:
    steps = np.arange(seconds.size) * _LEAST_S
    return np.maximum.accumulate(seconds - steps) + steps


def _performed(notes: Events, runs: list[Run]) -> Events:
    """The notes of each run on the performed axis."""
    parts = []
    for run in runs:
        inside = (notes.onset >= run.start_q - 1e-6) & (notes.onset < run.end_q - 1e-6)
        parts.append(
            Events(
                notes.onset[inside] + run.shift,
                np.minimum(notes.offset[inside], run.end_q) + run.shift,
                notes.pitch[inside],
                notes.power[inside],
                notes.decays[inside],
            )
        )
    return Events(
        *(
            np.concatenate([getattr(p, name) for p in parts])
            for name in ("onset", "offset", "pitch", "power", "decays")
        )
    )


def heard_rows(features: Features, fps: int) -> tuple[F32, F32]:
    """Unit pitch rows and onset rows of the sound at a frame rate."""
    flux = features.flux
    if fps < ONSET_FPS:
        step = ONSET_FPS // fps
        flux = scipy.ndimage.maximum_filter1d(flux, step, axis=0)[::step]
    pitch = features.pitch
    if fps < PITCH_FPS:
        step = PITCH_FPS // fps
        pitch = scipy.ndimage.uniform_filter1d(pitch, step, axis=0)[::step]
    elif fps > PITCH_FPS:
        pitch = np.repeat(pitch, fps // PITCH_FPS, axis=0)
    frames = min(len(pitch), len(flux))
    loud = float(np.percentile(np.sqrt(np.einsum("ij,ij->i", pitch, pitch)), 95))
    return unit_rows(pitch[:frames], 0.03 * loud), onset_rows(flux[:frames], fps)


def expected_rows(
    notes: Events, onset_s: F64, offset_s: F64, frames: int, fps: int
) -> tuple[F32, F32]:
    """The same of the score, at the times given."""
    pitch = pitch_rows(notes, onset_s, offset_s, frames, fps)
    loud = float(np.percentile(np.sqrt(np.einsum("ij,ij->i", pitch, pitch)), 95))
    flux = flux_rows(notes, onset_s, frames, fps)
    return unit_rows(pitch, 0.03 * loud), onset_rows(flux, fps)


def _refine(
    features: Features, notes: Events, axis: F64, seconds: F64, fps: int, reach_s: float
) -> F64:
    heard = heard_rows(features, fps)
    frames = len(heard[0])
    onset_s = np.interp(notes.onset, axis, seconds)
    offset_s = np.interp(notes.offset, axis, seconds)
    expected = expected_rows(notes, onset_s, offset_s, frames, fps)
    path = warp(heard, expected, round(reach_s * fps))
    heard_s = first_heard(path, frames) / fps
    return _rising(np.interp(seconds, np.arange(frames) / fps, heard_s))


def _stretches(runs: list[Run], axis: F64, seconds: F64) -> tuple[Stretch, ...]:
    out = []
    for run in runs:
        low, high = run.start_q + run.shift, run.end_q + run.shift
        inside = (axis >= low - 1e-9) & (axis <= high + 1e-9)
        out.append(Stretch(axis[inside] - run.shift, seconds[inside]))
    return tuple(out)

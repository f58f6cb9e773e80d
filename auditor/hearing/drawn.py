"""How distinct ratios move when lines are louder or softer: the short way of hearing.

The same pass as `auditor.hearing.sweep`, several levels at once and on some of the frames;
who covers whom, margins and traces are left out. Roles of the lines are the same for all
levels and are laid out once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.excitation import Ear, ear_for
from auditor.hearing.figures import ratio, weighted_median
from auditor.hearing.masking import (
    ALONE,
    DISTINCT,
    FIGURES,
    FORWARD_DECAY_DB_PER_S,
    FUSION_FACTOR,
    hear_frames,
    linger,
    packed,
    sum_spans,
)
from auditor.hearing.measures import REGISTERS, Group, NoteWindows
from auditor.hearing.sweep import block_frames, block_power, register_of
from auditor.hearing.targets import Roles, Spans, Targets, find_targets, roles
from auditor.hearing.windows import companions, note_frames
from auditor.spectra.line_spectra import LineSpectra
from auditor.units import db_to_power

Floats = NDArray[np.float64]
F32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Ratios:
    """Distinct ratios at each set of levels, NaN where nothing was judged.

    Parameters
    ----------
    notes, lines, groups : ndarray, shape (levels, notes), (levels, lines), (levels, groups)
    """

    notes: Floats
    lines: Floats
    groups: Floats


def ratios_when_moved(
    spectra: LineSpectra,
    windows: NoteWindows,
    groups: Sequence[Group],
    by_db: Floats,
    *,
    stride: int = 1,
) -> Ratios:
    """Hear the lines at several levels.

    Parameters
    ----------
    spectra
        What each line sounds like alone.
    windows
        When each note sounds.
    groups
        Strands and layers.
    by_db : ndarray, shape (levels, lines)
        What is added to each line's level.
    stride
        Every so many frames are heard.
    """
    frame_s = spectra.frame_s[::stride]
    frames = note_frames(windows, frame_s)
    targets = find_targets(windows, groups, frames, companions(windows, frames))
    sums = _sums(spectra, targets, db_to_power(by_db).astype(np.float32), stride)
    heard = np.where((targets.spans.stop > targets.spans.start)[None, :, None], sums, np.nan)
    each = ratio(heard[..., 1], heard[..., 0])
    count = windows.line.size
    owner = targets.spans.row[count:] - targets.lines
    return Ratios(
        notes=each[:, :count],
        lines=_middles(each[:, :count], windows.line, frames.duration_s, targets.lines),
        groups=_middles(each[:, count:], owner, targets.moment_s, targets.groups),
    )


def _sums(spectra: LineSpectra, targets: Targets, gain: F32, stride: int) -> Floats:
    """Loudness alone and distinct summed over each span, shape (levels, spans, 2)."""
    level = spectra.level_db[:, ::stride]
    lines, frames, bands = level.shape
    step_s = float(np.diff(spectra.frame_s[:2])[0]) * stride if frames > 1 else 1.0
    keep = float(db_to_power(-FORWARD_DECAY_DB_PER_S * step_s))
    ear = ear_for(spectra.band_cam)
    rests = np.zeros((len(gain), lines, bands), dtype=np.float32)
    spans = targets.spans
    out = np.zeros((len(gain), spans.start.size, 2))
    size = block_frames(lines + targets.groups, bands)
    for first in range(0, frames, size):
        stop = min(first + size, frames)
        power, role = block_power(level[:, first:stop]), roles(targets, first, stop - first)
        near = np.flatnonzero((spans.start < stop) & (spans.stop > first))
        for k, by in enumerate(gain):
            figures = _figures(ear, role, power * by[:, None], rests[k], keep)
            out[k, near] += _summed(figures, first, spans, near)
    return out


def _figures(ear: Ear, role: Roles, power: F32, rest: F32, keep: float) -> F32:
    """Loudness alone and distinct of each target in each frame, (frames, targets, 2)."""
    excitation = ear.excite(power)
    maskers = linger(excitation, rest, keep)
    frames, rows = role.target.shape[:2]
    figures = np.zeros((frames, rows, FIGURES), dtype=np.float32)
    lost = np.zeros((frames, rows, len(REGISTERS)), dtype=np.float32)
    pull = np.zeros((0, 0, 0), dtype=np.float32)  # nobody asks who covers whom
    extra: F32 = np.matmul(role.extra, maskers)
    extra *= FUSION_FACTOR - 1.0
    hear_frames(
        role.target @ excitation, role.masker @ maskers, extra, packed(ear.tables),
        ear.tables.step, register_of(ear.tables.hz), 0.0, figures, lost, pull,
    )  # fmt: skip
    return np.ascontiguousarray(figures[..., (ALONE, DISTINCT)])


def _summed(figures: F32, first: int, spans: Spans, near: NDArray[np.int64]) -> Floats:
    part = np.zeros((near.size, figures.shape[2]))
    sum_spans(figures, first, spans.start[near], spans.stop[near], spans.row[near], part)
    return part


def _middles(each: Floats, owner: NDArray[np.int64], weight: Floats, count: int) -> Floats:
    """Weighted median of what belongs together, shape (levels, count)."""
    out = np.full((len(each), count), np.nan)
    for k in range(count):
        mine = np.flatnonzero((owner == k) & (weight > 0))
        if mine.size:
            out[:, k] = [weighted_median(row[mine], weight[mine]) for row in each]
    return out

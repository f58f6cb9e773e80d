"""One pass over the sound: every target against everything else, in blocks of frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.excitation import Ear, ear_for
from auditor.hearing.loudness import loudness_sone
from auditor.hearing.masking import (
    FIGURES,
    FORWARD_DECAY_DB_PER_S,
    FUSION_FACTOR,
    LOOK,
    PARTIAL,
    hear_frames,
    linger,
    packed,
    sum_spans,
)
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS
from auditor.hearing.targets import Targets, roles
from auditor.spectra.line_spectra import LineSpectra, heard_power
from auditor.units import db_to_power

_BLOCK = 256
# Bounds the working memory: a block holds a few arrays of frames x targets x bands.
_BLOCK_CELLS = 3_000_000

# Columns of the sums behind the frame figures: what a span is made of.
POWER, MIX_POWER, OWNED, FRAMES = range(FIGURES, FIGURES + 4)
LOST = FIGURES + 4
COVER = LOST + len(REGISTERS)

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Sweep:
    """Sums and traces of one pass.

    Parameters
    ----------
    sums : ndarray, shape (spans, COVER + lines)
        Sums over each span's frames; columns by the constants of this module and of
        `auditor.hearing.masking`.
    look : ndarray, shape (targets, frames), float32
        Signal-to-threshold ratio over all bands (power).
    frame_sone : ndarray, shape (lines, frames), float32
        Partial loudness.
    mix_sone : ndarray, shape (frames,)
        Loudness of the whole.
    """

    sums: NDArray[np.float64]
    look: Floats
    frame_sone: Floats
    mix_sone: NDArray[np.float64]


def register_of(hz: NDArray[np.float64]) -> NDArray[np.int64]:
    """Register of each frequency, shape (n,)."""
    return np.searchsorted(np.array(REGISTER_EDGES_HZ), hz, side="right").astype(np.int64)


def block_frames(rows: int, bands: int) -> int:
    """How many frames are heard at once."""
    return int(np.clip(_BLOCK_CELLS // max(rows * bands, 1), 8, _BLOCK))


def block_power(level_db: Floats) -> Floats:
    """Free-field power, shape (frames, lines, bands); what lies at the floor is nothing.

    Parameters
    ----------
    level_db : ndarray, shape (lines, frames, bands)
        Of line spectra.
    """
    return heard_power(level_db.transpose(1, 0, 2)).astype(np.float32)


def _columns(
    power: Floats, owned: Floats, target: Floats, figures: Floats, lost: Floats, cover: Floats
) -> Floats:
    """Put side by side what is summed over spans, shape (frames, targets, COVER + lines)."""
    level = power.sum(axis=2)
    out = np.empty((*target.shape[:2], COVER + power.shape[1]), dtype=np.float32)
    out[..., :FIGURES] = figures
    out[..., POWER] = np.einsum("fnl,fl->fn", target, level)
    out[..., MIX_POWER] = level.sum(axis=1)[:, None]
    members = np.maximum(target.sum(axis=2), 1.0)
    out[..., OWNED] = np.einsum("fnl,fl->fn", target, owned) / members
    out[..., FRAMES] = 1.0
    out[..., LOST:COVER] = lost
    out[..., COVER:] = cover
    return out


class _Pass:
    """The state of a pass: what is set once, and what lingers between blocks."""

    def __init__(self, spectra: LineSpectra, targets: Targets, limit: float) -> None:
        lines, frames, bands = spectra.level_db.shape
        step_s = float(np.diff(spectra.frame_s[:2])[0]) if frames > 1 else 1.0
        self.spectra, self.targets, self.limit = spectra, targets, limit
        self.ear: Ear = ear_for(spectra.band_cam)
        self.constants = packed(self.ear.tables)
        self.register = register_of(self.ear.tables.hz)
        self.keep = float(db_to_power(-FORWARD_DECAY_DB_PER_S * step_s))
        self.lingering = np.zeros((lines, bands), dtype=np.float32)
        rows = lines + targets.groups
        self.sums = np.zeros((targets.spans.start.size, COVER + lines))
        self.look = np.zeros((rows, frames), dtype=np.float32)
        self.frame_sone = np.zeros((lines, frames), dtype=np.float32)
        self.mix_sone = np.zeros(frames)

    def block(self, first: int, stop: int) -> None:
        power = block_power(self.spectra.level_db[:, first:stop])
        frames, lines, bands = power.shape
        excitation = self.ear.excite(power)
        maskers = linger(excitation, self.lingering, self.keep)
        role = roles(self.targets, first, frames)
        rows = role.target.shape[1]
        figures = np.zeros((frames, rows, FIGURES), dtype=np.float32)
        lost = np.zeros((frames, rows, len(REGISTERS)), dtype=np.float32)
        pull = np.zeros((frames, rows, bands), dtype=np.float32)
        extra: Floats = np.matmul(role.extra, maskers)
        extra *= FUSION_FACTOR - 1.0
        hear_frames(
            role.target @ excitation,
            role.masker @ maskers,
            extra,
            self.constants, self.ear.tables.step, self.register, self.limit,
            figures, lost, pull,
        )  # fmt: skip
        cover = np.matmul(pull, maskers.transpose(0, 2, 1)) * role.masker
        owned = np.ascontiguousarray(self.spectra.confidence[:, first:stop].T)
        values = _columns(power, owned, role.target, figures, lost, cover)
        spans = self.targets.spans
        near = np.flatnonzero((spans.start < stop) & (spans.stop > first))
        part = np.zeros((near.size, values.shape[2]))
        sum_spans(values, first, spans.start[near], spans.stop[near], spans.row[near], part)
        self.sums[near] += part
        self.look[:, first:stop] = figures[..., LOOK].T
        self.frame_sone[:, first:stop] = figures[:, :lines, PARTIAL].T
        self.mix_sone[first:stop] = loudness_sone(
            excitation.sum(axis=1).astype(np.float64), self.ear.tables
        )


def sweep(spectra: LineSpectra, targets: Targets, limit: float) -> Sweep:
    """Hear every target against everything else.

    Parameters
    ----------
    spectra
        What each line sounds like alone.
    targets
        From `auditor.hearing.targets.find_targets`.
    limit
        Distinct ratio below which a frame counts as covered.
    """
    lines, frames, bands = spectra.level_db.shape
    rows = lines + targets.groups
    size = block_frames(rows, bands)
    run = _Pass(spectra, targets, limit)
    for first in range(0, frames, size):
        run.block(first, min(first + size, frames))
    return Sweep(run.sums, run.look, run.frame_sone, run.mix_sone)

"""The mix beside all that a decomposition explains of it, and what stands out above."""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import POOL_HZ
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.fitting import Fitted
from auditor.spectra.palette import Palette
from auditor.spectra.problem import Problem
from auditor.units import midi_to_hz

F32 = NDArray[np.float32]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Above, templates of different sources differ too much to tell pitches by.
TOP_HZ = 6300.0
POOLS = int(np.searchsorted(POOL_HZ, TOP_HZ))
_PARTIALS = 5
# Surprise counts in full up to ten times the model, as in the fit, and slowly beyond.
CEILING, _BEYOND = 10.0, 3.0


@numba.njit(cache=True, fastmath=True)
def fall(power, without, with_it):  # type: ignore[no-untyped-def]
    """Fall of the divergence in a pool from a model `without` a sound to one with it."""
    before, after = power / without, power / with_it
    if before > CEILING:
        before = CEILING + _BEYOND * np.log(before / CEILING)
    if after > CEILING:
        after = CEILING + _BEYOND * np.log(after / CEILING)
    return before - after - np.log(with_it / without)


@dataclass(frozen=True, slots=True)
class Decomposed:
    """What a decomposition found, before it was summed into lines.

    Parameters
    ----------
    notes
        What the score says sounds when.
    problem, fitted
        The fit.
    bounds : ndarray of int, shape (segments + 1,)
        First frame of each segment, then the end.
    palette
        Where the templates came from.
    """

    notes: PlayedNotes
    problem: Problem
    fitted: Fitted
    bounds: Ints
    palette: Palette


@dataclass(frozen=True, slots=True)
class Explained:
    """The mix beside its model, below 6.3 kHz.

    Parameters
    ----------
    power, model, beside : ndarray, shape (segments, pools), float32
        The mix, all that the fit explains, and that part of it which no line owns.
    segment, line : ndarray of int, shape (entries,)
        Segment and line of each entry.
    atoms : ndarray, shape (atoms, pools), float32
        The fitted templates.
    """

    power: F32
    model: F32
    beside: F32
    segment: Ints
    line: Ints
    atoms: F32


def explained(found: Decomposed) -> Explained:
    """Set the mix beside its model."""
    p, fitted = found.problem, found.fitted
    beside = np.ascontiguousarray((fitted.floor + p.tails)[:, :POOLS])
    atoms = np.ascontiguousarray(fitted.atoms[:, :POOLS])
    model = beside.copy()
    segment = np.repeat(np.arange(len(p.power)), np.diff(p.first))
    add(model, segment, p.atom, fitted.level, atoms)
    power = np.ascontiguousarray(p.power[:, :POOLS])
    return Explained(power, model, beside, segment, p.note_line[p.note], atoms)


@numba.njit(cache=True, fastmath=True, nogil=True)
def add(model, segment, atom, level, atoms):  # type: ignore[no-untyped-def]
    """Add entries at their levels to the model of their segments, in place."""
    for e in range(segment.size):
        h = np.float32(level[e])
        for f in range(model.shape[1]):
            model[segment[e], f] += h * atoms[atom[e], f]


def unexplained(mix: Explained) -> F32:
    """How far the mix stands above its model near each pool, natural log, -1 to 3."""
    rise = np.clip(np.log(np.maximum(mix.power / mix.model, 1e-3)), -1.0, 3.0)
    padded = np.pad(rise, ((0, 0), (1, 1)), mode="edge")
    near = np.maximum(padded[:, :-2], padded[:, 2:])
    return np.asarray(np.maximum(rise, near), np.float32)


def combed(rise: F32, pitch: Floats) -> Floats:
    """Mean over the three weakest of five partials of each row's pitch, shape (rows,)."""
    hz = midi_to_hz(np.asarray(pitch, dtype=np.float64))[:, None] * np.arange(1, _PARTIALS + 1)
    at = np.searchsorted(0.5 * (POOL_HZ[1:POOLS] + POOL_HZ[: POOLS - 1]), hz)
    value = np.take_along_axis(rise, at, axis=1).astype(np.float64)
    value[hz > TOP_HZ] = np.inf
    weakest = np.sort(value, axis=1)[:, :3]
    there = np.isfinite(weakest)
    total = np.where(there, weakest, 0.0).sum(axis=1)
    return np.asarray(total / np.maximum(there.sum(axis=1), 1))

"""Where a line lies: against the others that sound, its family and its own habit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.texture import Texture, per_bar
from auditor.intent.windows import FloatArray, Table
from auditor.score.notes import Line

# A line with this share of the busiest line's moves counts as moving.
MOVING = 0.4
# Octaves from which on a gap to the next line is simply wide.
WIDE = 3.0
# Mean pitches closer than this (semitones) are one height.
EQUAL = 0.5


def mean_pitch(texture: Texture) -> FloatArray:
    """Mean of a line's highest pitches in each bar, MIDI; NaN where it rests."""
    pitched = texture.top >= 0
    total = per_bar(np.where(pitched, texture.top, 0).astype(float), texture)
    count = per_bar(pitched.astype(float), texture)
    out: FloatArray = np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)
    return out


def _gaps(pitch: FloatArray) -> Table:
    """Octaves to the next line above and below, and how many lie above."""
    above, below = np.full(pitch.shape, WIDE), np.full(pitch.shape, WIDE)
    higher = np.zeros(pitch.shape)
    lower = np.zeros(pitch.shape)
    for i in range(pitch.shape[0]):
        step = pitch - pitch[i]
        up, down = step > EQUAL, step < -EQUAL
        above[i] = np.where(up, step, np.inf).min(axis=0) / 12
        below[i] = np.where(down, -step, np.inf).min(axis=0) / 12
        higher[i], lower[i] = up.sum(axis=0), down.sum(axis=0)
    pitched = ~np.isnan(pitch)
    others = np.maximum(pitched.sum(axis=0) - 1.0, 1.0)
    return {
        "gap-above": np.minimum(above, WIDE),
        "gap-below": np.minimum(below, WIDE),
        "lines-above": higher,
        "above-others": np.where(pitched, lower / others, 0.0),
    }


def _against_habit(texture: Texture, pitch: FloatArray) -> FloatArray:
    """How far above a line's own mean, in its own standard deviations (two at least)."""
    seen = np.where(texture.top >= 0, texture.top, np.nan).astype(float)
    habit = np.array([np.nanmean(r) if np.isfinite(r).any() else 0.0 for r in seen])
    width = np.array([np.nanstd(r) if np.isfinite(r).any() else 1.0 for r in seen])
    above = (pitch - habit[:, None]) / np.maximum(width[:, None], 2.0)
    return np.where(np.isnan(pitch), 0.0, above)


def register(
    texture: Texture, sounding: FloatArray, moves: FloatArray, lines: tuple[Line, ...]
) -> Table:
    """Figures of register of every line in every bar."""
    pitch = mean_pitch(texture)
    pitched = ~np.isnan(pitch)
    safe = np.where(pitched, pitch, -np.inf)
    top = safe.max(axis=0, initial=-np.inf)
    moving = pitched & (moves >= MOVING * np.where(pitched, moves, 0).max(axis=0))
    top_moving = np.where(moving, pitch, -np.inf).max(axis=0)
    highest = (texture.top >= 0) & (texture.top >= texture.top.max(axis=0))
    floor = np.where(texture.low >= 0, texture.low, 999)
    lowest = (texture.low >= 0) & (texture.low <= floor.min(axis=0))
    cells = np.maximum(sounding, 1e-9)
    below = np.maximum(np.where(pitched, pitch - top, 0.0), -48.0)
    family = np.array([line.instrument.family for line in lines])
    return _gaps(pitch) | {
        "highest": per_bar(highest.astype(float), texture) / cells * pitched,
        "lowest": per_bar(lowest.astype(float), texture) / cells * pitched,
        "highest-moving": (moving & (pitch >= top_moving - EQUAL)).astype(float),
        "highest-of-family": _highest_of(safe, family),
        "below-highest": np.where(pitched, below / 12.0, -4.0),
        "against-habit": _against_habit(texture, pitch),
    }


def _highest_of(pitch: FloatArray, family: NDArray[np.str_]) -> FloatArray:
    out = np.zeros(pitch.shape)
    for name in sorted(set(family.tolist())):
        own = family == name
        best = pitch[own].max(axis=0)
        out[own] = np.isfinite(pitch[own]) & (pitch[own] >= best - EQUAL)
    return out

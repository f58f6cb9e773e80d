"""Where a kit's notes lie in a render: late start, other speed, other pitch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.learning.listing import Wanted
from auditor.sound.spectrum import HOP, POOL_HZ, RATE_HZ
from auditor.units import midi_to_hz

Floats = NDArray[np.float64]

_FRAME_S = HOP / RATE_HZ
_EARLIEST_S, _LATEST_S = -3.0, 20.0
# As written; played at another rate than it was sampled at; half and double tempo.
_SPEEDS = (1.0, 48_000 / 44_100, 44_100 / 48_000, 0.5, 2.0)
_PARTIALS = 6
_RISE_DB = 30.0
# Before and after an onset, seconds: what a start is told by.
_BEFORE, _AFTER = (-0.25, -0.07), (0.07, 0.25)
_BODY_S = 0.8
# A start within this is the patch's own attack, and stays in the templates.
_ATTACK_S = 0.15
# Another speed must explain this much more than what was asked for.
_BETTER = 1.1
_SETS_IN = 0.05
_SOUNDING_DB = 60.0


@dataclass(frozen=True, slots=True)
class Placing:
    """How a render lies against its sheet.

    Parameters
    ----------
    lag_s
        Seconds from the file's start to the first barline.
    speed
        How much faster than written it was played.
    fit
        0 to 1: how clearly notes start where they should.
    """

    lag_s: float
    speed: float
    fit: float


def comb(pitch: float, partials: int = _PARTIALS, width: float = 0.5) -> NDArray[np.bool_]:
    """Pools within `width` semitones, or a bin, of a pitch's partials, shape (pools,)."""
    hz = midi_to_hz(pitch) * np.arange(1, partials + 1)
    hz = hz[hz < POOL_HZ[-1]]
    near = np.maximum(hz * (2 ** (width / 12) - 1), 0.8 * RATE_HZ / 4096)
    out: NDArray[np.bool_] = (np.abs(POOL_HZ[None] - hz[:, None]) <= near[:, None]).any(axis=0)
    return out


def place(
    samples: NDArray[np.float32], power: NDArray[np.float32], notes: Sequence[Wanted]
) -> Placing:
    """Find the notes of a sheet in a render.

    Parameters
    ----------
    samples : ndarray, shape (samples,)
        The render, mono at 44.1 kHz.
    power : ndarray, shape (frames, pools)
        Its pooled power.
    notes
        What it should hold.
    """
    tried = [_best(power, notes, speed) for speed in _SPEEDS]
    best = max(tried, key=lambda t: t[1])
    chosen = tried[0] if best[1] < _BETTER * tried[0][1] else best
    found = chosen[0]
    if abs(found.lag_s) <= _ATTACK_S:
        return Placing(0.0, found.speed, found.fit)
    late = _lateness(samples, notes, found)
    return Placing(found.lag_s + late, found.speed, found.fit)


def _lateness(samples: NDArray[np.float32], notes: Sequence[Wanted], placing: Placing) -> float:
    """Seconds by which notes begin later than placed: where their mean energy sets in."""
    hop = RATE_HZ // 200
    reach = round(_ATTACK_S * RATE_HZ) // hop
    rows = []
    for note in notes:
        first = round((note.start_s / placing.speed + placing.lag_s) * RATE_HZ) - reach * hop
        piece = samples[max(first, 0) : max(first, 0) + 2 * reach * hop]
        if first >= 0 and piece.size == 2 * reach * hop and piece.any():
            energy = (piece.reshape(-1, hop).astype(np.float64) ** 2).mean(axis=1)
            rows.append(energy / energy.max())
    if not rows:
        return 0.0
    mean = np.mean(rows, axis=0)
    above = np.flatnonzero(mean > mean.min() + _SETS_IN * (mean.max() - mean.min()))
    return float((above[0] - reach) * hop / RATE_HZ)


def _best(
    power: NDArray[np.float32], notes: Sequence[Wanted], speed: float
) -> tuple[Placing, float]:
    """Best lag at a speed, and its worth."""
    lags = np.arange(_EARLIEST_S, _LATEST_S, _FRAME_S)
    start = np.array([n.start_s for n in notes]) / speed
    total = power.sum(axis=1).astype(np.float64)
    level = 10 * np.log10(total + 1e-7 * total.max() + 1e-14)
    after = _mean(level, start, lags, _AFTER)
    rise = np.clip(after - _mean(level, start, lags, _BEFORE), 0.0, _RISE_DB) / _RISE_DB
    starts = rise.mean(axis=0)
    worth = starts + 0.5 * _pitched(power, total, notes, lags, speed)
    k = int(np.argmax(worth))
    # Notes that are missing say nothing against the place of those that are there.
    there = after[:, k] > level.max() - _SOUNDING_DB
    fit = float(rise[there, k].mean()) if there.any() else 0.0
    return Placing(float(lags[k]), speed, fit), float(worth[k])


def _mean(track: Floats, start: Floats, lags: Floats, span: tuple[float, float]) -> Floats:
    """Mean of a track over a span after each start at each lag, shape (notes, lags)."""
    summed = np.concatenate([[0.0], np.cumsum(track)])
    first = np.rint((start[:, None] + lags[None] + span[0]) / _FRAME_S).astype(np.int64)
    length = max(1, round((span[1] - span[0]) / _FRAME_S))
    low = np.clip(first, 0, track.size)
    high = np.clip(first + length, 0, track.size)
    # Beyond the file there is silence.
    beyond = float(track.min()) * (length - (high - low))
    return np.asarray((summed[high] - summed[low] + beyond) / length)


def _pitched(
    power: NDArray[np.float32],
    total: Floats,
    notes: Sequence[Wanted],
    lags: Floats,
    speed: float,
) -> Floats:
    """Share of the power on the wanted pitches at each lag, 1 at the best, shape (lags,)."""
    long = [n for n in notes if n.way != "short"]
    if not long[0].pitch:
        return np.zeros(lags.size)
    fit = np.zeros(lags.size)
    for pitch in {n.pitch for n in long}:
        start = np.array([n.start_s for n in long if n.pitch == pitch]) / speed
        share = power[:, comb(pitch)].sum(axis=1) / (total + 1e-6 * total.max() + 1e-20)
        fit += _mean(share.astype(np.float64), start, lags, (0.05, _BODY_S / speed)).sum(axis=0)
    return fit / max(float(fit.max()), 1e-9)

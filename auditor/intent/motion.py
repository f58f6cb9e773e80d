"""How a line moves: pace, steps and leaps, rhythm, reach, and what it merely repeats."""

from __future__ import annotations

import numpy as np

from auditor.intent.texture import CELL, Texture, per_bar
from auditor.intent.windows import BoolArray, FloatArray, Table, ratio, spread

_QUARTER = round(1 / CELL)


def motion(texture: Texture, radius: int) -> Table:
    """Figures of motion and rhythm from the onsets of each line, over surroundings."""
    shape = texture.top.shape
    names = ("moves", "step", "leap", "gap", "gap2", "turn", "course")
    cells = {name: np.zeros(shape) for name in names}
    for i in range(shape[0]):
        at = np.flatnonzero(texture.onset[i])
        if at.size < 2:
            continue
        move = np.diff(texture.top[i, at].astype(int))
        size, log_gap = np.abs(move), np.log2(np.diff(at) * CELL)
        cells["moves"][i, at[1:]] = size > 0
        cells["step"][i, at[1:]] = (size > 0) & (size <= 2)
        cells["leap"][i, at[1:]] = size >= 5
        cells["gap"][i, at[1:]], cells["gap2"][i, at[1:]] = log_gap, log_gap**2
        bend = np.sign(move[1:]) * np.sign(move[:-1])
        cells["turn"][i, at[1:-1]], cells["course"][i, at[1:-1]] = bend < 0, bend != 0
    cells["on"] = texture.onset.astype(float)
    sums = {name: spread(per_bar(values, texture), radius) for name, values in cells.items()}
    quarters = spread(np.diff(texture.starts)[None, :] * CELL * np.ones((shape[0], 1)), radius)
    sounding = spread(per_bar(texture.active.astype(float), texture) * CELL, radius)
    count = np.maximum(sums["on"], 1.0)
    variance = sums["gap2"] / count - (sums["gap"] / count) ** 2
    return {
        "notes-per-quarter": ratio(sums["on"], quarters),
        "moves-per-quarter": ratio(sums["moves"], quarters),
        "repeated": 1.0 - ratio(sums["moves"], sums["on"]),
        "steps": ratio(sums["step"], sums["moves"]),
        "leaps": ratio(sums["leap"], sums["moves"]),
        "turns": ratio(sums["turn"], sums["course"]),
        "note-length": np.log2(np.maximum(ratio(sounding, sums["on"]), CELL)),
        "rhythm-variety": np.sqrt(np.maximum(variance, 0.0)),
        "sounds-longest": ratio(sounding, quarters),
    }


def reach(texture: Texture, radius: int) -> Table:
    """Octaves between lowest and highest, and how many pitches, over surroundings."""
    lines, bars = texture.top.shape[0], texture.starts.size - 1
    span, count = np.zeros((lines, bars)), np.zeros((lines, bars))
    for b in range(bars):
        a, z = texture.starts[max(b - radius, 0)], texture.starts[min(b + radius + 1, bars)]
        block = texture.top[:, a:z]
        for i in np.flatnonzero((block >= 0).any(axis=1)):
            pitches = np.unique(block[i][block[i] >= 0])
            span[i, b] = pitches[-1] - pitches[0]
            count[i, b] = pitches.size
    return {"range": span / 12.0, "pitches": np.log2(1.0 + count)}


def repetition(texture: Texture) -> Table:
    """How far a bar repeats the bar before (rhythm; notes), and how much lies off the beat."""
    shape = (texture.top.shape[0], texture.starts.size - 1)
    rhythm, notes, off = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for b in range(shape[1]):
        m, z = texture.starts[b : b + 2]
        onset = texture.onset[:, m:z]
        count = onset.sum(axis=1).astype(float)
        off[:, b] = ratio(count - onset[:, ::_QUARTER].sum(axis=1), count)
        if b == 0:
            continue
        a = texture.starts[b - 1]
        width = min(m - a, z - m)
        last, this = texture.onset[:, a : a + width], texture.onset[:, m : m + width]
        both, either = (last & this).sum(axis=1), (last | this).sum(axis=1)
        rhythm[:, b] = ratio(both.astype(float), either.astype(float))
        same = texture.top[:, a : a + width] == texture.top[:, m : m + width]
        active = texture.active[:, m : m + width]
        notes[:, b] = (same & active).sum(axis=1) / np.maximum(active.sum(axis=1), 1)
    return {
        "same-rhythm-as-last-bar": rhythm,
        "same-notes-as-last-bar": notes,
        "off-beat": off,
    }


def _count_bars(on: BoolArray) -> FloatArray:
    """Bars since a line entered, this one included; 0 in rests."""
    out = np.zeros(on.shape)
    run = np.zeros(on.shape[0])
    for b in range(on.shape[1]):
        run = np.where(on[:, b], run + 1, 0)
        out[:, b] = run
    return out


def entries(on: BoolArray, sounds: FloatArray) -> Table:
    """Where a line stands in its phrase: since its entry, to its end, after what rest."""
    rested = np.zeros(on.shape)
    before, run = np.full(on.shape[0], 8.0), np.full(on.shape[0], 8.0)
    for b in range(on.shape[1]):
        enters = on[:, b] & ((b == 0) | ~on[:, b - 1])
        before = np.where(enters, run, before)
        run = np.where(on[:, b], 0.0, run + 1)
        rested[:, b] = np.where(on[:, b], before, 0.0)
    last = np.concatenate([np.zeros((on.shape[0], 1)), sounds[:, :-1]], axis=1)
    return {
        "entry": np.where(on, 1.0 - last, 0.0),
        "since-entry": np.log2(1 + np.minimum(_count_bars(on), 31)),
        "until-rest": np.log2(1 + np.minimum(_count_bars(on[:, ::-1])[:, ::-1], 31)),
        "rest-before": np.log2(1 + np.minimum(rested, 15)),
    }

"""Which notes belong to figures that return elsewhere in the piece: themes come back.

A figure is five notes with their intervals and rhythm. What merely repeats at once
(accompaniment patterns) or sounds at the same time (doublings) is not counted.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from auditor.intent.texture import CELL, Texture, per_bar

# Notes in a figure.
FIGURE = 5
# Quarters between two statements for the second to count as a return.
APART = 8.0
# Earlier statements counted at most: beyond, a theme is simply known.
KNOWN = 7
# A figure stated more often than this is no theme.
COMMON = 400

Place = tuple[int, NDArray[np.int64]]
FloatArray = NDArray[np.float64]


def figures_stated(texture: Texture) -> list[list[Place]]:
    """Statements (row, cells of the five notes) of every figure stated more than once."""
    places: dict[tuple[int, ...], list[Place]] = defaultdict(list)
    for row in range(texture.top.shape[0]):
        at = np.flatnonzero(texture.onset[row] & (texture.top[row] >= 0))
        if at.size < FIGURE:
            continue
        step = np.diff(texture.top[row, at].astype(int))
        gap = np.diff(at)
        for k in range(at.size - FIGURE + 1):
            steps, gaps = step[k : k + FIGURE - 1], gap[k : k + FIGURE - 1]
            if np.count_nonzero(steps) < 2 or gaps.max() * CELL > 4.0:
                continue
            places[(*steps.tolist(), *gaps.tolist())].append((row, at[k : k + FIGURE]))
    return [stated for stated in places.values() if len(stated) > 1]


def recurrence(texture: Texture) -> tuple[FloatArray, FloatArray]:
    """How often the figures of a line's notes return, mean over its notes in a bar (log2).

    Returns
    -------
    ndarray, shape (lines, bars)
        Anywhere in the piece: 0 where nothing returns, 1 for figures stated twice ...
    ndarray, shape (lines, bars)
        Before: 0 at a first statement.
    """
    anywhere, before = np.zeros(texture.top.shape), np.zeros(texture.top.shape)
    for stated in figures_stated(texture):
        starts = np.unique(np.array([int(at[0]) for _, at in stated]))
        rounds = 1 + int(np.count_nonzero(np.diff(starts) * CELL >= APART))
        for row, at in stated:
            if rounds > 1:
                anywhere[row, at] = np.maximum(anywhere[row, at], np.log2(rounds))
            earlier = np.count_nonzero((at[0] - starts) * CELL >= APART)
            heard = np.log2(1 + min(int(earlier), KNOWN))
            before[row, at] = np.maximum(before[row, at], heard)
    onsets = per_bar(texture.onset.astype(float), texture)
    out = []
    for value in (anywhere, before):
        total = per_bar(value, texture)
        out.append(np.divide(total, onsets, out=np.zeros_like(total), where=onsets > 0))
    return out[0], out[1]


def elsewhere(texture: Texture, share: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What a line's figures were worth where else they are stated, by bar.

    Parameters
    ----------
    share : ndarray, shape (lines, bars)
        Any share, for instance of the lead.

    Returns
    -------
    ndarray, shape (lines, bars)
        Mean share of the other statements (`APART` away); -0.1 where there are none.
    ndarray, shape (lines, bars)
        Largest share of any of them; 0 where there are none.
    """
    total, count, most = (np.zeros_like(share) for _ in range(3))
    for stated in figures_stated(texture):
        if len(stated) > COMMON:
            continue
        row = np.array([r for r, _ in stated])
        start = np.array([at[0] for _, at in stated])
        bar = texture.bar[start]
        worth = share[row, bar]
        far = np.abs(start[:, None] - start[None, :]) * CELL >= APART
        ok = far.any(axis=1)
        mean = (far * worth[None, :]).sum(axis=1) / np.maximum(far.sum(axis=1), 1)
        best = np.where(far, worth[None, :], 0.0).max(axis=1)
        np.add.at(total, (row[ok], bar[ok]), mean[ok])
        np.add.at(count, (row[ok], bar[ok]), 1.0)
        np.maximum.at(most, (row[ok], bar[ok]), best[ok])
    return np.where(count > 0, total / np.maximum(count, 1), -0.1), most

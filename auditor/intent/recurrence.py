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

Place = tuple[int, NDArray[np.int64]]


def _figures(texture: Texture) -> dict[tuple[int, ...], list[Place]]:
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
    return places


def recurrence(texture: Texture) -> NDArray[np.float64]:
    """Mean, over a line's notes in a bar, of how often their figures return (log2).

    Returns
    -------
    ndarray, shape (lines, bars)
        0 where nothing returns; 1 for figures stated twice, and so on.
    """
    value = np.zeros(texture.top.shape)
    for stated in _figures(texture).values():
        starts = np.array([at[0] for _, at in stated])
        rounds = 1 + np.count_nonzero(np.diff(np.unique(starts)) * CELL >= APART)
        if rounds < 2:
            continue
        for row, at in stated:
            value[row, at] = np.maximum(value[row, at], np.log2(rounds))
    onsets = per_bar(texture.onset.astype(float), texture)
    total = per_bar(value, texture)
    out: NDArray[np.float64] = np.divide(
        total, onsets, out=np.zeros_like(total), where=onsets > 0
    )
    return out

"""Stereo for made mixes: players in their seats, each with a width, in one room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from fonts import RATE_HZ
from mixes_sound import room
from numpy.typing import NDArray
from scipy.signal import fftconvolve

Stems = NDArray[np.float32]

# From -1, far left as the audience sees it, to 1. A usual plan with the violins on the left and
# the low strings on the right; common practice, no source.
SEAT: dict[str, float] = {
    "violin-1": -0.7, "violin-2": -0.4, "viola": 0.35, "cello": 0.65, "double-bass": 0.8,
    "solo-violin": -0.35, "piccolo": -0.25, "flute": -0.15, "oboe": 0.12, "english-horn": 0.22,
    "clarinet": -0.12, "bassoon": 0.15, "soprano-saxophone": -0.35, "alto-saxophone": -0.25,
    "tenor-saxophone": -0.15, "baritone-saxophone": -0.05, "horn": -0.5, "trumpet": 0.3,
    "trombone": 0.45, "tuba": 0.6, "timpani": 0.0, "xylophone": -0.55, "glockenspiel": -0.6,
    "harp": -0.75,
}  # fmt: skip
_BESIDE = 0.1  # from a player to the next of the same kind
_MISPLACED = 0.08  # standard deviation of what another engineer would do
# Reflections of the stage: from 5 to 40 ms, apart in the two channels, this strong against a
# player in the middle; one level for a mix.
_EARLY_S, _EARLY_DB = (0.005, 0.040), (-12.0, -5.0)


def places(chairs: Sequence[str], rng: np.random.Generator, width: float) -> list[float]:
    """Pan of each part, -1 to 1, the plan drawn together by `width`."""
    met: dict[str, int] = {}
    out = []
    for chair in chairs:
        seat = SEAT[chair]
        seat += _BESIDE * met.get(chair, 0) * (1 if seat < 0 else -1)
        met[chair] = met.get(chair, 0) + 1
        out.append(round(float(np.clip(width * (seat + rng.normal(0, _MISPLACED)), -1, 1)), 3))
    return out


def _early(rng: np.random.Generator, level_db: float) -> Stems:
    first, last = (int(edge * RATE_HZ) for edge in _EARLY_S)
    out = np.zeros(last, np.float32)
    out[first:] = rng.normal(size=last - first) * np.linspace(1, 0.1, last - first)
    return out * np.float32(10 ** (level_db / 20) / np.sqrt((out**2).sum()))


def seated(stems: Stems, pans: Sequence[float], rng: np.random.Generator, wet: bool) -> Stems:
    """Seat mono stems: constant-power panning, reflections and, if `wet`, a room.

    Returns
    -------
    ndarray, shape (parts, 2, samples)
        Left and right.
    """
    tails = [room(rng)[1:] for _ in range(2)] if wet else []
    early_db = float(rng.uniform(*_EARLY_DB))
    out = np.zeros((len(stems), 2, stems.shape[1]), np.float32)
    for k, stem in enumerate(stems):
        angle = (pans[k] + 1) * np.pi / 4
        for side, gain in enumerate((np.cos(angle), np.sin(angle))):
            response = _early(rng, early_db)
            if wet:
                response = np.pad(response, (0, tails[0].size - response.size)) + tails[side]
            # Both are the power of a player in the middle.
            added = fftconvolve(stem, response)[: stem.size] * np.sqrt(0.5)
            out[k, side] = np.float32(gain) * stem + added
    return out

"""How likely each line leads in each bar, by a model fitted to analysts' readings.

A choice model: each sounding line's figures are weighed to one score, and the scores
of the lines that sound together are compared. The weights travel as JSON with a note
of how they were fitted.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from auditor.intent.features import NAMES
from auditor.model_files import read_json

FloatArray = NDArray[np.float64]

MODEL = "reliance.json"


@cache
def _weights() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean, scale and weight of each figure, in the order of `NAMES`."""
    model = read_json(MODEL)
    if tuple(model["names"]) != NAMES:
        raise ValueError(f"models/{MODEL} was fitted to other figures; fit it again")
    return (
        np.asarray(model["mean"], float),
        np.asarray(model["scale"], float),
        np.asarray(model["weight"], float),
    )


def compare(scores: FloatArray, on: NDArray[np.bool_]) -> FloatArray:
    """Shares of 1 among the lines that sound: softmax over lines, (lines, bars)."""
    if not scores.size:
        return np.zeros_like(scores)
    masked = np.where(on, scores, -np.inf)
    best = np.max(masked, axis=0, initial=-np.inf)
    lifted = np.exp(masked - np.where(np.isfinite(best), best, 0.0))
    total = lifted.sum(axis=0)
    shares: FloatArray = np.divide(
        lifted, total, out=np.zeros_like(lifted), where=(total > 0) & on
    )
    return shares


def pull(figures: FloatArray) -> FloatArray:
    """Each figure's weighed contribution, (lines, bars, features)."""
    mean, scale, weight = _weights()
    out: FloatArray = (figures - mean) / scale * weight
    return out


def share_of_lead(figures: FloatArray, on: NDArray[np.bool_]) -> FloatArray:
    """Probability that each line is the one an analyst would mark, (lines, bars)."""
    return compare(pull(figures).sum(axis=2), on)


def strand_share(share: FloatArray, label: NDArray[np.int64]) -> FloatArray:
    """Give the same for the whole strand each line belongs to, (lines, bars)."""
    out = np.zeros_like(share)
    for i in range(share.shape[0]):
        out[i] = np.where(label == label[i], share, 0.0).sum(axis=0)
    return np.where(share > 0, out, 0.0)

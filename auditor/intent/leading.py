"""How likely each line leads in each bar, by a model fitted to analysts' readings.

A choice model: each sounding line's figures are weighed to one score by small decision
trees, and the scores of the lines that sound together are compared. A second set of trees
looks again with the first opinion on the bars around and on the same theme elsewhere. The
trees travel as JSON with a note of how they were fitted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from auditor.intent import context, features
from auditor.intent.context import second_look, strand_share
from auditor.intent.texture import Texture
from auditor.intent.trees import Trees, pulls, read_trees
from auditor.intent.windows import BoolArray, FloatArray
from auditor.model_files import read_json

MODEL = "reliance.json"


@dataclass(frozen=True, slots=True)
class Lead:
    """Who leads.

    Parameters
    ----------
    share, strand : ndarray, shape (lines, bars)
        Probability that an analyst would mark the line; that the strand it belongs to
        holds the marked line.
    pull : ndarray, shape (lines, bars, figures)
        What each figure of `features.NAMES`, then of `context.NAMES`, adds to a line's
        score; 0 where it rests.
    """

    share: FloatArray
    strand: FloatArray
    pull: FloatArray


@cache
def _looks() -> tuple[Trees, Trees]:
    """Trees of the first and of the second look."""
    model = read_json(MODEL)
    names = (tuple(model["first"]["names"]), tuple(model["second"]["names"]))
    if names != (features.NAMES, features.NAMES + context.NAMES):
        raise ValueError(f"models/{MODEL} was fitted to other figures; fit it again")
    return read_trees(model["first"]), read_trees(model["second"])


def compare(scores: FloatArray, on: BoolArray) -> FloatArray:
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


def _pull(trees: Trees, figures: FloatArray, on: BoolArray) -> FloatArray:
    out = np.zeros(figures.shape)
    out[on] = pulls(trees, figures[on])
    return out


def who_leads(
    texture: Texture,
    figures: FloatArray,
    on: BoolArray,
    label: NDArray[np.int64],
    looks: tuple[Trees, Trees] | None = None,
) -> Lead:
    """Compare the lines that sound in each bar.

    Parameters
    ----------
    texture
        The page's grid.
    figures : ndarray, shape (lines, bars, features)
        From `features.features`.
    on : ndarray of bool, shape (lines, bars)
        Where the line sounds.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    looks
        Trees of both looks; those of the model file if None.
    """
    first, second = _looks() if looks is None else looks
    begun = _pull(first, figures, on)
    share = compare(begun.sum(axis=2), on)
    both = np.concatenate([figures, second_look(texture, label, on, share)], axis=2)
    ended = _pull(second, both, on)
    # The first look reaches the second through its share: its reasons stand beside.
    share = compare(ended.sum(axis=2), on)
    ended[:, :, : figures.shape[2]] += begun
    return Lead(share, strand_share(share, label), ended)

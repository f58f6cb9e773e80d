"""A second look at who leads: what the first look says of the bars around and of the theme.

The figures here are made of a first opinion: a line's share of the lead, its strand's,
what they were in the bars before and after, and what the same figure was worth elsewhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from auditor.intent.recurrence import elsewhere
from auditor.intent.texture import Texture
from auditor.intent.windows import BoolArray, FloatArray, shifted

# Bars over which opinions are smoothed (standard deviation), and of the longer mean.
NEAR, FAR, PHRASE = 1.0, 2.5, 9
# Bars before (positive) and after from which opinions are taken over.
STEPS: tuple[int, ...] = (1, -1, 2, -2)
# Shares below this are all the same.
LEAST = 1e-4

NAMES: tuple[str, ...] = (
    "first:share", "first:strand", "first:log-share", "first:near", "first:far",
    *(f"first:{what}{-step:+d}" for step in STEPS for what in ("share", "strand")),
    "first:whole", "theme:mean", "theme:most", "first:strand-behind", "first:behind",
    "first:phrase", "first:strand-phrase", "first:within-strand", "first:doubt",
)  # fmt: skip


def strand_share(share: FloatArray, label: NDArray[np.int64]) -> FloatArray:
    """Give a share for the whole strand each line belongs to, (lines, bars)."""
    out = np.zeros_like(share)
    for i in range(share.shape[0]):
        out[i] = np.where(label == label[i], share, 0.0).sum(axis=0)
    return np.where(share > 0, out, 0.0)


def _smoothed(share: FloatArray, on: BoolArray, bars: float) -> FloatArray:
    """Mean of the logarithm over the bars around in which the line sounds."""
    log = np.where(on, np.log(np.maximum(share, LEAST)), 0.0)
    total = gaussian_filter1d(log, bars, axis=1, mode="constant")
    count = gaussian_filter1d(on.astype(float), bars, axis=1, mode="constant")
    out: FloatArray = np.maximum(total / np.maximum(count, 1e-6), -9.0)
    return out


def second_look(
    texture: Texture, label: NDArray[np.int64], on: BoolArray, share: FloatArray
) -> FloatArray:
    """Figures of a first opinion and its surroundings.

    Parameters
    ----------
    texture
        The page's grid.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    on : ndarray of bool, shape (lines, bars)
        Where the line sounds.
    share : ndarray, shape (lines, bars)
        First opinion on the share of the lead.

    Returns
    -------
    ndarray, shape (lines, bars, figures)
        In the order of `NAMES`.
    """
    strand = strand_share(share, label)
    zero = np.zeros_like(share)
    out = [share, strand, np.log(np.maximum(share, LEAST))]
    out += [_smoothed(share, on, NEAR), _smoothed(share, on, FAR)]
    for step in STEPS:
        out += [shifted(share, step), shifted(strand, step)]
    bars = np.maximum(on.sum(axis=1, keepdims=True), 1)
    out.append(share.sum(axis=1, keepdims=True) / bars + zero)
    out += elsewhere(texture, strand)
    out += [strand - strand.max(axis=0, initial=0.0), share - share.max(axis=0, initial=0.0)]
    out += [uniform_filter1d(x, PHRASE, axis=1, mode="constant") for x in (share, strand)]
    out.append(share / np.maximum(strand, 1e-9))
    out.append(1.0 - share.max(axis=0, initial=0.0) + zero)
    return np.stack(out, axis=2)

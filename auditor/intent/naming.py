"""By which of its carriers a reader names the leading strand."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.context import LEAST, strand_share
from auditor.intent.windows import BoolArray, FloatArray

# How much (logarithm of odds) speaks for the first violins, for the carrier that stands first
# on the page, and for the one named in the bar before. Round numbers: between 1 and 2 they
# served alike on eleven marked movements (tests/bench/reliance_bench.py).
VIOLINS, FIRST, GOES_ON = 1.5, 1.0, 1.5


def named(
    share: FloatArray, label: NDArray[np.int64], on: BoolArray, seats: tuple[str, ...]
) -> NDArray[np.int64]:
    """Row of the line by which the leading strand is named in each bar.

    Parameters
    ----------
    share : ndarray, shape (lines, bars)
        Probability that an analyst would mark the line.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    on : ndarray of bool, shape (lines, bars)
        Where the line sounds.
    seats
        Chair of each line.

    Returns
    -------
    ndarray of int, shape (bars,)
        The strand with the largest share leads, whoever names it.
    """
    strand = strand_share(share, label)
    out = np.argmax(strand + 1e-6 * share, axis=0) if share.size else np.zeros(0, np.int64)
    violins = np.array([seat == "violin-1" for seat in seats])
    for bar in range(out.size):
        rows = np.flatnonzero((label[:, bar] == label[out[bar], bar]) & on[:, bar])
        if rows.size < 2:
            continue
        odds = np.log(np.maximum(share[rows, bar], LEAST)) + VIOLINS * violins[rows]
        odds[0] += FIRST
        if bar:
            odds += GOES_ON * (rows == out[bar - 1])
        out[bar] = rows[np.argmax(odds)]
    return out

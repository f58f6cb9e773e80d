"""Sums of small decision trees, read from plain numbers and explained figure by figure.

A tree of depth d is three lists in heap order: node k asks whether figure ``feature[k]``
exceeds ``threshold[k]``; no sends it to node 2k + 1, yes to 2k + 2; a node that asks
nothing (feature -1) sends all to 2k + 1. ``value`` holds what each node is worth, the
inner ones included, so the way to a leaf can be told as steps, each due to one figure
(A. Saabas, "Interpreting random forests", 2014).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Trees:
    """Trees of one depth.

    Parameters
    ----------
    feature : ndarray of int, shape (trees, 2**depth - 1)
        Which figure each node asks about; -1 for none.
    threshold : ndarray, shape (trees, 2**depth - 1)
        What it is held against.
    value : ndarray, shape (trees, 2**(depth + 1) - 1)
        What each node is worth.
    """

    feature: NDArray[np.int64]
    threshold: FloatArray
    value: FloatArray

    @property
    def depth(self) -> int:
        """Questions on the way to a leaf."""
        return int(np.log2(self.value.shape[1] + 1)) - 1


def read_trees(held: Mapping[str, Sequence[Sequence[float]]]) -> Trees:
    """Trees as a JSON file holds them, under the names of `Trees`."""
    return Trees(
        np.asarray(held["feature"], np.int64),
        np.asarray(held["threshold"], float),
        np.asarray(held["value"], float),
    )


def worth(trees: Trees, rows: FloatArray) -> FloatArray:
    """Sum of the leaves each row falls into, (rows, figures) to (rows,)."""
    total: FloatArray = pulls(trees, rows).sum(axis=1) + trees.value[:, 0].sum()
    return total


def pulls(trees: Trees, rows: FloatArray) -> FloatArray:
    """What each figure adds on the ways to the leaves, (rows, figures).

    With the sum of all roots these add up to the rows' `worth`.
    """
    count, width = rows.shape
    out = np.zeros(count * width)
    base = np.arange(count) * width
    flat = np.ascontiguousarray(rows).ravel()
    for feature, threshold, value in zip(
        trees.feature, trees.threshold, trees.value, strict=True
    ):
        node = np.zeros(count, np.int64)
        for _ in range(trees.depth):
            asked = feature[node]
            at = base + np.maximum(asked, 0)
            yes = (asked >= 0) & (flat[at] > threshold[node])
            below = 2 * node + 1 + yes
            out[at] += np.where(asked >= 0, value[below] - value[node], 0.0)
            node = below
    return out.reshape(count, width)

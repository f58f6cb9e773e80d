"""Small decision trees for a choice among lines: boosted, compared within each bar.

Conditional logit (McFadden 1974) with trees for weights: each round grows a tree on the
slope and curvature of the likelihood (Friedman 2001; second order as in Chen and Guestrin
2016). Figures are cut into at most 32 bins, half way between values, so rounding in the
file moves no row to the other side.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from auditor.intent.trees import Trees

BINS = 32


@dataclass(frozen=True)
class Growth:
    """How trees are grown; chosen by cross-validation over works."""

    trees: int = 150
    depth: int = 4
    rate: float = 0.08
    ridge: float = 3.0
    least: float = 3.0
    figures: float = 0.4
    bars: float = 0.6
    seed: int = 0


FIRST, SECOND = Growth(), Growth(trees=80, depth=3, least=8.0)


@numba.njit(cache=True, fastmath=True)
def _best_splits(binned, slope, curve, node, count, asked, ridge, least):
    """Best figure and bin to part each node at; -1 where nothing is gained."""
    best = np.full(count, 1e-3)
    figure, place = np.full(count, -1), np.zeros(count, np.int64)
    g_all, h_all = np.zeros(count), np.zeros(count)
    for i in range(node.size):
        if node[i] >= 0:
            g_all[node[i]] += slope[i]
            h_all[node[i]] += curve[i]
    g, h = np.zeros((count, BINS)), np.zeros((count, BINS))
    for f in asked:
        g[:], h[:] = 0.0, 0.0
        for i in range(node.size):
            k = node[i]
            if k >= 0:
                g[k, binned[i, f]] += slope[i]
                h[k, binned[i, f]] += curve[i]
        for k in range(count):
            a = b = 0.0
            whole = g_all[k] ** 2 / (h_all[k] + ridge)
            for at in range(BINS - 1):
                a += g[k, at]
                b += h[k, at]
                if b < least:
                    continue
                if h_all[k] - b < least:
                    break
                right = (g_all[k] - a) ** 2 / (h_all[k] - b + ridge)
                gain = a * a / (b + ridge) + right - whole
                if gain > best[k]:
                    best[k], figure[k], place[k] = gain, f, at
    return figure, place, g_all, h_all


def _edges(x):
    """Cuts between neighbouring values of each figure, at most one fewer than bins."""
    out = []
    for column in x.T:
        values = np.unique(column)
        between = (values[1:] + values[:-1]) / 2
        if between.size > BINS - 1:
            wanted = np.quantile(column, np.linspace(0, 1, BINS + 1)[1:-1])
            at = np.searchsorted(values, np.unique(wanted), side="right") - 1
            between = between[np.unique(np.clip(at, 0, between.size - 1))]
        out.append(between)
    return out


def _grow(binned, edges, slope, curve, node, asked, how):
    """One tree in heap order: figure, cut and worth of each node."""
    inner, nodes = 2**how.depth - 1, 2 ** (how.depth + 1) - 1
    feature, cut, value = np.full(inner, -1), np.zeros(inner), np.zeros(nodes)
    for level in range(how.depth + 1):
        count, first = 2**level, 2**level - 1
        figure, place, g, h = _best_splits(
            binned, slope, curve, node, count,
            asked if level < how.depth else asked[:0], how.ridge, how.least,
        )  # fmt: skip
        own = -how.rate * g / (h + how.ridge)
        for k in range(count):
            at = first + k
            value[at] = own[k] if h[k] > 0 or at == 0 else value[(at - 1) // 2]
            if figure[k] >= 0:
                feature[at], cut[at] = figure[k], edges[figure[k]][place[k]]
        held = node >= 0
        k = node[held]
        yes = (figure[k] >= 0) & (
            binned[np.flatnonzero(held), np.maximum(figure[k], 0)] > place[k]
        )
        node[held] = 2 * k + yes
    return feature, cut, value


@numba.njit(cache=True)
def _leaves(x, feature, cut, value, depth):
    out = np.zeros(x.shape[0])
    for i in range(x.shape[0]):
        k = 0
        for _ in range(depth):
            k = 2 * k + 1 + int(feature[k] >= 0 and x[i, max(feature[k], 0)] > cut[k])
        out[i] = value[k]
    return out


def boost(x, target, group, how: Growth) -> Trees:
    """Fit trees: rows of figures, quarters each is marked, and the bar it belongs to."""
    rng = np.random.default_rng(how.seed)
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    count = np.diff(np.append(starts, group.size))
    total = np.add.reduceat(target, starts)
    want = target / np.repeat(total, count)
    # Long marks count more, but not in proportion: neighbouring quarters say the same.
    weight = np.repeat(np.sqrt(total) / np.sqrt(total).mean(), count)
    edges = _edges(x)
    binned = np.asfortranarray(
        np.stack([np.searchsorted(e, c) for e, c in zip(edges, x.T, strict=True)], 1), np.uint8
    )
    score, grown = np.zeros(len(x)), []
    for _ in range(how.trees):
        lift = np.exp(score - np.repeat(np.maximum.reduceat(score, starts), count))
        share = lift / np.repeat(np.add.reduceat(lift, starts), count)
        use = np.repeat(rng.random(starts.size) < how.bars, count)
        asked = rng.choice(x.shape[1], int(how.figures * x.shape[1]), replace=False)
        slope, curve = weight * (share - want), weight * share * (1 - share)
        node, asked = np.where(use, 0, -1), np.sort(asked)
        tree = _grow(binned, edges, slope, np.maximum(curve, 1e-6), node, asked, how)
        grown.append(tree)
        score += _leaves(x, *tree, how.depth)
    return Trees(*(np.array(column) for column in zip(*grown, strict=True)))

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
def _count(binned, slope, curve, rows, asked, held):
    """Add the slope and curvature of rows to their bins, (figures asked, BINS, 2)."""
    for q in range(asked.size):
        column, bins = binned[asked[q]], held[q]
        for i in rows:
            bins[column[i], 0] += slope[i]
            bins[column[i], 1] += curve[i]


@numba.njit(cache=True, fastmath=True)
def _best_split(held, g_all, h_all, ridge, least):
    """Best figure (among those asked) and bin to part a node at; -1 if nothing is gained."""
    best, figure, place = 1e-3, -1, 0
    whole = g_all**2 / (h_all + ridge)
    for q in range(held.shape[0]):
        a = b = 0.0
        for at in range(BINS - 1):
            a += held[q, at, 0]
            b += held[q, at, 1]
            if b < least:
                continue
            if h_all - b < least:
                break
            gain = a * a / (b + ridge) + (g_all - a) ** 2 / (h_all - b + ridge) - whole
            if gain > best:
                best, figure, place = gain, q, at
    return figure, place


@numba.njit(cache=True)
def _grow(binned, slope, curve, rows, asked, depth, ridge, least, rate):
    """One tree in heap order: figure, bin and worth of each node.

    Only the smaller child of a node is counted; the larger is what remains.
    """
    inner, nodes = 2**depth - 1, 2 ** (depth + 1) - 1
    feature, place, value = np.full(inner, -1), np.zeros(inner, np.int64), np.zeros(nodes)
    held = np.zeros((nodes, asked.size, BINS, 2))
    inside = [rows] + [rows[:0]] * (nodes - 1)
    _count(binned, slope, curve, rows, asked, held[0])
    value[0] = -rate * slope[rows].sum() / (curve[rows].sum() + ridge)
    for k in range(inner):
        here, no, yes = inside[k], 2 * k + 1, 2 * k + 2
        value[no] = value[yes] = value[k]
        if here.size == 0:
            continue
        g, h = slope[here].sum(), curve[here].sum()
        q, at = _best_split(held[k], g, h, ridge, least)
        if q < 0:
            continue
        feature[k], place[k] = asked[q], at
        above = binned[asked[q]][here] > at
        for child, part in ((no, here[~above]), (yes, here[above])):
            inside[child] = part
            value[child] = -rate * slope[part].sum() / (curve[part].sum() + ridge)
        if no < inner:
            small, large = (no, yes) if inside[no].size < inside[yes].size else (yes, no)
            _count(binned, slope, curve, inside[small], asked, held[small])
            held[large] = held[k] - held[small]
    return feature, place, value


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


@numba.njit(cache=True)
def _leaves(binned, feature, place, value, depth):
    out = np.zeros(binned.shape[1])
    for i in range(out.size):
        k = 0
        for _ in range(depth):
            k = 2 * k + 1 + int(feature[k] >= 0 and binned[feature[k], i] > place[k])
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
    binned = np.stack(
        [np.searchsorted(e, c).astype(np.uint8) for e, c in zip(edges, x.T, strict=True)]
    )
    score, grown = np.zeros(len(x)), []
    for _ in range(how.trees):
        lift = np.exp(score - np.repeat(np.maximum.reduceat(score, starts), count))
        share = lift / np.repeat(np.add.reduceat(lift, starts), count)
        use = np.flatnonzero(np.repeat(rng.random(starts.size) < how.bars, count))
        asked = np.sort(rng.choice(x.shape[1], int(how.figures * x.shape[1]), replace=False))
        slope, curve = weight * (share - want), np.maximum(weight * share * (1 - share), 1e-6)
        feature, place, value = _grow(
            binned, slope, curve, use, asked, how.depth, how.ridge, how.least, how.rate
        )
        at = zip(feature.tolist(), place.tolist(), strict=True)
        grown.append((feature, [edges[f][p] if f >= 0 else 0.0 for f, p in at], value))
        score += _leaves(binned, feature, place, value, how.depth)
    return Trees(*(np.array(column) for column in zip(*grown, strict=True)))

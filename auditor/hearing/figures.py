"""From sums over frames to the figures of notes, lines and groups."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.masking import ALONE, BELOW, DISTINCT, PARTIAL
from auditor.hearing.measures import Measures
from auditor.hearing.sweep import COVER, FRAMES, LOST, OWNED, POWER, Sweep
from auditor.hearing.targets import Spans
from auditor.units import db_to_power, power_to_db

# A margin is the mean over the best three tenths of the frames, at least three: a note is
# noticed by its clearest moments (own choice; `loudness_ratio` decides, not this).
_BEST_SHARE = 0.3
_BEST_FRAMES = 3

Floats = NDArray[np.float64]

# Fields that are medians of notes' figures.
_MEDIANS = (
    "alone_sone", "partial_sone", "loudness_ratio", "distinct_ratio", "margin_db",
    "covered_share", "ownership",
)  # fmt: skip


def ratio(part: Floats, whole: Floats) -> Floats:
    """Part over whole; 0 where there is nothing, NaN where it was not judged."""
    out = np.divide(part, whole, out=np.zeros_like(part), where=whole > 0)
    return np.where(np.isnan(whole), np.nan, out)


def _margins_db(spans: Spans, sweep: Sweep) -> Floats:
    # The looks add as squared ratios; sqrt makes one Cam at threshold 0 dB.
    look_db = 0.5 * power_to_db(sweep.look, floor_db=-120.0)
    out = np.full(spans.start.size, np.nan)
    for i in range(spans.start.size):
        values = look_db[spans.row[i], spans.start[i] : spans.stop[i]]
        if values.size:
            best = min(max(_BEST_FRAMES, round(_BEST_SHARE * values.size)), values.size)
            out[i] = np.partition(values, values.size - best)[-best:].mean()
    return out


def shares(cover: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Line that masks most (-1 if none) and every line's share, from sums (n, lines)."""
    total = cover.sum(axis=1, keepdims=True)
    share = np.divide(cover, total, out=np.zeros_like(cover), where=total > 0)
    by = np.where(total[:, 0] > 0, cover.argmax(axis=1), -1).astype(np.int64)
    return by, share


def span_measures(spans: Spans, sweep: Sweep) -> Measures:
    """Figures of every span; NaN where a span has no frames."""
    sums = sweep.sums
    frames = np.where(sums[:, FRAMES] > 0, sums[:, FRAMES], np.nan)
    alone = np.where(np.isnan(frames), np.nan, sums[:, ALONE])
    lost = sums[:, LOST:COVER]
    by, cover = shares(sums[:, COVER:])
    return Measures(
        level_db=power_to_db(sums[:, POWER] / frames),
        alone_sone=alone / frames,
        partial_sone=sums[:, PARTIAL] / frames,
        loudness_ratio=ratio(sums[:, PARTIAL], alone),
        distinct_ratio=ratio(sums[:, DISTINCT], alone),
        margin_db=_margins_db(spans, sweep),
        covered_share=ratio(sums[:, BELOW], alone),
        covered_by=by,
        cover_share=cover,
        register_share=shares(lost)[1],
        ownership=sums[:, OWNED] / frames,
    )


def take(measures: Measures, which: NDArray[np.int64] | slice) -> Measures:
    """Pick some of the things measured, in the order asked for."""
    return Measures(*(getattr(measures, name)[which] for name in Measures.__slots__))


def weighted_median(values: Floats, weight: Floats) -> float:
    """Value at which half the weight is reached; NaN without any."""
    use = np.isfinite(values) & (weight > 0)
    if not use.any():
        return float("nan")
    order = np.argsort(values[use], kind="stable")
    reached = np.cumsum(weight[use][order])
    place = np.searchsorted(reached, 0.5 * reached[-1])
    return float(values[use][order][min(place, reached.size - 1)])


def gathered(
    parts: Measures, sums: Floats, owner: NDArray[np.int64], weight: Floats, count: int
) -> Measures:
    """Figures of things made of parts: lines of notes, groups of moments.

    Parameters
    ----------
    parts
        Measures of the parts.
    sums : ndarray, shape (parts, COVER + lines)
        Sums behind them, for the shares.
    owner : ndarray of int, shape (parts,)
        What each part belongs to.
    weight : ndarray, shape (parts,)
        Seconds; 0 leaves a part out.
    count
        How many things there are.
    """
    medians = {name: np.full(count, np.nan) for name in _MEDIANS}
    level = np.full(count, np.nan)
    total = np.zeros((count, sums.shape[1]))
    np.add.at(total, owner, np.nan_to_num(sums))
    for k in range(count):
        mine = np.flatnonzero((owner == k) & (weight > 0))
        if mine.size == 0:
            continue
        for name in _MEDIANS:
            medians[name][k] = weighted_median(getattr(parts, name)[mine], weight[mine])
        power = db_to_power(parts.level_db[mine])
        level[k] = float(power_to_db(np.average(power, weights=weight[mine])))
    by, cover = shares(total[:, COVER:])
    return Measures(
        level_db=level,
        covered_by=by,
        cover_share=cover,
        register_share=shares(total[:, LOST:COVER])[1],
        **medians,
    )

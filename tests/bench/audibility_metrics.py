"""Figures of merit: estimated audibility against the truth, with intervals by composition."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata, spearmanr

from auditor.hearing.measures import Limits

LIMITS = Limits()
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pairs:
    """Truth and estimate of n lines or notes, arrays of shape (n,).

    `seed` is the composition, which the bootstrap draws; `family` and `situation` say what
    kind of line it is; `coverer_right` is NaN where nobody covers.
    """

    truth: Floats
    estimate: Floats
    true_db: Floats
    estimated_db: Floats
    coverer_right: Floats
    seed: NDArray[np.int64]
    family: NDArray[np.str_]
    situation: NDArray[np.str_]

    def where(self, mask: NDArray[np.bool_] | NDArray[np.int64]) -> Pairs:
        return Pairs(*(getattr(self, name)[mask] for name in Pairs.__slots__))


def joined(many: Sequence[Pairs]) -> Pairs:
    """Put the pairs of many cases one after another."""
    return Pairs(*(np.concatenate([getattr(p, n) for p in many]) for n in Pairs.__slots__))


def auc(positive: NDArray[np.bool_], score: Floats) -> float:
    """Area under the ROC curve, ties counted half (Mann and Whitney)."""
    yes, no = int(positive.sum()), int((~positive).sum())
    if not yes or not no:
        return float("nan")
    ranks = rankdata(score)
    return float((ranks[positive].sum() - yes * (yes + 1) / 2) / (yes * no))


def _f1(true: NDArray[np.bool_], said: NDArray[np.bool_]) -> float:
    both = 2 * int((true & said).sum())
    return both / max(1, int(true.sum()) + int(said.sum()))


def figures(pairs: Pairs) -> dict[str, float]:
    """Every figure by name; NaN where there is nothing to tell apart."""
    covered, said = pairs.truth < LIMITS.covered, pairs.estimate < LIMITS.covered
    limits = [LIMITS.covered, LIMITS.clear]
    gross = np.abs(np.digitize(pairs.truth, limits) - np.digitize(pairs.estimate, limits)) == 2
    error = np.abs(pairs.estimated_db - pairs.true_db)
    share = float(covered.mean())
    with np.errstate(invalid="ignore"):
        rho = spearmanr(pairs.truth, pairs.estimate)[0] if np.ptp(pairs.truth) else np.nan
    hit = float((covered & said).sum() / max(1, covered.sum()))
    miss = float((~covered & ~said).sum() / max(1, (~covered).sum()))
    right = pairs.coverer_right[np.isfinite(pairs.coverer_right)]
    return {
        "covered": share,
        "rho": float(rho),
        "AUC": auc(covered, -pairs.estimate),
        "F1 covered": _f1(covered, said),
        "balanced": (hit + miss) / 2,
        "F1 audible": _f1(~covered, ~said),
        "always F1": 2 * share / (1 + share),
        "gross": float(gross.mean()),
        "level MAE dB": float(np.nanmean(error)),
        "level median dB": float(np.nanmedian(error)),
        "coverer": float(right.mean()) if right.size else float("nan"),
    }


def intervals(pairs: Pairs, draws: int = 200) -> dict[str, float]:
    """Half the 95 % bootstrap interval of each figure, drawing whole compositions."""
    rng = np.random.default_rng(1)
    seeds = np.unique(pairs.seed)
    rows = {seed: np.flatnonzero(pairs.seed == seed) for seed in seeds}
    seen: dict[str, list[float]] = {}
    for _ in range(draws):
        chosen = np.concatenate([rows[s] for s in rng.choice(seeds, seeds.size)])
        for name, value in figures(pairs.where(chosen)).items():
            seen.setdefault(name, []).append(value)
    return {
        name: float(np.nanpercentile(v, 97.5) - np.nanpercentile(v, 2.5)) / 2
        for name, v in seen.items()
        if np.isfinite(v).any()
    }


def show(title: str, pairs: Pairs, print_line: Callable[[str], None]) -> None:
    """Print the whole, then families and situations with more than eight members."""
    own, spread = figures(pairs), intervals(pairs)
    print_line(f"{title}: {pairs.truth.size}, from {np.unique(pairs.seed).size} compositions")
    for name, value in own.items():
        print_line(f"  {name:16s} {value:6.3f} ± {spread.get(name, float('nan')):.3f}")
    head = "  {:22s} {:>5s} {:>6s} {:>6s} {:>6s} {:>6s} {:>7s} {:>7s}"
    print_line(head.format("", "n", "cov'd", "AUC", "F1c", "F1a", "MAE dB", "coverer"))
    for kinds in (pairs.situation, pairs.family):
        for kind in np.unique(kinds):
            some = pairs.where(kinds == kind)
            if some.truth.size <= 8:
                continue
            f = figures(some)
            print_line(
                f"  {kind:22s} {some.truth.size:5d} {f['covered']:6.2f} "
                f"{f['AUC']:6.3f} {f['F1 covered']:6.3f} {f['F1 audible']:6.3f} "
                f"{f['level MAE dB']:7.2f} {f['coverer']:7.2f}"
            )

"""Fits the confidence model: the probability that heard against covered is right.

A logistic regression (scikit-learn) on the features of `auditor.hearing.confidence`. It is
trained on the cases of one font group and tested on the other, both ways, on compositions
the training has not met; what is written comes from all cases given.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from audibility_metrics import LIMITS, Pairs, auc
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

if TYPE_CHECKING:
    from audibility_bench import Result

OUT = Path(__file__).parents[2] / "models" / "hearing_confidence.json"
Floats = NDArray[np.float64]


def _data(results: Sequence[Result], kind: str) -> tuple[Floats, NDArray[np.bool_]]:
    values, right = [], []
    for result in results:
        pairs: Pairs = getattr(result, kind)
        table = result.features[kind][1]
        if len(table) != pairs.truth.size:
            raise SystemExit(
                "a case holds things that were not judged; leave it out of the fit"
            )
        values.append(table)
        right.append((pairs.truth < LIMITS.covered) == (pairs.estimate < LIMITS.covered))
    return np.concatenate(values), np.concatenate(right)


def _fit(values: Floats, right: NDArray[np.bool_], names: Sequence[str]) -> dict[str, Any]:
    mean, scale = values.mean(axis=0), values.std(axis=0)
    scale[scale < 1e-9] = 1.0
    model = LogisticRegression(C=0.3, max_iter=2000).fit((values - mean) / scale, right)
    return {
        "names": list(names),
        "mean": [round(float(v), 5) for v in mean],
        "scale": [round(float(v), 5) for v in scale],
        "coefficients": [round(float(v), 5) for v in model.coef_[0]],
        "intercept": round(float(model.intercept_[0]), 5),
    }


def _predict(model: dict[str, Any], values: Floats) -> Floats:
    scaled = (values - np.array(model["mean"])) / np.array(model["scale"])
    logit = scaled @ np.array(model["coefficients"]) + model["intercept"]
    return np.asarray(1 / (1 + np.exp(-np.clip(logit, -30, 30))))


def expected_calibration_error(probability: Floats, right: NDArray[np.bool_]) -> float:
    """Mean gap between probability and frequency over ten bins of equal count."""
    bins = np.array_split(np.argsort(probability), 10)
    gaps = [abs(probability[b].mean() - right[b].mean()) * b.size for b in bins if b.size]
    return float(sum(gaps) / probability.size)


def _say(title: str, probability: Floats, right: NDArray[np.bool_]) -> None:
    print(f"{title}: {right.size}, wrong {1 - right.mean():.3f}, "
          f"AUC right {auc(right, probability):.3f}, "
          f"ECE {expected_calibration_error(probability, right):.3f}, "
          f"Brier {np.mean((probability - right) ** 2):.3f}")  # fmt: skip
    order = np.argsort(probability)
    for share in (0.1, 0.15, 0.2):
        kept = order[int(share * order.size) :]
        print(f"  least sure {share:.0%} undecided: {1 - right[kept].mean():.3f} wrong")


def _across(results: Sequence[Result], kind: str) -> None:
    """Train on one group's odd compositions, test on the other group's even ones, and so on."""
    groups = sorted({result.group for result in results})
    told, true = [], []
    for test in groups:
        for half in (0, 1):
            train = [r for r in results if r.group != test and r.lines.seed[0] % 2 == half]
            judged = [r for r in results if r.group == test and r.lines.seed[0] % 2 != half]
            if not train or not judged:
                continue
            model = _fit(*_data(train, kind), results[0].features[kind][0])
            values, right = _data(judged, kind)
            told.append(_predict(model, values))
            true.append(right)
    if told:
        _say(f"confidence of {kind}, other group and other compositions",
             np.concatenate(told), np.concatenate(true))  # fmt: skip


def fit_confidence(results: Sequence[Result]) -> None:
    """Print how the model does on what it has not met, then fit on everything and write."""
    out: dict[str, Any] = {
        "made_by": "tests/bench/audibility_bench.py --fit",
        "cases": len(results),
        "font_groups": sorted({result.group for result in results}),
    }
    for kind in ("notes", "lines"):
        _across(results, kind)
        out[kind] = _fit(*_data(results, kind), results[0].features[kind][0])
    OUT.write_text(json.dumps(out, indent=1) + "\n", encoding="utf-8")
    print(f"wrote {OUT}")

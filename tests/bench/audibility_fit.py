"""Fits the confidence model: the probability that heard against covered is right.

    audibility_fit.py KEPT ...

KEPT are folders of `audibility_bench.py --keep`. A logistic regression (scikit-learn) on
the features of `auditor.hearing.confidence` is trained on the cases of one font group and
tested on the others, on compositions the training has not met, with and without the colour
of the notes; what is written to models/hearing_confidence.json comes from all cases given.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import sklearn
from audibility_kept import Result, kept
from audibility_metrics import LIMITS, Pairs, auc
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

# Timbre of single notes. Averaged over a line it told nothing on other compositions (AUC of
# right verdicts 0.814 with, 0.835 without, 406 lines); for notes it did (0.801, 0.792) until
# templates were evened out, and harms nothing since (0.820, 0.821).
COLOUR = ("brightness", "attack")
LEFT_OUT = {"notes": (), "lines": COLOUR}

OUT = Path(__file__).parents[2] / "models" / "hearing_confidence.json"
Floats = NDArray[np.float64]


def right_verdicts(pairs: Pairs) -> NDArray[np.bool_]:
    """Whether heard against covered was told apart rightly, shape (n,)."""
    right: NDArray[np.bool_] = (pairs.truth < LIMITS.covered) == (
        pairs.estimate < LIMITS.covered
    )
    return right


def data(
    results: Sequence[Result], kind: str, names: Sequence[str]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Columns of all results, and which verdicts were right."""
    values = [columns(result, kind, names) for result in results]
    right = [right_verdicts(getattr(result, kind)) for result in results]
    return np.concatenate(values), np.concatenate(right)


def columns(result: Result, kind: str, names: Sequence[str]) -> Floats:
    """Pick columns of what the model saw, by name."""
    known, values = result.features[kind]
    return values[:, [known.index(name) for name in names]]


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


def predicted(model: dict[str, Any], values: Floats) -> Floats:
    """Probability that the verdict is right, as the program computes it, shape (n,)."""
    scaled = (values - np.array(model["mean"])) / np.array(model["scale"])
    logit = scaled @ np.array(model["coefficients"]) + model["intercept"]
    return np.asarray(1 / (1 + np.exp(-np.clip(logit, -30, 30))))


def expected_calibration_error(probability: Floats, right: NDArray[np.bool_]) -> float:
    """Mean gap between probability and frequency over ten bins of equal count."""
    bins = np.array_split(np.argsort(probability), 10)
    gaps = [abs(probability[b].mean() - right[b].mean()) * b.size for b in bins if b.size]
    return float(sum(gaps) / probability.size)


def quality(probability: Floats, right: NDArray[np.bool_]) -> dict[str, float]:
    """Name what the confidence is worth; `wrong kept` is after dropping the least sure 15 %."""
    kept_rows = np.argsort(probability)[int(0.15 * right.size) :]
    return {
        "n": int(right.size),
        "wrong": round(1 - float(right.mean()), 4),
        "wrong_kept": round(1 - float(right[kept_rows].mean()), 4),
        "auc_right": round(auc(right, probability), 4),
        "ece": round(expected_calibration_error(probability, right), 4),
    }


def _across(results: Sequence[Result], kind: str, names: Sequence[str]) -> dict[str, float]:
    """Train on the other groups' odd compositions, test on one group's even ones, and so on."""
    told, true = [], []
    for test in sorted({result.group for result in results}):
        for half in (0, 1):
            train = [r for r in results if r.group != test and r.lines.seed[0] % 2 == half]
            judged = [r for r in results if r.group == test and r.lines.seed[0] % 2 != half]
            if not train or not judged:
                continue
            model = _fit(*data(train, kind, names), names)
            values, right = data(judged, kind, names)
            told.append(predicted(model, values))
            true.append(right)
    return quality(np.concatenate(told), np.concatenate(true))


def _provenance(results: Sequence[Result], names: Sequence[str]) -> dict[str, Any]:
    listed = "\n".join(sorted(names))
    return {
        "made_by": "tests/bench/audibility_fit.py",
        "cases": len(results),
        "cases_sha256": hashlib.sha256(listed.encode()).hexdigest(),
        "compositions": sorted({int(result.lines.seed[0]) for result in results}),
        "font_groups": sorted({result.group for result in results}),
        "numpy": np.__version__,
        "scikit_learn": sklearn.__version__,
    }


def main() -> None:
    folders = [Path(given) for given in sys.argv[1:]]
    if not folders:
        raise SystemExit("usage: audibility_fit.py KEPT ...")
    results = kept(folders)
    names = [f"{path.parent.name}/{path.stem}" for f in folders for path in f.glob("*.npz")]
    out = _provenance(results, names)
    for kind in ("notes", "lines"):
        known = results[0].features[kind][0]
        plain = [name for name in known if name not in COLOUR]
        used = [name for name in known if name not in LEFT_OUT[kind]]
        print(kind, "without colour", _across(results, kind, plain))
        print(kind, "with colour", _across(results, kind, known))
        out[kind] = _fit(*data(results, kind, used), used)
        out[kind]["other_group_and_compositions"] = _across(results, kind, used)
    OUT.write_text(json.dumps(out, indent=1) + "\n", encoding="utf-8")
    print(f"wrote {OUT}")


if __name__ == "__main__":
    main()

"""Fit the confidence of a bar on the fitting performances and write models/.

    python tests/bench/alignment_fit.py FOLDER [--write]

A bar is good when the median error of its onsets is below 150 ms. Bad bars come from
right paths led astray and from the scores of other works. Judged by leaving one score
out at a time: all bars of its sounds are foretold by a model that saw none of them.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from alignment_items import Item, excerpt, perform, read_work
from alignment_sets import FITTING, SEEN
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression
from sklearn.metrics import brier_score_loss, roc_auc_score

from auditor.alignment import confidence
from auditor.alignment.aligning import evidence_of, trace
from auditor.alignment.performed import rising
from auditor.alignment.timeline import Stretch, Timeline
from auditor.errors import AlignmentError
from auditor.score.notes import Score
from auditor.sound.features import Features, listen

GOOD_S = 0.15
MODEL = Path(__file__).parents[2] / "models" / confidence.MODEL
F64 = NDArray[np.float64]
Rows = tuple[NDArray[np.float64], NDArray[np.bool_]]


def bars_of(
    score: Score,
    features: Features,
    stretches: tuple[Stretch, ...],
    onset_s: NDArray[np.float64],
) -> Rows:
    """Figures of each placed bar that has notes, and whether it is good."""
    figures = evidence_of(score, features, stretches).figures
    placed = Timeline(stretches, (), ()).seconds([n.onset for n in score.notes])
    error = np.nan_to_num(np.abs(placed - onset_s), nan=9.0)
    rows, good = [], []
    for bar in score.bars:
        notes = [k for k, n in enumerate(score.notes) if n.bar == bar.index and not n.grace]
        if notes and np.isfinite(figures[bar.index, 0]):
            rows.append(figures[bar.index])
            good.append(np.median(error[notes]) < GOOD_S)
    return np.array(rows).reshape(-1, 5), np.array(good, dtype=np.bool_)


def gather(items: tuple[Item, ...], folder: Path) -> tuple[F64, NDArray[np.bool_], list[str]]:
    """Bars of right, led astray and wrong pairs; figures, good or not, and whose sound."""
    parts: list[Rows] = []
    works: list[str] = []
    for k, item in enumerate(items):
        one = perform(item, folder)
        heard = listen(one.sound.samples)
        right = trace(one.score, heard).stretches
        found = [bars_of(one.score, heard, right, one.onset_s)]
        wrong = astray(right, np.random.default_rng(k))
        found.append(bars_of(one.score, heard, wrong, one.onset_s))
        other = next(i for i in (*items[k + 1 :], *items) if i.work != item.work)
        page = excerpt(read_work(other.work), other.bars)
        try:
            lost = trace(page, heard).stretches
        except AlignmentError:
            pass
        else:
            found.append(bars_of(page, heard, lost, np.full(len(page.notes), np.nan)))
        parts += found
        works += [item.work] * sum(len(good) for _, good in found)
        print(f"{item.name}: {[len(good) for _, good in found]}", flush=True)
    return np.concatenate([f for f, _ in parts]), np.concatenate([g for _, g in parts]), works


def left_out(figures: F64, good: NDArray[np.bool_], works: list[str]) -> F64:
    """Probability of each bar from a model that met no sound of its score."""
    out = np.zeros(len(good))
    names = np.array(works)
    for name in dict.fromkeys(works):
        test = names == name
        mean, scale = figures[~test].mean(axis=0), figures[~test].std(axis=0)
        model = LogisticRegression(C=1.0).fit((figures[~test] - mean) / scale, good[~test])
        out[test] = model.predict_proba((figures[test] - mean) / scale)[:, 1]
    return out


def astray(stretches: tuple[Stretch, ...], rng: np.random.Generator) -> tuple[Stretch, ...]:
    """Lead the path off and back by up to 2 s, here and there."""
    out = []
    for run in stretches:
        grid = np.arange(run.seconds[0], run.seconds[-1] + 12.0, 6.0)
        off = rng.uniform(-2, 2, grid.size) * (rng.random(grid.size) < 0.4)
        moved = run.seconds + np.interp(run.seconds, grid, off)
        out.append(Stretch(run.quarters, rising(np.maximum(moved, 0.0))))
    return tuple(out)


def calibration_error(p: NDArray[np.float64], good: NDArray[np.bool_]) -> float:
    """Mean gap between promised and kept, over ten equal bins of probability."""
    group = np.minimum((10 * p).astype(int), 9)
    gaps = [
        (group == k).mean() * abs(p[group == k].mean() - good[group == k].mean())
        for k in range(10)
        if (group == k).any()
    ]
    return float(sum(gaps))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    figures, good, works = gather(FITTING + SEEN, options.folder)
    figures = np.nan_to_num(np.clip(figures, -5.0, 10.0))
    mean, scale = figures.mean(axis=0), figures.std(axis=0)
    fitted = LogisticRegression(C=1.0).fit((figures - mean) / scale, good)
    p, kept = left_out(figures, good, works), good
    metrics = {
        "bars": len(p), "good_share": round(float(kept.mean()), 3),
        "auc": round(float(roc_auc_score(kept, p)), 4),
        "brier": round(float(brier_score_loss(kept, p)), 4),
        "calibration_error": round(calibration_error(p, kept), 4),
        "good_kept_at_0.8": round(float((p[kept] >= 0.8).mean()), 4),
        "kept_that_are_good": round(float(kept[p >= 0.8].mean()), 4),
    }  # fmt: skip
    print(json.dumps(metrics, indent=1))
    if options.write:
        named = {
            part: dict(zip(confidence.NAMES, np.round(values, 6).tolist(), strict=True))
            for part, values in (("mean", mean), ("scale", scale), ("weight", fitted.coef_[0]))
        }
        record = {
            "how": "logistic regression by tests/bench/alignment_fit.py on made performances "
            "(music21 corpus, four sound fonts); good: median onset error of the bar below "
            "150 ms; bad bars from paths led astray and scores of other works; held_out: one "
            "score left out at a time",
            "fitted_on_bars": len(good),
            "held_out": metrics,
            **named,
            "bias": round(float(fitted.intercept_[0]), 6),
        }  # fmt: skip
        MODEL.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

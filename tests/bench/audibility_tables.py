"""Tables of docs/evaluation.md, from results that audibility_bench.py kept.

    audibility_tables.py TITLE=KEPT[,KEPT ...] ... [--model FILE] [--kinds]

Prints Markdown: figures with half their 95 % intervals by composition, what the confidence
is worth, and with --kinds a table by situation and family of each set.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from audibility_fit import OUT, data, predicted, quality
from audibility_kept import KINDS, Result, kept
from audibility_metrics import Pairs, figures, intervals, joined

SHOWN = (
    ("covered", "AUC", "F1 covered", "always F1", "balanced", "F1 audible"),
    ("rho", "gross", "level MAE dB", "level median dB", "coverer"),
)
# Fewer than this many of a kind say nothing.
_FEWEST = 9


def _row(*cells: object) -> None:
    print("| " + " | ".join(str(cell) for cell in cells) + " |")


def _head(*cells: str) -> None:
    print()
    _row(*cells)
    _row("---", *("---:" for _ in cells[1:]))


def main_table(sets: dict[str, list[Result]], kind: str) -> None:
    """Print each figure of each set as value ± half interval."""
    whole = {title: joined([getattr(r, kind) for r in rs]) for title, rs in sets.items()}
    told = {title: (figures(pairs), intervals(pairs)) for title, pairs in whole.items()}
    for names in SHOWN:
        _head(kind, "n", *names)
        for title, (own, spread) in told.items():
            cells = [f"{own[n]:.3f} ± {spread.get(n, np.nan):.3f}" for n in names]
            _row(title, whole[title].truth.size, *cells)


def confidence_table(sets: dict[str, list[Result]], model: dict[str, Any], kind: str) -> None:
    """Print calibration, and errors when the least sure are left undecided."""
    names = (
        "wrong",
        "ECE",
        "AUC of right",
        "wrong, surest 85 %",
        "undecided",
        "wrong, decided",
    )
    _head(f"confidence of {kind}", "n", *names)
    for title, results in sets.items():
        values, right = data(results, kind, model[kind]["names"])
        undecided = np.concatenate([r.undecided[kind] for r in results])
        q = quality(predicted(model[kind], values), right)
        _row(title, right.size, *(f"{q[n]:.3f}" for n in ("wrong", "ece", "auc_right")),
             f"{q['wrong_kept']:.3f}", f"{undecided.mean():.3f}",
             f"{1 - right[~undecided].mean():.3f}")  # fmt: skip


def kinds_table(pairs: Pairs) -> None:
    """Print one row for each situation and family with enough members."""
    names = ("covered", "AUC", "F1 covered", "F1 audible", "level MAE dB", "coverer")
    _head("kind", "n", *names)
    for column in (pairs.situation, pairs.family):
        for kind in np.unique(column):
            some = pairs.where(column == kind)
            if some.truth.size >= _FEWEST:
                own = figures(some)
                _row(kind, some.truth.size, *(f"{own[n]:.2f}" for n in names))


def _sets(given: Sequence[str]) -> dict[str, list[Result]]:
    split = [item.partition("=") for item in given]
    return {title: kept([Path(p) for p in paths.split(",")]) for title, _, paths in split}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("sets", nargs="+", metavar="TITLE=KEPT")
    parser.add_argument("--model", type=Path, default=OUT)
    parser.add_argument("--kinds", action="store_true")
    given = parser.parse_args()
    sets = _sets(given.sets)
    model = json.loads(given.model.read_text(encoding="utf-8"))
    for kind in KINDS:
        main_table(sets, kind)
    for kind in KINDS:
        confidence_table(sets, model, kind)
    if given.kinds:
        for title, results in sets.items():
            print(f"\n{title}: {len(results)} cases")
            kinds_table(joined([result.lines for result in results]))


if __name__ == "__main__":
    main()

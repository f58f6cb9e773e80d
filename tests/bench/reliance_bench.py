"""How often the leading strand holds the part an analyst marks as the main one.

Usage: python tests/bench/reliance_bench.py FOLDER [--fit models/reliance.json]

FOLDER holds one folder a movement, each with ``score.mxl`` and ``annotations.csv``
(columns qstamp and part_num: from this written quarter on, this part is the main one,
counted from 0). Each written moment counts once, by its first playing; moments in which
the marked part is silent are left out. With --fit the model is fitted and
cross-validated by work (movements that share a name up to the last underscore).
"""

from __future__ import annotations

import argparse
import csv
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from auditor.intent.doublings import find_doublings
from auditor.intent.features import FIGURES, NAMES
from auditor.intent.leading import compare, strand_share
from auditor.intent.reliance import look_at, read_intent
from auditor.intent.strands import components, joined
from auditor.intent.texture import CELL, lay_out
from auditor.score.reading import read_score


@dataclass
class Movement:
    name: str
    table: np.ndarray  # (lines, bars, features)
    on: np.ndarray  # (lines, bars)
    label: np.ndarray  # (lines, bars)
    truth: np.ndarray  # (parts, lines, bars): quarters the part is marked and the line sounds
    part: np.ndarray  # (lines,)
    role: tuple[tuple[str, ...], ...]

    @property
    def work(self) -> str:
        return self.name.rsplit("_", 1)[0]


def marked_parts(score, rows) -> np.ndarray:
    """Give the marked part (1-based) in each cell of the played axis; 0 where none counts."""
    texture = lay_out(score)
    written = {b.written_index: b.duration for b in score.bars}
    start, at = {}, 0.0
    for index in sorted(written):
        start[index] = at
        at += written[index]
    onset = np.array([float(r["qstamp"]) for r in rows])
    number = np.array([int(r["part_num"]) + 1 for r in rows])
    order = np.argsort(onset, kind="stable")
    onset, number = onset[order], number[order]
    out = np.zeros(texture.bar.size, int)
    seen = set()
    for bar in score.bars:
        if bar.written_index in seen:
            continue
        seen.add(bar.written_index)
        a, z = texture.starts[bar.index], texture.starts[bar.index + 1]
        place = start[bar.written_index] + (np.arange(z - a) + 0.5) * CELL
        at = np.searchsorted(onset, place, side="right") - 1
        out[a:z] = np.where(at >= 0, number[np.maximum(at, 0)], 0)
    return out


def load(folder: Path) -> Movement:
    score = read_score(folder / "score.mxl")
    with (folder / "annotations.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    texture = lay_out(score)
    label = components(joined(find_doublings(score, texture), texture), len(score.lines))
    table, on = look_at(score, texture, label)
    main = marked_parts(score, rows)
    part = np.array([line.part for line in score.lines])
    truth = np.zeros((len(score.parts) + 1, *on.shape))
    for number in np.unique(main[main > 0]):
        cells = (texture.active & (main == number)).astype(float)
        summed = np.concatenate([np.zeros((on.shape[0], 1)), np.cumsum(cells, axis=1)], axis=1)
        truth[number] = np.diff(summed[:, texture.starts], axis=1) * CELL
    try:
        role = read_intent(score).role
    except FileNotFoundError:
        role = ()
    return Movement(folder.name, table, on, label, truth, part, role)


def hits(movement: Movement, choice: np.ndarray) -> np.ndarray:
    """Quarters: chosen line's part is marked; its strand holds the marked part; all."""
    bars = np.arange(choice.size)
    exact = wide = total = 0.0
    for number in range(1, movement.truth.shape[0]):
        own = movement.part == number
        if not own.any():
            continue
        quarters = movement.truth[number][own].max(axis=0)
        same = (movement.label[own] == movement.label[choice, bars]).any(axis=0)
        is_it = movement.part[choice] == number
        exact += float((quarters * is_it).sum())
        wide += float((quarters * (is_it | same)).sum())
        total += float(quarters.sum())
    return np.array([exact, wide, total])


def highest(m: Movement) -> np.ndarray:
    return np.where(m.on, m.table[:, :, FIGURES.index("below-highest")], -99).argmax(axis=0)


def first_violin_else_highest(m: Movement) -> np.ndarray:
    choice = highest(m)
    for row in np.flatnonzero(m.table[:, 0, NAMES.index("chair:violin-1")] > 0)[::-1]:
        choice = np.where(m.on[row], row, choice)
    return choice


def by_strand(m: Movement, score: np.ndarray) -> np.ndarray:
    share = compare(score, m.on)
    return np.argmax(strand_share(share, m.label) + 1e-6 * share, axis=0)


def shipped(m: Movement) -> np.ndarray:
    """First line in the leading role of each bar."""
    leads = np.array([[r == "leading" for r in row] for row in m.role])
    return leads.argmax(axis=0)


def choices(movements: list[Movement]):
    """Rows of figures of sounding lines, their share of the truth, and their bar."""
    rows, target, group, k = [], [], [], 0
    for m in movements:
        marked = m.truth[m.part, np.arange(m.part.size)]  # (lines, bars)
        for bar in np.flatnonzero(marked.sum(axis=0) > 0):
            on = m.on[:, bar]
            rows.append(m.table[on, bar])
            target.append(marked[on, bar])
            group.append(np.full(on.sum(), k))
            k += 1
    return np.concatenate(rows), np.concatenate(target), np.concatenate(group)


def fit(movements: list[Movement], ridge: float = 1e-3) -> dict[str, np.ndarray]:
    """Conditional logit (McFadden 1974): one weight a figure, compared within each bar."""
    x, target, group = choices(movements)
    mean, scale = x.mean(axis=0), x.std(axis=0) + 1e-6
    scale[len(FIGURES) :] = np.maximum(scale[len(FIGURES) :], 0.2)
    x = (x - mean) / scale
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    count = np.diff(np.append(starts, group.size))
    total = np.add.reduceat(target, starts)
    want = target / np.repeat(total, count)
    weight = np.repeat(total / total.sum(), count)

    def loss(theta):
        score = x @ theta
        top = np.repeat(np.maximum.reduceat(score, starts), count)
        lift = np.exp(score - top)
        z = np.repeat(np.add.reduceat(lift, starts), count)
        value = -(weight * want * (score - top - np.log(z))).sum()
        slope = x.T @ (weight * (lift / z - want))
        return value + 0.5 * ridge * theta @ theta, slope + ridge * theta

    best = minimize(loss, np.zeros(x.shape[1]), jac=True, method="L-BFGS-B")
    return {"mean": mean, "scale": scale, "weight": best.x}


def tell(name: str, movements: list[Movement], choose) -> None:
    each = np.array([hits(m, choose(m)) for m in movements])
    exact, wide, total = each.sum(axis=0)
    print(
        f"{name:36s} part {100 * exact / total:5.1f}   with doublings {100 * wide / total:5.1f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fit", type=Path)
    args = parser.parse_args()
    folders = sorted(p.parent for p in args.folder.glob("*/annotations.csv"))
    movements = [load(p) for p in folders]
    tell("highest part", movements, highest)
    tell("first violin, else the highest", movements, first_violin_else_highest)
    if all(m.role for m in movements):
        tell("as shipped", movements, shipped)
    if args.fit is None:
        return
    score = {}
    for work in sorted({m.work for m in movements}):
        model = fit([m for m in movements if m.work != work])
        for m in movements:
            if m.work == work:
                z = (m.table - model["mean"]) / model["scale"]
                score[m.name] = z @ model["weight"]
    tell("fitted, cross-validated by work", movements, lambda m: by_strand(m, score[m.name]))
    model = fit(movements)
    args.fit.write_text(
        json.dumps(
            {
                "provenance": (
                    "Conditional logit over the lines sounding in a bar, fitted by "
                    "tests/bench/reliance_bench.py to analysts' markings of the main part in "
                    f"{len(movements)} orchestral movements (OpenScore Orchestra scores, CC0 "
                    "1.0; 'Hauptstimme' annotations, M. Gotham et al., CC BY-SA)."
                ),
                "names": list(NAMES),
                **{k: [round(float(v), 5) for v in values] for k, values in model.items()},
            },
            indent=1,
        )
        + "\n",
        encoding="utf-8",
    )


if __name__ == "__main__":
    main()

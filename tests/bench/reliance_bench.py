"""How often the leading strand holds the part an analyst marks as the main one.

Usage: python tests/bench/reliance_bench.py FOLDER [--by work|composer] [--fit MODEL]

FOLDER holds one folder a movement, each with ``score.mxl`` and ``annotations.csv`` (columns
qstamp and part_num: from this written quarter on, this part is the main one, counted from 0).
Each written moment counts once, by its first playing; moments in which the marked part is
silent are left out. At every moment the answer is one of the lines that sound in it: a line
that has ended does not lead, though it led its bar. The two baselines are taken the same way.
Every figure is printed twice: held strictly to the marked moment, and with two quarters of
grace around each change of the marked part, since analysts place it that loosely. The model is
also judged by one answer for each bar. With --by the model is fitted anew for each work
(movements that share a name up to the last underscore) or each composer (up to the first) on
all others, and judged on it. With --fit a model is fitted to everything and written.
"""

from __future__ import annotations

import argparse
import csv
import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from reliance_trees import FIRST, SECOND, boost

from auditor.intent import context, features
from auditor.intent.chairs import chairs
from auditor.intent.context import second_look, strand_share
from auditor.intent.doublings import find_doublings
from auditor.intent.leading import compare, who_leads
from auditor.intent.reliance import look_at
from auditor.intent.strands import components, joined
from auditor.intent.texture import CELL, Texture, lay_out
from auditor.intent.trees import worth
from auditor.score.reading import read_score

GRACE = round(2 / CELL)
INNER = 3


@dataclass
class Movement:
    """A movement on the grid; `main` and `near` are marked parts (1-based, 0 none) by cell."""

    name: str
    texture: Texture
    table: np.ndarray  # (lines, bars, features)
    on: np.ndarray  # (lines, bars)
    label: np.ndarray  # (lines, bars)
    part: np.ndarray  # (lines,)
    main: np.ndarray  # (cells,)
    near: np.ndarray  # (cells,) the part marked before or after, within the grace
    counted: np.ndarray  # (cells,) the marked part sounds
    seats: tuple[str, ...]

    @property
    def work(self) -> str:
        return self.name.rsplit("_", 1)[0]

    @property
    def composer(self) -> str:
        return self.name.split("_")[0]

    def marked(self) -> np.ndarray:
        """Quarters each line is marked and sounds, (lines, bars)."""
        cells = (self.part[:, None] == self.main[None, :]) & self.texture.active
        summed = np.concatenate([np.zeros((len(cells), 1)), np.cumsum(cells, axis=1)], axis=1)
        return np.diff(summed[:, self.texture.starts], axis=1) * CELL


def marked_parts(score, texture, rows) -> np.ndarray:
    """Give the marked part (1-based) in each cell of the played axis; 0 where none counts."""
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
    main = marked_parts(score, texture, rows)
    near = np.zeros_like(main)
    for change in np.flatnonzero(np.diff(main)) + 1:
        near[max(0, change - GRACE) : change] = main[change]
        near[change : change + GRACE] = main[change - 1]
    part = np.array([line.part for line in score.lines])
    sounds = ((part[:, None] == main[None, :]) & texture.active).any(axis=0)
    return Movement(
        folder.name, texture, table, on, label, part, main, near, sounds, chairs(score.lines)
    )


def hit(m: Movement, line: np.ndarray, main: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """By cell: the chosen line's part is marked; it or its strand holds the marked part."""
    bar = m.texture.bar
    exact = (m.part[line] == main) & (main > 0)
    same = np.zeros(main.size, bool)
    for number in np.unique(main[main > 0]):
        for row in np.flatnonzero(m.part == number):
            same |= (main == number) & (m.label[row, bar] == m.label[line, bar])
    return exact, exact | same


def shares(m: Movement, line: np.ndarray) -> np.ndarray:
    """Cells: exact and with doublings, strictly; the same with grace; all."""
    exact, wide = hit(m, line, m.main)
    near_exact, near_wide = hit(m, line, m.near)
    each = (exact, wide, exact | near_exact, wide | near_wide, np.ones_like(exact))
    return np.array([(x & m.counted).sum() for x in each], float)


def highest(m: Movement) -> np.ndarray:
    """Highest line that sounds in each cell."""
    return np.where(m.texture.active, m.texture.top, -2).argmax(axis=0)


def first_violin_else_highest(m: Movement) -> np.ndarray:
    choice = highest(m)
    for row in [k for k, seat in enumerate(m.seats) if seat == "violin-1"][::-1]:
        choice = np.where(m.texture.active[row], row, choice)
    return choice


def _standing(m: Movement, share: np.ndarray) -> np.ndarray:
    """Share of a line's strand in each bar; within the strand the line's own decides."""
    return strand_share(share, m.label) + 1e-6 * share


def by_moment(m: Movement, share: np.ndarray) -> np.ndarray:
    """Line chosen in each cell among those that sound in it."""
    standing = _standing(m, share)[:, m.texture.bar]
    return np.where(m.texture.active, standing, -1.0).argmax(axis=0)


def by_bar(m: Movement, share: np.ndarray) -> np.ndarray:
    """Line chosen for the whole bar, in each of its cells."""
    return _standing(m, share).argmax(axis=0)[m.texture.bar]


def rows_of(movements, extra=None):
    """Rows of figures of sounding lines, quarters each is marked, and their bar."""
    rows, target, group, k = [], [], [], 0
    for m in movements:
        marked = m.marked() * m.on
        table = m.table if extra is None else np.concatenate([m.table, extra[m.name]], axis=2)
        for bar in np.flatnonzero(marked.sum(axis=0) > 0):
            on = m.on[:, bar]
            rows.append(table[on, bar])
            target.append(marked[on, bar])
            group.append(np.full(on.sum(), k))
            k += 1
    return np.concatenate(rows), np.concatenate(target), np.concatenate(group)


def first_share(m: Movement, trees) -> np.ndarray:
    score = np.zeros(m.on.shape)
    score[m.on] = worth(trees, m.table[m.on])
    return compare(score, m.on)


def fit(movements, split):
    """Both looks; the second learns from opinions of the first on works it has not seen."""
    names = sorted({split(m) for m in movements})
    fold = {name: k % INNER for k, name in enumerate(names)}
    extra = {}
    for k in range(INNER):
        trees = boost(*rows_of([m for m in movements if fold[split(m)] != k]), FIRST)
        for m in movements:
            if fold[split(m)] == k:
                share = first_share(m, trees)
                extra[m.name] = second_look(m.texture, m.label, m.on, share)
    return boost(*rows_of(movements), FIRST), boost(*rows_of(movements, extra), SECOND)


def tell(name, movements, choice, each=False) -> None:
    figures = {m.name: shares(m, choice[m.name]) for m in movements}

    def line(label, chosen):
        total = np.sum([figures[m.name] for m in chosen], axis=0)
        part, wide, near_part, near_wide = 100 * total[:4] / total[4]
        print(f"{label:34s} part {part:5.1f}  with doublings {wide:5.1f}   "
              f"with grace {near_part:5.1f} {near_wide:5.1f}", flush=True)  # fmt: skip

    line(name, movements)
    for composer in sorted({m.composer for m in movements}) if each else ():
        line(f"  {composer}", [m for m in movements if m.composer == composer])


def tell_confidence(movements, share) -> None:
    """Top two strands, the most confident half, and whether confidence tells the truth."""
    rows = []
    for m in movements:
        bar = m.texture.bar
        best = by_moment(m, share[m.name])
        strand = np.where(m.texture.active, strand_share(share[m.name], m.label)[:, bar], -1.0)
        label = m.label[:, bar]
        cells = np.arange(best.size)
        second = np.where(label == label[best, cells], -1.0, strand).argmax(axis=0)
        one = [hit(m, best, x)[1] for x in (m.main, m.near)]
        two = [hit(m, second, x)[1] for x in (m.main, m.near)]
        columns = (
            strand[best, cells],
            one[0],
            one[0] | one[1],
            one[0] | two[0],
            one[0] | one[1] | two[0] | two[1],
        )
        rows.append(np.stack(columns, axis=1)[m.counted])
    told = np.concatenate(rows)
    half = told[np.argsort(-told[:, 0])[: len(told) // 2]]
    print(f"top two strands {told[:, 3].mean():.3f}, with grace {told[:, 4].mean():.3f}; "
          f"most confident half {half[:, 1].mean():.3f}, with grace {half[:, 2].mean():.3f}; "
          f"mean confidence {told[:, 0].mean():.3f}; "
          f"unclear (below 0.5) {np.mean(told[:, 0] < 0.5):.3f} of the time")  # fmt: skip


def tell_errors(movements, choice) -> None:
    """Quarters of the most frequent errors: marked chair, chosen chair, one strand or two."""
    count = Counter()
    for m in movements:
        exact, wide = hit(m, choice[m.name], m.main)
        row = {n: int(np.flatnonzero(m.part == n)[0]) for n in np.unique(m.main[m.main > 0])}
        for cell in np.flatnonzero(m.counted & ~exact):
            chosen = m.seats[choice[m.name][cell]]
            kind = "its doubling" if wide[cell] else "another strand"
            count[m.seats[row[int(m.main[cell])]], chosen, kind] += 1
    whole = sum(int(m.counted.sum()) for m in movements)
    for (marked, chosen, kind), cells in count.most_common(16):
        print(f"  {marked} marked, {chosen} chosen ({kind}): {100 * cells / whole:.1f} %")


def cross_validate(movements, split) -> dict[str, np.ndarray]:
    share = {}
    for name in sorted({split(m) for m in movements}):
        looks = fit([m for m in movements if split(m) != name], split)
        for m in movements:
            if split(m) == name:
                share[m.name] = who_leads(m.texture, m.table, m.on, m.label, looks).share
    return share


def written(trees, names) -> dict:
    return {
        "names": list(names),
        "feature": trees.feature.tolist(),
        "threshold": np.round(trees.threshold, 5).tolist(),
        "value": np.round(trees.value, 5).tolist(),
    }


def write(path: Path, movements) -> None:
    first, second = fit(movements, lambda m: m.work)
    model = {
        "provenance": (
            "Boosted trees over the lines sounding in a bar, fitted by "
            "tests/bench/reliance_bench.py to analysts' markings of the main part in "
            f"{len(movements)} orchestral movements (OpenScore Orchestra scores, CC0 1.0; "
            "'Hauptstimme' annotations, M. Gotham et al., CC BY-SA)."
        ),
        "first": written(first, features.NAMES),
        "second": written(second, features.NAMES + context.NAMES),
    }
    path.write_text(json.dumps(model, separators=(",", ":")) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--by", choices=("work", "composer"), action="append", default=[])
    parser.add_argument("--fit", type=Path)
    args = parser.parse_args()
    folders = sorted(p.parent for p in args.folder.glob("*/annotations.csv"))
    movements = [load(p) for p in folders]
    tell("highest part", movements, {m.name: highest(m) for m in movements}, each=True)
    violin = {m.name: first_violin_else_highest(m) for m in movements}
    tell("first violin, else the highest", movements, violin, each=True)
    for by in args.by:
        share = cross_validate(movements, lambda m, by=by: getattr(m, by))
        choice = {m.name: by_moment(m, share[m.name]) for m in movements}
        tell(f"model, cross-validated by {by}", movements, choice, each=True)
        tell("  one answer a bar", movements,
             {m.name: by_bar(m, share[m.name]) for m in movements})  # fmt: skip
        tell_confidence(movements, share)
        tell_errors(movements, choice)
    if args.fit is not None:
        write(args.fit, movements)
    if args.fit is not None or not args.by:
        shipped = {
            m.name: who_leads(m.texture, m.table, m.on, m.label).share for m in movements
        }
        tell("shipped (has seen these)", movements,
             {m.name: by_moment(m, shipped[m.name]) for m in movements})  # fmt: skip


if __name__ == "__main__":
    main()

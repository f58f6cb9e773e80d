"""Doublings and parallel lines against analysts' tables of part relations.

Usage: python tests/bench/reliance_relations.py FOLDER [--show N]

FOLDER holds one folder a movement with ``score.mxl`` and ``part_relations.csv``: a row for
each block (qstamp_start, qstamp_end), a column for each part; the part marked "Main Part"
leads, ``U(Main)`` has its notes, ``P8(Main)`` has them at one or more octaves, ``P3(Main)``
and ``P6(Main)`` move in thirds and sixths with it. The tables run out of step after repeats,
so only movements without any count. What the program finds holds for a block if it lies on at
least half of it. Each disagreement is laid beside the notes: the share of the time in which
both lines sound that they stand at the interval. That share says who is right.
"""

from __future__ import annotations

import argparse
import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from auditor.intent.doublings import find_doublings
from auditor.intent.parallels import find_parallels
from auditor.intent.texture import CELL, Texture, lay_out
from auditor.score.notes import Score
from auditor.score.reading import read_score

KINDS = {"U": "unison", "P8": "octave", "P3": "third", "P6": "sixth"}
# Semitones that count as an interval when a disagreement is laid beside the notes, by octave.
STEPS = {"unison": (0,), "octave": (0,), "third": (3, 4), "sixth": (8, 9), "none": (0,)}
# A line that keeps an interval for this share of the common time keeps it.
KEPT = 0.8
# Blocks shorter than this (quarters) say nothing.
SHORTEST = 4.0


@dataclass(frozen=True, slots=True)
class Case:
    """A block, its main line and another: what the table says, what is found, the notes."""

    movement: str
    start: float
    end: float
    main: str
    other: str
    listed: str
    found: str
    agreement: float

    def right(self) -> str:
        """Who is right by the notes where the two disagree."""
        if self.listed == "none":
            return "program" if self.agreement >= KEPT else "table"
        return "table" if self.agreement >= KEPT else "program"


def _spans(score: Score) -> dict[tuple[int, int], list[tuple[float, float, str]]]:
    """What the program finds for each pair of parts: start and end in quarters, interval."""
    part = {line.number: line.part for line in score.lines}
    bars = score.bars
    out: dict[tuple[int, int], list[tuple[float, float, str]]] = {}
    doubled = [(d, "unison" if d.interval == 0 else "octave") for d in find_doublings(score)]
    for d, kind in [*doubled, *((p, p.interval) for p in find_parallels(score))]:
        a, b = sorted((part[d.line], part[d.of]))
        last = bars[d.last_bar]
        out.setdefault((a, b), []).append(
            (bars[d.first_bar].onset, last.onset + last.duration, kind)
        )
    return out


def _found(spans: list[tuple[float, float, str]], start: float, end: float) -> str:
    held: Counter[str] = Counter()
    for a, z, kind in spans:
        held[kind] += max(0.0, min(z, end) - max(a, start))
    kind, most = max(held.items(), key=lambda x: x[1], default=("none", 0.0))
    return kind if most >= 0.5 * (end - start) else "none"


def _agreement(
    texture: Texture, rows: tuple[list[int], list[int]], start: float, end: float, kind: str
) -> float:
    """Share of the common time at the interval, the best of the parts' lines."""
    cells = slice(round(start / CELL), round(end / CELL))
    best = 0.0
    for i in rows[0]:
        for j in rows[1]:
            both = (texture.top[i, cells] >= 0) & (texture.top[j, cells] >= 0)
            if both.sum() * CELL < 0.25 * (end - start):
                continue
            ok = np.zeros(both.size, bool)
            for x in (texture.top[i, cells], texture.low[i, cells]):
                for y in (texture.top[j, cells], texture.low[j, cells]):
                    ok |= np.isin(np.abs(x.astype(int) - y) % 12, STEPS[kind])
            best = max(best, float(ok[both].mean()))
    return best


def cases(folder: Path) -> Iterator[Case]:
    """Every block and every part beside its main one."""
    score = read_score(folder / "score.mxl")
    if any(bar.pass_number > 1 for bar in score.bars):
        return
    texture, spans = lay_out(score), _spans(score)
    rows: dict[int, list[int]] = {}
    for k, line in enumerate(score.lines):
        rows.setdefault(line.part, []).append(k)
    with (folder / "part_relations.csv").open(encoding="utf-8") as file:
        table = list(csv.reader(file))
    names = table[0][2:]
    if len(names) != len(score.parts):
        return
    for start_, end_, *cells in table[1:]:
        start, end = float(start_), float(end_)
        main = next((k for k, c in enumerate(cells) if "Main Part" in c), None)
        if main is None or end - start < SHORTEST:
            continue
        for k, cell in enumerate(cells):
            found = re.search(r"(U|P\d)\(Main\)", cell)
            listed = KINDS.get(found.group(1), "") if found else "none"
            if k == main or not listed:
                continue
            pair = tuple(sorted((main + 1, k + 1)))
            told = _found(spans.get(pair, []), start, end)
            kind = listed if listed != "none" else told
            share = _agreement(texture, (rows[main + 1], rows[k + 1]), start, end, kind)
            yield Case(folder.name, start, end, names[main], names[k], listed, told, share)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--show", type=int, default=0, help="disagreements to print")
    given = parser.parse_args()
    folders = sorted(path.parent for path in given.folder.glob("*/part_relations.csv"))
    every = [c for folder in folders for c in cases(folder)]
    count = Counter((c.listed, c.found) for c in every)
    print(f"{len({c.movement for c in every})} movements without repeats")
    kinds = ("unison", "octave", "third", "sixth", "none")
    print("listed \\ found  " + "".join(f"{k:>9s}" for k in kinds))
    for listed in kinds:
        print(f"{listed:16s}" + "".join(f"{count[listed, k]:9d}" for k in kinds))
    apart = [
        c for c in every if c.listed != c.found and {c.listed, c.found} != {"unison", "octave"}
    ]
    for (listed, found), n in Counter((c.listed, c.found) for c in apart).most_common():
        right = Counter(c.right() for c in apart if (c.listed, c.found) == (listed, found))
        print(f"listed {listed}, found {found}: {n}; the notes side with {dict(right)}")
    rng = np.random.default_rng(0)
    for k in rng.permutation(len(apart))[: given.show].tolist():
        c = apart[k]
        print(f"  {c.movement} {c.start:g}-{c.end:g} {c.main} / {c.other}: listed {c.listed}, "
              f"found {c.found}, {c.agreement:.2f} of the common time")  # fmt: skip


if __name__ == "__main__":
    main()

"""Craft remarks over a folder of scores: how many of each weight, and all that are heavy.

    python tests/bench/craft_bench.py FOLDER [--soloists] [--heavy]

FOLDER holds MusicXML scores, in folders below it as deep as may be. Standard repertory can
be played, so every "cannot be played" is printed and wants an explanation: a slip of the
file, or a bug. `--soloists` takes every part for one player, for quartets and piano music.
`--heavy` prints the risky ones too.
"""

from __future__ import annotations

import argparse
import dataclasses
import time
from collections import Counter
from pathlib import Path

from auditor.craft.checking import remarks_on
from auditor.craft.remark import WEIGHTS, Remark
from auditor.errors import ScoreError
from auditor.report.places import bars_in_words
from auditor.score.notes import Score
from auditor.score.reading import read_score

SUFFIXES = (".mxl", ".musicxml", ".xml")


def by_soloists(score: Score) -> Score:
    """Every part played by one."""
    return dataclasses.replace(
        score,
        parts=tuple(dataclasses.replace(p, players=1.0) for p in score.parts),
        notes=tuple(dataclasses.replace(n, players=1.0) for n in score.notes),
    )


def told(score: Score, remark: Remark) -> str:
    """One line about a heavy remark."""
    who = score.parts[remark.part - 1].name if remark.part else "all"
    bars = bars_in_words(score, remark.first_bar, remark.last_bar)
    return f"    {remark.weight}: {bars}, {who}: {remark.kind}: {remark.sentence}"


def main() -> None:
    """Print a line a score, the heavy remarks, and the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--soloists", action="store_true")
    parser.add_argument("--heavy", action="store_true")
    given = parser.parse_args()
    heavy = WEIGHTS[1:] if given.heavy else WEIGHTS[2:]
    kinds: Counter[tuple[str, str]] = Counter()
    bars = 0
    for path in sorted(p for p in given.folder.rglob("*") if p.suffix.lower() in SUFFIXES):
        try:
            score = read_score(path)
        except ScoreError as err:
            print(f"{path}: {err}")
            continue
        score = by_soloists(score) if given.soloists else score
        begin = time.perf_counter()
        found = remarks_on(score)
        seconds = time.perf_counter() - begin
        weights = Counter(r.weight for r in found)
        kinds.update((r.weight, r.kind) for r in found)
        bars += score.written_bars
        name = path.relative_to(given.folder)
        print(f"{name}  {score.written_bars} bars  {seconds:.1f} s  {dict(weights)}")
        for remark in found:
            if remark.weight in heavy:
                print(told(score, remark))
    print(f"\n{bars} bars")
    for weight in reversed(WEIGHTS):
        count = sum(n for (w, _), n in kinds.items() if w == weight)
        print(f"{weight}: {count}, {100 * count / max(1, bars):.2f} in 100 bars")
        for (w, kind), n in kinds.most_common():
            if w == weight:
                print(f"    {kind}: {n}")


if __name__ == "__main__":
    main()

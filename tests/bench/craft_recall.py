"""Faults planted in pages written as MusicXML: how many the craft checks find, kind by kind.

    python tests/bench/craft_recall.py [--seeds 6000 6010] [--only NAME ...]

The plants (`craft_plants`, `craft_plants_more`) follow published tables and were written
without a look at the checks; the pages go through the reader. A plant counts as found when a
remark of its kind stands at its bars and its staff. Printed: found of planted for each kind,
what was told instead, and the same pages' remarks before anything was planted.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import craft_plants
import craft_plants_more
import numpy as np
from craft_pages import Sheet

from auditor.craft.checking import remarks_on
from auditor.craft.remark import Remark
from auditor.score.reading import read_score

BARS = 12


def told(sheet: Sheet, scratch: Path) -> tuple[Remark, ...]:
    """Write a page, read it, and give its remarks."""
    path = scratch / "page.musicxml"
    path.write_text(sheet.xml(), encoding="utf-8")
    return remarks_on(read_score(path))


def main() -> None:
    """Print a line a kind, and the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, nargs=2, default=(6000, 6010))
    parser.add_argument("--only", nargs="*", default=[])
    given = parser.parse_args()
    seeds = range(*given.seeds)
    hits = planted = 0
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        clean = Counter(
            r.kind for seed in seeds for r in told(Sheet(np.random.default_rng(seed)), scratch)
        )
        print(f"clean pages: {dict(clean)}")
        for module in (craft_plants, craft_plants_more):
            for fault, kinds in module.FAULTS.items():
                if given.only and fault.__name__ not in given.only:
                    continue
                found, instead = 0, Counter()
                for seed in seeds:
                    sheet = Sheet(np.random.default_rng(seed), module.LONG.get(fault, BARS))
                    name, first, last = fault(sheet)
                    part = 1 + list(sheet.staves).index(name) if name else None
                    there = {
                        r.kind
                        for r in told(sheet, scratch)
                        if r.first_bar <= last
                        and r.last_bar >= first
                        and part in (None, r.part, r.part or part)
                    }
                    hit = bool(there & set(kinds.split()))
                    found += hit
                    instead.update(() if hit else there or {"nothing"})
                hits, planted = hits + found, planted + len(seeds)
                print(f"{fault.__name__}: {found} of {len(seeds)} {dict(instead) or ''}")
    print(f"\n{hits} of {planted}: {hits / planted:.3f}")


if __name__ == "__main__":
    main()

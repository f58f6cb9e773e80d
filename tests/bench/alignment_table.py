"""The alignment's table, by one command: errors, order, foreign music, wrong scores.

    python tests/bench/alignment_table.py FOLDER [--fitting] [--only straight,hard,...]

Items are made into FOLDER once (Debian's fluidsynth, the fonts of `fonts.py`, and the
folders named by the environment variables of `alignment_items.py` and
`alignment_sound.py`). Errors as in `alignment_bench.py`; "order" is the share of the
sounding time at which the bar found is the bar played.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable
from pathlib import Path

import alignment_sets as sets
import numpy as np
from alignment_bench import figures
from alignment_foreign import FITTING_FOREIGN, FRESH_FOREIGN, around
from alignment_items import Item, Performance, perform
from alignment_pairs import FITTING_PAIRS, FRESH_PAIRS, tried
from numpy.typing import NDArray

from auditor.alignment.aligning import timeline_of
from auditor.alignment.timeline import Timeline
from auditor.errors import AlignmentError
from auditor.sound.features import listen

F64 = NDArray[np.float64]
HEAD = f"{'':62s} median    p95   bias  |bias out|   <50  <100  order   unplaced  seconds"
SECTIONS = {
    "straight": (sets.FITTING + sets.SEEN, sets.FRESH_STRAIGHT),
    "hard": (sets.FITTING_HARD, sets.FRESH_HARD),
    "wet": ((), sets.FRESH_WET),
    "order": (sets.FITTING_ORDER, sets.FRESH_ORDER),
    "orchestra": (sets.FITTING_ORCHESTRA, sets.FRESH_ORCHESTRA),
}


def order_share(one: Performance, timeline: Timeline) -> float:
    """Share of time at which the bar found is, within 70 ms, the one played (or its twin)."""
    edges = np.array([b.onset for b in one.score.bars] + [one.score.duration])
    written = np.array([b.written_index for b in one.score.bars])
    at = np.arange(one.barlines_s[0], one.barlines_s[-1], 0.05)
    visit = np.searchsorted(one.barlines_s, at, side="right") - 1
    played = written[np.array(one.bars)[visit]]
    fits = np.zeros(at.size, np.bool_)
    for shift in (-0.07, 0.0, 0.07):
        quarters = timeline.quarters(at + shift)
        found = np.searchsorted(edges, np.nan_to_num(quarters) + 1e-6, side="right") - 1
        same = written[np.clip(found, 0, written.size - 1)] == played
        fits |= np.isfinite(quarters) & same
    return float(np.mean(fits))


def measure(items: Iterable[Item], folder: Path) -> list[F64]:
    """Print a row for each item; returns rows of figures, order share, unplaced notes."""
    rows = []
    for item in items:
        one = perform(item, folder)
        start = time.perf_counter()
        try:
            timeline = timeline_of(one.score, listen(one.sound.samples))
        except AlignmentError as error:
            print(f"{item.name:62s} REFUSED: {error}", flush=True)
            rows.append(np.array([6e4, 6e4, 0, 6e4, 6e4, 0, 0, 0, 1.0]))
            continue
        spent = time.perf_counter() - start
        placed = timeline.seconds([n.onset for n in one.score.notes])
        played = np.isfinite(one.onset_s)
        lost = float(np.mean(np.isnan(placed[played])))
        share = order_share(one, timeline)
        rows.append(np.array([*figures(one.score, one.onset_s, placed), share, lost]))
        wrong = "" if timeline.order == one.bars else "  order differs"
        print(_row(item.name, rows[-1], spent) + wrong, flush=True)
    if rows:
        print(_row("MEAN", np.mean(rows, axis=0), 0.0), flush=True)
    return rows


def _row(name: str, v: F64, seconds: float) -> str:
    return (
        f"{name:62s} {v[0]:6.1f} {v[1]:6.1f} {v[2]:+6.1f} {v[3]:5.1f} {v[4]:5.1f} {v[5]:5.1f} "
        f"{v[6]:5.1f}  {v[7]:.4f}  {100 * v[8]:5.2f} % {seconds:7.1f}"
    )


def foreign(folder: Path, *, fitting: bool) -> None:
    print("foreign music: share of it named, share of the piece called foreign, p95 (ms)")
    for case in FITTING_FOREIGN if fitting else FRESH_FOREIGN:
        one = perform(case.item, folder)
        made = around(case, one, folder)
        try:
            timeline = timeline_of(one.score, listen(made.samples))
        except AlignmentError as error:
            print(f"  {case.name:62s} REFUSED: {error}")
            continue
        at = np.arange(0, made.samples.size / 44_100, 0.05)
        outside = np.isnan(timeline.quarters(at))
        named = float(np.mean(outside[made.is_foreign(at)])) if made.spans else 1.0
        lost = float(np.mean(outside[made.is_piece(at)]))
        placed = timeline.seconds([n.onset for n in one.score.notes])
        off = figures(one.score, made.onset_s, placed)
        said = "; ".join(timeline.surprises)
        print(f"  {case.name:62s} {named:.3f}  {lost:.3f}  {off[1]:8.1f}  {said}", flush=True)


def wrong(folder: Path, *, fitting: bool) -> None:
    pairs = FITTING_PAIRS if fitting else FRESH_PAIRS
    taken = 0
    for name, said, figure in tried(pairs, folder):
        taken += said == "taken"
        print(f"  {name:80s} {said}  {figure}", flush=True)
    print(f"wrong scores taken: {taken} of {len(pairs)}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fitting", action="store_true", help="items that may be looked at")
    parser.add_argument("--only", default="straight,hard,wet,order,orchestra,foreign,wrong")
    options = parser.parse_args()
    options.folder.mkdir(exist_ok=True, parents=True)
    for name in options.only.split(","):
        if name in SECTIONS:
            print(f"{name}\n{HEAD}")
            measure(SECTIONS[name][0 if options.fitting else 1], options.folder)
        elif name == "foreign":
            foreign(options.folder, fitting=options.fitting)
        elif name == "wrong":
            wrong(options.folder, fitting=options.fitting)


if __name__ == "__main__":
    main()

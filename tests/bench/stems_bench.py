"""What stems are worth: all of them, every second one, or groups of two, against the mix.

    stems_bench.py CASE ...

CASE are folders made by mixes.py. The true note times are given; templates come from sources
that never met the case's font. "every other line" are those without a stem when every
second line has one.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import audibility_bench as bench
import numpy as np
import soundfile
from audibility_estimate import fair_sources, page_of
from audibility_metrics import Pairs, joined
from audibility_truth import Made, open_made, true_windows, truth_of
from library_bench import SHOWN, table

from auditor.case import Case
from auditor.score.notes import Score
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.separating import Templates, open_sounds, separate


def whole(stems: list[Path], out: Path) -> set[int]:
    """Every stem; gives the rows that have one of their own."""
    for path in stems:
        (out / path.name).symlink_to(path.resolve())
    return set(range(len(stems)))


def every_second(stems: list[Path], out: Path) -> set[int]:
    for path in stems[::2]:
        (out / path.name).symlink_to(path.resolve())
    return set(range(0, len(stems), 2))


def pairs_of(stems: list[Path], out: Path) -> set[int]:
    """Two neighbours in one file, and a mapping file."""
    lines = []
    for k in range(0, len(stems), 2):
        sounds = [soundfile.read(path, dtype="float32")[0] for path in stems[k : k + 2]]
        soundfile.write(out / f"G{k}.flac", sum(sounds), 44_100, subtype="PCM_24")
        lines.append(f'"G{k}.flac" = {list(range(k + 1, k + 1 + len(sounds)))}')
    (out / "stems.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return {len(stems) - 1} if len(stems) % 2 else set()


def nothing(stems: list[Path], out: Path) -> set[int]:
    return set()


WAYS: dict[str, Callable[[list[Path], Path], set[int]]] = {
    "mix alone": nothing,
    "a stem for each line": whole,
    "every second stem": every_second,
    "stems of two lines": pairs_of,
}


def _spectra(made: Made, score: Score, way: str) -> tuple[LineSpectra, set[int]]:
    stems = sorted((made.folder / "stems").glob("*.flac"))
    windows = true_windows(made)
    with tempfile.TemporaryDirectory() as folder:
        own = WAYS[way](stems, Path(folder))
        place = Path(folder) if any(Path(folder).iterdir()) else None
        case = Case(made.folder / "score.musicxml", made.folder / "mix.flac", place)
        sounds = open_sounds(case, score)
        found, _ = separate(
            sounds, score, windows.onset_s, windows.offset_s, made.calibration_db,
            Templates(fair_sources(made)),
        )  # fmt: skip
    return found, own


def judged(folder: Path, way: str) -> tuple[Pairs, Pairs]:
    """Pairs of all lines, and of those without a stem of their own."""
    made = open_made(folder)
    score = page_of(made)
    spectra, own = _spectra(made, score, way)
    heard, _ = bench._listen(made, spectra, true_windows(made))
    true = truth_of(made)[0]
    rows = np.arange(len(heard.lines))
    pairs = bench._pairs(made, rows, true, heard.lines)
    counts = np.isfinite(true.distinct_ratio) & np.isfinite(heard.lines.distinct_ratio)
    # From the mix alone: the same lines as with every second stem, to compare with.
    without = counts & ((rows % 2 == 1) if way == "mix alone" else ~np.isin(rows, list(own)))
    return pairs.where(counts), pairs.where(without)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    given = parser.parse_args()
    print("| known | lines | " + " | ".join(SHOWN) + " |")
    for way in WAYS:
        found = []
        for case in given.cases:
            try:
                found.append(judged(case, way))
            except SystemExit as err:
                print(err, file=sys.stderr)
        table(way, joined([pairs for pairs, _ in found]))
        if way in ("mix alone", "every second stem"):
            table(f"{way}, every other line", joined([pairs for _, pairs in found]))


if __name__ == "__main__":
    main()

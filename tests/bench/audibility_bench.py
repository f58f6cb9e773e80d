"""How well audibility is told from the mix, against the true stems.

    audibility_bench.py CASE ... [--full] [--jitter-ms J] [--prior] [--sources NAME ...]
                        [--keep FOLDER] [--csv FILE]

CASE are folders made by mixes.py. Without --full the true note times are given, so only
the decomposition is judged; with it the page is read and aligned. --prior shares the mix
out as the page alone would have it. Templates come from sources that never met the case's
font unless --sources names others. --keep writes one file a case for audibility_tables.py
and for audibility_fit.py, which fits the confidence model.
"""

from __future__ import annotations

import argparse
import csv
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

import fonts
import numpy as np
from audibility_estimate import (
    estimated,
    fair_sources,
    full_windows,
    page_of,
    resettled,
    shaken,
)
from audibility_kept import Result, Table, keep
from audibility_metrics import LIMITS, Pairs, joined, show
from audibility_truth import Made, open_made, true_windows, truth_of
from numpy.typing import NDArray

from auditor.hearing import audibility
from auditor.hearing.measures import Heard, Measures, NoteWindows
from auditor.hearing.salience import pitch_salience
from auditor.sound.spectrum import POOL_HZ, frame_times, pooled_power
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.problem import Settings


def situation(part: dict[str, Any]) -> str:
    """Say how a part stands to the others."""
    if part["doubles"] is None:
        return "independent"
    if part["role"] == "forced unison":
        return "unison throughout"
    return "unison doubling" if part["interval"] == 0 else "octave doubling"


def _kind(part: dict[str, Any]) -> str:
    return "pizzicato" if part["pizzicato"] else str(part["family"])


def _pairs(made: Made, owner: NDArray[np.int64], true: Measures, told: Measures) -> Pairs:
    counts = true.distinct_ratio < LIMITS.clear
    right = np.where(counts, (true.covered_by == told.covered_by).astype(float), np.nan)
    kinds = np.array([_kind(part) for part in made.parts])
    ways = np.array([situation(part) for part in made.parts])
    return Pairs(
        true.distinct_ratio, told.distinct_ratio, true.level_db, told.level_db, right,
        np.full(owner.size, made.seed), kinds[owner], ways[owner],
    )  # fmt: skip


def _listen(
    made: Made, spectra: LineSpectra, windows: NoteWindows
) -> tuple[Heard, dict[str, Table]]:
    """Hear, and keep what the confidence model saw on the way (it is not in the result)."""
    from auditor.hearing.confidence import features

    seen: dict[str, Table] = {}
    original = audibility.confidence

    def watch(measures: Measures, limits: Any, evidence: Any, source: str, kind: str) -> Any:
        seen[kind] = features(measures, limits, evidence)
        return original(measures, limits, evidence, source, kind)

    power = pooled_power(made.mix)
    salience = pitch_salience(power, POOL_HZ, frame_times(len(power)), windows)
    with patch.object(audibility, "confidence", watch):
        heard = audibility.listen(spectra, windows, (), LIMITS, salience=salience)
    return heard, seen


def run(folder: Path, given: argparse.Namespace) -> Result:
    """Judge one case."""
    made = open_made(folder)
    true_lines, true_notes = truth_of(made)
    score = page_of(made)
    windows = full_windows(made, score) if given.full else true_windows(made)
    if given.jitter_ms:
        windows = shaken(windows, given.jitter_ms / 1000, made.seed)
    if given.full or given.jitter_ms:
        windows = resettled(made, score, windows)
    settings = Settings(iterations=0) if given.prior else Settings()
    sources = given.sources or fair_sources(made)
    library = getattr(given, "library", None)
    spectra = estimated(made, score, windows, sources, settings, library)
    heard, seen = _listen(made, spectra, windows)
    recorded = any(row["source"] == "recorded" for row in made.parts)
    group = "recorded" if recorded else fonts.FONTS[made.font].group
    told, true = (heard.lines, heard.notes), (true_lines, true_notes)
    states = (heard.line_state, heard.note_state)
    owners = (np.arange(len(heard.lines)), windows.line)
    pairs, features, undecided = [], {}, {}
    for k, kind in enumerate(("lines", "notes")):
        judged = np.isfinite(true[k].distinct_ratio) & np.isfinite(told[k].distinct_ratio)
        pairs.append(_pairs(made, owners[k], true[k], told[k]).where(judged))
        features[kind] = (seen[kind][0], seen[kind][1][judged])
        undecided[kind] = np.array([s == "undecided" for s in states[k]])[judged]
    return Result(folder.name, group, pairs[0], pairs[1], features, undecided)


def _table(path: Path, pairs: Pairs) -> None:
    with path.open("w", newline="", encoding="utf-8") as out:
        rows = csv.writer(out)
        rows.writerow(Pairs.__slots__)
        rows.writerows(zip(*(getattr(pairs, name) for name in Pairs.__slots__), strict=True))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    parser.add_argument("--full", action="store_true", help="read the page and align")
    parser.add_argument("--jitter-ms", type=float, default=0.0)
    parser.add_argument("--sources", nargs="+", default=())
    parser.add_argument("--prior", action="store_true", help="do not fit: the page's shares")
    parser.add_argument("--keep", type=Path, help="write each case's result there")
    parser.add_argument("--csv", type=Path, help="write every line's truth and estimate")
    return parser


def report(results: Sequence[Result]) -> Pairs:
    """Print both tables."""
    lines = joined([result.lines for result in results])
    show("lines", lines, print)
    show("notes", joined([result.notes for result in results]), print)
    return lines


def main() -> None:
    given = _parser().parse_args()
    started, results = time.perf_counter(), []
    for folder in given.cases:
        results.append(run(folder, given))
        if given.keep:
            keep(given.keep, results[-1])
    print(f"{len(results)} cases in {time.perf_counter() - started:.0f} s")
    lines = report(results)
    if given.csv:
        _table(given.csv, lines)


if __name__ == "__main__":
    main()

"""Real scores at natural levels: the main strand must be heard, and found when lowered.

    repertory_bench.py keep FOLDER OUT [--only NAME ...] [--bars 12] [--first 49]
    repertory_bench.py report OUT ...

FOLDER holds one folder a movement with score.mxl and annotations.csv (columns qstamp and
part_num: from this written quarter on, this part is the main one, counted from 0). `keep`
renders an excerpt of each movement at the natural levels of players and dynamics in a room,
with one of two sound fonts by turns, and hears and judges its mix, bars placed as rendered,
as it is and with the main strand 6 and 12 dB down; one file a movement. `report` chooses the
limits of a strand on half of the works and judges all on the others: the share of time in
which the main strand is heard, how well its ratio parts it from the other strands, how its
state changes when it is lowered and how much of it is then found, and how many heavy
findings fall on 100 bars.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fonts
import numpy as np
from audibility_estimate import OTHER_SOURCES
from numpy.typing import NDArray
from repertory_excerpt import Block, blocks, cut, measure_starts
from repertory_heard import (
    Place,
    by_part,
    heard_rows,
    lowered_spectra,
    lowered_stems,
    places,
    windows_of,
)
from repertory_report import report
from repertory_sound import Clock, clock, play_score

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.findings.finding import Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Limits, NoteWindows
from auditor.hearing.placed import windows_of as placed
from auditor.hearing.salience import pitch_salience
from auditor.intent.groups import groups_of
from auditor.intent.reliance import read_intent
from auditor.judging.judge import judge
from auditor.score.notes import Part, Score
from auditor.score.reading import read_score
from auditor.sound.level import calibration_db
from auditor.sound.spectrum import POOL_HZ, frame_times, pooled_power
from auditor.spectra.line_spectra import LineSpectra
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, note_times, played_notes
from auditor.spectra.stems import stem_spectra
from auditor.spectra.suspicions import Suspicions, suspicions

F32 = NDArray[np.float32]
LOWERED_DB = (0.0, -6.0, -12.0)
TURNS = ("fluid", "timgm")


@dataclass(frozen=True, slots=True)
class Excerpt:
    """An excerpt with its stems (parts with notes only), and the marked stretches."""

    name: str
    font: str
    score: Score
    page: Path
    parts: list[Part]
    stems: F32
    when: Clock
    marked: list[Block]

    @property
    def numbers(self) -> list[int]:
        """Numbers of the parts in the order of the stems."""
        return [part.number for part in self.parts]


def prepare(folder: Path, font: str, first: int, bars: int, scratch: Path) -> Excerpt:
    """Cut, read and play an excerpt."""
    page = scratch / "score.musicxml"
    starts = measure_starts(folder / "score.mxl", scratch)
    first = min(first, max(0, starts.size - 1 - bars))
    cut(folder / "score.mxl", page, first, bars)
    score = read_score(page)
    parts, stems = play_score(score, font)
    marked = blocks(folder / "annotations.csv", score, float(starts[first]))
    return Excerpt(folder.name, font, score, page, parts, stems, clock(score), marked)


@dataclass(frozen=True, slots=True)
class Judged:
    """What the program hears in a mix and says about it."""

    spectra: LineSpectra
    windows: NoteWindows
    findings: tuple[Finding, ...]


def known_timeline(when: Clock) -> Timeline:
    """Where the bars lie, as rendered: alignment is measured elsewhere."""
    q, t = when.quarters, when.seconds
    bars = tuple(BarTime(k, float(t[k]), float(t[k + 1]), 1.0) for k in range(t.size - 1))
    return Timeline((Stretch(q, t),), bars, tuple(range(len(bars))))


def judged(excerpt: Excerpt, stems: F32) -> Judged:
    """Every stage of an audit of the sum of stems but for remedies and the forecast."""
    score, mix = excerpt.score, stems.sum(axis=0)
    mix *= np.float32(0.8 / np.abs(mix).max())
    sources = OTHER_SOURCES[fonts.FONTS[excerpt.font].group]
    gain_db, timeline = calibration_db(mix), known_timeline(excerpt.when)
    onset_s, offset_s = note_times(score, timeline)
    tried: list[Suspicions] = []
    spectra = mix_spectra(
        mix, played_notes(score, onset_s, offset_s), line_timbres(score), gain_db,
        sources=sources, watch=lambda found: tried.append(suspicions(found)),
    )  # fmt: skip
    windows, intent = placed(score, onset_s, offset_s), read_intent(score)
    power = pooled_power(mix)
    salience = pitch_salience(power, POOL_HZ, frame_times(len(power)), windows)
    limits = Limits()
    heard = listen(spectra, windows, groups_of(intent, score), limits, salience=salience)
    found = judge(score, timeline, windows, intent, heard, limits, tried[0])
    return Judged(spectra, windows, found)


def _spans(excerpt: Excerpt, f: Finding) -> list[tuple[float, float]]:
    """Seconds of a finding, and of the other places it names."""
    bars, at = excerpt.score.bars, excerpt.when.at
    also = [(at(bars[x].onset), at(bars[y].onset + bars[y].duration)) for x, y in f.also]
    return [(f.start_s, f.end_s), *also]


def told(excerpt: Excerpt, result: Judged, where: Sequence[Place]) -> list[list[list[Any]]]:
    """Kind and weight of each finding about a carrier, for each place."""
    part = {line.number: line.part for line in excerpt.score.lines}
    out: list[list[list[Any]]] = []
    for place in where:
        a, b = excerpt.when.at(place.block.start), excerpt.when.at(place.block.stop)
        out.append([
            [f.kind, f.weight]
            for f in result.findings
            if {part[n] for n in f.lines} & set(place.block.members)
            and any(min(b, z) - max(a, s) >= 0.5 * (b - a) for s, z in _spans(excerpt, f))
        ])  # fmt: skip
    return out


def kept(excerpt: Excerpt) -> dict[str, Any]:
    """All that `report` needs of an excerpt."""
    score, when, parts = excerpt.score, excerpt.when, excerpt.numbers
    where = places(score, excerpt.marked)
    true = by_part(score, parts, windows_of(score, when))
    spectra = stem_spectra(excerpt.stems, calibration_db(excerpt.stems.sum(axis=0)))
    out: dict[str, Any] = {
        "name": excerpt.name, "font": excerpt.font, "bars": len(score.bars),
        "parts": len(parts), "levels": {},
    }  # fmt: skip
    for by in LOWERED_DB:
        low = lowered_spectra(spectra, parts, excerpt.marked, when, by)
        stems = lowered_stems(excerpt.stems, parts, excerpt.marked, when, by)
        result = judged(excerpt, stems)
        entry = {
            "stems": heard_rows(score, where, low, true),
            "mix": heard_rows(score, where, result.spectra, result.windows),
            "told": told(excerpt, result, where),
            "findings": [[f.kind, f.weight, f.sentence] for f in result.findings],
        }
        out["levels"][str(by)] = entry
    return out


def keep(given: argparse.Namespace) -> None:
    """Write one file a movement."""
    folders = sorted(path.parent for path in given.folder.glob("*/score.mxl"))
    if not folders:
        sys.exit(f"{given.folder} holds no folders with score.mxl")
    given.out.mkdir(parents=True, exist_ok=True)
    for k, folder in enumerate(folders):
        path = given.out / f"{folder.name}.json"
        if path.exists() or (given.only and folder.name not in given.only):
            continue
        with tempfile.TemporaryDirectory() as scratch:
            turn = TURNS[k % len(TURNS)]
            excerpt = prepare(folder, turn, given.first, given.bars, Path(scratch))
            if not excerpt.marked:
                print(f"{folder.name}: nothing is marked in these bars")
                continue
            path.write_text(json.dumps(kept(excerpt)), encoding="utf-8")
        print(folder.name, flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    jobs = parser.add_subparsers(dest="job", required=True)
    keeping = jobs.add_parser("keep")
    keeping.add_argument("folder", type=Path)
    keeping.add_argument("out", type=Path)
    keeping.add_argument("--only", nargs="+", default=[])
    keeping.add_argument("--bars", type=int, default=12)
    keeping.add_argument("--first", type=int, default=49, help="first bar, from 0")
    jobs.add_parser("report").add_argument("kept", type=Path, nargs="+")
    given = parser.parse_args()
    if given.job == "keep":
        keep(given)
    else:
        report([file for path in given.kept for file in sorted(path.glob("*.json"))])


if __name__ == "__main__":
    main()

"""Notes that come early or late or are cut short, planted in made mixes; how many are found.

    entries_bench.py CASE ... [--seed 1]

Each case of mixes.py is decomposed as it is, and with up to three audible held lines spoilt:
moved by a time drawn by lot, moved in its second half only, its notes of 0.7 s and more cut at
half of their length. Templates are of sources the case has not met, note times as rendered.
Printed: how many are found, by kind and size, of the lines that have three notes or more which
no other line hides at their pitch or its octave; how many are hidden; lines wrongly accused.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import fonts
import numpy as np
from audibility_estimate import fair_sources, page_of
from audibility_truth import LIMITS, Made, open_made, true_windows, truth_of
from faults_made import stems_of
from numpy.typing import NDArray

from auditor.spectra.explained import Decomposed, explained
from auditor.spectra.misplaced import Misplaced, of_lines
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, played_notes
from auditor.spectra.timing import timings

F32 = NDArray[np.float32]
SHIFTS_S = (-0.3, -0.2, -0.15, 0.1, 0.15, 0.2, 0.3)
LONG_S, FADE, LEAST = 0.7, 2205, 3


@dataclass(frozen=True, slots=True)
class Planted:
    """What was done to a line: ``moved``, ``half`` or ``cut``; seconds; notes concerned."""

    kind: str
    line: int
    seconds: float
    notes: int


def moved(stem: F32, seconds: float, first: int = 0) -> F32:
    """Move a stem by some seconds from a sample on."""
    out, by = stem.copy(), round(abs(seconds) * fonts.RATE_HZ)
    rest = stem[first:]
    out[first:] = np.pad(rest, (by, 0))[: rest.size] if seconds > 0 else 0.0
    if seconds < 0:
        out[first - by if first else 0 : out.size - by] = rest if first else rest[by:]
    return out


def cut_short(made: Made, stem: F32, line: int) -> tuple[F32, int]:
    """Cut the long notes of a line at half of their length; how many they are."""
    gain, count, when = np.ones(stem.size, np.float32), 0, true_windows(made)
    for k in np.flatnonzero(when.line == line):
        on, off = float(when.onset_s[k]), float(when.offset_s[k])
        if off - on < LONG_S:
            continue
        a, b = round(0.5 * (on + off) * fonts.RATE_HZ), round(off * fonts.RATE_HZ)
        gain[a:b] = 0.0
        gain[a : a + FADE] = np.linspace(1, 0, gain[a : a + FADE].size)
        count += 1
    return stem * gain, count


def spoilt(made: Made, rng: np.random.Generator) -> tuple[F32, list[Planted]]:
    """Stems of a case with its faults."""
    stems, ratio = stems_of(made), truth_of(made)[0].distinct_ratio
    heard = [
        k for k, p in enumerate(made.parts) if p["sustained"] and ratio[k] >= LIMITS.covered
    ]
    when, out = true_windows(made), []
    for kind, line in zip(
        ("moved", "cut", "half"), rng.permutation(heard).tolist(), strict=False
    ):
        seconds = float(rng.choice(SHIFTS_S))
        own = when.onset_s[when.line == line]
        middle = float(np.median(own))
        if kind == "cut":
            stems[line], count = cut_short(made, stems[line], line)
            seconds = 0.0
        else:
            first = 0 if kind == "moved" else round((middle - 0.02) * fonts.RATE_HZ)
            stems[line] = moved(stems[line], seconds, first)
            count = int((own >= middle).sum()) if first else own.size
        if count >= 4:
            out.append(Planted(kind, line, seconds, count))
    return stems, out


def runs(made: Made, mix: F32) -> tuple[list[Misplaced], dict[int, tuple[int, int]]]:
    """What the program finds in a mix of the case, and in how many notes it could."""
    score, when, found = page_of(made), true_windows(made), list[Decomposed]()
    mix_spectra(
        mix, played_notes(score, when.onset_s, when.offset_s), line_timbres(score),
        made.calibration_db, sources=fair_sources(made), watch=found.append,
    )  # fmt: skip
    told = timings(found[0], explained(found[0]))
    count = {t.line: (t.notes.size, int(t.stopped.any(axis=1).sum())) for t in told}
    return of_lines(told), count


def is_found(planted: Planted, run: Misplaced) -> bool:
    """Whether a run names the line, the kind of fault and its direction."""
    if run.line != planted.line or (planted.kind == "cut") != (run.kept < 1.0):
        return False
    return planted.kind == "cut" or run.seconds * planted.seconds > 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    told: dict[tuple[str, float], list[bool]] = {}
    wrong = lines = hidden = 0
    for folder in given.cases:
        made = open_made(folder)
        clean = {run.line for run in runs(made, made.mix)[0]}
        stems, planted = spoilt(made, np.random.default_rng([given.seed, made.seed]))
        found, notes = runs(made, stems.sum(axis=0))
        faulty = {p.line for p in planted}
        wrong += len(clean) + len({run.line for run in found} - faulty)
        lines += 2 * len(made.parts) - len(faulty)
        for p in planted:
            hit = any(is_found(p, run) for run in found)
            can = notes.get(p.line, (0, 0))[p.kind == "cut"]
            hidden += can < LEAST
            if can < LEAST:
                continue
            told.setdefault((p.kind, abs(p.seconds)), []).append(hit)
            print(f"{folder.name} {p} found {hit}", flush=True)
    for (kind, size), hits in sorted(told.items()):
        print(f"{kind} {size:g} s: {sum(hits)} of {len(hits)} found")
    print(f"{hidden} more are hidden")
    print(f"{wrong} of {lines} lines without a fault accused")


if __name__ == "__main__":
    main()

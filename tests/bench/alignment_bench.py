"""Note-onset error on made performances, ours and plain chroma warping in the same run.

    python tests/bench/alignment_bench.py FOLDER [--fitting] [--wrong]

Needs Debian's fluidsynth and the four sound fonts of `fonts.py`. Items are made into
FOLDER once. Per item: median and 95th percentile of the absolute error of sounding
notes (grace notes left out), signed median, both without that median, and the share
within 50 and 100 ms. A note that should sound but was not placed counts as a minute off.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import librosa
import numpy as np
from alignment_items import Item, Performance, perform
from alignment_sets import FITTING, SEEN
from numpy.typing import NDArray

from auditor.alignment.aligning import timeline_of, trace
from auditor.alignment.timeline import Timeline
from auditor.errors import AlignmentError
from auditor.score.notes import Score
from auditor.sound.features import listen

F64 = NDArray[np.float64]
HOP = 2048
HEAD = f"{'':58s} median    p95   bias  |latency out|  <50  <100   seconds"


def plain_seconds(performance: Performance) -> F64:
    """Onsets by librosa alone: chroma of sound and note list, one warping of the whole."""
    score, samples = performance.score, performance.sound.samples
    heard = librosa.feature.chroma_stft(y=samples, sr=44_100, hop_length=HOP)
    per_quarter = heard.shape[1] / score.duration
    expected = np.full((12, heard.shape[1]), 1e-3)
    for note in score.notes:
        if not note.unpitched:
            first = int(note.onset * per_quarter)
            last = int((note.onset + note.duration) * per_quarter)
            expected[note.pitch % 12, first : max(last, first + 1)] += 1
    _, path = librosa.sequence.dtw(expected, heard, metric="cosine")
    first_heard = np.zeros(heard.shape[1])
    first_heard[path[:, 0]] = path[:, 1]
    frames = np.array([n.onset for n in score.notes]) * per_quarter
    seconds: F64 = np.interp(frames, np.arange(first_heard.size), first_heard) * HOP / 44_100
    return seconds


def figures(score: Score, onset_s: F64, placed: F64) -> F64:
    """Median, p95, bias, both without bias (ms), shares within 50 and 100 ms (%)."""
    grace = np.array([n.grace for n in score.notes])
    use = ~grace & np.isfinite(onset_s)
    error = 1000 * (placed[use] - onset_s[use])
    bias = float(np.nanmedian(error))
    off = np.where(np.isfinite(error), np.abs(error), 60_000.0)
    rest = np.where(np.isfinite(error), np.abs(error - bias), 60_000.0)
    return np.array(
        [
            np.median(off), np.percentile(off, 95), bias, np.median(rest),
            np.percentile(rest, 95), 100 * np.mean(off <= 50), 100 * np.mean(off <= 100),
        ]
    )  # fmt: skip


def row(name: str, values: F64, seconds: float) -> str:
    widths = ("6.1f", "6.1f", "+6.1f", "6.1f", "6.1f", "6.1f", "5.1f")
    cells = (format(v, w) for v, w in zip(values, widths, strict=True))
    return f"{name:58s} {' '.join(cells)} {seconds:7.1f}"


def measure(items: tuple[Item, ...], folder: Path) -> None:
    print(HEAD)
    ours, plain = [], []
    for item in items:
        one = perform(item, folder)
        start = time.perf_counter()
        tracing = trace(one.score, listen(one.sound.samples))
        spent = time.perf_counter() - start
        onsets = [n.onset for n in one.score.notes]
        placed = Timeline(tracing.stretches, (), ()).seconds(onsets)
        ours.append(figures(one.score, one.onset_s, placed))
        order = "" if tuple(v.bar for v in tracing.order.visits) == one.bars else "  order!"
        print(row(item.name, ours[-1], spent) + order, flush=True)
        start = time.perf_counter()
        plain.append(figures(one.score, one.onset_s, plain_seconds(one)))
        print(row("    plain chroma", plain[-1], time.perf_counter() - start), flush=True)
    print(row("MEAN", np.mean(ours, axis=0), 0.0))
    print(row("MEAN plain chroma", np.mean(plain, axis=0), 0.0))


def refuse(items: tuple[Item, ...], folder: Path) -> None:
    """Try every sound with every score: own ones must be taken, all others refused."""
    made = [perform(item, folder) for item in items]
    scores: list[tuple[str, Score]] = [
        (i.work, p.score) for i, p in zip(items, made, strict=True)
    ]
    for item, one in zip(items, made, strict=True):
        features = listen(one.sound.samples)
        for work, score in scores:
            try:
                fit = dict(timeline_of(score, features).fit)
                said = f"taken, margin {fit['pitch_margin']:.2f}"
            except AlignmentError as error:
                said = f"refused: {error}"
            wrong = (work == item.work) != said.startswith("taken")
            print(f"{'WRONG ' if wrong else ''}{item.name} with {work}: {said}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fitting", action="store_true", help="the fitting items instead")
    parser.add_argument("--wrong", action="store_true", help="try every other score too")
    options = parser.parse_args()
    items = FITTING if options.fitting else SEEN
    (refuse if options.wrong else measure)(items, options.folder)


if __name__ == "__main__":
    main()

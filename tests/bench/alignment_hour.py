"""Seconds and memory of alignment as sounds grow: movements laid end to end.

    python tests/bench/alignment_hour.py FOLDER [MINUTES ...]

Items of `alignment_sets` are joined, scores and sounds alike, and read piece by piece from
one file; each length runs in a process of its own (peak of its resident memory, imports
and compiled code included; a short sound is aligned first, so nothing is compiled in the time
taken).
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import soundfile
from alignment_bench import figures
from alignment_items import Performance, perform
from alignment_sets import FITTING, SEEN

from auditor.alignment.aligning import timeline_of
from auditor.score.notes import Score
from auditor.sound.features import listen_to
from auditor.sound.reading import stream_sound

RATE_HZ = 44_100


def joined(performances: list[Performance], minutes: float) -> tuple[Score, np.ndarray, float]:
    """One score of many, the true onsets, and the seconds they take."""
    bars, notes, onsets = [], [], []
    at, written, seconds = 0.0, 0, 0.0
    lines, parts = performances[0].score.lines, performances[0].score.parts
    for one in performances:
        if seconds >= 60 * minutes:
            break
        first = len(bars)
        bars += [
            replace(
                b, index=b.index + first, written_index=b.written_index + written,
                onset=b.onset + at,
            )
            for b in one.score.bars
        ]  # fmt: skip
        lines = max(lines, one.score.lines, key=len)
        parts = max(parts, one.score.parts, key=len)
        notes += [
            replace(n, id=f"{first}.{n.id}", bar=n.bar + first, onset=n.onset + at)
            for n in one.score.notes
        ]
        onsets.append(one.onset_s + seconds)
        at += one.score.duration
        written = bars[-1].written_index + 1
        seconds += one.sound.duration_s
    score = replace(
        performances[0].score, parts=parts, lines=lines, bars=tuple(bars), notes=tuple(notes)
    )
    return score, np.concatenate(onsets), seconds


def make(folder: Path, minutes: float) -> Path:
    """Write the joined sound and its score as a pickle-free pair: the items are made anew."""
    wave = folder / f"joined-{minutes:g}.wav"
    if not wave.exists():
        seconds = 0.0
        with soundfile.SoundFile(wave, "w", RATE_HZ, 1) as out:
            for item in (i for i in (*FITTING, *SEEN) if i.shape == "straight"):
                if seconds >= 60 * minutes:
                    break
                sound = perform(item, folder).sound
                out.write(sound.samples)
                seconds += sound.duration_s
    return wave


def run(folder: Path, minutes: float) -> None:
    items = [i for i in (*FITTING, *SEEN) if i.shape == "straight"]
    quiet = [replace(p, sound=replace(p.sound, samples=np.zeros(1, np.float32)))
             for p in (perform(i, folder) for i in items)]  # fmt: skip
    score, onset_s, seconds = joined(quiet, minutes)
    wave = folder / f"joined-{minutes:g}.wav"
    warm = perform(FITTING[8], folder)
    timeline_of(warm.score, listen_to(lambda: iter([warm.sound.samples])))
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.perf_counter()
    features = listen_to(stream_sound(wave).blocks)
    heard = time.perf_counter() - start
    timeline = timeline_of(score, features)
    spent = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    placed = timeline.seconds([n.onset for n in score.notes])
    off = figures(score, onset_s, placed)
    told = {
        "minutes": round(seconds / 60, 1), "notes": len(score.notes),
        "seconds": round(spent, 1), "of which listening": round(heard, 1),
        "peak_mb": round(peak), "before_mb": round(before),
        "median_ms": round(float(off[0]), 1), "p95_ms": round(float(off[1]), 1),
    }  # fmt: skip
    print(json.dumps(told), flush=True)


def main() -> None:
    folder = Path(sys.argv[1])
    if len(sys.argv) == 4 and sys.argv[3] == "--inside":
        run(folder, float(sys.argv[2]))
        return
    for minutes in sys.argv[2:] or ("5", "15", "30", "60"):
        make(folder, float(minutes))
        subprocess.run([sys.executable, __file__, str(folder), minutes, "--inside"], check=True)


if __name__ == "__main__":
    main()

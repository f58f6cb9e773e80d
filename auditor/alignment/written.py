"""Where the score's quarters lie in seconds if it is played as its tempo marks say."""

from __future__ import annotations

import re

import numpy as np

from auditor.alignment.timeline import BarTime, Stretch, Timeline
from auditor.score.notes import Score

# Where the page says nothing at all, and after words without a number; quarters a minute,
# common practice, no source.
UNMARKED = 96.0
_WORDS: tuple[tuple[str, float], ...] = (
    ("prestissimo", 190.0), ("presto", 170.0), ("vivac", 150.0), ("allegretto", 108.0),
    ("allegro", 130.0), ("lebhaft", 130.0), ("moderato", 96.0), ("mäßig", 96.0),
    ("andantino", 84.0), ("andante", 76.0), ("larghetto", 60.0), ("lento", 54.0),
    ("langsam", 56.0), ("adagio", 58.0), ("largo", 50.0), ("grave", 46.0),
)  # fmt: skip
# Silence before the first note, so that it has an attack.
_LEAD_S = 0.2


def written_tempo(score: Score) -> tuple[tuple[float, ...], bool]:
    """Quarters a minute of each bar of the played axis, and whether any had to be assumed."""
    words: dict[int, float] = {}
    for mark in score.directions:
        if mark.kind in ("tempo", "words") and (found := _in_words(mark.text)):
            words.setdefault(mark.bar, found)
    out, now, assumed = [], UNMARKED, False
    known = False
    for bar in score.bars:
        if bar.tempo:
            now, known = bar.tempo, True
        elif bar.index in words and not known:
            now, assumed = words[bar.index], True
        elif not known:
            assumed = True
        out.append(float(now))
    return tuple(out), assumed


def _in_words(text: str) -> float | None:
    plain = text.lower()
    return next((rate for word, rate in _WORDS if re.search(rf"\b{word}", plain)), None)


def written_timeline(score: Score) -> Timeline:
    """Timeline of a performance that keeps to the marks."""
    if not score.bars:
        return Timeline((), (), ())
    tempo, _ = written_tempo(score)
    length = [b.duration * 60.0 / t for b, t in zip(score.bars, tempo, strict=True)]
    second = np.concatenate([[0.0], np.cumsum(length)]) + _LEAD_S
    quarter = np.array([b.onset for b in score.bars] + [score.duration])
    keep = np.concatenate([[True], np.diff(quarter) > 1e-9])
    bars = tuple(
        BarTime(b.index, float(second[k]), float(second[k + 1]), 1.0, "from the tempo marks")
        for k, b in enumerate(score.bars)
    )
    run = Stretch(quarter[keep], second[keep])
    return Timeline((run,), bars, tuple(b.index for b in score.bars))

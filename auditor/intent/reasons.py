"""Why a line is taken to lead, in words: what in its figures speaks for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.features import NAMES
from auditor.score.notes import Score

# Words for figures that speak for a line; what has none here is not said.
WORDS: dict[str, str] = {
    "moves-per-quarter": "it moves while others hold",
    "most-moving": "it moves while others hold",
    "pitches": "it has the most shape",
    "range": "it has the widest reach",
    "steps": "it moves by step like a tune",
    "rhythm-variety": "its rhythm is the most varied",
    "dynamic-of-loudest": "it is marked as loud as any",
    "dynamic-of-mean": "it is marked louder than the others",
    "solo": "it is marked solo",
    "highest": "it lies on top",
    "highest-moving": "it is the highest line that moves",
    "below-highest": "it lies on top",
    "above-others": "it lies above the others",
    "against-habit": "it lies high for itself",
    "alone-in-pitch-class": "nobody else has its notes",
    "together-in-onsets": "it moves on its own",
    "entry": "it enters after a rest",
    "recurs": "its figure returns elsewhere",
    "recurs-most": "its figure returns elsewhere",
    "carriers": "several lines carry it",
    "chair:violin-1": "first violins usually lead",
    "chair:flute-1": "solo woodwind",
    "chair:oboe-1": "solo woodwind",
    "chair:clarinet-1": "solo woodwind",
    "chair:bassoon-1": "solo woodwind",
    "chair:horn-1": "first horn",
    "chair:cello": "cellos with a line of their own",
}

# Reasons given at most.
MOST = 3


def _stretches(row: list[str], wanted: tuple[str, ...]) -> list[tuple[int, int, str]]:
    """Find runs of bars in one of the wanted roles."""
    out: list[tuple[int, int, str]] = []
    for bar, role in enumerate(row):
        if role not in wanted:
            continue
        if out and out[-1][1] == bar - 1 and out[-1][2] == role:
            out[-1] = (out[-1][0], bar, role)
        else:
            out.append((bar, bar, role))
    return out


def _words(gain: NDArray[np.float64], *, solo: bool, brought: bool) -> str:
    said: list[str] = ["it is marked solo"] if solo else []
    if brought and not solo:
        said.append("it is marked to be brought out")
    for k in np.argsort(-gain):
        words = WORDS.get(NAMES[int(k)])
        if gain[k] <= 0.05 or len(said) == MOST:
            break
        if words and words not in said and words != "it is marked solo":
            said.append(words)
    return "; ".join(said) or "nothing else asks for attention"


def lead_reasons(
    score: Score,
    role: list[list[str]],
    pulls: NDArray[np.float64],
    on: NDArray[np.bool_],
    solo: NDArray[np.bool_],
    brought: NDArray[np.bool_],
) -> tuple[tuple[tuple[int, int, int], str], ...]:
    """Reasons for every stretch in which a line leads or answers.

    Parameters
    ----------
    score, role
        The page, and the role of each line in each bar.
    pulls : ndarray, shape (lines, bars, features)
        What each figure adds to a line's score.
    on, solo, brought : ndarray of bool, shape (lines, bars)
        Where the line sounds, where it is marked solo, and where to be brought out.
    """
    sounding = np.maximum(on.sum(axis=0), 1)[:, None]
    usual = np.where(on[:, :, None], pulls, 0.0).sum(axis=0) / sounding
    out: list[tuple[tuple[int, int, int], str]] = []
    for i, line in enumerate(score.lines):
        for first, last, _ in _stretches(role[i], ("leading", "answer")):
            bars = slice(first, last + 1)
            gain = (pulls[i, bars] - usual[bars]).mean(axis=0)
            words = _words(
                gain, solo=bool(solo[i, bars].any()), brought=bool(brought[i, bars].any())
            )
            out.append(((line.number, first, last), words))
    return tuple(out)

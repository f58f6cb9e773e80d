"""Why a line is taken to lead, in words: what in its figures speaks for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent import context, features
from auditor.intent.leading import Lead
from auditor.score.notes import Score

GOES_ON = "it leads in the bars around"
# Words, and the figures that are reasons to say them; what has no words is not said.
WORDS: dict[str, tuple[str, ...]] = {
    "it moves while others hold": (
        "moves-per-quarter", "most-moving", "moves-per-quarter-now",
        "moves-per-quarter-now-of-most", "notes-per-quarter-of-most",
    ),
    "it has the most shape": ("pitches", "pitches-of-most"),
    "it has the widest reach": ("range", "range-of-most"),
    "it moves by step like a tune": ("steps",),
    "its rhythm is the most varied": ("rhythm-variety", "rhythm-variety-of-most"),
    "its rhythm is its own": ("own-rhythm", "together-in-onsets", "rhythm-mates",
                              "rhythm-mates-share"),
    "it does not repeat one pattern": (
        "same-rhythm-as-last-bar", "same-notes-as-last-bar", "repeated", "repeated-now",
        "off-beat",
    ),
    "it is marked as loud as any": ("dynamic-of-loudest", "strand:dynamic"),
    "it is marked louder than the others": ("dynamic-of-mean",),
    "it plays louder than it mostly does": ("dynamic-of-habit",),
    "its notes are slurred into phrases": ("slurred", "slurred-around", "slurred-of-most",
                                           "slur-length"),
    "it has marks of its own": ("hairpin-own", "mark-own", "words-own"),
    "it lies on top": ("highest", "below-highest", "above-others", "lines-above",
                       "gap-above", "strand:top"),
    "it is the highest line that moves": ("highest-moving",),
    "it lies on top of its family": ("highest-of-family",),
    "it lies high for itself": ("against-habit",),
    "nobody else has its notes": ("alone-in-pitch-class",),
    "it enters after a rest": ("entry", "since-entry", "rest-before"),
    "its figure returns elsewhere": ("recurs", "recurs-most"),
    "its figure was heard before": ("heard-before", "heard-before-most"),
    "the same figure leads elsewhere": ("theme:mean", "theme:most"),
    "several lines carry it": ("carriers", "strand:families"),
    GOES_ON: (
        "first:near", "first:far", "first:phrase", "first:strand-phrase",
        *(f"first:{what}{step:+d}" for step in (-1, 1, -2, 2) for what in ("share", "strand")),
    ),
    "first violins usually lead": ("chair:violin-1", "strand:violin-1"),
    "solo woodwind": ("chair:flute-1", "chair:oboe-1", "chair:clarinet-1",
                      "chair:bassoon-1"),
    "first horn": ("chair:horn-1",),
    "cellos with a line of their own": ("chair:cello",),
}  # fmt: skip

# Reasons given at most, and the least a reason adds to a line's score to be given.
MOST, LEAST = 3, 0.05
# A lead less likely than not is said to be unclear.
UNCLEAR = 0.5
# Words about a chair need that chair.
_CHAIR = ("first violins usually lead", "solo woodwind", "first horn",
          "cellos with a line of their own")  # fmt: skip

_NAMES = features.NAMES + context.NAMES
_PLACE = {name: k for k, name in enumerate(_NAMES)}


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


def _sits(words: str, chair: str) -> bool:
    """Whether words about a chair fit the line's own."""
    return words not in _CHAIR or f"chair:{chair}" in WORDS[words]


def _words(gain: NDArray[np.float64], chair: str, *, solo: bool, brought: bool) -> list[str]:
    said: list[str] = ["it is marked solo"] if solo else []
    if brought and not solo:
        said.append("it is marked to be brought out")
    worth = {
        words: float(gain[[_PLACE[name] for name in names]].sum())
        for words, names in WORDS.items()
        if _sits(words, chair)
    }
    best = sorted((w for w in worth if worth[w] > LEAST), key=lambda w: -worth[w])
    if "it lies on top" in best:
        best = [w for w in best if w != "it lies on top of its family"]
    # What is true of the line itself tells more than that it led before.
    best = [w for w in best if w != GOES_ON] + [w for w in best if w == GOES_ON]
    said += best[: MOST - len(said)]
    return said or ["little else moves here"]


def lead_reasons(
    score: Score,
    role: list[list[str]],
    lead: Lead,
    on: NDArray[np.bool_],
    marks: tuple[NDArray[np.bool_], NDArray[np.bool_]],
    seats: tuple[str, ...],
) -> tuple[tuple[tuple[int, int, int], str], ...]:
    """Reasons for every stretch in which a line leads or answers.

    Parameters
    ----------
    score, role
        The page, and the role of each line in each bar.
    lead
        Who leads, and what speaks for it.
    on, marks : ndarray of bool, shape (lines, bars)
        Where the line sounds; where it is marked solo, and where to be brought out.
    seats
        Chair of each line.
    """
    solo, brought = marks
    sounding = np.maximum(on.sum(axis=0), 1)[:, None]
    usual = lead.pull.sum(axis=0) / sounding
    out: list[tuple[tuple[int, int, int], str]] = []
    for i, line in enumerate(score.lines):
        for first, last, name in _stretches(role[i], ("leading", "answer")):
            bars = slice(first, last + 1)
            gain = (lead.pull[i, bars] - usual[bars]).mean(axis=0)
            asked = {"solo": bool(solo[i, bars].any()), "brought": bool(brought[i, bars].any())}
            words = "; ".join(_words(gain, seats[i], **asked))
            unclear = float(lead.strand[i, bars].mean()) < UNCLEAR
            if name == "leading" and unclear and not any(asked.values()):
                words += "; which line leads here is unclear"
            out.append(((line.number, first, last), words))
    return tuple(out)

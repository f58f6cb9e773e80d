"""What a bar of a line looks like to someone who asks which line leads.

One row of numbers per line and bar: motion, rhythm, register, dynamics, company and
instrument. Nothing here reads lyrics or anything else that is not played.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.chairs import CHAIRS, chairs
from auditor.intent.company import FAMILIES, OF_VIOLINS, alone, around, rhythm_mates, strand
from auditor.intent.motion import entries, motion, reach, repetition
from auditor.intent.recurrence import recurrence
from auditor.intent.register import register
from auditor.intent.signs import WAYS, dynamics, signs, ways
from auditor.intent.texture import Texture, per_bar
from auditor.intent.windows import BoolArray, FloatArray, Table, of_most, spread, window_bars
from auditor.score.notes import Score

_NOW = ("notes-per-quarter", "moves-per-quarter", "repeated", "note-length")
_OF_MOST = ("notes-per-quarter", "range", "pitches", "rhythm-variety", "moves-per-quarter-now")

FIGURES: tuple[str, ...] = (
    "sounds", "notes-per-quarter", "moves-per-quarter", "repeated", "steps", "leaps", "turns",
    "note-length", "rhythm-variety", "sounds-longest", "range", "pitches", "chords",
    *(f"{name}-now" for name in _NOW), *(f"{name}-of-most" for name in _OF_MOST),
    "most-moving", "length-of-most", "highest", "lowest", "highest-moving", "highest-of-family",
    "below-highest", "above-others", "against-habit", "gap-above", "gap-below", "lines-above",
    "dynamic-of-loudest", "dynamic-of-mean", "dynamic-of-habit", "solo", "written",
    *WAYS, "slurred-around", "slurred-of-most", "espressivo-only", "hairpin", "hairpin-own",
    "mark-lately", "mark-own", "words-own", "slur-length", "alone-in-pitch-class",
    "together-in-onsets", "rhythm-mates", "rhythm-mates-share", "own-rhythm", "entry",
    "since-entry", "until-rest", "rest-before", "same-rhythm-as-last-bar",
    "same-notes-as-last-bar", "off-beat", "recurs", "recurs-most", "heard-before",
    "heard-before-most", "carriers", "strand:top", "strand:first", "strand:violin-1",
    "strand:families", "strand:fullest", "strand:dynamic", "strand:strings", "company",
    "tacet-share", *(f"sounding:{name}" for name in FAMILIES),
    *(f"violins:{name}" for name in OF_VIOLINS),
)  # fmt: skip

NAMES: tuple[str, ...] = FIGURES + tuple(f"chair:{c}" for c in CHAIRS)


def _of_line(score: Score, texture: Texture, sounding: FloatArray, radius: int) -> Table:
    """Figures that look at each line and at what sounds with it."""
    on = sounding > 0
    table = motion(texture, radius) | reach(texture, radius)
    here = motion(texture, 0)
    table |= {f"{name}-now": here[name] for name in _NOW}
    table |= register(texture, sounding, table["moves-per-quarter"], score.lines)
    table |= dynamics(texture, sounding) | ways(score, texture, on, radius)
    table |= signs(score, texture, on) | alone(texture, sounding) | repetition(texture)
    table["sounds"] = sounding / np.maximum(np.diff(texture.starts), 1)[None, :]
    chord = (texture.top != texture.low) & texture.active
    table["chords"] = per_bar(chord.astype(float), texture) / np.maximum(sounding, 1e-9)
    table |= entries(on, table["sounds"])
    return table


def _compared(table: Table, on: BoolArray) -> Table:
    """Figures against the line that has most of them."""
    out = {f"{name}-of-most": of_most(table[name], on) for name in _OF_MOST}
    out["most-moving"] = of_most(table["moves-per-quarter"], on)
    out["slurred-of-most"] = of_most(table["slurred-around"], on)
    longest = np.where(on, table["note-length"], -9.0).max(axis=0, initial=-9.0)
    out["length-of-most"] = np.where(on, table["note-length"] - longest, 0.0)
    return out


def _returns(texture: Texture, on: BoolArray, radius: int) -> Table:
    """How often a line's figures return, and how often they were heard before."""
    anywhere, before = (
        spread(values, radius) / (2 * radius + 1) for values in recurrence(texture)
    )
    return {
        "recurs": anywhere,
        "recurs-most": of_most(anywhere, on),
        "heard-before": before,
        "heard-before-most": of_most(before, on),
    }


def features(
    score: Score, texture: Texture, label: NDArray[np.int64], carriers: NDArray[np.int64]
) -> tuple[FloatArray, BoolArray]:
    """Figures of every line in every bar.

    Parameters
    ----------
    score, texture
        The page and its grid.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    carriers : ndarray, shape (lines, bars)
        How many lines carry the line's notes there, itself included; 0 in rests.

    Returns
    -------
    ndarray, shape (lines, bars, features)
        In the order of `NAMES`.
    ndarray of bool, shape (lines, bars)
        Where the line sounds.
    """
    radius = window_bars(score)
    sounding = per_bar(texture.active.astype(float), texture)
    on: BoolArray = sounding > 0
    seats = chairs(score.lines)
    families = tuple(line.instrument.family for line in score.lines)
    table = _of_line(score, texture, sounding, radius)
    table |= _compared(table, on) | _returns(texture, on, radius)
    table |= rhythm_mates(texture, label, on)
    table |= strand(texture, label, on, table, seats, families)
    table |= around(on, table, seats, families)
    table["carriers"] = np.log2(np.maximum(carriers, 1))
    seat = np.array([[c == chair for chair in CHAIRS] for c in seats], float)
    seating = np.repeat(seat.reshape(on.shape[0], 1, len(CHAIRS)), on.shape[1], axis=1)
    figures = np.stack([table[name] for name in FIGURES], axis=2)
    return np.concatenate([figures, seating], axis=2), on

"""What a bar of a line looks like to someone who asks which line leads.

One row of numbers per line and bar: motion, rhythm, register, dynamics, company and
instrument. Nothing here reads lyrics or anything else that is not played.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from auditor.intent.recurrence import recurrence
from auditor.intent.texture import CELL, Texture, per_bar
from auditor.score.notes import Line, Score

FloatArray = NDArray[np.float64]

# The chairs told apart; everything else is "other". Who usually leads differs by chair.
CHAIRS: tuple[str, ...] = (
    "violin-1", "violin-2", "viola", "cello", "double-bass", "flute-1", "oboe-1", "clarinet-1",
    "bassoon-1", "piccolo", "english-horn", "wind-low", "wind-second", "horn-1", "horn-2",
    "trumpet-1", "trumpet-2", "trombone", "percussion", "keyboard", "voice", "other",
)  # fmt: skip

FIGURES: tuple[str, ...] = (
    "sounds", "notes-per-quarter", "moves-per-quarter", "repeated", "steps", "leaps",
    "note-length", "rhythm-variety", "range", "pitches", "chords", "dynamic-of-loudest",
    "dynamic-of-mean", "solo", "highest", "highest-moving", "below-highest", "above-others",
    "lowest", "against-habit", "alone-in-pitch-class", "together-in-onsets", "most-moving",
    "entry", "same-rhythm-as-last-bar", "recurs", "recurs-most", "company", "carriers",
    "sounds-longest", "tacet-share", "written",
)  # fmt: skip

NAMES: tuple[str, ...] = FIGURES + tuple(f"chair:{c}" for c in CHAIRS)

_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4}
_WINDS = ("flute", "oboe", "clarinet", "bassoon")


def _desk(line: Line, order: int) -> int:
    """Read the number at the end of a name, arabic or roman; else its order in its kind."""
    found = re.search(r"(\d+|\b[ivIV]{1,3})\.?\s*$", line.name)
    if not found:
        return order
    word = found.group(1).lower()
    return int(word) if word.isdigit() else _ROMAN.get(word, order)


def _chair_of(line: Line, desk: int) -> str:
    key, family = line.instrument.key, line.instrument.family
    first = "1" if desk == 1 else "2"
    if key in ("violin", "horn", "trumpet"):
        return f"{key}-{first}"
    if key in ("viola", "cello", "double-bass", "piccolo", "english-horn"):
        return key
    if key in _WINDS or family == "saxophone":
        name = "clarinet" if family == "saxophone" else key
        return f"{name}-1" if desk == 1 else "wind-second"
    named = {"woodwind": "wind-low", "brass": "trombone", "keyboard": "keyboard"}
    named |= {"plucked": "keyboard", "percussion": "percussion", "voice": "voice"}
    return named.get(family, "other")


def chairs(lines: tuple[Line, ...]) -> tuple[str, ...]:
    """Chair of each line: one of `CHAIRS`."""
    seen: dict[str, int] = {}
    out: list[str] = []
    for line in lines:
        key = line.instrument.key
        seen[key] = seen.get(key, 0) + 1
        out.append(_chair_of(line, _desk(line, seen[key])))
    return tuple(out)


def window_bars(score: Score) -> int:
    """Bars on each side that belong to a bar's surroundings: about four quarters."""
    lengths = [bar.duration for bar in score.bars]
    return int(np.clip(round(3.0 / max(float(np.median(lengths)), 0.5)), 1, 4))


def spread(values: FloatArray, radius: int) -> FloatArray:
    """Sum over a bar and its surroundings: (lines, bars) to (lines, bars)."""
    padded = np.pad(values, ((0, 0), (radius + 1, radius)))
    total = np.cumsum(padded, axis=1)
    width = 2 * radius + 1
    sums: FloatArray = total[:, width:] - total[:, :-width]
    return sums


def _ratio(a: FloatArray, b: FloatArray) -> FloatArray:
    out: FloatArray = np.divide(a, b, out=np.zeros_like(a), where=b > 1e-9)
    return out


def _motion(texture: Texture, radius: int) -> dict[str, FloatArray]:
    """Figures of motion and rhythm from the onsets of each line."""
    shape = texture.top.shape
    moves, step, leap = (np.zeros(shape, bool) for _ in range(3))
    gap, gap2 = np.zeros(shape), np.zeros(shape)
    for i in range(shape[0]):
        at = np.flatnonzero(texture.onset[i])
        if at.size < 2:
            continue
        size = np.abs(np.diff(texture.top[i, at].astype(int)))
        moves[i, at[1:]] = size > 0
        step[i, at[1:]] = (size > 0) & (size <= 2)
        leap[i, at[1:]] = size >= 5
        log_gap = np.log2(np.diff(at) * CELL)
        gap[i, at[1:]], gap2[i, at[1:]] = log_gap, log_gap**2
    sums = {
        name: spread(per_bar(values.astype(float), texture), radius)
        for name, values in (
            ("on", texture.onset), ("moves", moves), ("step", step), ("leap", leap),
            ("gap", gap), ("gap2", gap2),
        )
    }  # fmt: skip
    quarters = spread(np.diff(texture.starts)[None, :] * CELL * np.ones((shape[0], 1)), radius)
    sounding = spread(per_bar(texture.active.astype(float), texture) * CELL, radius)
    count = np.maximum(sums["on"], 1.0)
    variance = sums["gap2"] / count - (sums["gap"] / count) ** 2
    return {
        "notes-per-quarter": _ratio(sums["on"], quarters),
        "moves-per-quarter": _ratio(sums["moves"], quarters),
        "repeated": 1.0 - _ratio(sums["moves"], sums["on"]),
        "steps": _ratio(sums["step"], sums["moves"]),
        "leaps": _ratio(sums["leap"], sums["moves"]),
        "note-length": np.log2(np.maximum(_ratio(sounding, sums["on"]), CELL)),
        "rhythm-variety": np.sqrt(np.maximum(variance, 0.0)),
        "sounds-longest": _ratio(sounding, quarters),
    }


def _pitch_span(texture: Texture, radius: int) -> dict[str, FloatArray]:
    lines, bars = texture.top.shape[0], texture.starts.size - 1
    reach, count = np.zeros((lines, bars)), np.zeros((lines, bars))
    for b in range(bars):
        a, z = texture.starts[max(b - radius, 0)], texture.starts[min(b + radius + 1, bars)]
        block = texture.top[:, a:z]
        for i in np.flatnonzero((block >= 0).any(axis=1)):
            pitches = np.unique(block[i][block[i] >= 0])
            reach[i, b] = pitches[-1] - pitches[0]
            count[i, b] = pitches.size
    return {"range": reach / 12.0, "pitches": np.log2(1.0 + count)}


def mean_pitch(texture: Texture) -> FloatArray:
    """Mean of a line's highest pitches in each bar, MIDI; NaN where it rests."""
    pitched = texture.top >= 0
    total = per_bar(np.where(pitched, texture.top, 0).astype(float), texture)
    count = per_bar(pitched.astype(float), texture)
    out: FloatArray = np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)
    return out


def _register(
    texture: Texture, sounding: FloatArray, moves: FloatArray
) -> dict[str, FloatArray]:
    pitch = mean_pitch(texture)
    pitched = ~np.isnan(pitch)
    top = np.where(pitched, pitch, -np.inf).max(axis=0)
    moving = pitched & (moves >= 0.4 * np.where(pitched, moves, 0).max(axis=0))
    top_moving = np.where(moving, pitch, -np.inf).max(axis=0)
    cells = texture.top
    highest = (cells >= 0) & (cells >= cells.max(axis=0))
    floor = np.where(texture.low >= 0, texture.low, 999)
    lowest = (texture.low >= 0) & (texture.low <= floor.min(axis=0))
    weight = np.where(pitched, 1.0, 0.0)
    below = np.array([(pitch < pitch[i] - 0.5).sum(axis=0) for i in range(pitch.shape[0])])
    others = np.maximum(weight.sum(axis=0) - 1.0, 1.0)
    cells_of = np.maximum(sounding, 1e-9)
    seen = np.where(texture.top >= 0, texture.top, np.nan).astype(float)
    habit = np.array([np.nanmean(r) if np.isfinite(r).any() else 0.0 for r in seen])
    width = np.array([np.nanstd(r) if np.isfinite(r).any() else 1.0 for r in seen])
    safe = np.where(pitched, pitch, 0.0)
    return {
        "highest": per_bar(highest.astype(float), texture) / cells_of * weight,
        "lowest": per_bar(lowest.astype(float), texture) / cells_of * weight,
        "highest-moving": (moving & (pitch >= top_moving - 0.5)).astype(float),
        "below-highest": np.where(pitched, np.maximum(safe - top, -48.0) / 12.0, -4.0),
        "above-others": below / others * weight,
        "against-habit": np.where(
            pitched, (safe - habit[:, None]) / np.maximum(width[:, None], 2.0), 0.0
        ),
    }


def _dynamics(score: Score, texture: Texture, sounding: FloatArray) -> dict[str, FloatArray]:
    level = per_bar(np.nan_to_num(texture.level).astype(float), texture)
    level = _ratio(level, sounding)
    on = sounding > 0
    loudest = np.where(on, level, -np.inf).max(axis=0)
    loudest = np.where(np.isfinite(loudest), loudest, 0.0)
    mean = _ratio(np.where(on, level, 0).sum(axis=0), on.sum(axis=0).astype(float))
    solo = np.zeros_like(sounding)
    written = np.zeros_like(sounding)
    for note in score.notes:
        row = texture.row[note.line]
        if "solo" in note.techniques:
            solo[row, note.bar] = 1.0
        written[row, note.bar] = float(note.dynamic_written)
    return {
        "dynamic-of-loudest": np.where(on, level - loudest, 0.0),
        "dynamic-of-mean": np.where(on, level - mean, 0.0),
        "solo": solo,
        "written": written,
    }


def _company(texture: Texture, sounding: FloatArray) -> dict[str, FloatArray]:
    """Who else sounds the same pitch class, and who starts together."""
    pitch_class = np.where(texture.top >= 0, texture.top % 12, -1)
    counts = np.zeros((12, texture.top.shape[1]), int)
    for pc in range(12):
        counts[pc] = (pitch_class == pc).sum(axis=0)
    shared = np.take_along_axis(counts, np.maximum(pitch_class, 0), axis=0)
    only = (pitch_class >= 0) & (shared == 1)
    together = texture.onset.sum(axis=0) - 1
    around = np.maximum(texture.active.sum(axis=0) - 1, 1)
    with_others = np.where(texture.onset, together / around, 0.0)
    onsets = per_bar(texture.onset.astype(float), texture)
    return {
        "alone-in-pitch-class": per_bar(only.astype(float), texture)
        / np.maximum(sounding, 1e-9),
        "together-in-onsets": _ratio(per_bar(with_others, texture), onsets),
    }


def _like_last_bar(texture: Texture) -> FloatArray:
    """How far a bar's onsets repeat the bar before: 0 to 1."""
    out = np.zeros((texture.top.shape[0], texture.starts.size - 1))
    for b in range(1, out.shape[1]):
        a, m, z = texture.starts[b - 1 : b + 2]
        width = min(m - a, z - m)
        last, this = texture.onset[:, a : a + width], texture.onset[:, m : m + width]
        union = (last | this).sum(axis=1)
        out[:, b] = np.divide(
            (last & this).sum(axis=1), union, out=np.zeros(union.size), where=union > 0
        )
    return out


def features(
    score: Score, texture: Texture, carriers: NDArray[np.int64]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Figures of every line in every bar.

    Parameters
    ----------
    score, texture
        The page and its grid.
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
    length = np.maximum(np.diff(texture.starts), 1)[None, :]
    on = sounding > 0
    table = _motion(texture, radius) | _pitch_span(texture, radius)
    table |= _register(texture, sounding, table["moves-per-quarter"])
    table |= _dynamics(score, texture, sounding) | _company(texture, sounding)
    table["sounds"] = sounding / length
    chord = (texture.top != texture.low) & texture.active
    table["chords"] = per_bar(chord.astype(float), texture) / np.maximum(sounding, 1e-9)
    moves = table["moves-per-quarter"]
    table["most-moving"] = _ratio(
        moves, np.where(on, moves, 0).max(axis=0) * np.ones_like(moves)
    )
    before = np.roll(table["sounds"], 1, axis=1)
    before[:, 0] = 0.0
    table["entry"] = np.where(on, 1.0 - before, 0.0)
    table["same-rhythm-as-last-bar"] = _like_last_bar(texture)
    recurs = spread(recurrence(texture), radius) / (2 * radius + 1)
    table["recurs"] = recurs
    table["recurs-most"] = _ratio(recurs, np.where(on, recurs, 0).max(axis=0) + 0 * recurs)
    table["company"] = np.log2(np.maximum(on.sum(axis=0), 1)) + 0 * sounding
    table["carriers"] = np.log2(np.maximum(carriers, 1))
    table["tacet-share"] = 1.0 - on.mean(axis=1, keepdims=True) + 0 * sounding
    seat = np.array([[c == chair for chair in CHAIRS] for c in chairs(score.lines)], float)
    seats = np.repeat(seat[:, None, :], on.shape[1], axis=1)
    figures = np.stack([table[name] for name in FIGURES], axis=2)
    return np.concatenate([figures, seats], axis=2), on

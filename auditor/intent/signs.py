"""What the page says about a line: dynamics, solo, slurs, hairpins, ways of playing."""

from __future__ import annotations

import numpy as np

from auditor.intent.texture import Texture, per_bar
from auditor.intent.windows import BoolArray, FloatArray, Table, ratio, spread
from auditor.score.dynamic_words import letters
from auditor.score.notes import Score

WAYS: tuple[str, ...] = (
    "slurred", "espressivo", "pizz", "tremolo", "staccato", "accent", "trill", "mute",
)  # fmt: skip
# Bars through which a fresh mark still speaks.
LATELY = 3


# One of a pair of winds is alone while the other sounds for less than this share of its time.
ALONE = 0.5
WINDS: tuple[str, ...] = ("woodwind", "brass", "saxophone")


def solos(score: Score) -> BoolArray:
    """Where a line is marked solo and stands alone of its kind, (lines, bars).

    On pages with a staff for each of a pair of winds "solo" often only says that the other
    one rests; once that one plays too, both are back in the wind choir.
    """
    row = {line.number: i for i, line in enumerate(score.lines)}
    shape = (len(score.lines), len(score.bars))
    length, marked = np.zeros(shape), np.zeros(shape, bool)
    for note in score.notes:
        place = row[note.line], note.bar
        length[place] += note.duration
        marked[place] |= "solo" in note.techniques
    kinds = [(line.instrument.key, line.instrument.family) for line in score.lines]
    for i, (key, family) in enumerate(kinds):
        if family not in WINDS or not marked[i].any():
            continue
        others = [k for k, (other, _) in enumerate(kinds) if other == key and k != i]
        if others:
            marked[i] &= length[others].max(axis=0) < ALONE * np.maximum(length[i], 1e-9)
    return marked


def stressed(score: Score) -> BoolArray:
    """Which notes are marked sf, fp and the like, and fall off after their attack, (notes,)."""
    marks = {
        (d.part, round(d.onset, 3))
        for d in score.directions
        if d.kind == "dynamic" and letters(d.text).stress > 0
    }
    return np.array([(n.part, round(n.onset, 3)) in marks for n in score.notes], dtype=bool)


def dynamics(texture: Texture, sounding: FloatArray) -> Table:
    """Written dynamics in steps against the loudest, the mean, and the line's own habit."""
    on = sounding > 0
    level = ratio(per_bar(np.nan_to_num(texture.level).astype(float), texture), sounding)
    loudest = np.where(on, level, -np.inf).max(axis=0, initial=-np.inf)
    loudest = np.where(np.isfinite(loudest), loudest, 0.0)
    mean = ratio(np.where(on, level, 0).sum(axis=0), on.sum(axis=0).astype(float))
    bars = np.maximum(on.sum(axis=1), 1)
    habit = np.where(on, level, 0.0).sum(axis=1) / bars
    return {
        "dynamic-of-loudest": np.where(on, level - loudest, 0.0),
        "dynamic-of-mean": np.where(on, level - mean, 0.0),
        "dynamic-of-habit": np.where(on, level - habit[:, None], 0.0),
    }


def ways(score: Score, texture: Texture, on: BoolArray, radius: int) -> Table:
    """Share of a line's notes in a bar played in each way; solo; whether a dynamic stands."""
    out = {way: np.zeros(on.shape) for way in WAYS}
    count, solo, written = (np.zeros(on.shape) for _ in range(3))
    for note in score.notes:
        place = texture.row[note.line], note.bar
        count[place] += 1
        written[place] = float(note.dynamic_written)
        solo[place] = max(solo[place], float("solo" in note.techniques))
        for way in note.techniques:
            if way in out:
                out[way][place] += 1
    around = ratio(spread(out["slurred"], radius), spread(count, radius))
    out = {way: ratio(values, count) for way, values in out.items()}
    few = 2 * out["espressivo"].sum(axis=0) <= on.sum(axis=0)
    return out | {
        "slurred-around": around,
        "espressivo-only": out["espressivo"] * few,
        "solo": solo,
        "written": written,
    }


def _lately(values: FloatArray, on: BoolArray) -> FloatArray:
    """Let a mark fade over the bars after it."""
    out = values.copy()
    for k in range(1, min(LATELY, values.shape[1] - 1) + 1):
        fading = values[:, :-k] * (1 - k / (LATELY + 1))
        out[:, k:] = np.maximum(out[:, k:], fading)
    return np.where(on, out, 0.0)


def _own(values: FloatArray, on: BoolArray) -> FloatArray:
    """Weigh down what many others have at the same time."""
    others = (values.sum(axis=0) - values) / np.maximum(on.sum(axis=0) - 1, 1)
    out: FloatArray = values * np.maximum(1.0 - others, 0.0)
    return out


def signs(score: Score, texture: Texture, on: BoolArray) -> Table:
    """Hairpins, fresh dynamics, words and slurs of each line in each bar."""
    rows: dict[int, list[int]] = {}
    for line in score.lines:
        rows.setdefault(line.part, []).append(texture.row[line.number])
    cells = {kind: np.zeros(on.shape) for kind in ("hairpin", "dynamic", "words", "slur")}
    ends = np.array([bar.onset + bar.duration for bar in score.bars])
    for sign in score.directions:
        if sign.kind not in cells or sign.part not in rows or sign.bar >= ends.size:
            continue
        last = min(int(np.searchsorted(ends, sign.end - 1e-6)), ends.size - 1)
        size = np.log2(1 + min(sign.end - sign.onset, 15)) if sign.kind == "slur" else 1.0
        for row in rows[sign.part]:
            held = cells[sign.kind][row, sign.bar : last + 1]
            np.maximum(held, size, out=held)
    return {
        "hairpin": cells["hairpin"] * on,
        "hairpin-own": _own(cells["hairpin"] * on, on),
        "mark-lately": _lately(cells["dynamic"], on),
        "mark-own": _lately(_own(cells["dynamic"], on), on),
        "words-own": _lately(_own(cells["words"], on), on),
        "slur-length": cells["slur"] * on,
    }

"""Whom a line plays with: its strand, who shares its rhythm, and who else sounds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.intent.register import EQUAL, mean_pitch
from auditor.intent.texture import Texture, per_bar
from auditor.intent.windows import BoolArray, FloatArray, Table, ratio

# Lines with this share of their onsets in common move together.
TOGETHER = 0.75
FAMILIES: tuple[str, ...] = ("woodwind", "brass", "strings")
# What the first violins do colours what everybody else may be doing.
OF_VIOLINS: tuple[str, ...] = (
    "sounds", "most-moving", "repeated", "range-of-most", "same-rhythm-as-last-bar",
    "dynamic-of-loudest",
)  # fmt: skip


def alone(texture: Texture, sounding: FloatArray) -> Table:
    """How much of a line's time nobody else has its pitch class, and who starts with it."""
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
        "together-in-onsets": ratio(per_bar(with_others, texture), onsets),
    }


def rhythm_mates(texture: Texture, label: NDArray[np.int64], on: BoolArray) -> Table:
    """Lines of other strands in a line's rhythm, and how much its rhythm is its own."""
    mates, own = np.zeros(on.shape), np.zeros(on.shape)
    for b, (a, z) in enumerate(pairwise(texture.starts.tolist())):
        onset = texture.onset[:, a:z].astype(float)
        common = onset @ onset.T
        count = np.diag(common)
        likeness = ratio(common, count[:, None] + count[None, :] - common)
        other = (label[:, b][:, None] != label[:, b][None, :]) & on[:, b][None, :]
        mates[:, b] = ((likeness >= TOGETHER) & other).sum(axis=1) * on[:, b]
        own[:, b] = 1.0 - np.where(other, likeness, 0.0).max(axis=1)
    return {
        "rhythm-mates": np.log2(1 + mates),
        "rhythm-mates-share": mates / np.maximum(on.sum(axis=0), 1),
        "own-rhythm": own,
    }


def strand(
    texture: Texture,
    label: NDArray[np.int64],
    on: BoolArray,
    table: Table,
    seats: tuple[str, ...],
    families: tuple[str, ...],
) -> Table:
    """Say what each line is within its strand, and what the strand has."""
    names = ("top", "first", "violin-1", "families", "fullest", "dynamic", "strings")
    out = {name: np.zeros(on.shape) for name in names}
    pitch = np.nan_to_num(mean_pitch(texture), nan=-1.0)
    pace, loud = table["notes-per-quarter"], table["dynamic-of-loudest"]
    for b in range(on.shape[1]):
        rows = np.flatnonzero(on[:, b])
        for value in np.unique(label[rows, b]):
            m = rows[label[rows, b] == value]
            out["top"][m, b] = pitch[m, b] >= pitch[m, b].max() - EQUAL
            out["first"][m[0], b] = 1.0
            out["violin-1"][m, b] = any(seats[i] == "violin-1" for i in m)
            out["families"][m, b] = len({families[i] for i in m})
            out["fullest"][m, b] = pace[m, b] / max(float(pace[m, b].max()), 1e-9)
            out["dynamic"][m, b] = loud[m, b].max()
            out["strings"][m, b] = any(families[i] == "strings" for i in m)
    return {f"strand:{name}": values for name, values in out.items()}


def around(
    on: BoolArray, table: Table, seats: tuple[str, ...], families: tuple[str, ...]
) -> Table:
    """Say the same of every line: who sounds, and what the first violins do."""
    level = np.zeros(on.shape)
    count = on.sum(axis=0) + level
    family = np.array(families)
    out = {
        f"sounding:{name}": ratio((on & (family == name)[:, None]).sum(axis=0) + level, count)
        for name in FAMILIES
    }
    out["company"] = np.log2(np.maximum(count, 1))
    out["tacet-share"] = 1.0 - on.mean(axis=1, keepdims=True) + level
    first = seats.index("violin-1") if "violin-1" in seats else -1
    for name in OF_VIOLINS:
        out[f"violins:{name}"] = level - 1.0 if first < 0 else table[name][first] + level
    return out

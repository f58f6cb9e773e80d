"""From a folder of renders to a template set."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from auditor.case import AUDIO_SUFFIXES
from auditor.errors import AudioError, InputError
from auditor.learning.faults import (
    Fault,
    file_faults,
    note_faults,
    placing_fault,
    twin_fault,
)
from auditor.learning.listing import Render, read_list
from auditor.learning.names import match_renders
from auditor.learning.notes import INHARMONIC, Taken, cut, full_scale
from auditor.learning.placing import place
from auditor.report.results import fill_folder
from auditor.sound.reading import read_sound
from auditor.sound.spectrum import pooled_power
from auditor.timbre.library import SET_FILES, Learned, Library, open_library, save_library
from auditor.timbre.templates import FLOOR_DB

_log = logging.getLogger(__name__)

# Two patches never agree so closely in the mean over pools, ages and notes; the same one
# rendered twice does, but for round robins.
_TWIN_DB = 0.5
_FEWEST_SHORT = 3


@dataclass(frozen=True, slots=True)
class Lesson:
    """What learning gave.

    Parameters
    ----------
    library
        The set, as written.
    faults
        What was wrong.
    learned
        File name, template key, notes used and notes asked for, for each render.
    """

    library: Library
    faults: tuple[Fault, ...]
    learned: tuple[tuple[str, str, int, int], ...]


def learn(
    folder: Path,
    name: str,
    out: Path,
    *,
    kit: Path | None = None,
    told: Callable[[str], None] = _log.info,
) -> Lesson:
    """Learn a template set from renders of a kit.

    Parameters
    ----------
    folder
        Holds the renders.
    name
        What to call the set.
    out
        Folder to write it to, whole or not at all; an earlier set in it is replaced.
    kit
        Folder with the kit's list, if it is not `folder`.
    told
        Called with the name of each render as it begins.

    Raises
    ------
    InputError
        If there is no kit list, no render, nothing in them that can be learned, or `out`
        cannot be written.
    """
    if not folder.is_dir():
        raise InputError(f"{folder} is not a folder; name the one that holds the renders")
    asked = read_list(kit or folder)
    sounds = [p for p in folder.iterdir() if p.suffix.lower() in AUDIO_SUFFIXES]
    found = match_renders(sounds, asked)
    if not found:
        raise InputError(
            f"{folder} holds no sound named after a file of the kit, such as "
            f"{asked[0].name}.wav; name the renders as the kit's files are named"
        )
    faults = [
        Fault(r.name, "", "no render was found; its place is taken by shipped templates", False)
        for r in asked
        if r.name not in found
    ]
    voices: dict[str, Learned] = {}
    learned, about = [], []
    for render in asked:
        if render.name not in found:
            continue
        path = found[render.name]
        told(f"learning {render.key} from {path.name}")
        notes, wrong = _heard(path, render)
        faults += wrong
        good = [n for n in notes if not n.fault]
        voices |= _voices(render.key, good)
        learned.append((path.name, render.key, len(good), len(render.notes)))
        about.append(_row(path, render, good))
    if not voices:
        raise InputError(
            "nothing could be learned: " + "; ".join(f.sentence for f in faults[:3])
        )
    faults += _twins(learned, voices)
    record = {"files": about, "faults": [f.sentence for f in faults]}
    fill_folder(out, lambda fresh: save_library(fresh, name, voices, record), ours=SET_FILES)
    return Lesson(open_library(out), tuple(faults), tuple(learned))


def _row(path: Path, render: Render, good: Sequence[Taken]) -> dict[str, Any]:
    return {
        "file": path.name,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "key": render.key,
        "notes": len(good),
        "asked": len(render.notes),
    }


def _heard(path: Path, render: Render) -> tuple[tuple[Taken, ...], list[Fault]]:
    """Notes of a render and its faults; no notes if it cannot be used as a whole."""
    try:
        sound = read_sound(path)
        channels, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except AudioError as err:
        return (), [Fault(path.name, "", str(err), True)]
    placing = place(sound.samples, pooled_power(sound.samples), render.notes)
    wrong = placing_fault(path.name, placing)
    if wrong is not None:
        return (), [wrong]
    notes = cut(
        sound.samples,
        full_scale(channels, rate),
        render.notes,
        placing,
        harmonic=render.key.partition("+")[0] not in INHARMONIC,
    )
    faults = note_faults(path.name, render, notes)
    whole = file_faults(path.name, render, notes)
    unusable = any(f.left_out for f in whole)
    return (() if unusable else notes), faults + whole


def _voices(key: str, good: Sequence[Taken]) -> dict[str, Learned]:
    long = [n for n in good if n.wanted.way != "short"]
    short = [n for n in good if n.wanted.way == "short"]
    out = {key: _learned(long)} if long else {}
    if len(short) >= _FEWEST_SHORT:
        out[f"{key}+short"] = _learned(short)
    return out


def _learned(notes: Sequence[Taken]) -> Learned:
    """Templates on the grid of pitches and dynamics, gaps filled from their neighbours."""
    pitches = sorted({n.wanted.pitch for n in notes})
    steps = sorted({n.wanted.dynamic for n in notes})
    shape = (len(pitches), len(steps))
    db = np.full((*shape, *notes[0].template.shape), np.nan)
    level = np.full(shape, np.nan)
    for i, pitch in enumerate(pitches):
        for j, step in enumerate(steps):
            same = [n for n in notes if (n.wanted.pitch, n.wanted.dynamic) == (pitch, step)]
            if same:
                db[i, j] = _power_mean(np.array([n.template for n in same]))
                level[i, j] = _power_mean(np.array([n.level_db for n in same]))
    _fill(db)
    _fill(level)
    db = np.maximum(db, FLOOR_DB)
    return Learned(np.array(pitches, float), np.array(steps, float), db, level)


def _power_mean(db: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(10 * np.log10(np.mean(10 ** (db / 10), axis=0)))


def _fill(grid: NDArray[np.float64]) -> None:
    """Fill what is missing of a pitch by its nearest dynamic, moved by the usual step.

    Every row and column has something.
    """
    known = np.isfinite(grid.reshape(*grid.shape[:2], -1)[:, :, 0])
    columns = range(grid.shape[1])
    filled = grid.copy()
    for i, j in np.argwhere(~known):
        near = min((k for k in columns if known[i, k]), key=lambda k: (abs(k - j), k))
        both = known[:, j] & known[:, near]
        step = np.median(grid[both, j] - grid[both, near], axis=0) if both.any() else 0.0
        filled[i, j] = grid[i, near] + step
    grid[:] = filled


def _twins(
    learned: Sequence[tuple[str, str, int, int]], voices: dict[str, Learned]
) -> list[Fault]:
    out = []
    for k, (file, key, _, _) in enumerate(learned):
        for other, other_key, _, _ in learned[:k]:
            both = key in voices and other_key in voices
            if both and _apart(voices[key], voices[other_key]) < _TWIN_DB:
                out.append(twin_fault(file, other))
                break
    return out


def _apart(one: Learned, two: Learned) -> float:
    """Mean difference of two voices in dB on the pitches both have."""
    low = max(one.pitch[0], two.pitch[0])
    high = min(one.pitch[-1], two.pitch[-1])
    if low > high or one.step.size != two.step.size:
        return float("inf")
    apart = []
    for pitch in one.pitch[(one.pitch >= low) & (one.pitch <= high)]:
        a, b = (np.maximum(v.template(float(pitch), 3.0), -50.0) for v in (one, two))
        near = float(np.abs(two.pitch - pitch).min())
        if near == 0:
            apart.append(float(np.abs(a - b).mean()))
    return float(np.mean(apart)) if apart else float("inf")

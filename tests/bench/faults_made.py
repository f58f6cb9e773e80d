"""Faults of the rendering, planted in made cases: one line's stem is taken out or made anew.

A case of mixes.py keeps its page and its other stems. The faulty line is rendered by the
same font with its notes moved, or plucked for bowed and the reverse, through an equaliser
of its own drawing, and set to the level its stem had by ear. A foreign layer is a stem of
another case, laid over the mix as loud by ear as the case's stems are in the middle.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import fonts
import numpy as np
import soundfile
from audibility_truth import LIMITS, Made, open_made, true_windows, truth_of
from mixes import Options, Performance, finish, voice
from mixes_music import MadePart, Written
from mixes_players import CHAIRS
from mixes_sound import level_db, room, sounding
from numpy.typing import NDArray

from auditor.hearing.audibility import listen
from auditor.hearing.measures import NoteWindows
from auditor.spectra.stems import stem_spectra

F32 = NDArray[np.float32]
# Transpositions that are forgotten (B flat, A, F, E flat), and octaves.
FORGOTTEN, OCTAVES = (2, -2, 3, -3, 7, -7, 9, -9), (12, -12)
LAYER_DB = (-6.0, 6.0)


@dataclass(frozen=True, slots=True)
class Planted:
    """One fault: ``muted``, ``transposed``, ``way`` or ``layer`` (then `line` is -1).

    `interval` in semitones; `audible` by the true stems: a muted line as it was, any other
    as it sounds now.
    """

    kind: str
    line: int
    interval: int = 0
    audible: bool = True


@dataclass(frozen=True, slots=True)
class Variant:
    """A mix with some faults; `audible` says which lines are, by the stems it was made of."""

    made: Made
    name: str
    mix: F32
    planted: tuple[Planted, ...]
    audible: NDArray[np.bool_]


def stems_of(made: Made) -> F32:
    """Stems of a case, shape (lines, samples)."""
    paths = sorted((made.folder / "stems").glob("*.flac"))
    return np.stack([soundfile.read(path, dtype="float32")[0] for path in paths])


def _show(made: Made, line: int, shift: int, other_way: bool) -> Performance:
    rows = [n for n in made.notes if n["part"] == line + 1]
    notes = tuple(
        Written(n["onset_quarters"], n["duration_quarters"], n["pitch"] + shift, n["dynamic"],
                bool(n["pizzicato"]) != other_way)
        for n in rows
    )  # fmt: skip
    part = MadePart(made.parts[line]["chair"], made.parts[line]["role"], notes)
    times = [np.array([n[key] for n in rows]) for key in ("onset_s", "offset_s")]
    return Performance(part, times[0], times[1])


def rendered(
    made: Made, stem: F32, line: int, rng: np.random.Generator, *,
    shift: int = 0, other_way: bool = False, reverb: bool = False,
) -> F32:  # fmt: skip
    """Render a line anew with a fault, as loud by ear as its stem was, shape (samples,)."""
    show = _show(made, line, shift, other_way)
    seconds = float(show.offsets.max())
    font = made.font
    new = fonts.play([voice(show, rng, 0.0)], font, seconds)[0]
    if made.parts[line]["source"] == "recorded":
        new = _recorded(show, stem.size, rng, new)
    new = np.pad(new, (0, max(0, stem.size - new.size)))[: stem.size]
    was = _show(made, line, 0, False)
    mask = sounding(was.onsets, was.offsets, stem.size, was.mask_s)
    target = level_db(stem, mask, by_ear=True)
    response = room(rng) if reverb else None
    return finish(new, show, target, Options(font=font), rng, response)


def _recorded(show: Performance, size: int, rng: np.random.Generator, spare: F32) -> F32:
    from mixes_recorded import Recordings

    from_notes = Recordings(RECORDED).play(show, size, rng) if RECORDED else None
    return spare if from_notes is None else from_notes


# Folders of recorded notes, set from the command line.
RECORDED: list[Path] = []


def _audible(made: Made, stems: F32, mix: F32) -> NDArray[np.bool_]:
    windows: NoteWindows = true_windows(made)
    heard = listen(stem_spectra(stems, made.calibration_db), windows, (), LIMITS)
    return np.asarray(heard.lines.distinct_ratio >= LIMITS.covered)


def _pitched(made: Made) -> list[int]:
    return [k for k, p in enumerate(made.parts) if p["family"] != "percussion"]


def _interval(made: Made, line: int, pool: Sequence[int], rng: np.random.Generator) -> int:
    chair = CHAIRS[made.parts[line]["chair"]]
    pitch = [n["pitch"] for n in made.notes if n["part"] == line + 1]
    fits = [
        i for i in pool if min(pitch) + i >= chair.low - 5 and max(pitch) + i <= chair.high + 12
    ]
    return int(rng.choice(fits or [i for i in pool if i > 0]))


def _one_way(made: Made) -> list[int]:
    """String lines that are bowed or plucked throughout."""
    out = []
    for k, part in enumerate(made.parts):
        ways = {bool(n["pizzicato"]) for n in made.notes if n["part"] == k + 1}
        if part["family"] == "strings" and len(ways) == 1:
            out.append(k)
    return out


def plan(made: Made, which: int, was: NDArray[np.bool_]) -> list[Planted]:
    """Choose which lines of a case go wrong in its variant `which`."""
    rng = np.random.default_rng([made.seed, 77, which, zlib.crc32(made.font.encode())])
    free = [int(k) for k in rng.permutation(_pitched(made))]
    free = [k for k in free if was[k]] + [k for k in free if not was[k]]
    out: list[Planted] = []
    one_way = [k for k in free if k in _one_way(made)]
    if one_way and len(made.parts) > 6:
        k = one_way[which % len(one_way)]
        out.append(Planted("way", k))
        free.remove(k)
    if free:
        out.append(Planted("muted", free.pop(0)))
    if free:
        k = free.pop(0)
        pool = OCTAVES if which % 2 else FORGOTTEN
        out.append(Planted("transposed", k, _interval(made, k, pool, rng)))
    if which == 0 and len(free) > 4:
        out.append(Planted("muted", free[-1]))  # a covered one, if there is any
    return out


def variants(
    folder: Path, strangers: Sequence[Path], count: int = 2, *, reverb: bool = False
) -> Iterator[Variant]:
    """Give the case as it is, `count` variants with faulty lines, one with a layer too many."""
    made = open_made(folder)
    was = truth_of(made)[0].distinct_ratio >= LIMITS.covered
    yield Variant(made, "clean", made.mix, (), was)
    stems = stems_of(made)
    for which in range(count):
        rng = np.random.default_rng([made.seed, 78, which])
        new, told = stems.copy(), []
        plans = plan(made, which, was)
        for p in plans:
            new[p.line] = 0.0
            if p.kind != "muted":
                new[p.line] = rendered(
                    made, stems[p.line], p.line, rng, shift=p.interval,
                    other_way=p.kind == "way", reverb=reverb,
                )  # fmt: skip
        mix = new.sum(axis=0)
        now = _audible(made, new, mix)
        for p in plans:
            heard = was[p.line] if p.kind == "muted" else now[p.line]
            told.append(replace(p, audible=bool(heard)))
        yield Variant(made, f"faults-{which}", mix, tuple(told), now)
    yield _layered(made, stems, strangers, was)


def _layered(
    made: Made, stems: F32, strangers: Sequence[Path], was: NDArray[np.bool_]
) -> Variant:
    """Lay a stem of another case over the mix."""
    rng = np.random.default_rng([made.seed, 79])
    others = [f for f in strangers if not f.name.endswith(f"{made.seed:04d}")]
    other = open_made(others[int(rng.integers(len(others)))])
    theirs = stems_of(other)
    pitched = _pitched(other)
    layer = theirs[int(rng.choice(pitched))]
    layer = np.resize(layer, stems.shape[1])
    every = np.ones(stems.shape[1], dtype=bool)
    levels = [level_db(stem, every, by_ear=True) for stem in stems]
    target = float(np.median(levels)) + float(rng.uniform(*LAYER_DB))
    layer = layer * np.float32(10 ** ((target - level_db(layer, every, by_ear=True)) / 20))
    whole = np.vstack([stems, layer[None]])
    audible = _layer_audible(made, whole)
    mix = np.asarray(whole.sum(axis=0), np.float32)
    return Variant(made, "layer", mix, (Planted("layer", -1, audible=audible),), was)


def _layer_audible(made: Made, whole: F32) -> bool:
    """Judge the layer as if it were one note after another of half a second."""
    windows = true_windows(made)
    on = np.arange(0.0, whole.shape[1] / fonts.RATE_HZ - 0.5, 0.5)
    row = len(whole) - 1
    loud = [
        float(np.mean(whole[row, int(t * 44100) : int((t + 0.5) * 44100)] ** 2)) for t in on
    ]
    on = on[np.array(loud) > 1e-3 * max(loud)]
    every = NoteWindows(
        np.concatenate([windows.line, np.full(on.size, row)]),
        np.concatenate([windows.onset_s, on]),
        np.concatenate([windows.offset_s, on + 0.5]),
        np.concatenate([windows.pitch, np.zeros(on.size, np.int64)]),
        np.concatenate([windows.sustained, np.ones(on.size, bool)]),
        (*windows.instrument, "foreign"),
    )
    heard = listen(stem_spectra(whole, made.calibration_db), every, (), LIMITS)
    return bool(heard.lines.distinct_ratio[row] >= LIMITS.covered)

"""From figures to one word for each note, line and group."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.loudness import THRESHOLD_SONE
from auditor.hearing.measures import Limits, Measures, NoteWindows
from auditor.hearing.targets import Targets
from auditor.hearing.windows import Companions, NoteFrames

# Further under the mix than this, a line was not rendered (or not found in it).
_SILENT_UNDER_MIX_DB = 60.0
# A note or line is undecided if a twin goes through this share of its time.
_TWIN_SHARE = 0.8
# Heard against covered is not told below this confidence: of notes and groups, which bars and
# passages are made of, where it is a coin toss. A whole line's state is read as a verdict: an
# eighth of them is left undecided, and of the others 4 in 100 are wrong, not 6 (made mixes of
# sounds that lent no template, docs/evaluation.md; chosen on those of the fit).
_LEAST = {"notes": 0.55, "lines": 0.75, "groups": 0.55}

Classes = NDArray[np.int64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float64]

_WORDS = ("covered", "faint", "clear")


@dataclass(frozen=True, slots=True)
class Doubts:
    """What speaks against a plain verdict, arrays of shape (n,).

    `silent`: nothing is there; `twin`: an equal instrument plays the same; `toss`: the verdict
    is not sure enough.
    """

    silent: Flags
    twin: Flags
    toss: Flags


def classes(measures: Measures, limits: Limits) -> Classes:
    """0 covered, 1 faint, 2 clear, -1 not judged, shape (n,)."""
    ratio = measures.distinct_ratio
    level = (ratio >= limits.covered).astype(np.int64) + (ratio >= limits.clear)
    return np.where(np.isnan(ratio), -1, level)


def silent(measures: Measures, under_mix_db: Floats) -> Flags:
    """Whether there is nothing to hear even alone, shape (n,)."""
    quiet = measures.alone_sone < THRESHOLD_SONE
    flags: Flags = quiet | (np.nan_to_num(under_mix_db) > _SILENT_UNDER_MIX_DB)
    return flags


def tosses(confidence: Floats, source: str, kind: str) -> Flags:
    """Whether the verdict is too unsure to give; stems and forecast always give one.

    `kind` is ``notes``, ``lines`` or ``groups``.
    """
    return (confidence < _LEAST[kind]) & (source == "mix")


def note_twins(pairs: Companions, frames: NoteFrames, source: str) -> Flags:
    """Whether an equal instrument plays the same pitch through most of a note, (notes,)."""
    flags = np.zeros(frames.start.size, dtype=bool)
    if source != "mix":
        return flags
    overlap = pairs.stop - np.maximum(frames.start[pairs.note], frames.start[pairs.partner])
    length = frames.stop[pairs.note] - frames.start[pairs.note]
    through = pairs.twins & (overlap >= _TWIN_SHARE * length)
    flags[pairs.note[through]] = True
    return flags


def line_twins(twin: Flags, windows: NoteWindows, frames: NoteFrames) -> Flags:
    """Whether twins go through most of a line's time, shape (lines,)."""
    lines = len(windows.instrument)
    whole = np.bincount(windows.line, frames.duration_s, lines)
    shared = np.bincount(windows.line, frames.duration_s * twin, lines)
    return (whole > 0) & (shared >= _TWIN_SHARE * whole)


def best_company(targets: Targets, moments: Measures, limits: Limits, notes: int) -> Classes:
    """Best class among the moments each note shares with other lines, -1 if none, (notes,)."""
    best = np.full(notes, -1, dtype=np.int64)
    for member, level in zip(targets.moment_notes, classes(moments, limits), strict=True):
        if np.unique(targets.sounding.column[member]).size > 1:
            best[member] = np.maximum(best[member], level)
    return best


def lifted_lines(
    own: Classes, notes: Classes, better: Classes, windows: NoteWindows, frames: NoteFrames
) -> Flags:
    """Whether company lifts a line for most of the time it is not clear, shape (lines,).

    Parameters
    ----------
    own : ndarray, shape (lines,)
        Class of each line by itself.
    notes, better : ndarray, shape (notes,)
        Class of each note by itself, and the better of that and its company's.
    """
    lines = own.size
    open_ = frames.duration_s * (frames.judged & (notes < len(_WORDS) - 1))
    wanting = np.bincount(windows.line, open_, lines)
    lifted = np.bincount(windows.line, open_ * (better > notes), lines)
    return (own >= 0) & (wanting > 0) & (lifted > 0.5 * wanting)


def words(own: Classes, lifted: Flags, doubts: Doubts) -> tuple[str, ...]:
    """One state for each thing: the first that applies, from silence to the plain class."""
    out = []
    for k in range(own.size):
        if own[k] < 0:
            out.append("not judged")
        elif doubts.silent[k]:
            out.append("silent")
        elif doubts.twin[k]:
            out.append("undecided")
        elif lifted[k] and own[k] < 2:
            out.append("blended")
        elif doubts.toss[k]:
            out.append("undecided")
        else:
            out.append(_WORDS[own[k]])
    return tuple(out)

"""When each note is listened to, and which notes start together as if they were one.

Frames are counted from the first frame of the line spectra; a window runs from `start`
up to, not including, `stop`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.measures import NoteWindows

# A note is heard a little beyond its written end; measured on made mixes (releases).
_TAIL_S = 0.030
# A note that dies away is heard for its written length, within these bounds.
_DECAY_S = (0.25, 0.60)
_SHORTEST_FRAMES = 3
# Notes this close start together: ensembles spread 30 to 40 ms (common practice).
TOGETHER_S = 0.040

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class NoteFrames:
    """Frames of each note.

    Parameters
    ----------
    start, stop : ndarray of int, shape (notes,)
        Window in frames; 0 to 0 where the note cannot be judged.
    judged : ndarray of bool, shape (notes,)
        False without an onset, or where the sound has ended before it.
    duration_s : ndarray, shape (notes,)
        Length from onset to offset, at least 10 ms; weight of the note in medians.
    """

    start: Ints
    stop: Ints
    judged: NDArray[np.bool_]
    duration_s: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Companions:
    """Pairs of notes on different lines that start together, each pair both ways.

    Parameters
    ----------
    note, partner : ndarray of int, shape (pairs,)
        Positions in the note windows.
    start, stop : ndarray of int, shape (pairs,)
        Frames both sound in.
    fuses : ndarray of bool, shape (pairs,)
        In unison or octaves with the same kind of envelope, or two timpani.
    twins : ndarray of bool, shape (pairs,)
        Same instrument, same pitch.
    """

    note: Ints
    partner: Ints
    start: Ints
    stop: Ints
    fuses: NDArray[np.bool_]
    twins: NDArray[np.bool_]


def note_frames(windows: NoteWindows, frame_s: NDArray[np.float64]) -> NoteFrames:
    """Window of each note in frames.

    Sustained notes are heard from onset to offset, struck and plucked ones for as long as
    they carry; both a little beyond, and for at least three frames.
    """
    step = float(frame_s[1] - frame_s[0]) if frame_s.size > 1 else 1.0
    frames = frame_s.size
    written = windows.offset_s - windows.onset_s
    carried = np.where(windows.sustained, written, np.clip(written, *_DECAY_S))
    judged = (
        np.isfinite(windows.onset_s)
        & np.isfinite(windows.offset_s)
        & (windows.onset_s <= frame_s[-1] + step / 2)
    )
    onset = np.where(judged, windows.onset_s, 0.0)
    end = np.where(judged, onset + carried + _TAIL_S, 0.0)
    start = np.floor((onset - frame_s[0]) / step + 1e-9).astype(np.int64)
    stop = np.ceil((end - frame_s[0]) / step - 1e-9).astype(np.int64)
    start = np.clip(start, 0, max(frames - _SHORTEST_FRAMES, 0))
    stop = np.clip(np.maximum(stop, start + _SHORTEST_FRAMES), 0, frames)
    return NoteFrames(
        start=np.where(judged, start, 0),
        stop=np.where(judged, stop, 0),
        judged=judged,
        duration_s=np.where(judged, np.maximum(written, 0.01), 0.0),
    )


def _pairs_together(windows: NoteWindows, judged: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    order = np.flatnonzero(judged)
    order = order[np.argsort(windows.onset_s[order], kind="stable")]
    onset = windows.onset_s[order]
    first: list[Ints] = [np.empty(0, np.int64)]
    second: list[Ints] = [np.empty(0, np.int64)]
    for lag in range(1, order.size):
        near = np.flatnonzero(onset[lag:] - onset[:-lag] < TOGETHER_S)
        if near.size == 0:
            break
        first.append(order[near])
        second.append(order[near + lag])
    return np.concatenate(first), np.concatenate(second)


def companions(windows: NoteWindows, frames: NoteFrames) -> Companions:
    """Find notes that start together on different lines and fuse or cannot be told apart."""
    a, b = _pairs_together(windows, frames.judged)
    i, j = np.concatenate([a, b]), np.concatenate([b, a])
    apart = windows.line[i] != windows.line[j]
    i, j = i[apart], j[apart]
    keys = {name: n for n, name in enumerate(dict.fromkeys(windows.instrument))}
    key = np.array([keys[name] for name in windows.instrument], dtype=np.int64)[windows.line]
    drums = np.array([name == "timpani" for name in windows.instrument])[windows.line]
    pitched = (windows.pitch[i] > 0) & (windows.pitch[j] > 0)
    interval = windows.pitch[i] - windows.pitch[j]
    alike = windows.sustained[i] == windows.sustained[j]
    fuses = alike & ((pitched & (interval % 12 == 0)) | (drums[i] & drums[j]))
    twins = (key[i] == key[j]) & pitched & (interval == 0)
    keep = fuses | twins
    i, j = i[keep], j[keep]
    return Companions(
        note=i,
        partner=j,
        start=np.minimum(frames.start[i], frames.start[j]),
        stop=np.minimum(frames.stop[i], frames.stop[j]),
        fuses=fuses[keep],
        twins=twins[keep],
    )

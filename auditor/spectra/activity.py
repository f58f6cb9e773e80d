"""Which note sounds in which stretch of the mix: the sparse frame of the decomposition.

The mix is cut into segments at every place where a note begins, changes age or ends;
an *entry* is one note sounding in one segment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.timbre.templates import AGE_FRAMES, AGES

# Frames that a note may ring on after its end: 0.7 s, for struck and plucked ones 2 s.
_RING_SUSTAINED, _RING_DECAYING = 30, 86


@dataclass(frozen=True, slots=True)
class PlayedNotes:
    """Notes with their place in the sound; only notes that were played.

    Parameters
    ----------
    line : ndarray of int, shape (notes,)
        Row of the line.
    onset_s, offset_s : ndarray, shape (notes,)
        Seconds.
    pitch : ndarray of int, shape (notes,)
        Sounding MIDI number, 0 if unpitched.
    dynamic : ndarray, shape (notes,)
        Dynamic steps.
    sustained : ndarray of bool, shape (notes,)
        False for struck and plucked notes.
    timbre : ndarray of int, shape (notes,)
        Position of each note's timbre in `timbres`.
    timbres
        Template keys, with ``+pizz`` where the page says so.
    level_db : ndarray, shape (notes,)
        Expected power level re 1 pW from dynamic, instrument and players.
    """

    line: NDArray[np.int64]
    onset_s: NDArray[np.float64]
    offset_s: NDArray[np.float64]
    pitch: NDArray[np.int64]
    dynamic: NDArray[np.float64]
    sustained: NDArray[np.bool_]
    timbre: NDArray[np.int64]
    timbres: tuple[str, ...]
    level_db: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Activity:
    """Segments and entries.

    Parameters
    ----------
    bounds : ndarray of int, shape (segments + 1,)
        First frame of each segment, then the end.
    segment, note, age : ndarray of int, shape (entries,)
        Of each entry; sorted by segment.
    first : ndarray of int, shape (segments + 1,)
        Where each segment's entries begin.
    """

    bounds: NDArray[np.int64]
    segment: NDArray[np.int64]
    note: NDArray[np.int64]
    age: NDArray[np.int64]
    first: NDArray[np.int64]


def activity(notes: PlayedNotes, frames: int) -> Activity:
    """Cut `frames` frames into segments and list what sounds in each."""
    start = np.round(notes.onset_s * RATE_HZ / HOP).astype(np.int64)
    stop = np.round(notes.offset_s * RATE_HZ / HOP).astype(np.int64) + 1
    stop = np.maximum(stop, start + 2)
    ring = np.where(notes.sustained, _RING_SUSTAINED, _RING_DECAYING)
    spans = [
        (np.minimum(start + low, stop), np.minimum(start + high, stop))
        for low, high in AGE_FRAMES
    ]
    spans.append((stop, stop + ring))
    begin = np.clip(np.array([s[0] for s in spans]), 0, frames)
    end = np.clip(np.array([s[1] for s in spans]), 0, frames)
    bounds = np.unique(np.concatenate([[0, frames], begin.ravel(), end.ravel()]))
    first_segment = np.searchsorted(bounds, begin)
    count = np.maximum(np.searchsorted(bounds, end) - first_segment, 0)
    total = int(count.sum())
    flat = count.ravel()
    within = np.arange(total) - np.repeat(np.cumsum(flat) - flat, flat)
    segment = np.repeat(first_segment.ravel(), flat) + within
    size = len(start)
    note = np.repeat(np.tile(np.arange(size), AGES), flat)
    age = np.repeat(np.repeat(np.arange(AGES), size), flat)
    order = np.lexsort((age, note, segment))
    segment = segment[order]
    first = np.searchsorted(segment, np.arange(len(bounds)))
    return Activity(bounds, segment, note[order], age[order], first)

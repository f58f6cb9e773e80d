"""A score's notes where they sound, as hearing wants them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.measures import NoteWindows
from auditor.score.notes import Score
from auditor.spectra.playing import is_sustained


def windows_of(
    score: Score, onset_s: NDArray[np.float64], offset_s: NDArray[np.float64]
) -> NoteWindows:
    """Windows of all notes of a score.

    Parameters
    ----------
    score
        The page.
    onset_s, offset_s : ndarray, shape (notes,)
        Seconds, NaN where a note does not sound.
    """
    row = {line.number: k for k, line in enumerate(score.lines)}
    rows = [row[n.line] for n in score.notes]
    held = [
        is_sustained(n, score.lines[k].instrument)
        for n, k in zip(score.notes, rows, strict=True)
    ]
    return NoteWindows(
        line=np.array(rows, dtype=np.int64),
        onset_s=onset_s,
        offset_s=offset_s,
        pitch=np.array([0 if n.unpitched else n.pitch for n in score.notes], dtype=np.int64),
        sustained=np.array(held, dtype=bool),
        instrument=tuple(line.instrument.key for line in score.lines),
    )

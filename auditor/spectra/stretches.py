"""Passages of a line that are tried by themselves: a fault need not last for a whole piece.

Trials of every passage of every line would cost too much; those of each line are tried whose
notes explain least of the mix as they are written.
"""

from __future__ import annotations

import numpy as np

from auditor.spectra.explained import Decomposed, Explained, Floats, Ints
from auditor.spectra.trials import Trial, notes_of, trials, written_gains

# Notes of a passage, about: enough for three places and for the limits of whole lines.
NOTES = 16
# A line of fewer notes is one passage, and is tried as a whole already.
_LEAST = 24
# Passages of a line that are tried at most: one in three, and some.
_SHARE, _SOME = 3, 4


def passages(notes: Ints, onset_s: Floats) -> list[Ints]:
    """Cut a line's notes into passages of about `NOTES`, at the longest gaps near by.

    Parameters
    ----------
    notes : ndarray of int, shape (notes,)
        Positions in time order.
    onset_s : ndarray, shape (notes,)
        When they begin.
    """
    count = max(round(notes.size / NOTES), 1)
    cuts = []
    for place in np.linspace(0, notes.size, count + 1)[1:-1]:
        near = np.arange(
            max(int(place) - NOTES // 4, 1), min(int(place) + NOTES // 4, notes.size)
        )
        cuts.append(int(near[np.argmax(onset_s[near] - onset_s[near - 1])]))
    return np.split(notes, cuts)


def doubtful(found: Decomposed, mix: Explained) -> list[tuple[int, Trial]]:
    """Try the passages of long lines whose notes explain least as written.

    Returns
    -------
    list of (int, Trial)
        The passage's place in its line, and what came of it; line by line.
    """
    gain = written_gains(found, mix)
    onset = found.notes.onset_s
    chosen: list[tuple[int, int, Ints]] = []
    for line, notes in enumerate(notes_of(found)):
        if notes.size < _LEAST:
            continue
        ordered = notes[np.argsort(onset[notes], kind="stable")]
        cut = passages(ordered, onset[ordered])
        told = np.array([float(np.median(gain[p])) for p in cut])
        low = np.argsort(told, kind="stable")[: _SOME + len(cut) // _SHARE]
        chosen += [(line, int(k), np.sort(cut[k])) for k in np.sort(low)]
    tried = trials(found, mix, [(line, notes) for line, _, notes in chosen])
    return [(k, trial) for (_, k, _), trial in zip(chosen, tried, strict=True)]

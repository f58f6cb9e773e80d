"""From written notes and a timeline to the notes as they were played."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.timeline import Timeline
from auditor.score.notes import Instrument, Line, Note, Score
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.palette import LineTimbre
from auditor.timbre.dynamics import power_level_db

# A grace note sounds this long before the note it leans on; common practice, no source.
_GRACE_S = 0.08
# A staccato note keeps half its length; common practice, no source.
_STACCATO = 0.5


def note_times(
    score: Score, timeline: Timeline
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Onset and offset of each note in seconds, NaN where it was not played.

    Returns
    -------
    onset_s, offset_s : ndarray, shape (notes,)
    """
    onset_q = np.array([n.onset for n in score.notes])
    length = np.array([n.duration for n in score.notes])
    short = np.array(["staccato" in n.techniques for n in score.notes])
    grace = np.array([n.grace for n in score.notes])
    length = np.where(short, length * _STACCATO, length)
    bar = [n.bar for n in score.notes]
    starts = np.array([b.start_s for b in timeline.bars])[bar]
    ends = np.array([b.end_s for b in timeline.bars])[bar]
    onset = _in_their_bars(onset_q, timeline.seconds(onset_q), score, bar, starts, ends)
    offset = timeline.seconds(onset_q + length)
    # A note that rings over a jump ends where its stretch ends.
    offset = np.where(np.isfinite(offset) & (offset >= onset), offset, ends)
    offset = np.where(np.isnan(onset), np.nan, np.fmax(offset, onset + 0.03))
    early = onset - _GRACE_S
    return np.where(grace, np.maximum(early, 0.0), onset), np.where(grace, onset, offset)


def _in_their_bars(
    onset_q: NDArray[np.float64],
    onset_s: NDArray[np.float64],
    score: Score,
    bar: list[int],
    starts: NDArray[np.float64],
    ends: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Onsets within the bars they are written in.

    A barline at a cut is both the end of one stretch and the start of another, or of a
    bar that was left out; a note on it belongs to what follows.
    """
    share = np.array(
        [
            (q - score.bars[k].onset) / score.bars[k].duration
            for q, k in zip(onset_q, bar, strict=True)
        ]
    )
    inside = np.where(onset_s < starts - 1e-3, starts + share * (ends - starts), onset_s)
    return np.where(np.isnan(starts), np.nan, inside)


def is_sustained(note: Note, instrument: Instrument) -> bool:
    """Tell whether a note holds its level: bowed and blown ones, and rolls."""
    if "tremolo" in note.techniques or "trill" in note.techniques:
        return True
    return instrument.kind == "sustained" and "pizz" not in note.techniques


def timbre_key(note: Note, line: Line) -> str:
    """Template key of a note: its instrument, alone or as a section, bowed or plucked."""
    key = line.instrument.key
    if line.instrument.family == "strings":
        if "pizz" in note.techniques:
            return f"{key}+pizz"
        if min(note.players, line.players) <= 1.0:
            return f"{key}-solo"
    return key


def line_timbres(score: Score) -> tuple[LineTimbre, ...]:
    """What each line's instrument is, as far as its sound goes."""
    found = [line.instrument for line in score.lines]
    return tuple(LineTimbre(i.key, i.family, i.kind, i.pitched) for i in found)


def played_notes(
    score: Score,
    onset_s: NDArray[np.float64],
    offset_s: NDArray[np.float64],
    learned: Collection[str] = (),
) -> PlayedNotes:
    """Lay out the notes that were played, as the decomposition needs them.

    Parameters
    ----------
    score
        The page.
    onset_s, offset_s : ndarray, shape (notes,)
        From `note_times`; notes with NaN are left out.
    learned
        Template keys of a user's library: short notes have their own there.
    """
    kept = np.flatnonzero(np.isfinite(onset_s) & np.isfinite(offset_s))
    row = {line.number: k for k, line in enumerate(score.lines)}
    notes = [score.notes[k] for k in kept]
    lines = [score.lines[row[n.line]] for n in notes]
    names = [timbre_key(n, line) for n, line in zip(notes, lines, strict=True)]
    names = [
        f"{name}+short" if "staccato" in n.techniques and f"{name}+short" in learned else name
        for name, n in zip(names, notes, strict=True)
    ]
    timbres, timbre = np.unique(np.array(names, dtype=str), return_inverse=True)
    level = [_level(n, line) for n, line in zip(notes, lines, strict=True)]
    return PlayedNotes(
        line=np.array([row[n.line] for n in notes], dtype=np.int64),
        onset_s=onset_s[kept],
        offset_s=offset_s[kept],
        pitch=np.array([0 if n.unpitched else n.pitch for n in notes], dtype=np.int64),
        dynamic=np.array([n.dynamic for n in notes]),
        sustained=np.array(
            [is_sustained(n, line.instrument) for n, line in zip(notes, lines, strict=True)]
        ),
        timbre=timbre.astype(np.int64),
        timbres=tuple(str(t) for t in timbres),
        level_db=np.array(level),
    )


def _level(note: Note, line: Line) -> float:
    instrument = line.instrument
    players = min(note.players, line.players) if note.players else line.players
    plucked = instrument.family == "strings" and "pizz" in note.techniques
    power = power_level_db(
        instrument.key, instrument.family, note.dynamic, players, plucked=plucked
    )
    return float(power)

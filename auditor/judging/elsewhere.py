"""How a player's sound stands to published powers where they play, for notes they rest in.

A player who rests in a passage is as loud and as bright there as in the notes they have
elsewhere in this sound; one who has hardly any stands as the middle of all other lines does.
The passage's own line is no guide: it is looked at because it is soft.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from auditor.judging.scene import IntArray
from auditor.judging.trial import Ground
from auditor.spectra.forecast import line_power, note_power_db
from auditor.spectra.line_spectra import heard_power
from auditor.units import db_to_power

Floats = NDArray[np.float64]

# Bands over which a rendering's colour against the templates is averaged, and its bounds.
_COLOUR_BANDS, _COLOUR_DB = 4.0, 10.0
# Notes from which a line's level is taken as known, and looked at; below 0 dB it is silent.
_FEW_NOTES, _MOST_NOTES, _SILENT_DB = 4, 60, 0.0


def colour(here: Floats, there: Floats) -> Floats:
    """How a rendering's bands stand to the published ones, power.

    Parameters
    ----------
    here, there : ndarray, shape (bands,)
        Power in the rendering and by published figures, of the same notes.

    Returns
    -------
    ndarray, shape (bands,)
        Smoothed over neighbouring bands and bounded; 1 where either is silent.
    """
    if here.sum() <= 0 or there.sum() <= 0:
        return np.ones(here.size)
    whole = here.sum() / there.sum()
    smooth = gaussian_filter1d(here, _COLOUR_BANDS) / np.maximum(
        gaussian_filter1d(there, _COLOUR_BANDS), 1e-12 * there.max()
    )
    bound = 10 ** (_COLOUR_DB / 10)
    out: Floats = np.clip(smooth, whole / bound, whole * bound)
    return out


def rendered(g: Ground, row: int) -> Floats:
    """How a line's notes stand to published powers in this sound, power, shape (bands,)."""
    own = _told(g, row)
    if own.size >= _FEW_NOTES:
        return _of_notes(g, row, own)
    middles = [
        float(np.median(_over_db(g, k, told)))
        for k in range(len(g.s.score.lines))
        if k not in (*g.lines, row) and (told := _told(g, k)).size >= _FEW_NOTES
    ]
    lines = np.concatenate([_over_db(g, k, _told(g, k)) for k in g.lines])
    middle = float(np.median(middles or lines)) if middles or lines.size else 0.0
    # The fewer notes there are, the more the others count.
    level = (_over_db(g, row, own).sum() + (_FEW_NOTES - own.size) * middle) / _FEW_NOTES
    return np.full(g.spectra.band_cam.size, float(db_to_power(level)))


def _told(g: Ground, row: int) -> IntArray:
    """A line's notes whose level is known, those nearest the passage."""
    w, level = g.s.windows, g.s.heard.notes.level_db
    own = np.flatnonzero((w.line == row) & np.isfinite(level) & (level > _SILENT_DB))
    near = np.argsort(np.abs(w.onset_s[own] - g.start_s), kind="stable")[:_MOST_NOTES]
    kept: IntArray = np.sort(own[near])
    return kept


def _over_db(g: Ground, row: int, told: IntArray) -> Floats:
    """Levels of some notes less their published powers, dB, shape (notes,)."""
    line = g.s.score.lines[row]
    published = [note_power_db(g.s.score.notes[int(n)], line) for n in told]
    out: Floats = g.s.heard.notes.level_db[told] - np.array(published)
    return out


def _of_notes(g: Ground, row: int, told: IntArray) -> Floats:
    w, frame_s = g.s.windows, g.spectra.frame_s
    first, stop = np.searchsorted(frame_s, (w.onset_s[told].min(), w.offset_s[told].max()))
    stop = max(int(stop), int(first) + 1)
    start = float(frame_s[min(int(first), frame_s.size - 1)])
    published = line_power(
        g.s.score.lines[row], [g.s.score.notes[int(n)] for n in told],
        w.onset_s[told] - start, w.offset_s[told] - start, stop - int(first),
    )  # fmt: skip
    level = g.spectra.level_db[row, int(first) : stop]
    power = heard_power(level)
    # Frames in which nothing is expected hold other notes of the line, or its ring.
    sounding = published[: len(power)].sum(axis=1) > 0
    return colour(
        power[sounding].sum(axis=0), published[: len(power)][sounding].sum(axis=0, dtype=float)
    )

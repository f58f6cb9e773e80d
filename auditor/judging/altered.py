"""What a change does to line spectra: marks, rests, shorter notes, octaves, other players.

What changes with a mark is taken from `auditor.timbre.dynamics`: level, and a spectrum that
brightens with it. Notes that nobody has played yet (another octave, another player) are
given the templates' spectrum: in another octave at a level that stands to the measured one as
the two stand in published powers, by another player as that player sounds elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from auditor.judging.elsewhere import colour, rendered
from auditor.judging.trial import F32, Change, Ground
from auditor.score.notes import Note
from auditor.spectra.forecast import line_power
from auditor.timbre.dynamics import brightness_db, power_level_db
from auditor.units import cam_to_hz, db_to_power

# A note taken short sounds half as long; what follows is this much softer, not nothing,
# because rooms and releases ring (common practice, no source).
_SHORT, _AFTER_SHORT_DB = 0.5, -25.0


def step_gain_db(g: Ground, row: int, dynamic: float, steps: float) -> NDArray[np.float64]:
    """Change of a line's bands when its mark changes, dB, shape (bands,).

    The whole changes as the instrument's power does, its upper bands more.
    """
    instrument = g.s.score.lines[row].instrument
    key, family = instrument.key, instrument.family
    whole = float(
        power_level_db(key, family, dynamic + steps) - power_level_db(key, family, dynamic)
    )
    bright = brightness_db(family, steps, cam_to_hz(g.spectra.band_cam))
    mean = g.power[row].sum(axis=0).astype(np.float64)
    if mean.sum() <= 0:
        return bright + whole
    grown = float((mean * db_to_power(bright)).sum() / mean.sum())
    gain: NDArray[np.float64] = bright + whole - 10.0 * np.log10(grown)
    return gain


def marked(g: Ground, steps: Sequence[tuple[int, float]]) -> Change:
    """Marks changed by dynamic steps, by row."""
    power = g.power.copy()
    for row, by in steps:
        own = g.of(row)
        dynamic = [g.s.score.notes[int(g.notes[k])].dynamic for k in own]
        gain = step_gain_db(g, row, float(np.mean(dynamic)) if dynamic else 3.0, by)
        power[row] *= db_to_power(gain).astype(np.float32)
    return Change(power, edits=tuple((row, "mark", by) for row, by in steps))


def silenced(g: Ground, rows: Sequence[int]) -> Change:
    """Some lines rest."""
    power = g.power.copy()
    power[list(rows)] = 0.0
    return Change(power, gone=tuple(rows), edits=tuple((row, "rest", 0.0) for row in rows))


def shortened(g: Ground, rows: Sequence[int]) -> Change:
    """Some lines take their notes half as long."""
    power = g.power.copy()
    w = g.s.windows
    for row in rows:
        sounding = np.zeros(g.frame_s.size, dtype=bool)
        for k in g.of(row):
            on, off = float(w.onset_s[g.notes[k]]), float(w.offset_s[g.notes[k]])
            on, off = on - g.start_s, off - g.start_s
            sounding |= (g.frame_s >= on - 0.05) & (g.frame_s < on + _SHORT * (off - on))
        power[row, ~sounding] *= np.float32(10 ** (_AFTER_SHORT_DB / 10))
    return Change(power, edits=tuple((row, "short", _SHORT) for row in rows))


def played(g: Ground, row: int, places: Sequence[int], semitones: int = 0) -> F32:
    """What published powers have a line play, shape (frames, bands)."""
    w = g.s.windows
    line = g.s.score.lines[row]
    notes: list[Note] = [
        replace(
            n,
            pitch=n.pitch + semitones if n.pitch > 0 else n.pitch,
            # Whoever takes another's notes plays them with all who sit there.
            players=n.players if n.line == line.number else line.players,
        )
        for n in (g.s.score.notes[int(g.notes[k])] for k in places)
    ]
    at = g.notes[list(places)]
    frames = (g.frame_s.size - 1) * g.stride + 1
    return line_power(
        line, notes, w.onset_s[at] - g.start_s, w.offset_s[at] - g.start_s, frames
    )[:: g.stride]


def moved(g: Ground, row: int, semitones: int) -> Change:
    """A line plays its notes in another octave."""
    places = g.of(row)
    now, then = played(g, row, places), played(g, row, places, semitones)
    power = g.power.copy()
    as_here = colour(g.power[row].sum(axis=0, dtype=float), now.sum(axis=0, dtype=float))
    power[row] = (then * as_here).astype(np.float32)
    edits = ((row, "octave", float(semitones)),)
    return Change(power, moved=((row, semitones),), edits=edits)


def given_to(g: Ground, row: int, *, instead: bool) -> Change:
    """Another player takes the passage's notes, besides or instead of those who have them."""
    lead = g.lines[0]
    own = [k for k in g.of(lead) if g.target[k]]
    power = g.power.copy()
    power[row] = (played(g, row, own) * rendered(g, row)).astype(np.float32)
    gone = g.lines if instead else ()
    power[list(gone)] = 0.0
    edits = ((row, "instead" if instead else "double", float(lead)),)
    return Change(power, gone=gone, given=(row,), edits=edits)


def both(one: Change, two: Change, g: Ground) -> Change:
    """One change, and a change of marks with it."""
    there = g.power > 0
    ratio = np.divide(two.power, g.power, out=np.ones_like(g.power), where=there)
    power = (one.power * ratio).astype(np.float32)
    return replace(one, power=power, edits=(*one.edits, *two.edits))

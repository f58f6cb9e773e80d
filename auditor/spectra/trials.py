"""How well other readings of a line explain the mix: moved by an interval, played otherwise.

After the decomposition every other line stays as it was fitted, and one line is tried in
its place: as written, at another pitch, plucked for bowed, or not at all. What a trial
gains is the fall of the Itakura-Saito divergence of the mix from the model against a model
without the line, note by note.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numba
import numpy as np

from auditor.spectra.activity import PlayedNotes
from auditor.spectra.explained import (
    CEILING,
    F32,
    POOLS,
    Decomposed,
    Explained,
    Floats,
    Ints,
    add,
    combed,
    fall,
    unexplained,
)
from auditor.spectra.fitting import equaliser_basis
from auditor.spectra.palette import LineTimbre, Palette, atom_rows
from auditor.timbre.templates import AGES

# Intervals in semitones by which a part is wrong: octaves, and the transpositions of parts
# in B flat (2, 14), A (3), G (5), F (7) and E flat (9), forgotten or done twice over.
INTERVALS: tuple[int, ...] = tuple(s * i for i in (2, 3, 5, 7, 9, 12, 14) for s in (1, -1))
OCTAVES: tuple[int, ...] = (12, -12)
# Intervals tried beside the octaves: those whose partials the fit explains least.
_TRIED = 3
# Notes of a line that are tried, spread evenly over it.
MOST_NOTES = 32
_NEPER = np.log(10.0) / 10.0
_NOTE_DB, _TRUST, _ROUNDS = 4.0, 0.7, 5
# An equaliser over the whole line, as free as the fit's, and the rounds that move it.
_BUMPS = equaliser_basis()[:, :POOLS]
_EQUALISED = (1, 3)
# So far into a note it is asked who else holds it, at these semitones above it.
_LATE, _ALONG = 0.75, (0, 12)
# dB below the expected level at which a line is listened for.
BELOW_DB: tuple[float, ...] = (0.0, 6.0, 12.0, 18.0, 24.0)


@dataclass(frozen=True, slots=True)
class Trial:
    """One line tried in several readings, on some of its notes.

    Parameters
    ----------
    line
        Its row.
    notes : ndarray of int, shape (notes,)
        Positions in the played notes.
    written, coloured : ndarray, shape (notes,)
        Gain as written, with the plain templates and with the fitted ones.
    moved : dict of int to ndarray, shape (notes,)
        Gain by interval in semitones.
    otherwise : ndarray, shape (notes,), or None
        Gain plucked for bowed or bowed for plucked; None if the line has no other way.
    softer : ndarray, shape (levels, notes)
        Gain with the fitted templates at each of `BELOW_DB` under the expected level.
    level_db
        Level as written against what page and mix let expect.
    onset_s, offset_s : ndarray, shape (notes,)
        When they sound.
    along
        Share of them that another line holds as well, or an octave higher, to the end.
    """

    line: int
    notes: Ints
    written: Floats
    coloured: Floats
    moved: dict[int, Floats]
    otherwise: Floats | None
    softer: Floats
    level_db: float
    onset_s: Floats
    offset_s: Floats
    along: float = 0.0


@numba.njit(cache=True, fastmath=True, nogil=True)
def _modelled(model, base, segment, note, row, rows, x, s, e):  # type: ignore[no-untyped-def]
    """Model of segment s from its entries, which begin at e; where the next begin."""
    model[:] = base[s]
    while e < segment.size and segment[e] == s:
        h = np.float32(np.exp(x[note[e]]))
        for f in range(model.size):
            model[f] += h * rows[row[e], f]
        e += 1
    return e


@numba.njit(cache=True, fastmath=True, nogil=True)
def _gains(power, base, weight, segment, note, row, rows, x, gain):  # type: ignore[no-untyped-def]
    """Add to each note what it takes off the divergence; a segment's goes to its first note."""
    pools = power.shape[1]
    model = np.empty(pools, np.float32)
    e = 0
    for s in range(power.shape[0]):
        first = e
        e = _modelled(model, base, segment, note, row, rows, x, s, e)
        total = 0.0
        for f in range(pools):
            total += fall(power[s, f], base[s, f], model[f])
        gain[note[first]] += total * weight[s]


@numba.njit(cache=True, fastmath=True, nogil=True)
def _asked(power, base, weight, segment, note, row, rows, x, num, den, up, down):  # type: ignore[no-untyped-def]
    """Sum share × surprise and share per note, and per pool unless `up` is empty."""
    pools = power.shape[1]
    model = np.empty(pools, np.float32)
    num[:] = 0.0
    den[:] = 0.0
    up[:] = 0.0
    down[:] = 0.0
    e = 0
    for s in range(power.shape[0]):
        first = e
        e = _modelled(model, base, segment, note, row, rows, x, s, e)
        for k in range(first, e):
            h = np.float32(np.exp(x[note[k]]))
            n = np.float32(0.0)
            d = np.float32(0.0)
            for f in range(pools):
                inverse = np.float32(1.0) / model[f]
                share = h * rows[row[k], f] * inverse
                asked = share * min(power[s, f] * inverse, np.float32(CEILING))
                n += asked
                d += share
                if up.size:
                    up[f] += weight[s] * asked
                    down[f] += weight[s] * share
            num[note[k]] += weight[s] * n
            den[note[k]] += weight[s] * d


@dataclass(frozen=True, slots=True)
class _Remembering(Palette):
    """A palette that makes each template once: readings of a line share many pitches."""

    kept: dict[tuple[LineTimbre, str, float], Floats] = field(default_factory=dict)

    def shipped(self, line: int, timbre: str, pitch: float) -> Floats:
        key = (self.lines[line], timbre, pitch)
        if key not in self.kept:
            self.kept[key] = Palette.shipped(self, line, timbre, pitch)
        return self.kept[key]


def _remembering(palette: Palette) -> _Remembering:
    return _Remembering(palette.lines, palette.tuning, palette.sources, palette.library)


class _Place:
    """One line's place in the mix: its entries, and everything else that sounds there."""

    def __init__(
        self, found: Decomposed, mix: Explained, palette: Palette, line: int, notes: Ints
    ) -> None:
        p = found.problem
        of_line = np.flatnonzero(mix.line == line)
        entry = of_line[np.isin(p.note[of_line], notes) & (p.age[of_line] < AGES - 1)]
        segments, self.segment = np.unique(mix.segment[entry], return_inverse=True)
        self.notes, self.note = np.unique(p.note[entry], return_inverse=True)
        self.power, self.weight = mix.power[segments], p.weight[segments]
        # Everything the line has there, what rings on and notes that are not tried included.
        at = np.searchsorted(segments, mix.segment[of_line])
        here = segments[np.minimum(at, segments.size - 1)] == mix.segment[of_line]
        base, own = mix.model[segments], of_line[here]
        add(base, at[here], p.atom[own], -found.fitted.level[own], mix.atoms)
        self.base = np.maximum(base, mix.beside[segments])
        self.entry, self._fitted = entry, mix.atoms
        self.found, self.line, self._palette = found, line, palette
        played = found.notes
        step = np.clip(np.round(played.dynamic), -1, 6).astype(np.int64)
        note = p.note[entry]
        key = np.stack([played.timbre[note], played.pitch[note], step[note], p.age[entry]], 1)
        self._atoms, self._row = np.unique(key, axis=0, return_inverse=True)
        self._colours = np.unique(self._atoms[:, :2], axis=0, return_inverse=True)

    def try_fitted(self, x0: Floats) -> tuple[Floats, Floats]:
        """Gain and level with the fitted templates."""
        return self._try(self.found.problem.atom[self.entry], self._fitted, x0, 0.0)

    def try_reading(
        self, x0: Floats, shift: int = 0, timbres: Sequence[str] | None = None
    ) -> tuple[Floats, Floats]:
        """Gain and level with plain templates, moved or of other timbres, shape (notes,)."""
        pair, colour = self._colours
        colours = np.column_stack([np.full(len(pair), self.line), pair])
        colours[:, 2] += shift * (colours[:, 2] > 0)
        atoms = np.column_stack([colour.ravel(), self._atoms[:, 2:]])
        names = self.found.notes.timbres if timbres is None else timbres
        rows, _ = atom_rows(atoms, colours, names, self._palette)
        return self._try(self._row.ravel(), np.ascontiguousarray(rows[:, :POOLS]), x0)

    def try_softer(self, x0: Floats, below_db: Sequence[float]) -> Floats:
        """Gain with the fitted templates at set levels, shape (levels, notes)."""
        row = self.found.problem.atom[self.entry]
        given = (self.power, self.base, self.weight, self.segment, self.note, row, self._fitted)
        out = np.zeros((len(below_db), x0.size))
        for gain, below in zip(out, below_db, strict=True):
            _gains(*given, x0 - below * _NEPER, gain)
        return out

    def _try(
        self, row: Ints, plain: F32, x0: Floats, bound: float = 4.0
    ) -> tuple[Floats, Floats]:
        where, rows = (self.power, self.base, self.weight, self.segment, self.note, row), plain
        num, den = np.zeros((2, x0.size))
        curve = np.zeros(len(_BUMPS))
        x, hold = x0.copy(), 1.0 / (_NOTE_DB * _NEPER) ** 2
        for k in range(_ROUNDS):
            bends = bool(bound) and k in _EQUALISED
            up, down = np.zeros((2, POOLS if bends else 0))
            _asked(*where, rows, x, num, den, up, down)
            if bends:
                seen = _TRUST * (_BUMPS @ down)
                pull = curve + np.log((_BUMPS @ up + 1e-9) / (_BUMPS @ down + 1e-9))
                curve = seen * pull / (seen + 1.0 / (bound * _NEPER) ** 2)
                rows = (plain * np.exp(curve @ _BUMPS)).astype(np.float32)
            weight = _TRUST * den + 1e-9
            asked = x + np.log((num + 1e-12) / (den + 1e-12))
            sure = 1.0 / (1.0 / weight + 1.0 / hold)
            common = float((sure * (asked - x0)).sum() / sure.sum())
            best = (weight * asked + hold * (x0 + common)) / (weight + hold)
            x += np.clip(best - x, -4.0, 2.5)
        gain = np.zeros(x0.size)
        _gains(*where, rows, x, gain)
        return gain, x


def other_way(timbre: str) -> str:
    """Template key of the other way to play a string instrument."""
    if timbre.endswith("+pizz"):
        return timbre.removesuffix("+pizz")
    return timbre.split("-solo")[0].split("+")[0] + "+pizz"


def _likely(mix: Explained, rise: F32, place: _Place) -> tuple[int, ...]:
    """Intervals at which the mix has most that the fit does not explain, and the octaves."""
    found = place.found
    pitch = np.float64(found.palette.tuning) + found.notes.pitch[place.notes]
    of_note = np.zeros((place.notes.size, POOLS), np.float32)
    np.add.at(of_note, place.note, rise[mix.segment[place.entry]])
    of_note /= np.bincount(place.note)[:, None]
    score = {i: float(combed(of_note, pitch + i).mean()) for i in INTERVALS}
    most = sorted((i for i in INTERVALS if i not in OCTAVES), key=lambda i: -score[i])
    return (*OCTAVES, *most[:_TRIED])


def _levels(found: Decomposed) -> Floats:
    """Fitted level of each note against the expected one, natural log; NaN if it has none."""
    p = found.problem
    held = p.age < AGES - 1
    count = np.bincount(p.note[held], minlength=p.note_line.size)
    total = np.bincount(p.note[held], np.log(found.fitted.level[held]), p.note_line.size)
    with np.errstate(invalid="ignore", divide="ignore"):
        level: Floats = total / count - p.expected_db * _NEPER
    return level


def notes_of(found: Decomposed) -> list[Ints]:
    """Played notes of each line that the fit gave a level, in order."""
    above = _levels(found)
    line = found.problem.note_line
    count = len(found.palette.lines)
    return [np.flatnonzero((line == k) & np.isfinite(above)) for k in range(count)]


def trials(
    found: Decomposed, mix: Explained, chosen: Sequence[tuple[int, Ints]] | None = None
) -> list[Trial]:
    """Try every line that has notes, or certain notes of certain lines."""
    every = notes_of(found)
    if chosen is None:
        chosen = [(k, _spread(notes)) for k, notes in enumerate(every) if notes.size]
    common = _common(found, every)
    palette, rise = _remembering(found.palette), unexplained(mix)

    def tried(one: tuple[int, Ints]) -> Trial:
        return _trial(_Place(found, mix, palette, *one), mix, rise, common)

    # No trial knows of another, and their loops leave the interpreter to a second one.
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(tried, [one for one in chosen if one[1].size]))


def written_gains(found: Decomposed, mix: Explained) -> Floats:
    """What each played note gains as written, NaN where it has no level, shape (notes,)."""
    every = notes_of(found)
    common, palette = _common(found, every), _remembering(found.palette)
    out: Floats = np.full(found.problem.note_line.size, np.nan)
    for line, notes in enumerate(every):
        if notes.size:
            place = _Place(found, mix, palette, line, notes)
            x0 = found.problem.expected_db[place.notes] * _NEPER + common
            out[place.notes] = place.try_reading(x0)[0]
    return out


def _common(found: Decomposed, every: Sequence[Ints]) -> float:
    """Level of most lines against what page and mix let expect, natural log."""
    above = _levels(found)
    of_line = [np.median(above[notes]) for notes in every if notes.size]
    return float(np.median(of_line)) if of_line else 0.0


def _spread(notes: Ints) -> Ints:
    """As many notes as are tried, evenly over all."""
    at = np.linspace(0, notes.size - 1, min(notes.size, MOST_NOTES))
    return notes[at.astype(np.int64)]


def _trial(place: _Place, mix: Explained, rise: F32, common: float) -> Trial:
    found, line = place.found, place.line
    p, kind = found.problem, found.palette.lines[line]
    x0 = p.expected_db[place.notes] * _NEPER + common
    written, level = place.try_reading(x0)
    movable = kind.pitched and bool((found.notes.pitch[place.notes] > 0).all())
    movable = movable and kind.key != "timpani"  # which drum it was, the mix hardly tells
    coloured, _ = place.try_fitted(x0)
    tried = _likely(mix, rise, place) if movable else ()
    otherwise = None
    if kind.family == "strings":
        otherwise = place.try_reading(x0, 0, [other_way(t) for t in found.notes.timbres])[0]
    return Trial(
        line=line,
        notes=place.notes,
        written=written,
        coloured=coloured,
        moved={i: place.try_reading(x0, i)[0] for i in tried},
        otherwise=otherwise,
        softer=place.try_softer(x0, BELOW_DB),
        level_db=float(np.median(level - x0)) / _NEPER,
        onset_s=found.notes.onset_s[place.notes],
        offset_s=found.notes.offset_s[place.notes],
        along=held_along(found.notes, line, place.notes),
    )


def held_along(notes: PlayedNotes, line: int, which: Ints) -> float:
    """Share of some notes of a line that others hold as well, or an octave higher.

    How such a note goes on after its attack is theirs to show.
    """
    pitch, onset = notes.pitch[which], notes.onset_s[which]
    late = onset + _LATE * (notes.offset_s[which] - onset)
    others = (notes.line != line) & notes.sustained
    held = (notes.onset_s[others] <= late[:, None]) & (notes.offset_s[others] > late[:, None])
    apart = notes.pitch[others] - pitch[:, None]
    return float((held & np.isin(apart, _ALONG)).any(axis=1).mean()) if which.size else 0.0

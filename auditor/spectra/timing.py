"""When a line's held notes sound in the mix, beside when the page has them.

For a note every segment of the mix around it is asked whether it holds the note's pitch at
its fitted level, with all else as it was fitted: the fall of the Itakura-Saito divergence
when the note is added. A note that comes late lacks this evidence at its beginning and has
it after its end; one that is cut short lacks it in its last part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np

from auditor.sound.spectrum import HOP, RATE_HZ
from auditor.spectra.explained import POOLS, Decomposed, Explained, Floats, Ints, fall
from auditor.timbre.templates import AGES

# Frames looked at before a note begins and after it ends: half a second.
AROUND = 22
# Shifts tried, in frames of 23 ms.
SHIFTS = np.arange(-AROUND, AROUND + 1, 2)
# Shares of a note after which it may have been left.
STOPS = np.arange(0.2, 1.01, 0.1)
# A note must be this long, in frames: 0.15 s for its place, 0.7 s for its end.
_SHORTEST, _LONG = 6, 30
# A frame says no more than this for or against.
_MOST = 3.0
# A pitch this far below has the note's own pitch among its strong partials.
_HIDING = (0, 12)
# Share of a note that nothing may hide.
_TOLD = 0.25


@dataclass(frozen=True, slots=True)
class Timing:
    """Evidence of when the held notes of one line sound.

    Parameters
    ----------
    line
        Its row.
    notes : ndarray of int, shape (notes,)
        Positions in the played notes.
    stopped : ndarray, shape (notes, stops)
        What a note gains if it ends after each of `STOPS` of its length, against its whole.
    left, taken : ndarray, shape (notes, shifts)
        What a note gains if it is moved by each of `SHIFTS`: evidence against the time that
        is given up, and for the time that is taken instead.
    held : ndarray, shape (notes,)
        Evidence in the written place.
    onset_s, offset_s : ndarray, shape (notes,)
        As written.
    """

    line: int
    notes: Ints
    left: Floats
    taken: Floats
    stopped: Floats
    held: Floats
    onset_s: Floats
    offset_s: Floats


@numba.njit(cache=True, fastmath=True)
def _evidence(power, model, beside, own, row, level, segments, hidden, out):  # type: ignore[no-untyped-def]
    """Gain of each segment from a note at its level over none, natural units."""
    for k in range(segments.size):
        s = segments[k]
        if hidden[k]:
            out[k] = 0.0
            continue
        total = 0.0
        for f in range(power.shape[1]):
            note = level * row[f]
            base = max(model[s, f] - own[k] * row[f], beside[s, f])
            if note < 0.05 * base:
                continue
            total += fall(power[s, f], base, base + note)
        out[k] = min(max(total, -_MOST), _MOST)


class _Page:
    """What the fit says sounds in each segment."""

    def __init__(self, found: Decomposed, mix: Explained) -> None:
        p = found.problem
        self.found, self.mix = found, mix
        held = p.age < AGES - 1
        pitch = found.notes.pitch[p.note]
        self.sounding = np.zeros((len(mix.power), 128), np.int16)
        real = held & (pitch > 0)
        np.add.at(self.sounding, (mix.segment[real], pitch[real]), 1)
        self.segment_of = np.repeat(
            np.arange(len(found.bounds) - 1), np.diff(found.bounds)
        )  # by frame
        order = np.argsort(p.note, kind="stable")
        self.entries = np.split(
            order, np.cumsum(np.bincount(p.note, minlength=p.note_line.size))[:-1]
        )

    def of(self, note: int) -> tuple[Floats, int, int] | None:
        """Evidence by frame from `AROUND` before the note to `AROUND` after, and its frames."""
        p, notes = self.found.problem, self.found.notes
        mine = self.entries[note]
        held = mine[p.age[mine] < AGES - 1]
        if not held.size:
            return None
        start = round(float(notes.onset_s[note]) * RATE_HZ / HOP)
        stop = max(round(float(notes.offset_s[note]) * RATE_HZ / HOP), start + 2)
        frames = np.arange(start - AROUND, stop + AROUND)
        inside = (frames >= 0) & (frames < self.segment_of.size)
        segments, back = np.unique(self.segment_of[frames[inside]], return_inverse=True)
        level = self.found.fitted.level
        middle = held[np.argsort(p.age[held])[held.size // 2]]
        row = np.ascontiguousarray(self.found.fitted.atoms[p.atom[middle], :POOLS])
        usual = float(np.median(level[held]))
        own = np.zeros(segments.size, np.float32)
        at = np.searchsorted(segments, self.mix.segment[mine])
        ok = at < segments.size
        ok[ok] = segments[at[ok]] == self.mix.segment[mine][ok]
        np.add.at(own, at[ok], level[mine[ok]])
        pitch = int(notes.pitch[note])
        others = self.sounding[segments].copy()
        here = np.isin(segments, self.mix.segment[held])
        others[here, pitch] -= 1
        below = [pitch - k for k in _HIDING if pitch - k >= 0]
        hidden = others[:, below].sum(axis=1) > 0
        out = np.zeros(segments.size)
        _evidence(self.mix.power, self.mix.model, self.mix.beside, own, row,
                  np.float32(usual), segments, hidden, out)  # fmt: skip
        evidence, told = np.zeros(frames.size), np.zeros(frames.size, bool)
        evidence[inside], told[inside] = out[back], ~hidden[back]
        if told[AROUND : AROUND + stop - start].mean() < _TOLD:
            return None
        return evidence, AROUND, AROUND + stop - start


def timings(found: Decomposed, mix: Explained) -> list[Timing]:
    """Look for every line's held notes around their written places."""
    page, notes = _Page(found, mix), found.notes
    out = []
    frames = (notes.offset_s - notes.onset_s) * RATE_HZ / HOP
    for line in range(len(found.palette.lines)):
        mine = np.flatnonzero((notes.line == line) & notes.sustained & (notes.pitch > 0)
                              & (frames >= _SHORTEST))  # fmt: skip
        timing = _timing(page, line, mine[np.argsort(notes.onset_s[mine], kind="stable")])
        if timing is not None:
            out.append(timing)
    return out


def _timing(page: _Page, line: int, tried: Ints) -> Timing | None:
    kept, left, taken, stopped, held = [], [], [], [], []
    for note in tried.tolist():
        got = page.of(note)
        if got is None:
            continue
        evidence, a, b = got
        total = np.concatenate([[0.0], np.cumsum(evidence)])
        whole = total[b] - total[a]
        kept.append(note)
        early, late = np.minimum(SHIFTS, 0), np.maximum(SHIFTS, 0)
        far = b - a
        gone = np.where(SHIFTS > 0, total[a + np.minimum(late, far)] - total[a],
                        total[b] - total[b + np.maximum(early, -far)])  # fmt: skip
        left.append(-gone)
        taken.append(total[b + SHIFTS] - total[a + SHIFTS] - whole + gone)
        ends = a + np.round(STOPS * (b - a)).astype(np.int64)
        stopped.append(total[ends] - total[a] - whole if b - a >= _LONG else 0.0 * STOPS)
        held.append(whole)
    if not kept:
        return None
    notes = page.found.notes
    return Timing(
        line, np.array(kept), np.array(left), np.array(taken), np.array(stopped),
        np.array(held), notes.onset_s[kept], notes.offset_s[kept],
    )  # fmt: skip

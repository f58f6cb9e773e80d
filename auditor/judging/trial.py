"""A passage cut out of a case and heard again: the same hearing, other line spectra."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from auditor.findings.finding import Finding
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, NoteWindows
from auditor.hearing.windows import companions, note_frames
from auditor.judging.scene import IntArray, Scene
from auditor.spectra.line_spectra import FLOOR_DB, LineSpectra, heard_power
from auditor.units import power_to_db

# Seconds heard before and after a passage, for what rings into it.
_BEFORE_S, _AFTER_S = 0.5, 0.3
# Frames a passage is heard in at most; longer ones are heard on every second or third.
_MOST_FRAMES = 500

F32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Ground:
    """A passage cut out of a case, ready to be changed.

    Parameters
    ----------
    s
        The case.
    lines
        Rows of the lines the passage is about.
    notes : ndarray of int
        Positions in the score of all notes that sound in it.
    target : ndarray of bool, shape (notes,)
        Those that are listened for.
    power : ndarray, shape (lines, frames, bands), float32
        Of every line of the score.
    frame_s : ndarray, shape (frames,)
        Seconds from the cut on.
    start_s
        Where the cut begins in the sound.
    stride
        Frames of the sound for each frame here.
    spectra
        The whole sound's, for bands and confidence.
    apart
        Rows that must stay apart, whatever else changes.
    """

    s: Scene
    lines: tuple[int, ...]
    notes: IntArray
    target: NDArray[np.bool_]
    power: F32
    frame_s: NDArray[np.float64]
    start_s: float
    stride: int
    spectra: LineSpectra
    apart: tuple[int, ...]

    def step_s(self) -> float:
        """Seconds from frame to frame of the whole sound."""
        return float(self.spectra.frame_s[1] - self.spectra.frame_s[0])

    def of(self, row: int) -> list[int]:
        """Places in `notes` of a line's notes."""
        return [k for k, n in enumerate(self.notes) if self.s.windows.line[n] == row]


@dataclass(frozen=True, slots=True)
class Change:
    """Line spectra after a change, and who is listened for then.

    Parameters
    ----------
    power : ndarray, shape (lines, frames, bands), float32
        Of every line.
    gone
        Rows whose notes are no longer played.
    given
        Rows that play the passage's notes now, besides or instead.
    moved
        Semitones by row.
    edits
        What was done, a row, a word and an amount each: ``mark`` in dynamic steps, ``rest``,
        ``short`` as a share of the length, ``octave`` in semitones, ``double`` and
        ``instead`` with the row whose notes are taken.
    """

    power: F32
    gone: tuple[int, ...] = ()
    given: tuple[int, ...] = ()
    moved: tuple[tuple[int, int], ...] = ()
    edits: tuple[tuple[int, str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Hearing:
    """What is left of a passage, and how far it is above its masked threshold."""

    ratio: float
    margin_db: float


def cut(s: Scene, spectra: LineSpectra, finding: Finding) -> Ground | None:
    """Cut a finding's passage out; None where nothing of it can be heard."""
    own = s.notes(finding.lines, finding.first_bar, finding.last_bar)
    on, off = s.windows.onset_s, s.windows.offset_s
    own = own[np.isfinite(on[own]) & np.isfinite(off[own])]
    if not own.size or spectra.frame_s.size < 2:
        return None
    begin, end = float(on[own].min()) - _BEFORE_S, float(off[own].max()) + _AFTER_S
    with np.errstate(invalid="ignore"):
        notes = np.flatnonzero((on < end) & (off > begin))
    first, stop = np.searchsorted(spectra.frame_s, (begin, end))
    stride = max(1, int(np.ceil((stop - first) / _MOST_FRAMES)))
    level = spectra.level_db[:, first:stop:stride]
    if level.shape[1] < 3:
        return None
    power = heard_power(level).astype(np.float32)
    start = float(spectra.frame_s[first])
    rows = tuple(s.row[n] for n in finding.lines)
    if not power[list(rows)].any():
        return None
    covers = tuple(s.row[c.line] for c in finding.covers)
    target = np.isin(notes, own)
    return Ground(
        s, rows, notes, target, power, spectra.frame_s[first:stop:stride] - start, start,
        stride, spectra, tuple(dict.fromkeys((*rows, *covers))),
    )  # fmt: skip


def _windows(g: Ground, change: Change) -> tuple[NoteWindows, NDArray[np.bool_]]:
    """Notes that sound after the change, by score row, and which are listened for."""
    w = g.s.windows
    line, pitch = w.line[g.notes], w.pitch[g.notes].copy()
    for row, semitones in change.moved:
        pitch[(line == row) & (pitch > 0)] += semitones
    keep = ~np.isin(line, change.gone)
    places = [np.flatnonzero(keep)] + [np.flatnonzero(g.target)] * len(change.given)
    at = np.concatenate(places)
    owner = np.concatenate(
        [line[places[0]]]
        + [np.full(int(g.target.sum()), row, np.int64) for row in change.given]
    )
    wanted = np.concatenate(
        [g.target[places[0]]] + [np.ones(int(g.target.sum()), bool) for _ in change.given]
    )
    if change.given:
        at, owner, wanted = _once(at, owner, wanted, w.onset_s[g.notes], places[0].size)
    windows = NoteWindows(
        line=owner,
        onset_s=w.onset_s[g.notes][at] - g.start_s,
        offset_s=w.offset_s[g.notes][at] - g.start_s,
        pitch=pitch[at],
        sustained=w.sustained[g.notes][at],
        instrument=w.instrument,
    )
    return windows, wanted


def _once(
    at: IntArray, owner: IntArray, wanted: NDArray[np.bool_],
    onset_s: NDArray[np.float64], kept: int,
) -> tuple[IntArray, IntArray, NDArray[np.bool_]]:  # fmt: skip
    """Drop a helper's second copy of notes that two lines of the passage share."""
    seen: set[tuple[int, int]] = set()
    good = np.ones(at.size, dtype=bool)
    for k in range(kept, at.size):
        key = (int(owner[k]), round(1000 * float(onset_s[at[k]])))
        good[k] = key not in seen
        seen.add(key)
    return at[good], owner[good], wanted[good]


def hear(g: Ground, change: Change | None = None) -> Hearing:
    """Hear the passage as one group, as it is or after a change."""
    change = change or Change(g.power)
    windows, wanted = _windows(g, change)
    frames = note_frames(windows, g.frame_s)
    pairs = companions(windows, frames)
    fused = windows.line[pairs.partner[wanted[pairs.note]]]
    apart = sorted({*g.apart, *change.given, *fused.tolist()} - set(change.gone))
    rest = np.setdiff1d(np.arange(g.power.shape[0]), apart)
    power = np.concatenate([change.power[apart], change.power[rest].sum(axis=0)[None]])
    place = np.full(g.power.shape[0], -1, np.int64)
    place[apart] = np.arange(len(apart))
    known = place[windows.line] >= 0
    near = replace(
        windows,
        line=place[windows.line][known], onset_s=windows.onset_s[known],
        offset_s=windows.offset_s[known], pitch=windows.pitch[known],
        sustained=windows.sustained[known],
        instrument=(*(windows.instrument[r] for r in apart), "rest"),
    )  # fmt: skip
    spectra = LineSpectra(
        level_db=power_to_db(power, FLOOR_DB).astype(np.float32),
        frame_s=g.frame_s,
        band_cam=g.spectra.band_cam,
        confidence=np.ones(power.shape[:2], np.float32),
        source="stems",
    )
    group = Group("passage", np.flatnonzero(wanted[known]).astype(np.int64))
    heard = listen(spectra, near, [group], g.s.limits)
    return Hearing(float(heard.groups.distinct_ratio[0]), float(heard.groups.margin_db[0]))

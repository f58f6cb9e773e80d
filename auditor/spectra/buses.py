"""Stems laid against their mix, and line spectra from them: whole, in groups, or in part.

A *bus* is one stem in its place and at its level in the mix, with the lines that sound in
it. A line alone in its bus has that bus's power; several lines share theirs out by the
decomposition, inside it. Lines without a stem come out of what the mix holds beyond them.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from auditor.errors import AudioError
from auditor.sound.reading import read_sound
from auditor.sound.spectrum import RATE_HZ, frame_times, pooled_power
from auditor.sound.summing import (
    Sum,
    add_up,
    gain_words,
    left_somewhere,
    moved,
    offset_of,
    thinned,
)
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.line_spectra import BAND_CAM, FLOOR_DB, LineSpectra
from auditor.spectra.mixture import band_power
from auditor.spectra.room import room_share, sounds_like_room
from auditor.spectra.sharing import handed_on
from auditor.spectra.stem_names import Matched
from auditor.units import power_to_db

_log = logging.getLogger(__name__)

F32 = NDArray[np.float32]
# Decomposes a sound into the lines of some notes: (samples, notes, known power) to spectra
# of all lines.
Decompose = Callable[[F32, PlayedNotes, F32 | None], LineSpectra]

# A mix that leaves this little over is its stems; more is said.
WHOLE_DB = -20.0
_LATE_S = 0.002
_SAME = 8  # samples: a codec's smear


class Shelf:
    """Decoded stems, kept as long as there is room: decoding costs more than all else."""

    def __init__(self, most_samples: int = 120_000_000) -> None:
        self._kept: dict[Path, F32] = {}
        self._room = most_samples

    def sound(self, path: Path) -> F32:
        """Samples of a file, mono at 44.1 kHz."""
        if path in self._kept:
            return self._kept[path]
        samples = read_sound(path, may_be_silent=True).samples
        if samples.size <= self._room:
            self._room -= samples.size
            self._kept[path] = samples
        return samples


@dataclass(frozen=True, slots=True)
class Bus:
    """One stem in its place.

    Parameters
    ----------
    path
        The file.
    rows
        Rows of the lines in it.
    parts
        Part of each of them.
    lag
        Samples to move it by.
    gain
        Its amplitude in the mix over that in the file.
    """

    path: Path
    rows: tuple[int, ...]
    parts: tuple[int, ...] = ()
    lag: int = 0
    gain: float = 1.0

    def samples(self, size: int, shelf: Shelf) -> F32:
        """Sound of the bus as it stands in the mix, shape (size,)."""
        return moved(shelf.sound(self.path), self.lag, size) * np.float32(self.gain)


@dataclass(frozen=True, slots=True)
class Desk:
    """All stems against the mix.

    Parameters
    ----------
    buses
        One for each stem.
    room
        Files that hold the room of all.
    rest
        Rows of lines without a stem.
    size
        Samples of the mix.
    total
        How they add up; None without a mix.
    remarks
        One sentence for each thing noticed.
    shelf
        Where their sounds are.
    """

    buses: tuple[Bus, ...]
    room: tuple[Bus, ...]
    rest: tuple[int, ...]
    size: int
    total: Sum | None
    remarks: tuple[str, ...]
    shelf: Shelf

    @property
    def plain_files(self) -> dict[int, Path]:
        """Files by row that are one line as it is in the mix: unmoved, at its level."""
        return {
            bus.rows[0]: bus.path
            for bus in self.buses
            if len(bus.rows) == 1 and not bus.lag and abs(bus.gain - 1.0) < 1e-9
        }


def lay_out(matched: Matched, rows: dict[int, tuple[int, ...]], mix: F32 | None) -> Desk:
    """Place the stems against the mix.

    Parameters
    ----------
    matched
        Whose stem is whose.
    rows
        Rows of the lines of each part that has notes.
    mix : ndarray, shape (samples,), or None
        Mono at 44.1 kHz.
    """
    held = [
        [(row, part) for part in stem.parts for row in rows.get(part, ())]
        for stem in matched.stems
    ]
    buses = [
        Bus(stem.path, tuple(r for r, _ in pairs), tuple(p for _, p in pairs))
        for stem, pairs in zip(matched.stems, held, strict=True)
    ]
    room = [Bus(path, ()) for path in matched.room]
    rest = tuple(row for part in matched.missing for row in rows.get(part.number, ()))
    shelf = Shelf()
    if mix is None:
        sizes = [shelf.sound(b.path).size for b in buses + room]
        return Desk(tuple(buses), tuple(room), rest, max(sizes), None, (), shelf)
    placed, few, remarks = _placed(buses + room, mix, shelf)
    total = add_up(few, thinned(mix))
    placed = [replace(b, gain=float(g)) for b, g in zip(placed, total.gains, strict=True)]
    if total.coherent:
        words = gain_words([b.path.name for b in placed], total.gains)
        remarks += [words] if words else []
    remarks += _sum_remarks(total, matched)
    return Desk(
        tuple(placed[: len(buses)]), tuple(placed[len(buses) :]), rest, mix.size, total,
        tuple(remarks), shelf,
    )  # fmt: skip


def _placed(
    buses: Sequence[Bus], mix: F32, shelf: Shelf
) -> tuple[list[Bus], list[F32], list[str]]:
    """Buses with their lags, their thinned sounds in place, and what was noticed."""
    found = [offset_of(shelf.sound(bus.path), mix) for bus in buses]
    common = _common(found)
    left = mix.copy()
    for bus, lag in zip(buses, found, strict=True):
        if lag is not None and abs(lag - common) <= _SAME:
            left -= moved(shelf.sound(bus.path), lag, mix.size)
    out, few, remarks = [], [], []
    for bus, lag in zip(buses, found, strict=True):
        sound = shelf.sound(bus.path)
        if lag is None or abs(lag - common) > _SAME:
            # Music repeats: a stem that stands elsewhere must be missed there by the others.
            lag = None if lag is None else offset_of(sound, left, common)
        # One sample more or less is the others' doing, and one export has one start.
        lag = common if lag is None or abs(lag - common) <= _SAME else lag
        few.append(thinned(moved(sound, lag, mix.size)))
        out.append(replace(bus, lag=lag))
        if abs(lag) > _LATE_S * RATE_HZ:
            word = "later" if lag > 0 else "earlier"
            remarks.append(
                f"{bus.path.name} begins {abs(lag) / RATE_HZ:.3f} s {word} than the mix and "
                f"was moved"
            )
    return out, few, remarks


def _common(lags: Sequence[int | None]) -> int:
    """The lag most stems share, 0 if they share none."""
    sure = [lag for lag in lags if lag is not None]
    if not sure:
        return 0
    middle = int(np.median(sure))
    shared = [lag for lag in sure if abs(lag - middle) <= _SAME]
    return middle if len(shared) > len(sure) / 2 else 0


def _sum_remarks(total: Sum, matched: Matched) -> list[str]:
    left = f"{total.left_db:.0f} dB of the mix"
    if not total.coherent:
        return [
            "the stems are not in the mix sample by sample (another take, or processing on "
            "the sum): lines have the stems' own balance, brought to the mix's loudness"
        ]
    if matched.missing:
        names = ", ".join(part.name for part in matched.missing)
        return [f"there is no stem for {names}; what the stems leave of the mix ({left}) "
                f"was searched for it"]  # fmt: skip
    if total.left_db > WHOLE_DB:
        return [f"the mix holds more than its stems: {left} are left over"]
    return [f"the stems add up to the mix; {left} are left over"]


def desk_spectra(
    desk: Desk,
    mix: F32 | None,
    notes: PlayedNotes,
    lines: int,
    gain_db: float,
    decompose: Decompose,
) -> tuple[LineSpectra, tuple[str, ...]]:
    """Line spectra from stems, and from what the mix holds beyond them.

    Parameters
    ----------
    desk
        The stems, laid out.
    mix : ndarray, shape (samples,), or None
        Mono at 44.1 kHz.
    notes
        What the score says sounds when.
    lines
        How many lines there are.
    gain_db
        dB SPL of a full-scale mean square of 1.
    decompose
        Parts a sound into the lines of some notes.

    Returns
    -------
    spectra
        With source ``stems`` when every line with notes has a stem of its own or a share
        of one, else ``mix``; confidence 1 for lines alone in their stem.
    remarks
        What was found out on the way.
    """
    power, sure = None, None
    known = np.zeros(desk.size, np.float32)
    for bus in desk.buses:
        sound = bus.samples(desk.size, desk.shelf)
        known += sound
        own, trust = _shared(bus, sound, notes, decompose, gain_db)
        if power is None or sure is None:
            power = np.zeros((lines, *own.shape[1:]), np.float32)
            sure = np.zeros((lines, own.shape[1]), np.float32)
        rows = list(bus.rows)
        power[rows] += own
        sure[rows] = trust
    if power is None or sure is None:
        raise AudioError("there is no stem with notes in it")
    remarks: list[str] = []
    rest = mix - known if mix is not None else None
    for bus in desk.room:
        room = bus.samples(desk.size, desk.shelf)
        rest = rest - room if rest is not None else None
        power += room_share(power, band_power(pooled_power(room)))
    if mix is not None and rest is not None and desk.total is not None:
        if desk.rest:
            own, trust = _from_rest(desk, mix, rest, known, notes, decompose, gain_db)
            power[list(desk.rest)], sure[list(desk.rest)] = own, trust
        elif desk.total.coherent and desk.total.left_db > WHOLE_DB:
            left = band_power(pooled_power(rest))
            if sounds_like_room(power.sum(axis=0), left):
                power += room_share(power, left)
                remarks.append(
                    "what is left over sounds like the room of the others (a reverb bus); it "
                    "was shared out among the lines that had just played"
                )
            else:
                remarks.append(
                    "what is left over is no room: a part of the mix has neither stem nor "
                    "notes in the score; it is left out of what covers the lines"
                )
        if desk.total.coherent and not desk.rest and (over := left_somewhere(rest, mix)):
            remarks.append(over.words())
    level = np.empty_like(power)
    for k, line in enumerate(power):
        level[k] = power_to_db(line * 10 ** (gain_db / 10), FLOOR_DB)
    whole = not desk.rest
    spectra = LineSpectra(
        level, frame_times(power.shape[1]), BAND_CAM, sure, "stems" if whole else "mix"
    )
    return spectra, tuple(remarks)


def _notes_of(notes: PlayedNotes, rows: Sequence[int]) -> PlayedNotes:
    kept = np.isin(notes.line, list(rows))
    return replace(
        notes,
        line=notes.line[kept],
        onset_s=notes.onset_s[kept],
        offset_s=notes.offset_s[kept],
        pitch=notes.pitch[kept],
        dynamic=notes.dynamic[kept],
        sustained=notes.sustained[kept],
        timbre=notes.timbre[kept],
        level_db=notes.level_db[kept],
    )


def _shared(
    bus: Bus, sound: F32, notes: PlayedNotes, decompose: Decompose, gain_db: float
) -> tuple[F32, F32]:
    """Power of a bus's lines, (lines of the bus, frames, bands), and its certainty."""
    whole = band_power(pooled_power(sound))
    rows = list(bus.rows)
    own = _notes_of(notes, rows)
    if len(rows) < 2 or not own.line.size:
        out = np.zeros((len(rows), *whole.shape), np.float32)
        out[:1] = whole
        return out, np.ones((len(rows), len(whole)), np.float32)
    if len(set(bus.parts)) == 1:
        # One player at a time: the stem is handed on, and stays exact.
        each = handed_on(
            np.tile(sound, (len(rows), 1)),
            bus.parts,
            np.searchsorted(rows, own.line),
            own.onset_s,
            own.offset_s,
            RATE_HZ,
        )
        power = np.stack([band_power(pooled_power(one)) for one in each])
        return power, np.ones(power.shape[:2], np.float32)
    found = decompose(sound, own, None)
    power = _shares(_power(found, rows, gain_db)) * whole[None]
    sounding = len(np.unique(own.line)) > 1
    return power, found.confidence[rows] if sounding else np.ones_like(found.confidence[rows])


def _shares(power: F32) -> F32:
    """Each line's share of what all have together; in pauses that of the frame before."""
    total = power.sum(axis=0)
    sounding = total.sum(axis=1) > 0
    order = np.where(sounding, np.arange(len(total)), -1)
    last = np.maximum.accumulate(order)
    last[last < 0] = int(np.argmax(sounding))
    power, total = power[:, last], total[last]
    # A band in which no line is known to sound goes by what the lines have in all.
    broad = power.sum(axis=2, keepdims=True)
    broad = broad / np.maximum(broad.sum(axis=0, keepdims=True), 1e-30)
    share = np.where(total[None] > 0, power / np.maximum(total[None], 1e-30), broad)
    return np.asarray(share, np.float32)


def _from_rest(
    desk: Desk,
    mix: F32,
    rest: F32,
    known: F32,
    notes: PlayedNotes,
    decompose: Decompose,
    gain_db: float,
) -> tuple[F32, F32]:
    """Power and certainty of the lines without a stem, rows in the order of `desk.rest`."""
    own = _notes_of(notes, desk.rest)
    rows = list(desk.rest)
    coherent = desk.total is not None and desk.total.coherent
    if not own.line.size:
        shape = band_power(pooled_power(mix)).shape
        return (
            np.zeros((len(rows), *shape), np.float32),
            np.zeros((len(rows), shape[0]), np.float32),
        )
    found = decompose(rest, own, None) if coherent else decompose(mix, own, pooled_power(known))
    return _power(found, rows, gain_db), found.confidence[rows]


def _power(found: LineSpectra, rows: Sequence[int], gain_db: float) -> F32:
    """Power re full scale of some lines, shape (rows, frames, bands)."""
    level = found.level_db[list(rows)]
    power = np.where(level > FLOOR_DB, 10 ** ((level - gain_db) / 10), 0.0)
    return power.astype(np.float32)

"""A part while it is decided how to read it: heads, clefs, spells and what the file gives."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from auditor.score import changes, conventions, crooks, old_clefs
from auditor.score.conventions import Group
from auditor.score.grid import Grid
from auditor.score.harmony import Written
from auditor.score.noteheads import Notehead
from auditor.score.notes import Part
from auditor.score.settings import Setting
from auditor.score.sheet import Sheet

_TINY = 1e-3


@dataclass(slots=True)
class Desk:
    """A part while it is decided how to read it."""

    part: Part
    sheet: Sheet
    setting: Setting
    heads: list[Notehead]
    written: Written
    spells: tuple[changes.Spell, ...]
    spell: NDArray[np.int64]
    groups: list[Group]
    signs: NDArray[np.str_]
    doubtful: NDArray[np.bool_]
    certain: bool = False
    remarks: list[str] = field(default_factory=list)

    @property
    def safe(self) -> bool:
        """Nothing about its interval can be in doubt."""
        return bool(self.groups) and all(
            g.given % 12 == 0 and all(e % 12 == 0 for e in g.expected) for g in self.groups
        )

    @property
    def undecided(self) -> bool:
        """Whether its transposition is still to be decided."""
        settled = self.certain or self.setting.transposition is not None
        return not settled and bool(self.groups) and self.part.instrument.known

    def settle(self) -> None:
        """Write what the groups have decided into the shifts."""
        for group in self.groups:
            self.written.shift[group.rows] = group.taken


def open_desk(
    part: Part, one: Sheet, own: Sequence[Notehead], grid: Grid, setting: Setting
) -> Desk:
    """Lay out a part as the file gives it, what the user settled already taken over."""
    if setting.instrument is not None:
        part = replace(part, instrument=setting.instrument)
    if setting.players is not None:
        part = replace(part, players=setting.players)
    pitched = [h for h in own if not h.unpitched] if part.instrument.pitched else []
    start = np.array([grid.onsets[h.bar] + h.at for h in pitched], dtype=np.float64)
    fixed = setting.instrument is not None or setting.transposition is not None
    spells = (
        (changes.Spell(float("-inf"), part.instrument),)
        if fixed
        else changes.spells(part, one, grid)
    )
    places = np.array([spell.place for spell in spells])
    signs = _signs(one, pitched)
    desk = Desk(
        part=part,
        sheet=one,
        setting=setting,
        heads=list(pitched),
        written=Written(
            start=start,
            end=start + np.array([h.duration for h in pitched], dtype=np.float64),
            pitch=np.array([h.pitch + h.lift for h in pitched], dtype=np.int64),
            shift=_given(one, grid, start),
        ),
        spells=spells,
        spell=np.searchsorted(places, start + _TINY, side="right") - 1,
        groups=[],
        signs=signs,
        doubtful=old_clefs.doubtful(part.instrument.key, signs),
    )
    desk.groups = list(_groups(desk, grid))
    return desk


def _given(one: Sheet, grid: Grid, start: NDArray[np.float64]) -> NDArray[np.int64]:
    """Semitones the file gives at each place, none before its first.

    One written late in the first bar holds for the notes before it too.
    """
    marks = [m for m in one.marks if m.kind == "transpose" and m.bar < len(grid.onsets)]
    if not marks:
        return np.zeros(start.shape, dtype=np.int64)
    places = np.array([grid.onsets[m.bar] + m.at for m in marks])
    shifts = np.array([int(m.text) for m in marks], dtype=np.int64)
    order = np.argsort(places, kind="stable")
    found = np.searchsorted(places[order], start + _TINY, side="right") - 1
    given = shifts[order][np.maximum(found, 0)]
    return given if min(m.bar for m in marks) == 0 else np.where(found < 0, 0, given)


def _signs(one: Sheet, heads: Sequence[Notehead]) -> NDArray[np.str_]:
    """Clef of each head; a small 8 at it says what it means, so that it raises no doubt."""
    staves: dict[int, list[tuple[tuple[int, float], str]]] = {}
    for clef in one.seats.clefs:
        sign = clef.sign if clef.octave == 0 else "8"
        staves.setdefault(clef.staff, []).append(((clef.bar, clef.at - _TINY), sign))
    for own in staves.values():
        own.sort(key=lambda entry: entry[0])
    found = []
    for head in heads:
        own = staves.get(head.staff, [])
        right = bisect_right(own, (head.bar, head.at), key=lambda entry: entry[0])
        found.append(own[right - 1][1] if right else "")
    return np.array(found, dtype=str)


def _groups(desk: Desk, grid: Grid) -> Iterator[Group]:
    written, names = desk.written, [desk.sheet.name, desk.sheet.instrument_name]
    gives = any(m.kind == "transpose" for m in desk.sheet.marks)
    eighth = any(clef.octave for clef in desk.sheet.seats.clefs)
    pairs = sorted(set(zip(desk.spell.tolist(), written.shift.tolist(), strict=True)))
    for number, shift in pairs:
        spell = desk.spells[number]
        rows = np.flatnonzero((desk.spell == number) & (written.shift == shift))
        asked, named = conventions.expected(spell, names)
        group = Group(
            rows=rows, instrument=spell.instrument, given=shift, declared=gives or eighth,
            expected=asked, named=named, changed=spell.change is not None,
            said_register=named and spell.instrument.key == "horn" and spell.change is None
            and any(map(crooks.register_of, names)),
            treble=bool((desk.signs[rows] == "G").all()), taken=shift,
        )  # fmt: skip
        if group.changed:
            group.declared = gives and conventions.fits(group)
        if desk.setting.transposition is not None:
            group.taken = desk.setting.transposition
        yield group

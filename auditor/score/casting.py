"""What plays each part: its instruments, their lines, and how each note is transposed."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from auditor.score import (
    changes,
    conventions,
    crooks,
    instruments,
    old_clefs,
    sections,
    sharing,
)
from auditor.score.conventions import Group
from auditor.score.desks import Desk, open_desk
from auditor.score.grid import Grid
from auditor.score.harmony import Chords, Written
from auditor.score.lines import draw_lines
from auditor.score.noteheads import Notehead
from auditor.score.notes import Instrument, Line, Part
from auditor.score.settings import FILE_NAME, Setting
from auditor.score.sheet import Sheet

log = logging.getLogger(__name__)

_TINY = 1e-3
_NOTHING = Setting()
_CHAMBER = (
    f"Without winds and double basses the strings are taken for one player each; players in "
    f"{FILE_NAME} say otherwise."
)


@dataclass(frozen=True, slots=True)
class Role:
    """One part as it is read.

    Parameters
    ----------
    part
        With the transposition it is read with.
    lines
        Its lines: one, or one an instrument.
    shift
        Semitones from written to sounding by notehead, pitched ones only.
    line_of
        Number of the line by notehead; empty where the part is one line.
    share
        Share of a string section's players by bar of the page, where its parts divide it.
    as_given
        The transposition is the file's, and the file gives one.
    both
        The two instruments that share the staff all along; empty where one plays.
    remarks
        What was decided, and why.
    """

    part: Part
    lines: tuple[Line, ...]
    shift: Mapping[str, int]
    line_of: Mapping[str, int] = field(default_factory=dict)
    share: Mapping[int, float] = field(default_factory=dict)
    as_given: bool = True
    both: tuple[sharing.Sharer, ...] = ()
    remarks: tuple[str, ...] = ()


def cast(
    parts: Sequence[Part],
    sheets: Sequence[Sheet],
    heads: Sequence[Sequence[Notehead]],
    grid: Grid,
    settings: Mapping[int, Setting] | None = None,
    *,
    at_pitch: bool = False,
) -> tuple[Role, ...]:
    """Decide for each part what plays it and how it is transposed.

    Parameters
    ----------
    parts, sheets, heads
        By part, in score order.
    grid
        Bars of the page.
    settings
        What the user settled, by part number.
    at_pitch
        The format holds sounding pitches, so that nothing about them is in doubt.
    """
    settled = settings or {}
    both = {
        part.number: two
        for part in parts
        if settled.get(part.number, _NOTHING).instrument is None
        and (two := sharing.sharers(part, parts))
    }
    chamber = sections.is_chamber(parts) and not both
    parts = [
        sharing.together(part, both[part.number]) if part.number in both else part
        for part in parts
    ]
    counted = [number for number, setting in settled.items() if setting.players is not None]
    parts = sections.with_bodies(parts, counted, chamber=chamber)
    shares = sections.shares(parts, heads, counted)
    desks = [
        open_desk(part, one, own, grid, settled.get(part.number, _NOTHING))
        for part, one, own in zip(parts, sheets, heads, strict=True)
    ]
    for desk in desks:
        desk.certain = at_pitch
        desk.settle()
    _decide_intervals(desks, grid)
    _decide_octaves(desks, grid)
    _decide_clefs(desks)
    roles: list[Role] = []
    for desk in desks:
        first = 1 + sum(len(role.lines) for role in roles)
        role = _role(desk, first)
        if desk.part.number in both:
            role = _shared(role, sharing.seated(role.part, both[desk.part.number], first))
        said = (_CHAMBER,) if chamber and not roles else ()
        share = shares.get(role.part.number, {})
        roles.append(replace(role, share=share, remarks=(*said, *role.remarks)))
    return tuple(roles)


def _decide_intervals(desks: Sequence[Desk], grid: Grid) -> None:
    quarters = grid.onsets[-1] + grid.lengths[-1] if grid.onsets else 0.0
    safe = [desk for desk in desks if desk.safe]
    pool = safe if len(safe) > 1 else list(desks)
    chords = Chords([desk.written for desk in pool], quarters)
    for desk in desks:
        if not desk.undecided or desk.safe:
            continue
        counted = any(desk is other for other in pool)
        if counted:
            chords.add(desk.written, -1)
        before = desk.written.shift.copy()
        for group in desk.groups:
            conventions.decide_interval(group, desk.written, chords)
        if counted:
            desk.written.shift[:] = before
            chords.add(desk.written)
    for desk in desks:
        desk.settle()


def _decide_octaves(desks: Sequence[Desk], grid: Grid) -> None:
    by_key: dict[str, list[Written]] = {}
    for desk in desks:
        by_key.setdefault(desk.part.instrument.key, []).append(desk.written)
    for desk in desks:
        if desk.undecided:
            for group in desk.groups:
                conventions.decide_octave(group, desk.written, ~desk.doubtful, by_key)
            desk.settle()
    for desk in desks:
        timpani = desk.undecided and desk.part.instrument.key == "timpani"
        if timpani and not any(group.given for group in desk.groups):
            before = desk.written.shift.copy()
            if old_clefs.timpani(desk.written, _tunings(desk, grid)):
                moved = desk.written.shift - before
                desk.groups[0].taken = int(moved[moved != 0][0])
                desk.groups[0].why = "they are written C and G but tuned as the page says"


def _tunings(desk: Desk, grid: Grid) -> list[tuple[float, tuple[int, ...]]]:
    """Tunings of the kettles along the page: the name's, then those of the words."""
    names = (desk.sheet.name, desk.sheet.instrument_name)
    tuning = next(filter(None, map(crooks.tuning_of, names)), (0, 7))
    found = [(float("-inf"), tuning)]
    for mark in sorted(desk.sheet.marks, key=lambda m: (m.bar, m.at)):
        if mark.kind == "words" and mark.bar < len(grid.onsets):
            now = crooks.retuned(mark.text, tuning)
            if now != tuning:
                tuning = now
                # What stands over the first bar names the tuning of the beginning.
                place = grid.onsets[mark.bar] + mark.at if mark.bar else float("-inf")
                found.append((place, tuning))
    return found


def _decide_clefs(desks: Sequence[Desk]) -> None:
    """Read doubtful clefs in the old way where the parts of an instrument together say so."""
    by_key: dict[str, list[Desk]] = {}
    for desk in desks:
        if desk.undecided and old_clefs.mixed(desk.part.instrument.key, desk.doubtful):
            by_key.setdefault(desk.part.instrument.key, []).append(desk)
    for key, own in by_key.items():
        beside = {
            (old_clefs.place_of(start), pitch)
            for desk in desks
            if desk.part.instrument.key != key
            for start, pitch in zip(
                desk.written.start.tolist(), desk.written.sounding.tolist(), strict=True
            )
        }
        votes = [
            old_clefs.evidence(desk.part.instrument, desk.written, desk.doubtful, beside)
            for desk in own
        ]
        log.debug("old clefs of %s: %s", key, votes)
        if sum(votes) >= old_clefs.CLEAR:
            for desk in own:
                desk.written.shift[desk.doubtful] += old_clefs.lift(key)
            own[0].remarks.append(_old_way([desk.part for desk in own], old_clefs.lift(key)))


def _role(desk: Desk, first_line: int) -> Role:
    shift = {h.element: int(s) for h, s in zip(desk.heads, desk.written.shift, strict=True)}
    taken = desk.groups[0].taken if desk.groups else desk.part.instrument.transposition
    part = replace(desk.part, instrument=instruments.as_written(desk.part.instrument, taken))
    keys = [desk.spells[number].instrument.key for number in desk.spell]
    order = list(dict.fromkeys(keys)) or [part.instrument.key]
    played = [_played(part, desk, key) for key in order]
    number = {key: first_line + place for place, key in enumerate(order)}
    line_of = (
        {h.element: number[key] for h, key in zip(desk.heads, keys, strict=True)}
        if len(order) > 1
        else {}
    )
    gives = any(m.kind == "transpose" for m in desk.sheet.marks)
    gives = gives or any(clef.octave for clef in desk.sheet.seats.clefs)
    return Role(
        part=part,
        lines=draw_lines(part, played, first_line),
        shift=shift,
        line_of=line_of,
        as_given=gives
        or desk.certain
        or any(g.sure or g.taken != g.given for g in desk.groups),
        remarks=tuple(_remarks(desk, part)),
    )


def _shared(role: Role, both: tuple[sharing.Sharer, ...]) -> Role:
    """Give a part to the two who play it together."""
    said = (*role.remarks, sharing.remark(role.part, both))
    drawn = sharing.lines(role.part, both)
    return replace(role, lines=drawn, line_of={}, both=both, remarks=said)


def _played(part: Part, desk: Desk, key: str) -> Instrument:
    """One instrument of the part with the transposition it is read with."""
    group = next((g for g in desk.groups if g.instrument.key == key), None)
    if key == part.instrument.key or group is None:
        return part.instrument
    return instruments.as_written(group.instrument, group.taken)


def _remarks(desk: Desk, part: Part) -> Iterator[str]:
    head = f"Part {part.number}, {part.name}: "
    setting = desk.setting
    said = [
        f"instrument {setting.instrument.name.lower()}" if setting.instrument else "",
        f"transposition {setting.transposition}" if setting.transposition is not None else "",
        f"{setting.players:g} players" if setting.players is not None else "",
    ]
    if any(said):
        yield f"{head}{', '.join(s for s in said if s)}, as {FILE_NAME} says."
    seen = set()
    for group in desk.groups:
        what = (group.instrument.key, group.given, group.taken, group.why)
        if what in seen or not group.why or desk.setting.transposition is not None:
            continue
        seen.add(what)
        yield head + _why(group)
    yield from desk.remarks
    for words in changes.of_one(part, desk.sheet):
        yield (
            f'{head}by "{words}" one of its players changes instruments; all of it is read as '
            f"{part.instrument.name.lower()}."
        )


def _old_way(parts: Sequence[Part], lift: int) -> str:
    numbers = ", ".join(str(part.number) for part in parts)
    names = ", ".join(part.name for part in parts)
    head = f"Part{'s' if len(parts) > 1 else ''} {numbers}, {names}"
    clef, way = ("bass", "higher") if lift > 0 else ("treble", "lower")
    return (
        f"{head}: notes in the {clef} clef are read in the old way, an octave {way} than that "
        f"clef means today, as range, leaps and doublings suggest."
    )


def _why(group: Group) -> str:
    if group.why == "doubt":
        return (
            f"its name says another key than the file's transposition by {group.given} "
            f"semitones and the harmony does not tell which is meant; the file's is kept, "
            f"unless {FILE_NAME} sets another."
        )
    name = group.instrument.name.lower()
    file = f"the file transposes by {group.given}" if group.given else "the file gives none"
    return f"read as {name} sounding {_interval(group.taken)} ({file}): {group.why}."


def _interval(semitones: int) -> str:
    if semitones == 0:
        return "as written"
    way = "higher" if semitones > 0 else "lower"
    many = "semitone" if abs(semitones) == 1 else "semitones"
    return f"{abs(semitones)} {many} {way} than written"

"""Forces: what goes beyond a standard orchestra, and how much each extra plays.

The standard is 2222 4231, timpani, two percussion, harp and strings, as many orchestras
keep on contract; every number is a threshold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from auditor.craft.limits import CraftLimits
from auditor.craft.moments import Moment, moments
from auditor.craft.naming import seconds_name
from auditor.craft.page import Page
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.score.notes import Part

# Desk of the orchestra: threshold, its instruments, the usual one first.
_DESKS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("flutes", "standard_flutes", ("flute", "piccolo", "alto-flute", "bass-flute")),
    ("oboes", "standard_oboes", ("oboe", "english-horn", "oboe-damore", "heckelphone")),
    ("clarinets", "standard_clarinets",
     ("clarinet", "e-flat-clarinet", "bass-clarinet", "basset-horn", "basset-clarinet",
      "contrabass-clarinet")),
    ("bassoons", "standard_bassoons", ("bassoon", "contrabassoon", "sarrusophone")),
    ("horns", "standard_horns", ("horn", "wagner-tuba")),
    ("trumpets", "standard_trumpets",
     ("trumpet", "cornet", "piccolo-trumpet", "flugelhorn", "bass-trumpet")),
    ("trombones", "standard_trombones",
     ("trombone", "bass-trombone", "alto-trombone", "contrabass-trombone")),
    ("tubas", "standard_tubas", ("tuba", "euphonium", "ophicleide", "serpent")),
    ("timpanists", "standard_timpanists", ("timpani",)),
    ("harps", "standard_harps", ("harp",)),
)  # fmt: skip
_SOLO_EXTRAS = ("saxophone", "keyboard", "plucked")


@dataclass(frozen=True, slots=True)
class Desk:
    """Parts that players of one kind share out.

    Parameters
    ----------
    name
        ``flutes``.
    usual
        Key of the instrument the standard counts.
    standard
        Players a standard orchestra has.
    parts
        Parts of the desk, those of the usual instrument first.
    """

    name: str
    usual: str
    standard: int
    parts: tuple[Part, ...]

    @property
    def players(self) -> float:
        """Players the page asks for, one part a player unless it says more."""
        return sum(max(1.0, p.players) for p in self.parts)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on forces."""
    cut = moments(page)
    for desk in desks(page, limits):
        if desk.players > desk.standard:
            yield from _beyond(page, desk, cut)
    yield from _others(page)
    yield from _percussion(page, limits)


def desks(page: Page, limits: CraftLimits) -> Iterator[Desk]:
    """Desks of the page, in score order."""
    for name, threshold, keys in _DESKS:
        parts = sorted(
            (p for p in page.parts_of(*keys) if page.notes_of(p.number)),
            key=lambda p: keys.index(p.instrument.key),
        )
        if parts:
            yield Desk(name, keys[0], int(getattr(limits, threshold)), tuple(parts))


def _beyond(page: Page, desk: Desk, cut: Sequence[Moment]) -> Iterator[Remark]:
    counted = 0.0
    for part in desk.parts:
        counted += max(1.0, part.players)
        if counted <= desk.standard:
            continue
        yield _extra(page, part, f"beyond the standard {desk.standard} {desk.name}",
                     _shared(desk, cut, part))  # fmt: skip


def _shared(desk: Desk, cut: Sequence[Moment], part: Part) -> str:
    """Say so when a player of the standard desk is free whenever this part plays."""
    most = 0.0
    numbers = {p.number: max(1.0, p.players) for p in desk.parts}
    for moment in cut:
        busy = {n.part for n in moment.notes if n.part in numbers}
        if part.number in busy:
            most = max(most, sum(numbers[b] for b in busy))
    if most <= desk.standard and part.instrument.key != desk.usual:
        return (
            f" Never more than {most:.0f} of the {desk.name} play beside it, so a standard "
            "player could take it where there is time to change."
        )
    return ""


def _extra(page: Page, part: Part, beyond: str, more: str = "") -> Remark:
    notes = page.notes_of(part.number)
    bars = sorted({n.bar for n in notes})
    seconds = _busy_seconds(page, part)
    return Remark(
        "extra-player", "worth a thought", part.number, bars[0], bars[-1],
        (notes[0].id,),
        f"{part.name} is {beyond} and has to be hired; it plays in {len(bars)} of "
        f"{len(page.bars)} bars, {seconds_name(seconds)} in all"
        f"{page.said_tempo(notes[0].onset)}.{more}",
        "Every player beyond the standard costs a fee for each rehearsal, and may cost the "
        "piece a second performance.",
        "Keep it if the colour is worth it; else give its few bars to an instrument that is "
        "there, or write an alternative in cues.",
        COMMON_PRACTICE,
    )  # fmt: skip


def _busy_seconds(page: Page, part: Part) -> float:
    total, reached = 0.0, 0.0
    for note in page.notes_of(part.number):
        end = note.onset + note.duration
        if end > reached:
            total += page.seconds_between(max(reached, note.onset), end)
            reached = end
    return total


def _others(page: Page) -> Iterator[Remark]:
    for part in page.parts:
        extra = part.instrument.family in _SOLO_EXTRAS and part.instrument.key != "harp"
        if extra and page.notes_of(part.number):
            yield _extra(page, part, "no part of the standard orchestra")


def _percussion(page: Page, limits: CraftLimits) -> Iterator[Remark]:
    """Percussion staves that sound at once beyond the standard players."""
    numbers = {
        p.number for p in page.parts_of(family="percussion") if p.instrument.key != "timpani"
    }
    standard = int(limits.standard_percussionists)
    most, where = 0, None
    for moment in moments(page):
        busy = {n.part for n in moment.notes} & numbers
        if len(busy) > most:
            most, where = len(busy), moment
    if where is None or most <= standard:
        return
    notes = tuple(n.id for n in where.notes if n.part in numbers)
    yield Remark(
        "extra-percussion", "worth a thought", 0, where.bar, where.bar, notes,
        f"{most} percussion staves sound at once; the standard orchestra has {standard} "
        "percussionists beside the timpanist.",
        "Each player more has to be hired for every rehearsal.",
        "Drop a doubling here, or let one player take two instruments that lie together.",
        COMMON_PRACTICE,
    )  # fmt: skip

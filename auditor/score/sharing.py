"""Two instruments on one staff at the same time: cellos and double basses, trombone and tuba.

Both play what stands there, each at its own octave, unless stems, chords or words give a note
to one of them (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from auditor.score import instruments
from auditor.score.instruments import numbers_of, words_of
from auditor.score.notes import Instrument, Line, Part
from auditor.score.players import Who
from auditor.score.seating import Roster

# Upper and lower instrument, and how far the lower sounds below what the upper reads.
_PAIRS = (
    ("cello", "double-bass", -12),
    ("bass-trombone", "tuba", 0),
    ("trombone", "tuba", 0),
    ("bassoon", "contrabassoon", -12),
)
_BASSES = frozenset(("basso", "bassi", "bass", "basse", "basses", "basso continuo"))
_EVERYBODY = re.compile(r"^(tutti\s+(i\s+)?)?(bass[io]|bässe|tutti|unis\.?|a due|zusammen)$")
_WITHOUT = re.compile(r"^(senza|ohne|sans|without|no)\s+(the\s+|les?\s+|la\s+|i\s+)?")
_WITH = re.compile(r"^(con|coi|col|mit|avec|with|\+)\s*(the\s+|les?\s+|la\s+|i\s+)?")
_JOINED = re.compile(r"\s*[/&+,]\s*|\s(?:e|et|und|and|u\.)\s")
_BESIDE = frozenset(("solo", "soli", "tutti", "tutte", "div", "unis", "allein", "only"))


@dataclass(frozen=True, slots=True)
class Sharer:
    """One of the instruments of a shared staff.

    Parameters
    ----------
    instrument
        As it is read here.
    chair
        1 for the upper of the two, 2 for the lower.
    lift
        Semitones it sounds off the staff's own reading.
    players
        Its players.
    line
        Number of its line, once that is drawn.
    """

    instrument: Instrument
    chair: int
    lift: int
    players: float
    line: int = 0


def sharers(part: Part, parts: Sequence[Part]) -> tuple[Sharer, ...]:
    """Return the two instruments of a part that are played together, or nothing.

    "Bassi" alone are both, where no other part is for cellos.

    Parameters
    ----------
    part
        The part, with the name as printed.
    parts
        All of the score.
    """
    keys = set(instruments.all_named(part.name))
    spoken = [w for w in words_of(part.name) if not w.isdigit()]
    with_basses = bool(_BASSES & set(spoken))
    if "cello" in keys and with_basses and len(keys | {"bass"}) <= 3:
        keys = {"cello", "double-bass"}
    elif spoken and spoken[-1] == "bassi" and part.instrument.key in ("bass", "double-bass"):
        others = {p.instrument.key for p in parts if p.number != part.number}
        if "cello" not in others and {"violin", "viola"} <= others:
            keys = {"cello", "double-bass"}
    for upper, lower, lift in _PAIRS:
        if keys == {upper, lower}:
            rows = instruments.entry(upper), instruments.entry(lower)
            bodies = [max(1.0, row.players) for row in rows]
            if part.instrument.family != "strings":
                bodies[0] = instruments.recognise(_JOINED.split(part.name)[0])[1]
            written = [
                instruments.as_written(rows[0].instrument, 0),
                instruments.as_written(rows[1].instrument, lift),
            ]
            return (
                Sharer(written[0], 1, 0, bodies[0]),
                Sharer(written[1], 2, lift, bodies[1]),
            )
    return ()


def together(part: Part, both: Sequence[Sharer]) -> Part:
    """Read the part for its upper instrument, with the players of both."""
    players = sum(one.players for one in both)
    return replace(part, instrument=both[0].instrument, players=players)


def seated(part: Part, both: Sequence[Sharer], first: int) -> tuple[Sharer, ...]:
    """Number their lines from `first`, with the players the part has in the end."""
    usual = sum(one.players for one in both)
    return tuple(
        replace(one, line=first + place, players=max(1.0, one.players * part.players / usual))
        for place, one in enumerate(both)
    )


def lines(part: Part, both: Sequence[Sharer]) -> tuple[Line, ...]:
    """Draw the line of each."""
    return tuple(
        Line(
            number=one.line,
            part=part.number,
            name=f"{part.name} ({one.instrument.name.lower()})",
            instrument=one.instrument,
            players=one.players,
        )
        for one in both
    )


def roster(part: Part, both: Sequence[Sharer]) -> Roster:
    """Seat them as two chairs: the upper and the lower of what stands on the staff."""
    number = (numbers_of(part.name) or (1,))[0]
    sizes = tuple(one.players for one in both)
    return Roster((number, 0), sizes, sum(sizes))


def remark(part: Part, both: Sequence[Sharer]) -> str:
    """Say how the staff is read."""
    upper, lower = (one.instrument.name.lower() for one in both)
    where = "an octave lower" if both[1].lift else "at the same pitch"
    return (
        f"Part {part.number}, {part.name}: {upper} and {lower} share the staff; it is read as "
        f"two lines, the {lower} sounding {where}."
    )


def called(text: str, both: Sequence[Sharer]) -> Who | None:
    """Say which of the two instruments words call; None where they name neither.

    >>> part = Part(1, "P1", "Vc. e Cb.", instruments.entry("cello").instrument)
    >>> both = sharers(part, [part])
    >>> called("Vc.", both).chairs, called("senza Cb.", both).chairs
    ((1,), (1,))
    >>> called("Bassi", both).together, called("arco", both) is None
    (True, True)
    """
    plain = text.strip(" ()[].").lower()
    if _EVERYBODY.match(plain):
        return Who(together=True)
    without, beside = _WITHOUT.match(plain), _WITH.match(plain)
    start = without or beside
    found: set[int] = set()
    for piece in _JOINED.split(plain[start.end() :] if start else plain):
        words = tuple(w for w in words_of(piece) if not w.isdigit() and w not in _BESIDE)
        entry = instruments.exactly(words)
        if entry is None:
            return None
        key = "double-bass" if entry.instrument.key == "bass" else entry.instrument.key
        found |= {one.chair for one in both if key in one.instrument.key}
    if not found:
        return None
    if beside:
        return Who(together=True)
    chairs = {1, 2} - found if without else found
    if len(chairs) != 1:
        return Who(together=True)
    solo = "solo" in words_of(plain)
    return Who(chairs=tuple(chairs), count=1 if solo else 0, solo=solo)

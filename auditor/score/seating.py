"""How many players, and which, sound each notehead of a part.

Two notes at once on a staff for two are one player each. One note, while the other voice
rests, is the one player's. One note with neither a word nor a rest beside it is not decided
on the page: all players of the part are counted on it and no chair is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.score.instruments import numbers_of
from auditor.score.noteheads import Notehead
from auditor.score.notes import Part
from auditor.score.players import Who
from auditor.score.seats import Rest

_TINY = 1e-3
# A staff shows two to four voices (common practice, no source); more come from files that
# never let go of a note, and of hundreds nobody could say who plays which.
_MOST_VOICES = 8
_WINDS = frozenset(("woodwind", "saxophone", "brass"))


@dataclass(frozen=True, slots=True)
class Seat:
    """A notehead among what sounds beside it in its part.

    Parameters
    ----------
    together
        Noteheads of the part that sound with it, itself among them.
    rank
        Its place among them from the top, 0-based, upper voices first.
    voices
        Voices that sound with it, its own among them.
    voice
        Its voice's place among those the bar has, 0-based from the top.
    alone
        Another voice of the bar has a printed rest all along it.
    """

    together: int = 1
    rank: int = 0
    voices: int = 1
    voice: int = 0
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Roster:
    """The players of a part.

    Parameters
    ----------
    numbers
        Printed number of each chair; empty for a section of strings.
    sizes
        Players of each chair: 1, or a section's where two sections share a staff.
    players
        All of them.
    strings
        A section that can be thinned and divided.
    """

    numbers: tuple[int, ...]
    sizes: tuple[float, ...]
    players: float
    strings: bool = False


def roster(part: Part, printed: str = "") -> Roster:
    """Chairs of a part, from its name and the players assumed for it."""
    family, players = part.instrument.family, part.players
    numbers = numbers_of(printed or part.name)
    if family in _WINDS:
        count = max(1, round(players))
        numbers = numbers if len(numbers) == count else tuple(range(1, count + 1))
        return Roster(numbers, (1.0,) * count, players)
    if family == "strings" and len(numbers) == 2 and part.instrument.key == "violin":
        # Rimsky-Korsakov's medium body has six seconds to five desks of firsts... 12 and 10.
        first = players * 12.0 / 22.0
        return Roster(numbers, (first, players - first), players)
    return Roster((), (), players, strings=family == "strings")


def seats(heads: Sequence[Notehead], rests: Sequence[Rest]) -> dict[str, Seat]:
    """Seat of every notehead of a part on one staff, by its identifier.

    Noteheads alone in their bar's only voice are left out: theirs is `Seat()`. So are those of
    bars with more than eight voices, which tell nothing of players.
    """
    by_bar: dict[int, list[Notehead]] = {}
    for head in heads:
        by_bar.setdefault(head.bar, []).append(head)
    silent: dict[int, list[Rest]] = {}
    for rest in rests:
        silent.setdefault(rest.bar, []).append(rest)
    found: dict[str, Seat] = {}
    for bar, own in by_bar.items():
        voices = {head.voice for head in own} | {r.voice for r in silent.get(bar, ())}
        if len(voices) > _MOST_VOICES:
            continue
        if len(voices) > 1 or any(head.beside > 1 for head in own):
            order = _order(own, voices)
            for head in own:
                found[head.element] = _seat(head, own, silent.get(bar, ()), order)
    return found


def _order(own: Sequence[Notehead], voices: set[str]) -> dict[str, int]:
    """Voices from the top: by their stems where those differ, else by their numbers."""
    stems = dict.fromkeys(voices, 0)
    for head in own:
        stems[head.voice] += {"up": 1, "down": -1}.get(head.stem, 0)
    ways = {voice: (count > 0) - (count < 0) for voice, count in stems.items()}
    ranked = sorted(voices, key=lambda voice: (-ways[voice], len(voice), voice))
    return {voice: place for place, voice in enumerate(ranked)}


def _seat(
    head: Notehead, own: Sequence[Notehead], silent: Sequence[Rest], order: dict[str, int]
) -> Seat:
    end = head.at + max(head.duration, 2 * _TINY)
    beside: dict[str, list[Notehead]] = {}
    for other in own:
        if other.grace != head.grace:
            continue
        if other.event == head.event:
            beside.setdefault(other.voice, []).append(other)
        elif other.voice != head.voice and _meet(other, head.at, end):
            chord = beside.setdefault(other.voice, [])
            # Of what another voice plays meanwhile, the first chord tells how many it has.
            if not chord or chord[0].event == other.event:
                chord.append(other)
    ranked = sorted(
        (h for chord in beside.values() for h in chord),
        key=lambda h: (order[h.voice], -h.pitch),
    )
    return Seat(
        together=len(ranked),
        rank=next(k for k, h in enumerate(ranked) if h.element == head.element),
        voices=len(beside),
        voice=order[head.voice],
        alone=len(beside) == 1 and _rested(head, end, silent),
    )


def _meet(other: Notehead, start: float, end: float) -> bool:
    length = max(other.duration, 2 * _TINY)
    return other.at < end - _TINY and other.at + length > start + _TINY


def _rested(head: Notehead, end: float, silent: Sequence[Rest]) -> bool:
    """Whether another voice shows rests from the head's beginning to its end."""
    others = {rest.voice for rest in silent} - {head.voice}
    for voice in others:
        covered = sum(
            max(0.0, min(end, r.at + r.duration) - max(head.at, r.at))
            for r in silent
            if r.voice == voice
        )
        if covered > (end - head.at) - 0.02:
            return True
    return False


def players_of(
    roster: Roster, part: Part, called: Who, seat: Seat, beside: int, *, fresh: bool
) -> tuple[float, tuple[int, ...]]:
    """Players on a notehead and their chairs within the part, 1-based.

    Parameters
    ----------
    roster, part
        The part's players.
    called
        Who the words in force call.
    seat
        What sounds beside the notehead.
    beside
        Noteheads of its own chord.
    fresh
        The words stand in the notehead's own bar, so that they outweigh rests.
    """
    if roster.numbers:
        return _chairs(roster, called, seat, fresh=fresh)
    if roster.strings:
        return _section(roster, called, seat, beside)
    return part.players, ()


def _chairs(
    roster: Roster, called: Who, seat: Seat, *, fresh: bool
) -> tuple[float, tuple[int, ...]]:
    count = len(roster.numbers)
    if count == 1:
        return max(1.0, roster.sizes[0]), (1,)
    if seat.together == count:
        return roster.sizes[seat.rank], (seat.rank + 1,)
    if seat.together < count:
        named = _named(roster, called)
        if seat.alone and count == 2 and not (fresh and called.together):
            named = (min(seat.voice, 1) + 1,)
        if named and seat.together == 1:
            return sum(roster.sizes[chair - 1] for chair in named), named
        if named and len(named) == seat.together:
            chair = named[seat.rank]
            return roster.sizes[chair - 1], (chair,)
    return max(1.0, roster.players / seat.together), ()


def _named(roster: Roster, called: Who) -> tuple[int, ...]:
    """Chairs the words call, 1-based within the part."""
    count = len(roster.numbers)
    if called.chairs:
        places = {number: place for place, number in enumerate(roster.numbers, start=1)}
        named = tuple(places[c] for c in called.chairs if c in places)
        # "1." on a staff of the third and fourth means its upper player.
        return named or tuple(c for c in called.chairs if c <= count)
    if called.together or called.count:
        wanted = min(called.count or count, count)
        return tuple(range(1, wanted + 1))
    return ()


def _section(
    roster: Roster, called: Who, seat: Seat, beside: int
) -> tuple[float, tuple[int, ...]]:
    everybody = roster.players
    if called.count:
        playing = min(float(called.count), everybody)
    elif called.others:
        playing = max(1.0, everybody - 1.0)
    else:
        playing = everybody * called.share
    if called.divided:
        playing /= max(seat.together, beside)
    elif not called.whole:
        # Stems both ways divide a section; a chord on one stem is a double stop.
        playing /= seat.voices
    chairs = called.chairs if playing >= len(called.chairs) else ()
    return max(1.0, playing), chairs

"""Changes of instrument within a part: who takes the piccolo, the English horn, the A clarinet.

The page says it in words, in a new name beside the staff, by a playback instrument, or only
by a changed transposition.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from auditor.score import crooks, instruments
from auditor.score.grid import Grid
from auditor.score.noteheads import Notehead
from auditor.score.notes import Instrument, Part
from auditor.score.sheet import Sheet
from auditor.score.signs import Mark

_TINY = 1e-3
# Whose players take one another's instruments (common practice, no source).
_GROUPS: tuple[frozenset[str], ...] = (
    frozenset(("piccolo", "flute", "alto-flute", "bass-flute")),
    frozenset(("oboe", "english-horn", "oboe-damore", "heckelphone")),
    frozenset(
        ("clarinet", "e-flat-clarinet", "bass-clarinet", "basset-horn", "basset-clarinet",
         "contrabass-clarinet")
    ),
    frozenset(("bassoon", "contrabassoon", "sarrusophone")),
    frozenset(
        ("soprano-saxophone", "alto-saxophone", "tenor-saxophone", "baritone-saxophone")
    ),
    frozenset(("horn", "wagner-tuba")),
    frozenset(("trumpet", "piccolo-trumpet", "bass-trumpet", "cornet", "flugelhorn")),
    frozenset(("trombone", "alto-trombone", "bass-trombone", "contrabass-trombone")),
    frozenset(("tuba", "euphonium")),
    frozenset(("piano", "celesta")),
    frozenset(("glockenspiel", "xylophone", "vibraphone", "marimba", "tubular-bells",
               "crotales")),
)  # fmt: skip
_VERBS = (
    r"(?:mutano?|muta|cambian?o?|change[sz]?|takes?|to|nimmt|nehmen|wechsel[nt]?|prend|prenez|"
    r"prennent|changez|passez)\.?\s+"
)
_TAKES = re.compile(
    rf"^{_VERBS}(?:(?:in|to|à|en|nach|zur?|zum|the|la|les?|die|das|den|der)\s+|l['’])*(.+)$",
    re.IGNORECASE,
)
# "2. muta in ...", "Fl. II nimmt ...": one of the players is meant.
_CHAIR = re.compile(
    rf"^(?:(?:[a-zäöüé]+\.?\s+)?(?:[1-8]|i{{1,3}}|iv)[.°]?|[1-8](?:st|nd|rd|th)\s+\w+\.?)\s+"
    rf"(?={_VERBS})",
    re.IGNORECASE,
)
_REST_QUARTERS = 1.0
# A name without a verb and with no note so soon after it labels a cue.
_LABEL_QUARTERS = 4.0
_ARTICLES = frozenset(("the", "la", "le", "les", "die", "das", "der", "den", "il", "i", "gli"))


@dataclass(frozen=True, slots=True)
class Change:
    """A change of instrument or of its key at a place of the page.

    Parameters
    ----------
    place
        Quarters on the written axis.
    instrument
        Key of the table, or empty if only the key changes.
    crook
        Pitch classes the new key may be, the likelier first; empty if none is named.
    register
        ``low``, ``high`` or empty, with `crook`.
    text
        What the page says.
    waits
        The words call for a change that needs a rest first.
    one
        The words name one player of several.
    """

    place: float
    instrument: str
    crook: tuple[int, ...] = ()
    register: str = ""
    text: str = ""
    waits: bool = False
    one: bool = False


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch of a part on one instrument, up to the next one's place."""

    place: float
    instrument: Instrument
    change: Change | None = None


def exchangeable(one: str, other: str) -> bool:
    """Whether players of one instrument take the other."""
    return one == other or any(one in group and other in group for group in _GROUPS)


def called(text: str, own: str) -> Change | None:
    """Read a change of instrument from words; `own` is the key of the part's instrument.

    Examples
    --------
    >>> called("muta in Piccolo", "flute").instrument
    'piccolo'
    >>> called("Englisch Horn", "oboe").instrument, called("Oboe", "flute") is None
    ('english-horn', True)
    >>> called("nimmt Klar. in A", "clarinet").crook, called("muta in D", "horn").crook
    ((9,), (2,))
    """
    plain = text.strip().strip("()[]").strip()
    one = _CHAIR.match(plain) is not None
    plain = _CHAIR.sub("", plain)
    taken = _TAKES.match(plain)
    name = taken.group(1) if taken else plain
    waits = taken is not None
    instrument = _named(name, own)
    keyed = bool(crooks.intervals(own, 0)) if not instrument else True
    crook: tuple[int, ...] = ()
    if keyed and (waits or instrument or re.match(r"^(in|en)\s", plain, re.IGNORECASE)):
        has_in = re.search(r"\b(in|en)\s", name, re.IGNORECASE)
        crook = crooks.keys_of(name if has_in or instrument else f"in {name}")
    if own == "clarinet" and instrument in ("", "clarinet") and crook in ((2,), (3,)):
        instrument = "e-flat-clarinet"
    if not instrument and (not crook or len(plain) > 40):
        return None
    return Change(0.0, instrument, crook, crooks.register_of(name), plain, waits, one)


def _named(name: str, own: str) -> str:
    """Key of an instrument the words name in full, if players of `own` take it; or empty."""
    spoken = re.sub(r"\b(in|en)\s+\S+(\s+(bemolle|bémol|flat|sharp))?$", "", name.strip())
    words = tuple(
        w
        for w in instruments.words_of(spoken)
        if not w.isdigit() and w not in _ARTICLES and w not in ("ii", "iii", "iv")
    )
    found = instruments.exactly(words)
    if found is None and words and crooks.keys_of(" ".join(words)):
        found = instruments.exactly(words[1:])
    if found is None or not exchangeable(own, found.instrument.key):
        return ""
    return found.instrument.key


def spells(part: Part, one: Sheet, grid: Grid) -> tuple[Spell, ...]:
    """Stretches of a part on one instrument each, in order; one if it never changes."""
    found = [Spell(float("-inf"), part.instrument)]
    if not part.instrument.known:
        return tuple(found)
    starts = _starts(one.heads, grid)
    for change in sorted(_changes(part, one, grid), key=lambda c: c.place):
        place = _after_rest(change.place, starts) if change.waits else change.place
        now = found[-1].instrument
        key = change.instrument or now.key
        if change.one and part.players > 1:
            continue
        if not change.waits and _is_cue(change.place, starts):
            continue
        if key == now.key and not change.crook:
            continue
        instrument = now if key == now.key else instruments.entry(key).instrument
        found.append(Spell(place, instrument, change))
    return tuple(sorted(found, key=lambda spell: spell.place))


def of_one(part: Part, one: Sheet) -> tuple[str, ...]:
    """Words by which one of a part's several players changes, which its staff cannot show."""
    if part.players <= 1:
        return ()
    found = (
        (mark.text, called(mark.text, part.instrument.key))
        for mark in one.marks
        if mark.kind == "words"
    )
    return tuple(dict.fromkeys(text for text, change in found if change and change.one))


def _changes(part: Part, one: Sheet, grid: Grid) -> Iterator[Change]:
    own = part.instrument.key
    for mark in one.marks:
        if mark.kind == "words" and mark.bar < len(grid.onsets):
            change = called(mark.text, own)
            if change is not None:
                place = grid.onsets[mark.bar] + mark.at
                yield replace(change, place=place, text=mark.text)
    for bar, name in one.seats.labels:
        key = _named(name, own)
        if key and bar < len(grid.onsets):
            yield Change(grid.onsets[bar], key, crooks.keys_of(name), "", name)
    yield from _by_playback(own, one, grid)
    yield from _by_transposition(own, one, grid)


def _by_playback(own: str, one: Sheet, grid: Grid) -> Iterator[Change]:
    """Changes that notes and sounds ask for by an instrument of the part's head."""
    places = [(bar, at, name) for bar, at, name in one.seats.switches]
    last = ""
    for head in one.heads:
        if head.instrument and head.instrument != last:
            last = head.instrument
            places.append((head.bar, head.at, last))
    for bar, at, name in places:
        piece = one.kit.get(name)
        if piece is None or bar >= len(grid.onsets):
            continue
        entry = instruments.named(piece.name) or instruments.sounding(piece.sound)
        if entry is not None and exchangeable(own, entry.instrument.key):
            yield Change(grid.onsets[bar] + at, entry.instrument.key, (), "", piece.name)


def _by_transposition(own: str, one: Sheet, grid: Grid) -> Iterator[Change]:
    """Changes that only a new transposition tells: the oboe's part now a fifth lower."""
    shifts = [m for m in one.marks if m.kind == "transpose" and m.bar < len(grid.onsets)]
    if shifts and shifts[0].bar > 0:
        shifts.insert(0, Mark(0, 0.0, "transpose", "0"))
    for before, now in pairwise(shifts):
        if before.text == now.text:
            continue
        key = _customary(own, int(now.text))
        if key:
            yield Change(grid.onsets[now.bar] + now.at, key, (), "", "")


def _customary(own: str, shift: int) -> str:
    """Key of the instrument of `own`'s group that is written `shift` semitones off."""
    group = next((g for g in _GROUPS if own in g), frozenset((own,)))
    near = {"clarinet": (-3, -2, -1, 0), "e-flat-clarinet": (2, 3), "bass-clarinet":
            (-15, -14)}  # fmt: skip
    for key in sorted(group, key=lambda k: k != own):
        usual = instruments.entry(key).instrument.transposition
        if shift == usual or shift in near.get(key, ()):
            return key
    return ""


def _starts(heads: Sequence[Notehead], grid: Grid) -> list[tuple[float, float]]:
    """Place and silence before each notehead, in quarters on the written axis."""
    found: list[tuple[float, float]] = []
    end = float("-inf")
    for head in heads:
        place = grid.onsets[head.bar] + head.at
        found.append((place, place - end))
        end = max(end, place + head.duration)
    return found


def _is_cue(place: float, starts: Sequence[tuple[float, float]]) -> bool:
    """Whether no note of the part comes soon after a place."""
    after = [at - place for at, _ in starts if at >= place - _TINY]
    return not after or min(after) > _LABEL_QUARTERS


def _after_rest(place: float, starts: Sequence[tuple[float, float]]) -> float:
    """First note from a place on that a rest leads to: a player changes in rests."""
    later = [start for start in starts if start[0] >= place - _TINY]
    for at, silence in later:
        if silence >= _REST_QUARTERS - _TINY:
            return at
    return place

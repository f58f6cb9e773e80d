"""Who of a part plays: the words that say it, in English, Italian, German and French.

On a staff for two winds ``1.``, ``a 2`` and the like say who plays; strings are thinned by
``solo``, desks and halves and split by ``div.`` (common practice, no source).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from auditor.score.grid import Grid
from auditor.score.signs import Mark

_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8}
_COUNTS = {
    "due": 2, "deux": 2, "zwei": 2, "zweien": 2, "two": 2, "tre": 3, "trois": 3, "drei": 3,
    "dreien": 3, "three": 3, "quattro": 4, "quatre": 4, "vier": 4, "vieren": 4, "four": 4,
    "sei": 6, "six": 6, "sechs": 6, "otto": 8, "huit": 8, "acht": 8, "eight": 8,
}  # fmt: skip
_ORDINALS = {
    "primo": 1, "prima": 1, "erste": 1, "erster": 1, "erstes": 1, "premier": 1,
    "premiere": 1, "première": 1, "first": 1, "secondo": 2, "seconda": 2, "zweite": 2,
    "zweiter": 2, "second": 2, "seconde": 2, "terzo": 3, "dritte": 3, "third": 3,
}  # fmt: skip
_NUMERAL = r"(?:\d{1,2}|[ivIV]{1,4})"
_SUFFIX = r"(?:\.|°|º|mo|ma|do|da|o|a|er|ère|re|ème|e|st|nd|rd|th)?\.?"
_JOIN = r"(?:\s*(?:[.,+&/]|\be\b|\bed\b|\bet\b|\bund\b|\bu\.|\band\b)\s*|\s+)"
_ALONE = r"(?:\s*(?:solo|soli|allein|seule?|alone|only))?"
_CHAIRS = re.compile(
    rf"^({_NUMERAL}{_SUFFIX}(?:{_JOIN}?{_NUMERAL}{_SUFFIX})*)(\s*-\s*{_NUMERAL}\.?)?"
    rf"{_ALONE}[\s.-]*$",
    re.IGNORECASE,
)
_NAMED_CHAIR = re.compile(rf"^({'|'.join(_ORDINALS)}){_ALONE}\.?$")
_COUNT = rf"(\d{{1,2}}|{'|'.join(_COUNTS)})"
_TOGETHER = re.compile(rf"^(?:a|à|á|zu)\.?\s*{_COUNT}\b\.?")
_ALL = re.compile(
    r"\b(?:tutti|tutte|tous|toutes|alle|beide|both|les deux|zusammen|ensemble|unis\.?|"
    r"unisoni?|unisono)\b"
)
_UNDIVIDED = re.compile(r"\b(?:unis\b|unisono?|non div|nicht get|non divis|undivided|zusammen)")
_DIVIDED = re.compile(
    r"\b(?:div\b|divis[ie]\b|divis[ée]e?s?\b|divided\b|get\b\.|geteilt\b|getheilt\b|geth\b)"
)
_PARTS = re.compile(rf"(?:\ba|à|\bin|\ben|\bzu|\binto|fach)\s*{_COUNT}\b|\b{_COUNT}\s*-?fach")
_DESK_NOUN = r"(?:pulte?n?|pult[io]|desks?|stands?|pupitres?|pup\.|leggi[oi]?)"
_DESKS = re.compile(
    rf"\b({'|'.join((*_COUNTS, *_ORDINALS))}|{_NUMERAL})({_SUFFIX})"
    rf"(?:\s*(?:-|–|e|u\.|und|et|and|&)\s*(\d{{1,2}}){_SUFFIX})?\s*{_DESK_NOUN}(?!\w)"
)
_FIRST_DESKS = re.compile(
    rf"\b(?:first|erste[nr]?|premiers?|primi)\s+{_COUNT}\s+{_DESK_NOUN}|"
    rf"\b{_COUNT}\s+(?:first|erste[nr]?|premiers?|primi)\s+{_DESK_NOUN}"
)
_LAST_DESK = re.compile(rf"\b(?:letzte[sn]?|ultim[oi]|dernier|last)\s+{_DESK_NOUN}")
_SOLOS = re.compile(
    rf"\b{_COUNT}\.?\s*(?:soli|solo|solos|soloists|solisten|players?|spieler|"
    rf"einzelne|violinen?|bratschen|violoncelli|celli|kontrabässe|violini|viole|contrabassi|"
    rf"violons|altos|violoncelles|contrebasses|violins|violas|cellos|basses|violoncell|vln?|vlc?l|vla|vc|br|kb|cb)\b"
)
_SOLO = re.compile(r"\bsolo\b|\bseule?\b|\ballein\b|\bein(?:e|zeln)? spieler\b|\bone player\b")
_SOLI = re.compile(r"\bsoli\b")
_HALF = re.compile(
    r"\b(?:la moiti[ée]|die h[äa]lfte|la met[àa]|half (?:of|(?:the )?section)|"
    r"h[äa]lfte)\b|^(?:half|halbe|met[àa]|moiti[ée]|1/2|inside|outside)\.?$"
)
_OTHERS = re.compile(
    r"\b(?:gli altri|le altre|altri|the others|the rest|die (?:übrigen|andern|anderen)|"
    r"les autres)\b"
)
_PLAYERS_A_DESK = 2


@dataclass(frozen=True, slots=True)
class Who:
    """Who of a part plays, as far as a word says it.

    Parameters
    ----------
    chairs
        Numbers as printed.
    count
        Players, where their number is given; 0 where not.
    share
        Part of all players.
    together
        All, or `count` of them, play one line: ``a 2``.
    divided
        A section splits over the notes it has.
    whole
        A section stays together on several notes: ``non div.``.
    others
        All but the soloists.
    solo
        The word is a solo, which ends with a long rest.
    """

    chairs: tuple[int, ...] = ()
    count: int = 0
    share: float = 1.0
    together: bool = False
    divided: bool = False
    whole: bool = False
    others: bool = False
    solo: bool = False


EVERYBODY = Who()


def who(text: str, *, strings: bool) -> Who | None:
    """Players a word or sign on the page calls; None where it says nothing of players.

    Parameters
    ----------
    text
        As printed.
    strings
        The part is a section of strings, where ``1.`` is a desk or fingering, ``2 soli`` a
        number of players and ``a 2`` a division.

    Examples
    --------
    >>> who("1.", strings=False).chairs, who("I. II.", strings=False).chairs
    ((1,), (1, 2))
    >>> who("zu 2", strings=False).together, who("2 soli", strings=True).count
    (True, 2)
    >>> who("1. Pult", strings=True).chairs, who("cresc.", strings=True) is None
    ((1, 2), True)
    """
    bare = text.strip().strip("()[]*").strip()
    plain = bare.lower()
    # A lone small letter is a piece of a word, not a numeral.
    if not plain or re.fullmatch(r"[iv]+", bare):
        return None
    return _of_strings(plain) if strings else _of_winds(plain)


def _number(text: str) -> int:
    text = text.strip(". ")
    if text.isascii() and text.isdigit():
        return int(text)
    return _ROMAN.get(text) or _COUNTS.get(text) or _ORDINALS.get(text) or 0


def _of_winds(plain: str) -> Who | None:
    found = _TOGETHER.search(plain)
    if found:
        return Who(count=_number(found.group(1)), together=True)
    found = _CHAIRS.match(plain)
    if found:
        chairs = [_number(n) for n in re.findall(_NUMERAL, found.group(1))]
        if found.group(2):
            chairs = list(range(chairs[0], _number(found.group(2).strip(" -.")) + 1))
        chairs = [n for n in chairs if n]
        return Who(chairs=tuple(dict.fromkeys(chairs))) if chairs else None
    found = _NAMED_CHAIR.match(plain)
    if found:
        return Who(chairs=(_ORDINALS[found.group(1)],))
    # "1. sans sourd.": what the first does is said of him alone.
    found = re.match(r"^([1-8]|i{1,3}|iv)\.\s+\D", plain)
    if found:
        return Who(chairs=(_number(found.group(1)),))
    found = _SOLOS.search(plain)
    if found:
        return Who(count=_number(found.group(1)), together=True)
    if _SOLI.search(plain) or _ALL.search(plain):
        return Who(together=True)
    return Who(count=1) if _SOLO.search(plain) else None


def _of_strings(plain: str) -> Who | None:
    called = _called(plain)
    if _UNDIVIDED.search(plain):
        return replace(called or EVERYBODY, whole="unis" not in plain)
    if _DIVIDED.search(plain) or _TOGETHER.match(plain):
        return replace(called or EVERYBODY, divided=True)
    return called


def _called(plain: str) -> Who | None:
    """How many of a section are called."""
    found = _FIRST_DESKS.search(plain)
    if found:
        return Who(count=_PLAYERS_A_DESK * _number(found.group(1) or found.group(2)))
    if _LAST_DESK.search(plain):
        return Who(count=_PLAYERS_A_DESK)
    plain = re.sub(r"^desks? (\d.*)$", r"\1 desks", plain)
    found = _DESKS.search(plain)
    if found:
        return _desks(found.group(1), found.group(2), found.group(3))
    if _OTHERS.search(plain):
        return Who(others=True)
    if _ALL.search(plain):
        return EVERYBODY
    found = _SOLOS.search(plain)
    if found:
        count = _number(found.group(1))
        return Who(count=count, chairs=(1,) if count == 1 else (), solo=True)
    if _SOLO.search(plain):
        return Who(count=1, chairs=(1,), solo=True)
    return Who(share=0.5) if _HALF.search(plain) else None


def _desks(first: str, suffix: str, last: str | None) -> Who:
    number = _number(first)
    ordinal = bool(suffix) or first in _ORDINALS or last is not None
    desks = range(number, (int(last) if last else number) + 1) if ordinal else range(number)
    chairs = tuple(n for desk in desks for n in (2 * desk - 1, 2 * desk)) if ordinal else ()
    return Who(chairs=chairs, count=_PLAYERS_A_DESK * len(desks))


@dataclass(frozen=True, slots=True)
class Calls:
    """Who is called along the page.

    Parameters
    ----------
    places
        Quarters on the written axis, rising.
    states
        Who plays from each place on.
    """

    places: tuple[float, ...]
    states: tuple[Who, ...]

    def at(self, place: float) -> tuple[Who, float]:
        """Who plays at a place, and since where."""
        right = bisect_right(self.places, place + 1e-3)
        return (self.states[right - 1], self.places[right - 1]) if right else (EVERYBODY, -1.0)


def calls(
    marks: Sequence[Mark],
    grid: Grid,
    *,
    strings: bool,
    own: Callable[[str], Who | None] = lambda _: None,
) -> Calls:
    """Follow the words on players of one part along the page.

    ``div.`` leaves a thinned section thinned; everything else begins anew. `own` is asked
    first, for words that mean something in this part only.
    """
    places: list[float] = []
    states: list[Who] = []
    for mark in sorted(marks, key=lambda m: (m.bar, m.at)):
        if mark.kind != "words" or mark.bar >= len(grid.onsets):
            continue
        found = own(mark.text) or who(mark.text, strings=strings)
        if found is None:
            continue
        if strings and states and found == Who(divided=True):
            found = replace(states[-1], divided=True, whole=False)
        places.append(grid.onsets[mark.bar] + mark.at)
        states.append(found)
    return Calls(tuple(places), tuple(states))

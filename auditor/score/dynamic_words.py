"""What letters and words of loudness mean, one sign at a time.

What each adds or leads to where the page names no level is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

LOWEST, HIGHEST = -3.0, 8.0
SFORZATO_STEPS = 2.0

PLAIN = {
    "pppppp": -3.0, "ppppp": -3.0, "pppp": -2.0, "ppp": -1.0, "pp": 0.0, "p": 1.0,
    "mp": 2.0, "mf": 3.0, "f": 4.0, "ff": 5.0, "fff": 6.0, "ffff": 7.0, "fffff": 8.0,
    "ffffff": 8.0,
}  # fmt: skip
_SFORZATO = re.compile(r"^(s?ff?z|sff?|rf|rfz|sfff?z?|fz|ffz)$")
_FALLING = re.compile(r"^(s?f{1,3}|mf|sffz?|sfz|rfz?|fz)(p{1,4}|mp|mf)$")
_UP = re.compile(
    r"\b(cresc?\w*|kresc\w*|aument\w*|augment(ez|ant|er)|accresc\w*|rinf(orz\w*)?|an(wachs|schwell)end\w*|"
    r"wachsend\w*|stärker werd\w*|(allm[äa]hlich|nach und nach) stärker|"
    r"steiger\w*|zunehmend|lauter werd\w*|plus en plus fort|"
    r"sempre piu (f+|forte)|immer (stärker|lauter)|(getting|growing) louder)(?!\w)"
)
_DOWN = re.compile(
    r"\b(dim|dimin\w*|decr\w*|perdend\w*|morend\w*|smorz\w*|calando|mancando|scemando|"
    r"estinguendo|dying away|schwächer werd\w*|"
    r"(allm[äa]hlich|nach und nach) (leiser|schwächer)|abnehmend\w*|"
    r"verklingend|ersterbend|verlöschend|nachlassend|leiser werd\w*|"
    r"plus en plus (doux|faible)|en diminuant|diminuez|s.[ée]teignant|al niente|"
    r"sempre piu (p+|piano)|immer (leiser|schwächer)|(getting|growing) softer|fade\w*)(?!\w)"
)
_NOT = re.compile(r"\b(non|senza|ohne|sans|without|no)\b[^,;]{0,12}$")
_DYING = re.compile(r"\b(niente|nothing|nichts|rien)\b")
_GOAL = re.compile(
    r"\b(?:al?|fin[oa]? ?(?:al|a)?|sin[oa]? ?(?:al|a)?|bis(?: zum)?|jusqu.(?:à|au)|to)\s+"
    r"(p{1,5}|f{1,5}|mp|mf|piano|forte|pianissimo|fortissimo)(?!\w)"
)
_COMPARED = (
    (re.compile(r"\b(stärker|lauter|louder)\b"), 1.0),
    (re.compile(r"\b(schwächer|leiser|softer|quieter)\b"), -1.0),
)
_MORE_OR_LESS = re.compile(
    r"\b(piu|meno|plus|moins|less|more)(?: assai| molto)?\s+"
    r"(p{1,5}|f{1,5}|mp|mf|forte|piano|fort)(?!\w)"
)
_LONG = re.compile(r"\b(poco a poco|sempre|peu à peu|allm[äa]hlich|nach und nach|gradual\w*)\b")
_MUCH, _LITTLE = re.compile(r"\bmolto\b|\bsehr\b"), re.compile(r"\b(poco|un peu)\b(?! a poco)")
_POSITIONS = re.compile(r"\bpoco a poco\b|\bpeu à peu\b")
_WORD_LEVELS = (
    (re.compile(r"\b(quasi|presque) (niente|rien)\b"), -1.0),
    (re.compile(r"\b(un )?(poco|quasi|mezzo)[ -]?(f|forte)(?!\w)"), 3.0),
    (re.compile(r"\b(mezzo[ -]?piano|mezza voce|poco p|poco piano)(?!\w)"), 2.0),
    (re.compile(r"\bpianissimo\b|\bäu(ß|ss)erst leise\b|\bsehr leise\b"), 0.0),
    (
        re.compile(r"\bfortissimo\b|\btutta (la )?forza\b|\bvoller kraft\b"),
        5.0,
    ),
    (re.compile(r"^sehr (stark|laut)\W*$"), 5.0),
    (re.compile(r"\b(sotto voce|piano|leise)\b|^schwach\W*$"), 1.0),
    (re.compile(r"\bforte\b|^(stark|laut)\W*$"), 4.0),
)
_STRESSED = re.compile(r"(?<![\w.])(s?f+z|sf+|s?f+z?p+|rfz?)(?!\w|\.\s*\S)")
_LETTERS = re.compile(r"(?<![\w.])(p{1,5}|f{1,5}|mp|mf)(?!\w|\.\s*\S)")
# A cresc. with molto leads further than one without; a poco cresc. less far.
_STEPS, _MANY_STEPS, _FEW_STEPS = 1.0, 2.0, 0.5


@dataclass(frozen=True, slots=True)
class Said:
    """What one sign says of loudness.

    Parameters
    ----------
    level
        Step it sets, or None.
    change
        Steps it adds to what was (più f); 0 for none.
    stress
        Steps it adds to the notes at its place only.
    way
        1 for a crescendo that begins here, -1 for a diminuendo, 0 for neither.
    steps
        How far that leads where no level is named.
    goal
        Step the same sign names as its goal, or None.
    long
        It goes on for long, as sempre and poco a poco say.
    """

    level: float | None = None
    change: float = 0.0
    stress: float = 0.0
    way: int = 0
    steps: float = _STEPS
    goal: float | None = None
    long: bool = False


def letters(text: str) -> Said:
    """Read dynamics letters: ``pp``, ``sfz``, ``fp``, ``n``.

    >>> letters("ff").level, letters("fp").level, letters("sfz").stress
    (5.0, 1.0, 2.0)
    """
    plain = text.lower().replace(" ", "").strip("[]().")
    if plain in PLAIN:
        return Said(level=PLAIN[plain])
    falling = _FALLING.match(plain)
    if falling:
        # "fp" strikes at f and stays at p; the strike is two steps over what follows.
        level = PLAIN[falling.group(2)]
        struck = PLAIN.get(falling.group(1), 0.0) - level
        return Said(level=level, stress=max(SFORZATO_STEPS, struck))
    if plain == "pf":
        return Said(level=3.0)  # poco forte
    if _SFORZATO.match(plain):
        return Said(stress=SFORZATO_STEPS)
    return Said(level=LOWEST) if plain in ("n", "niente") else Said()


def words(text: str) -> Said:
    """Read words of loudness; what has nothing to do with it says nothing.

    >>> words("poco a poco cresc.").way, words("più f").change, words("sempre pp").level
    (1, 1.0, 0.0)
    """
    plain = " ".join(text.lower().replace("ù", "u").split())
    steps = _MANY_STEPS if _MUCH.search(plain) else _STEPS
    if _LITTLE.search(_POSITIONS.sub("", plain)):
        steps = _FEW_STEPS
    way = _way(plain)
    if way:
        level = _LETTERS.search(plain)
        goal = _goal(plain)
        starts = level is not None and goal is None and "sempre piu" not in plain
        return Said(
            level=PLAIN[level.group(1)] if level and starts else None,
            way=way,
            steps=steps,
            goal=goal,
            long=_LONG.search(plain) is not None,
        )
    if re.fullmatch(r"\W*(al? )?niente\W*", plain):
        return Said(level=LOWEST)
    relative = _MORE_OR_LESS.search(plain)
    if relative:
        more = relative.group(1) in ("piu", "plus", "more")
        louder = "f" in relative.group(2)
        return Said(change=1.0 if more == louder else -1.0)
    for pattern, change in _COMPARED:
        if pattern.search(plain):
            return Said(change=change)
    stressed = _STRESSED.search(plain)
    if stressed:
        return letters(stressed.group(1))
    # "Piano" on its own, with a capital, names the instrument.
    return Said(level=None if re.match(r"^Piano\W*\d*$", text.strip()) else _level(plain))


def _way(plain: str) -> int:
    for pattern, way in ((_UP, 1), (_DOWN, -1)):
        found = pattern.search(plain)
        if found and not _NOT.search(plain[: found.start()]):
            return way
    return 0


def _goal(plain: str) -> float | None:
    if _DYING.search(plain):
        return LOWEST
    found = _GOAL.search(plain)
    return _level(found.group(1)) if found else None


def _level(plain: str) -> float | None:
    for pattern, level in _WORD_LEVELS:
        if pattern.search(plain):
            return level
    found = _LETTERS.search(plain)
    return PLAIN[found.group(1)] if found else None

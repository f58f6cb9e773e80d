"""What the signs of a part mean at each place: dynamic level and way of playing.

Levels are the steps of `auditor.score.notes`. How much an accent or a sforzato adds
is common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from auditor.score.grid import Grid
from auditor.score.noteheads import ACCENT_STEPS
from auditor.score.signs import Mark

ASSUMED_LEVEL = 3.0  # mf where the page says nothing
_LOWEST, _HIGHEST = -3.0, 8.0
SFORZATO_STEPS = 2.0
# A hairpin without a goal, or a cresc. that leads nowhere, is worth one step.
_HAIRPIN_STEPS = 1.0
# A mark belongs to a hairpin that ended no more than this many quarters before it.
_GOAL_REACH = 4.0
# The word cresc. counts for at most this many quarters if no mark ends it sooner.
_WORD_REACH = 32.0
# "cresc." with no mark in reach is taken to be done after this many quarters.
_WORD_SPAN = 8.0
_SUBITO = 1e-3

_PLAIN = {
    "ppppp": -3.0, "pppp": -2.0, "ppp": -1.0, "pp": 0.0, "p": 1.0, "mp": 2.0,
    "mf": 3.0, "f": 4.0, "ff": 5.0, "fff": 6.0, "ffff": 7.0, "fffff": 8.0,
}  # fmt: skip
_SFORZATO = re.compile(r"^(s?ff?z|sff?|rf|rfz|sfff?z?|fz|ffz)$")
_FALLING = re.compile(r"^(s?f{1,3}|mf|sffz?|sfz|rf)(p{1,3}|mp|mf)$")
_GRADUAL_UP = re.compile(r"\b(cresc\w*|aument\w*|rinforz\w*|anwachsend|steigernd|accresc\w*)")
_GRADUAL_DOWN = re.compile(
    r"\b(dim|dimin\w*|decr\w*|perdendo\w*|morendo|smorz\w*|calando|abnehmend|verklingend)\b"
)
_WORD_LEVELS = (
    (re.compile(r"\b(poco f|poco forte|quasi f|quasi forte|mezzo ?forte)(?!\w)"), 3.0),
    (re.compile(r"\b(mezzo ?piano|poco p)(?!\w)"), 2.0),
    (re.compile(r"\b(sotto voce|mezza voce|piano|leise)\b"), 1.0),
    (re.compile(r"\b(pianissimo)\b"), 0.0),
    (re.compile(r"\b(forte)\b"), 4.0),
    (re.compile(r"\b(fortissimo)\b"), 5.0),
)
_LETTERS = re.compile(r"(?<![\w.])(p{1,5}|f{1,5}|mp|mf)(?![\w.])")


@dataclass(frozen=True, slots=True)
class Loudness:
    """Dynamic level of one part along the page.

    Parameters
    ----------
    places
        Quarters on the written axis, rising; between two the level is straight.
    levels
        Steps at those places.
    first
        Place of the first written sign; infinite when there is none.
    stresses
        Steps added to the notes that begin at a place.
    """

    places: tuple[float, ...]
    levels: tuple[float, ...]
    first: float
    stresses: dict[float, float]

    def at(self, place: float) -> float:
        """Level in steps at a place, without note accents."""
        if not self.places:
            return ASSUMED_LEVEL
        right = bisect_right(self.places, place + _SUBITO / 2)
        if right == 0:
            return ASSUMED_LEVEL
        if right == len(self.places):
            return self.levels[-1]
        left_at, right_at = self.places[right - 1], self.places[right]
        left, goal = self.levels[right - 1], self.levels[right]
        share = (place - left_at) / (right_at - left_at) if right_at > left_at else 0.0
        return left + (goal - left) * min(1.0, max(0.0, share))

    def struck(self, place: float, accent: float) -> float:
        """Return the level of a note that begins at a place with an accent of its own.

        Stress stops at fff, for a sforzato inside a fortissimo has little left to add;
        a plain accent is always felt.
        """
        level = self.at(place)
        stress = max(accent, self.stress(place))
        ceiling = max(_PLAIN["fff"], level + ACCENT_STEPS)
        return min(level + stress, ceiling, _HIGHEST)

    def stress(self, place: float) -> float:
        """Return the steps a sforzato or fp at this place adds."""
        return self.stresses.get(round(place, 3), 0.0)


@dataclass(frozen=True, slots=True)
class _Slope:
    begin: float
    end: float | None
    way: int
    word: bool


def loudness(marks: Sequence[Mark], grid: Grid) -> Loudness:
    """Level of one part from its dynamics, hairpins and words."""
    steady: dict[float, float] = {}
    stresses: dict[float, float] = {}
    for mark in marks:
        place = grid.onsets[mark.bar] + mark.at
        if mark.kind == "dynamic":
            _read_letters(mark.text, place, steady, stresses)
        elif mark.kind == "words":
            _read_words(mark.text.lower(), place, steady)
    slopes = _slopes(marks, grid)
    first = min([*steady, *(s.begin for s in slopes), *stresses], default=float("inf"))
    places, levels = _curve(steady, slopes)
    return Loudness(places, levels, first, stresses)


def _read_letters(
    text: str, place: float, steady: dict[float, float], stresses: dict[float, float]
) -> None:
    letters = text.lower().replace(" ", "").strip("[]().")
    falling = _FALLING.match(letters)
    if letters in _PLAIN:
        steady[place] = _PLAIN[letters]
    elif falling and falling.group(2) in _PLAIN:
        # "fp" strikes at f and stays at p; the strike is two steps over what follows.
        steady[place] = _PLAIN[falling.group(2)]
        struck = _PLAIN.get(falling.group(1), 0.0) - _PLAIN[falling.group(2)]
        stresses[round(place, 3)] = max(SFORZATO_STEPS, struck)
    elif _SFORZATO.match(letters):
        stresses[round(place, 3)] = SFORZATO_STEPS
    elif letters == "n":
        steady[place] = _LOWEST


def _read_words(text: str, place: float, steady: dict[float, float]) -> None:
    more, less = re.match(r"^(più|piu)\b", text), re.match(r"^meno\b", text)
    letters = _LETTERS.search(text)
    if (more or less) and letters:
        way = 1.0 if ("f" in letters.group(1)) == bool(more) else -1.0
        known = [p for p in steady if p < place]
        steady[place] = (steady[max(known)] if known else ASSUMED_LEVEL) + way
        return
    for pattern, level in _WORD_LEVELS:
        if pattern.search(text) and place not in steady:
            steady[place] = level
            return
    if letters and place not in steady:
        steady[place] = _PLAIN[letters.group(1)]


def _slopes(marks: Sequence[Mark], grid: Grid) -> list[_Slope]:
    found: list[_Slope] = []
    open_wedges: dict[str, tuple[float, int]] = {}
    for mark in marks:
        place = grid.onsets[mark.bar] + mark.at
        if mark.kind == "wedge":
            if mark.text in ("crescendo", "diminuendo"):
                open_wedges[mark.number] = (place, 1 if mark.text == "crescendo" else -1)
            elif mark.text == "stop" and mark.number in open_wedges:
                begin, way = open_wedges.pop(mark.number)
                if place > begin:
                    found.append(_Slope(begin, place, way, word=False))
        elif mark.kind == "words":
            text = mark.text.lower()
            if _GRADUAL_UP.search(text):
                found.append(_Slope(place, None, 1, word=True))
            elif _GRADUAL_DOWN.search(text):
                found.append(_Slope(place, None, -1, word=True))
    return sorted(found, key=lambda slope: (slope.begin, slope.word))


def _curve(
    steady: dict[float, float], slopes: Sequence[_Slope]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Corner points of the level along the page."""
    points: list[tuple[float, float]] = []
    stops = sorted(steady)
    level = ASSUMED_LEVEL
    events = sorted(
        [(p, 0, i) for i, p in enumerate(stops)]
        + [(s.begin, 1, i) for i, s in enumerate(slopes)]
    )
    for place, is_slope, index in events:
        if points and place < points[-1][0]:
            # Inside a slope that already runs to its goal: a mark there ends it early.
            if is_slope:
                continue
            level_here = _between(points, place)
            points = [p for p in points if p[0] < place] + [(place - _SUBITO, level_here)]
        if not is_slope:
            level = steady[place]
            if points and points[-1][0] > place - _SUBITO:
                points[-1] = (place - _SUBITO, points[-1][1])
            elif points:
                points.append((place - _SUBITO, points[-1][1]))
            points.append((place, level))
            continue
        end, goal = _goal(slopes, index, stops, steady, level)
        if not points or points[-1][0] < place:
            points.append((place, level))
        points.append((end, goal))
        level = goal
    points.sort()
    return tuple(p for p, _ in points), tuple(v for _, v in points)


def _between(points: Sequence[tuple[float, float]], place: float) -> float:
    for (left_at, left), (right_at, right) in pairwise(points):
        if left_at <= place <= right_at and right_at > left_at:
            return left + (right - left) * (place - left_at) / (right_at - left_at)
    return points[-1][1]


def _goal(
    slopes: Sequence[_Slope],
    index: int,
    stops: Sequence[float],
    steady: dict[float, float],
    level: float,
) -> tuple[float, float]:
    """Where a slope ends, and at which level."""
    slope = slopes[index]
    following = [s.begin for s in slopes[index + 1 :] if s.begin > slope.begin + _SUBITO]
    reach = slope.end + _GOAL_REACH if slope.end is not None else slope.begin + _WORD_REACH
    ahead = next((p for p in stops if slope.begin + _SUBITO < p <= reach), None)
    fallback = max(_LOWEST, min(_HIGHEST, level + slope.way * _HAIRPIN_STEPS))
    blocked = bool(following) and ahead is not None and following[0] < ahead
    if ahead is not None and not blocked and (steady[ahead] - level) * slope.way > 0:
        end = ahead if slope.end is None else min(slope.end, ahead)
        return end - _SUBITO, steady[ahead]
    end = slope.end if slope.end is not None else slope.begin + _WORD_SPAN
    limits = [
        p for p in ([ahead] if ahead else []) + following[:1] if p > slope.begin + _SUBITO
    ]
    end = min([end, *limits])
    return end - _SUBITO, fallback

"""The dynamic level of a part along the page, from its letters, hairpins and words.

Levels are the steps of `auditor.score.notes`. How far a hairpin without a goal leads
is common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from auditor.score.dynamic_words import HIGHEST, LOWEST, PLAIN, Said, letters, words
from auditor.score.grid import Grid
from auditor.score.noteheads import ACCENT_STEPS
from auditor.score.signs import Mark

ASSUMED_LEVEL = 3.0  # mf where the page says nothing
# A hairpin without a goal, or a cresc. that leads nowhere, is worth one step.
_HAIRPIN_STEPS = 1.0
# A mark belongs to a hairpin that ended no more than this many quarters before it.
_GOAL_REACH = 4.0
# The word cresc. counts for at most this many quarters if no mark ends it sooner.
_WORD_REACH, _LONG_REACH = 32.0, 64.0
# "cresc." with no mark in reach is taken to be done after this many quarters.
_WORD_SPAN, _LONG_SPAN = 8.0, 16.0
# A word and the sign it belongs to stand no further apart.
_TOGETHER = 1.0
_SUBITO = 1e-3
_HALF_SAID = re.compile(r"^\W*(sempre )?(pi[uù]|meno|poco|un poco|quasi)\W*$", re.I)


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
        ceiling = max(PLAIN["fff"], level + ACCENT_STEPS)
        return min(level + stress, ceiling, HIGHEST)

    def stress(self, place: float) -> float:
        """Return the steps a sforzato or fp at this place adds."""
        return self.stresses.get(round(place, 3), 0.0)


@dataclass(frozen=True, slots=True)
class _Slope:
    """A crescendo or diminuendo; `end` None where only a word begins it."""

    begin: float
    end: float | None
    way: int
    steps: float = _HAIRPIN_STEPS
    goal: float | None = None
    long: bool = False


@dataclass(frozen=True, slots=True)
class _Aim:
    """A level set at a place: in steps, or by how much it moves."""

    level: float | None
    change: float = 0.0

    def reached(self, before: float) -> float:
        if self.level is not None:
            return self.level
        return max(LOWEST, min(HIGHEST, before + self.change))


def loudness(marks: Sequence[Mark], grid: Grid) -> Loudness:
    """Level of one part from its dynamics, hairpins and words."""
    aims: dict[float, _Aim] = {}
    stresses: dict[float, float] = {}
    slopes: list[_Slope] = []
    for place, said, mark in _said(marks, grid):
        if said.stress:
            stresses[round(place, 3)] = max(said.stress, stresses.get(round(place, 3), 0.0))
        if said.level is not None and (mark.kind == "dynamic" or place not in aims):
            aims[place] = _Aim(said.level)
        elif said.change:
            aims[place] = _Aim(None, said.change)
        if said.way:
            end = _dashes_end(marks, grid, place)
            slopes.append(_Slope(place, end, said.way, said.steps, said.goal, said.long))
    slopes = _merged([*slopes, *_hairpins(marks, grid)], aims)
    first = min([*aims, *(s.begin for s in slopes), *stresses], default=float("inf"))
    places, levels = _curve(aims, slopes)
    return Loudness(places, levels, first, stresses)


def _said(marks: Sequence[Mark], grid: Grid) -> Iterable[tuple[float, Said, Mark]]:
    """What each sign says, words that belong to the next sign read with it."""
    waiting: tuple[float, str] | None = None
    for mark in marks:
        if mark.kind not in ("dynamic", "words"):
            continue
        place = grid.onsets[mark.bar] + mark.at
        text = mark.text
        if waiting is not None and place - waiting[0] <= _TOGETHER:
            joined = words(f"{waiting[1]} {text}")
            plain = letters(text) if mark.kind == "dynamic" else words(text)
            waiting = None
            yield place, joined if joined != Said() and not plain.stress else plain, mark
            continue
        waiting = None
        if mark.kind == "words" and _HALF_SAID.match(text):
            waiting = (place, text)
        elif mark.kind == "dynamic":
            yield place, letters(text), mark
        else:
            yield place, words(text), mark


def _dashes_end(marks: Sequence[Mark], grid: Grid, place: float) -> float | None:
    """Where the dashes end that carry a word on, if there are any."""
    number: str | None = None
    for mark in marks:
        at = grid.onsets[mark.bar] + mark.at
        if mark.kind != "dashes" or at < place - _SUBITO:
            continue
        if number is None and mark.text == "start" and at - place <= _TOGETHER:
            number = mark.number
        elif number == mark.number and mark.text == "stop":
            return at if at > place else None
    return None


def _hairpins(marks: Sequence[Mark], grid: Grid) -> list[_Slope]:
    found: list[_Slope] = []
    open_wedges: dict[str, tuple[float, int]] = {}
    for mark in sorted(marks, key=lambda m: (m.bar, m.at, m.text != "stop")):
        place = grid.onsets[mark.bar] + mark.at
        if mark.kind != "wedge":
            continue
        if mark.text in ("crescendo", "diminuendo"):
            if mark.number in open_wedges:
                # One that nobody closed ends where the next begins.
                begin, way = open_wedges.pop(mark.number)
                found.append(_Slope(begin, place if place > begin else None, way))
            open_wedges[mark.number] = (place, 1 if mark.text == "crescendo" else -1)
        elif mark.text == "stop" and mark.number in open_wedges:
            begin, way = open_wedges.pop(mark.number)
            if place > begin:
                found.append(_Slope(begin, place, way))
    found.extend(_Slope(begin, None, way) for begin, way in open_wedges.values())
    return found


def _merged(slopes: Sequence[_Slope], aims: dict[float, _Aim]) -> list[_Slope]:
    """Join a word with the words and hairpins that carry it on: cresc. ... sempre cresc."""
    out: list[_Slope] = []
    for slope in sorted(slopes, key=lambda s: (s.begin, s.end is None)):
        last = out[-1] if out else None
        between = last is not None and any(last.begin < p <= slope.begin for p in aims)
        if (
            last is None
            or between
            or last.end is not None
            or last.way != slope.way
            or slope.begin - last.begin > (_LONG_REACH if last.long else _WORD_REACH)
        ):
            out.append(slope)
        elif slope.begin > last.begin + _SUBITO:
            out[-1] = replace(
                slope, begin=last.begin, steps=last.steps + slope.steps, long=True
            )
        else:
            out[-1] = replace(last, end=slope.end, goal=last.goal or slope.goal)
    return out


def _curve(
    aims: dict[float, _Aim], slopes: Sequence[_Slope]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Corner points of the level along the page."""
    points: list[tuple[float, float]] = []
    stops = sorted(aims)
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
            level = _between(points, place)
            points = [p for p in points if p[0] < place] + [(place - _SUBITO, level)]
        if not is_slope:
            level = aims[place].reached(level)
            if points and points[-1][0] > place - _SUBITO:
                points[-1] = (place - _SUBITO, points[-1][1])
            elif points:
                points.append((place - _SUBITO, points[-1][1]))
            points.append((place, level))
            continue
        end, goal = _goal(slopes, index, stops, aims, level)
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
    aims: dict[float, _Aim],
    level: float,
) -> tuple[float, float]:
    """Where a slope ends, and at which level."""
    slope = slopes[index]
    following = [s.begin for s in slopes[index + 1 :] if s.begin > slope.begin + _SUBITO]
    word_reach = _LONG_REACH if slope.long else _WORD_REACH
    reach = slope.end + _GOAL_REACH if slope.end is not None else slope.begin + word_reach
    ahead = next((p for p in stops if slope.begin + _SUBITO < p <= reach), None)
    fallback = max(LOWEST, min(HIGHEST, level + slope.way * slope.steps))
    if slope.goal is not None:
        fallback = slope.goal
    blocked = bool(following) and ahead is not None and following[0] < ahead
    reached = aims[ahead].reached(level) if ahead is not None else level
    if ahead is not None and not blocked and (reached - level) * slope.way > 0:
        end = ahead if slope.end is None else min(slope.end, ahead)
        return end - _SUBITO, reached
    span = _LONG_SPAN if slope.long else _WORD_SPAN
    end = slope.end if slope.end is not None else slope.begin + span
    limits = [
        p for p in ([ahead] if ahead else []) + following[:1] if p > slope.begin + _SUBITO
    ]
    end = min([end, *limits])
    return end - _SUBITO, fallback

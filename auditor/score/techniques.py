"""Ways of playing that a word switches on until another switches them off."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

from auditor.score.apart import for_one, is_lower
from auditor.score.grid import Grid
from auditor.score.noteheads import Notehead
from auditor.score.signs import Mark
from auditor.score.switches import APART, FREE_STROKES, SWITCHES

_NONE: frozenset[str] = frozenset()
# Words for which one sign in a phrase is enough, and which end with it.
_OF_A_PHRASE = frozenset(("espressivo", "staccato", "damped", "let-ring", FREE_STROKES))
_PLAYER = re.compile(r"^\W*([12])[°.\-]?\s*(?=arco|pizz|con sord|senza sord|col legno)")

# A solo ends when its player has rested longer than this; who goes on playing solo after
# such a rest is told so again (common practice, no source).
_SOLO_REST_BARS = 2
# A mark of expression belongs to a phrase: it ends with a bar's rest, or after so many bars
# (our choice; the longest phrases of one breath or one theme).
_PHRASE_BARS = 8


@dataclass(frozen=True, slots=True)
class Playing:
    """The words in force along the page.

    Parameters
    ----------
    places
        Quarters on the written axis, rising.
    states
        Words in force from each place on.
    lower
        The same for the lower of two players of a staff, where they play differently.
    """

    places: tuple[float, ...]
    states: tuple[frozenset[str], ...]
    lower: Playing | None = None

    def at(self, place: float, voice: str = "1") -> frozenset[str]:
        """Words in force at a place, for a voice."""
        if self.lower is not None and is_lower(voice):
            return self.lower.at(place)
        right = bisect_right(self.places, place + 1e-3)
        return self.states[right - 1] if right else frozenset()


def words_of(head: Notehead, state: frozenset[str]) -> tuple[str, ...]:
    """Sorted words of a note: the signs at its head and the words in force."""
    words = set(head.techniques)
    if "tremolo-measured" in words and FREE_STROKES in state:
        words = words - {"tremolo-measured"} | {"tremolo"}
    held = state - {"a2", "first", "half", FREE_STROKES}
    if words & {"slurred", "tenuto", "portato"}:
        held = held - {"staccato"}
    return tuple(sorted(words | held))


def playing(marks: Sequence[Mark], grid: Grid, played: Collection[int] = ()) -> Playing:
    """Ways of playing of one part, from its words and its playback switches.

    Parameters
    ----------
    marks, grid
        The part's signs and the bars of the page.
    played
        Bars in which the part has notes: a solo and a mark of expression end in the rests
        between them. Without it they hold until a word ends them.
    """
    upper, lower = _apart(marks)
    track = _track([m for m in marks if m not in lower], grid, played)
    if not upper and not lower:
        return track
    other = _track([m for m in marks if m not in upper], grid, played)
    return Playing(track.places, track.states, other)


def _apart(marks: Sequence[Mark]) -> tuple[set[Mark], set[Mark]]:
    """Signs that are for the upper player of a staff only, and for the lower only."""
    upper: set[Mark] = set()
    lower: set[Mark] = set()
    words = [m for m in marks if m.kind == "words"]
    for mark in words:
        number = _PLAYER.match(mark.text.lower())
        if number:
            (upper if number.group(1) == "1" else lower).add(mark)
    above, below = for_one(words, _differ)
    return upper | above, lower | below


def _differ(text: str, other: str) -> bool:
    return any(
        (one.search(text) and two.search(other)) or (two.search(text) and one.search(other))
        for one, two in APART
    )


def _track(marks: Sequence[Mark], grid: Grid, played: Collection[int]) -> Playing:
    places: list[float] = []
    states: list[frozenset[str]] = []
    state: frozenset[str] = frozenset()
    ends = [*_rests(played), *_phrase_ends(marks, len(grid.onsets))]
    for mark in sorted([*ends, *marks], key=lambda m: (m.bar, m.at)):
        new = _switched(state, mark)
        if new != state:
            state = new
            places.append(grid.onsets[mark.bar] + mark.at)
            states.append(state)
    return Playing(tuple(places), tuple(states))


def _rests(played: Collection[int]) -> list[Mark]:
    """Where a part begins to rest: for a bar, or for longer than a solo bears."""
    held = sorted(set(played))
    gaps = [(a + 1, b - a - 1) for a, b in pairwise(held) if b > a + 1]
    return [
        Mark(bar, 0.0, "rest", "long" if bars > _SOLO_REST_BARS else "bar")
        for bar, bars in gaps
    ]


def _phrase_ends(marks: Sequence[Mark], bars: int) -> list[Mark]:
    """Where words that belong to a phrase end because none renews them."""
    ends: list[Mark] = []
    for word in sorted(_OF_A_PHRASE):
        said = [m for m in marks if m.kind == "words" and word in _switched(_NONE, m)]
        said.sort(key=lambda m: (m.bar, m.at))
        starts = [m.bar for m in said] + [bars]
        ends.extend(
            Mark(start + _PHRASE_BARS, 0.0, "phrase", word)
            for start, after in pairwise(starts)
            if start + _PHRASE_BARS < after
        )
    return ends


def _switched(state: frozenset[str], mark: Mark) -> frozenset[str]:
    if mark.kind == "pizzicato":
        return state | {"pizz"} if mark.text == "yes" else state - {"pizz"}
    if mark.kind == "phrase":
        return state - {mark.text}
    if mark.kind == "rest":
        return state - _OF_A_PHRASE - ({"solo"} if mark.text == "long" else _NONE)
    if mark.kind != "words":
        return state
    text = mark.text.lower()
    for pattern, on, off in SWITCHES:
        found = pattern.search(text)
        if found:
            state = state - set(off)
            if on:
                state = state | {on}
            else:
                text = f"{text[: found.start()]} {text[found.end() :]}"
    return state

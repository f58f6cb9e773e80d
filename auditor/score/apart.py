"""Signs of one part that are for one of its staves, or for one of two players of a staff."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

from auditor.score.dynamic_words import Said, words
from auditor.score.grid import Grid
from auditor.score.markings import Loudness, loudness
from auditor.score.noteheads import Notehead
from auditor.score.signs import Mark

_SIDE_BY_SIDE = 0.5  # quarters between two such signs
_LOUD = frozenset(("dynamic", "wedge", "dashes"))


def is_lower(voice: str) -> bool:
    """Voices of even number have their stems down (how notation programs number them)."""
    number = voice.rpartition(".")[2]
    return number.isascii() and number.isdigit() and int(number) % 2 == 0


def for_one(
    marks: Iterable[Mark], differ: Callable[[str, str], bool]
) -> tuple[set[Mark], set[Mark]]:
    """Signs that stand side by side, one for the upper and one for the lower player.

    Parameters
    ----------
    marks
        Signs of one kind.
    differ
        Whether two texts cannot be meant for the same player.
    """
    upper: set[Mark] = set()
    lower: set[Mark] = set()
    for mark, after in pairwise(sorted(marks, key=lambda m: (m.bar, m.at))):
        near = mark.bar == after.bar and after.at - mark.at <= _SIDE_BY_SIDE
        if near and differ(mark.text.lower(), after.text.lower()):
            above, below = sorted((mark, after), key=lambda m: m.placement == "below")
            if is_lower(above.voice or "1") and not is_lower(below.voice or "1"):
                above, below = below, above
            if above.placement != below.placement or above.voice != below.voice:
                upper.add(above)
                lower.add(below)
    return upper, lower


class Levels:
    """Loudness of a part, told apart where its staves or players are marked differently.

    On the staves of a keyboard or harp a sign holds for all, unless another staff has one of
    its own in the same bar; the staves of other parts have their own players (common
    practice, no source).

    Parameters
    ----------
    marks, grid
        The part's signs and the bars of the page.
    staves
        Staves of the part.
    one_player
        One player reads all of them.
    """

    def __init__(
        self, marks: Sequence[Mark], grid: Grid, staves: int, *, one_player: bool
    ) -> None:
        self.marks, self.grid = marks, grid
        loud = [m for m in marks if _is_loud(m)]
        own = {str(s): {m.bar for m in loud if m.staff == str(s)} for s in range(1, staves + 1)}
        several = sum(map(bool, own.values())) > 1
        self.own = own if several else {}
        self.one_player = one_player
        plain = [m for m in loud if m.kind == "dynamic"]
        self.upper, self.lower = for_one(plain, lambda one, other: one != other)
        self.kept: dict[tuple[str, bool], Loudness] = {}
        self.first = self.of("", low=False).first

    def of(self, staff: str, *, low: bool) -> Loudness:
        """Loudness on one staff, for its lower player if `low`."""
        key = (staff if staff in self.own else "", low and bool(self.lower))
        if key not in self.kept:
            out = self.upper if key[1] else self.lower
            marks = [m for m in self.marks if m not in out]
            self.kept[key] = loudness(self._on(key[0], marks), self.grid)
        return self.kept[key]

    def at(self, head: Notehead) -> Loudness:
        """Loudness that holds for a notehead."""
        return self.of(str(head.staff), low=is_lower(head.voice))

    def _on(self, staff: str, marks: list[Mark]) -> list[Mark]:
        mine = self.own.get(staff)
        if mine is None or (not mine and not self.one_player):
            return marks
        begun: set[tuple[str, str]] = set()
        kept = []
        for mark in marks:
            foreign = mark.staff not in ("", staff) and _is_loud(mark)
            if foreign and mark.text == "stop":
                holds = (mark.staff, mark.number) in begun
                begun.discard((mark.staff, mark.number))
            else:
                holds = not foreign or (self.one_player and mark.bar not in mine)
                if foreign and holds and mark.kind in ("wedge", "dashes"):
                    begun.add((mark.staff, mark.number))
            if holds:
                kept.append(mark)
        return kept


def _is_loud(mark: Mark) -> bool:
    return mark.kind in _LOUD or (mark.kind == "words" and words(mark.text) != Said())

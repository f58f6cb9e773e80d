"""What sounds together: the page cut wherever a note begins or ends."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from auditor.craft.page import Page
from auditor.score.notes import Note

# Shorter than this is what rounding of tuplets leaves between two notes, in quarters.
_SLIVER = 0.02


@dataclass(frozen=True, slots=True)
class Moment:
    """A stretch in which nothing changes.

    Parameters
    ----------
    onset, end
        Quarters on the page's axis.
    bar
        Index of the bar it begins in.
    notes
        Sounding notes, grace notes left out.
    """

    onset: float
    end: float
    bar: int
    notes: tuple[Note, ...]

    @property
    def length(self) -> float:
        """Quarters it lasts."""
        return self.end - self.onset

    @property
    def lines(self) -> set[int]:
        """Numbers of the lines that sound."""
        return {n.line for n in self.notes}

    @property
    def pitched(self) -> tuple[Note, ...]:
        """Sounding notes with a pitch, lowest first."""
        return tuple(sorted((n for n in self.notes if not n.unpitched), key=lambda n: n.pitch))


# Several families ask for the same page one after the other.
@lru_cache(maxsize=1)
def moments(page: Page) -> tuple[Moment, ...]:
    """The page cut wherever a note begins or ends; silence is left out."""
    notes = [n for p in page.parts for n in page.notes_of(p.number) if not n.grace]
    notes.sort(key=lambda n: n.onset)
    places = sorted({n.onset for n in notes} | {n.onset + n.duration for n in notes})
    found: list[Moment] = []
    held: list[Note] = []
    following = 0
    for start, end in pairwise(places):
        if end - start < _SLIVER:
            continue
        held = [n for n in held if n.onset + n.duration > start + _SLIVER]
        while following < len(notes) and notes[following].onset < start + _SLIVER:
            held.append(notes[following])
            following += 1
        if held:
            found.append(Moment(start, end, page.bar_at(start).index, tuple(held)))
    return tuple(found)


def stretches(
    found: Sequence[Moment],
    holds: Callable[[Moment], bool],
    shortest: float,
    gap: float = 0.0,
) -> Iterator[tuple[Moment, ...]]:
    """Rows of moments for which something holds, at least `shortest` quarters long.

    Silence of up to `gap` quarters does not break a row.
    """
    row: list[Moment] = []
    for moment in found:
        joined = not row or moment.onset <= row[-1].end + gap + _SLIVER
        if row and not (joined and holds(moment)):
            if row[-1].end - row[0].onset >= shortest - _SLIVER:
                yield tuple(row)
            row = []
        if holds(moment):
            row.append(moment)
    if row and row[-1].end - row[0].onset >= shortest - _SLIVER:
        yield tuple(row)

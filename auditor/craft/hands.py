"""Two hands at harp, keyboard or mallets: how the notes of a moment fall to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hands:
    """One way to share out notes: pitches of the left hand and of the right, lowest first."""

    left: tuple[int, ...]
    right: tuple[int, ...]

    @property
    def span(self) -> int:
        """Semitones of the wider hand."""
        return max(_span(self.left), _span(self.right))


def _span(pitches: Sequence[int]) -> int:
    return pitches[-1] - pitches[0] if pitches else 0


def shared_out(pitches: Sequence[int], most: int) -> tuple[Hands, ...]:
    """Every way to give the lower notes to the left hand, at most `most` to each.

    Hands that cross gain nothing: of two crossed hands the notes can be exchanged without
    making either wider.
    """
    ordered = tuple(sorted(set(pitches)))
    return tuple(
        Hands(ordered[:cut], ordered[cut:])
        for cut in range(len(ordered) + 1)
        if cut <= most and len(ordered) - cut <= most
    )


def narrowest(pitches: Sequence[int], most: int) -> Hands | None:
    """The way that keeps the wider hand narrowest; None when there are too many notes."""
    return min(shared_out(pitches, most), key=lambda hands: hands.span, default=None)

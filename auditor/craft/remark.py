"""The record of one remark on craft, and the order remarks are told in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from auditor.errors import InputError

# From the lightest to the heaviest; a player's word overrules all of them.
WEIGHTS: tuple[str, ...] = ("worth a thought", "risky", "cannot be played")

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Remark:
    """What a player would say about some bars of one part.

    Parameters
    ----------
    kind
        What was checked, lower case with hyphens: ``out-of-range``.
    weight
        One of `WEIGHTS`.
    part
        Number of the part; 0 for the whole orchestra.
    first_bar, last_bar
        Indices on the played axis.
    notes
        Identifiers of the notes concerned, in the order of the music.
    sentence
        What is there, with its place in words left out: the bars stand beside it.
    why
        Why it matters.
    remedy
        What is usually done.
    source
        The published source of the fact, or `COMMON_PRACTICE`.

    Raises
    ------
    InputError
        If the weight is none of `WEIGHTS` or the bars run backwards.
    """

    kind: str
    weight: str
    part: int
    first_bar: int
    last_bar: int
    notes: tuple[str, ...]
    sentence: str
    why: str
    remedy: str
    source: str = COMMON_PRACTICE

    def __post_init__(self) -> None:
        if self.weight not in WEIGHTS:
            raise InputError(f"weight {self.weight!r} is not one of {', '.join(WEIGHTS)}")
        if self.last_bar < self.first_bar:
            raise InputError(f"bars {self.first_bar} to {self.last_bar} run backwards")


def in_order(remarks: Iterable[Remark]) -> tuple[Remark, ...]:
    """Remarks in the order of the music, the heavier first where they coincide."""
    return tuple(
        sorted(remarks, key=lambda r: (r.first_bar, -WEIGHTS.index(r.weight), r.part, r.kind))
    )

"""The lines a listener could follow: one to a part, or one to each instrument of a part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from auditor.score.notes import Instrument, Line, Part


def draw_lines(part: Part, played: Sequence[Instrument], first: int) -> tuple[Line, ...]:
    """Lines of a part, numbered from `first`.

    Parameters
    ----------
    part
        The part; its own instrument's line has its name.
    played
        The instruments its players use, in the order of the page, each once.
    first
        Number of its first line.
    """
    return tuple(
        Line(
            number=number,
            part=part.number,
            name=(
                part.name
                if instrument.key == part.instrument.key
                else f"{part.name} ({instrument.name.lower()})"
            ),
            instrument=instrument,
            players=part.players,
        )
        for number, instrument in enumerate(played, start=first)
    )


def told_apart(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Lines whose names differ: where several share one, each names its part as well."""
    drawn = tuple(lines)
    shared = Counter(line.name for line in drawn)
    return tuple(
        replace(line, name=f"{line.name} (part {line.part})") if shared[line.name] > 1 else line
        for line in drawn
    )

"""The lines a listener could follow: for now one to a part."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.score.notes import Line, Part


def draw_lines(parts: Sequence[Part]) -> tuple[Line, ...]:
    """One line for each part, in score order."""
    return tuple(
        Line(
            number=number,
            part=part.number,
            name=part.name,
            instrument=part.instrument,
            players=part.players,
        )
        for number, part in enumerate(parts, start=1)
    )

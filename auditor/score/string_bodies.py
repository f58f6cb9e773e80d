"""How many strings sit there: the bodies of Rimsky-Korsakov, laid over a score.

References
----------
.. [1] N. Rimsky-Korsakov, Principles of Orchestration (Engl. ed. 1922, public domain), ch. I:
       full 16, 14, 12, 10 and 8 to 10; medium 12, 10, 8, 6 and 4 to 6; small 8, 6, 4, 3 and 2
       to 3 players. The basses are taken in the middle of their range.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

from auditor.errors import InputError
from auditor.score.instruments import numbers_of
from auditor.score.notes import Note, Part, Score
from auditor.score.settings import beside, load

# First and second violins, violas, cellos, basses.
BODIES: dict[str, tuple[float, float, float, float, float]] = {
    "full": (16.0, 14.0, 12.0, 10.0, 9.0),
    "medium": (12.0, 10.0, 8.0, 6.0, 5.0),
    "small": (8.0, 6.0, 4.0, 3.0, 2.5),
}
# What a score is read with.
READ_WITH = "medium"
_PLACES = {"viola": 2, "cello": 3, "double-bass": 4}
# Up to so many players are named ones (soli, a desk or two) and stay.
_NAMED = 4.0


def with_body(score: Score, body: str, settled: Collection[int] = ()) -> Score:
    """Score with its string sections as large as a body has them.

    Parameters
    ----------
    score
        As read, with the medium body.
    body
        One of `BODIES`.
    settled
        Numbers of parts whose players the user has given; they stay.

    Raises
    ------
    InputError
        If the body has no such name.
    """
    if body not in BODIES:
        raise InputError(f"the string body is {body!r}; expected one of {', '.join(BODIES)}")
    if body == READ_WITH:
        return score
    factor = {p.number: _factor(p, body) for p in score.parts if p.number not in settled}
    return replace(
        score,
        parts=tuple(
            replace(p, players=p.players * factor.get(p.number, 1.0)) for p in score.parts
        ),
        lines=tuple(
            replace(x, players=x.players * factor.get(x.part, 1.0)) for x in score.lines
        ),
        notes=tuple(_note(n, factor.get(n.part, 1.0)) for n in score.notes),
    )


def players_given(path: Path, score: Score) -> tuple[int, ...]:
    """Numbers of parts whose players the user has given beside the score.

    Raises
    ------
    InputError
        If the settings there cannot be used.
    """
    there = beside(path)
    if there is None:
        return ()
    given = load(there, {p.number: p.name for p in score.parts})
    return tuple(number for number, s in given.items() if s.players is not None)


def _factor(part: Part, body: str) -> float:
    """How much larger a part's section is than in the body a score is read with."""
    if part.instrument.family != "strings" or part.players <= 1:
        return 1.0
    second = part.instrument.key == "violin" and numbers_of(part.name)[:1] == (2,)
    place = _PLACES.get(part.instrument.key, 1 if second else 0)
    return BODIES[body][place] / BODIES[READ_WITH][place]


def _note(note: Note, factor: float) -> Note:
    named = "solo" in note.techniques or (
        note.players <= _NAMED and note.players == round(note.players)
    )
    if factor == 1.0 or named:
        return note
    return replace(note, players=max(note.players * factor, 1.0))

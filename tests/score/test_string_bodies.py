"""Bodies of strings after Rimsky-Korsakov, Principles of Orchestration (1922), ch. I."""

import pytest

from auditor.errors import InputError
from auditor.score import instruments
from auditor.score.notes import Bar, Line, Note, Part, Score
from auditor.score.string_bodies import with_body

NAMES = ("Violin I", "Violin II", "Viola", "Violoncello", "Contrabass", "Flute")


def page() -> Score:
    parts, lines, notes = [], [], []
    for number, name in enumerate(NAMES, start=1):
        instrument, players = instruments.recognise(name)
        parts.append(Part(number, f"P{number}", name, instrument, players))
        lines.append(Line(number, number, name, instrument, players))
        for k, (count, words) in enumerate(((players, ()), (1.0, ("solo",)))):
            notes.append(
                Note(f"{number}{k}", "e", number, number, 0, 1.0, float(k), 1.0, 60, 60, 3.0,
                     True, words, count)
            )  # fmt: skip
    return Score(
        "", tuple(parts), tuple(lines), (Bar(0, "1", 0, 1, 0.0, 4.0),), tuple(notes), 1
    )


# The basses are "8 to 10", "4 to 6", "2 to 3": taken in the middle.
@pytest.mark.parametrize(
    ("body", "players"),
    [("full", [16, 14, 12, 10, 9, 1]), ("medium", [12, 10, 8, 6, 5, 1]),
     ("small", [8, 6, 4, 3, 2.5, 1])],
)  # fmt: skip
def test_sections_have_the_published_sizes(body, players):
    seated = with_body(page(), body)
    assert [p.players for p in seated.parts] == pytest.approx(players)
    assert [x.players for x in seated.lines] == pytest.approx(players)
    assert [n.players for n in seated.notes[::2]] == pytest.approx(players)
    assert all(n.players == 1 for n in seated.notes[1::2])


def test_players_the_user_gave_stay():
    assert with_body(page(), "small", settled=[3]).parts[2].players == 8


def test_refuses_a_body_nobody_knows():
    with pytest.raises(InputError, match="expected one of full, medium, small"):
        with_body(page(), "huge")

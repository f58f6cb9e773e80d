"""Thirds and sixths beside a line shadow it; chords, octaves and answers do not."""

import pytest

from auditor.intent.parallels import find_parallels
from auditor.intent.reliance import SHADOW, read_intent

TUNE = "c5 d5 e5 g5 f5 e5 d5 b4 c5:2 a4 b4 c5:4"
THIRDS = "a4 b4 c5 e5 d5 c5 b4 g4 a4:2 f4 g4 a4:4"
SIXTHS = "e4 f4 g4 b4 a4 g4 f4 d4 e4:2 c4 d4 e4:4"


@pytest.mark.parametrize(("other", "interval"), [(THIRDS, "third"), (SIXTHS, "sixth")])
def test_thirds_and_sixths_below_a_tune_are_found_with_their_bars(make, other, interval):
    score = make(("Oboe 1", "oboe", TUNE), ("Oboe 2", "oboe", other))
    (one,) = find_parallels(score)
    assert (one.line, one.of, one.interval) == (2, 1, interval)
    assert (one.first_bar, one.last_bar) == (0, 3)


@pytest.mark.parametrize(
    "other",
    [
        TUNE,  # a unison
        "a4:4 f4:4 f4:4 e4:4",  # a chord
        "r:8 a4 b4 c5 e5 r:4",  # a canon at the third
        "a4 a4 c5 e5 a4 c5 f4 g4 e4:2 f4 d4 a4:4",  # thirds now and then
    ],
)
def test_unisons_chords_and_answers_are_no_parallels(make, other):
    assert not find_parallels(make(("Oboe 1", "oboe", TUNE), ("Oboe 2", "oboe", other)))


def test_a_tenth_is_a_third_whichever_line_stands_first(make):
    below = THIRDS.replace("4", "3").replace("5", "4").replace(":3", ":4")
    score = make(("Bassoon", "cello", below), ("Oboe", "oboe", TUNE))
    (one,) = find_parallels(score)
    assert (one.line, one.of, one.interval) == (1, 2, "third")


@pytest.mark.parametrize("by", [-4, 3])
def test_transposing_everything_changes_nothing(make, by):
    lines = (("Oboe 1", "oboe", TUNE), ("Oboe 2", "oboe", THIRDS))
    assert find_parallels(make(*lines, transpose=by)) == find_parallels(make(*lines))


def test_the_shadow_of_the_tune_is_relied_upon_more_than_an_accompaniment(make):
    score = make(
        ("Violin I", "violin", TUNE),
        ("Violin II", "violin", THIRDS),
        ("Viola", "viola", "g3 g3 g3 g3 " * 4),
        ("Violoncello", "cello", "c3:4 g2:4 c3:4 c3:4"),
        ("Contrabass", "double-bass", "c2:4 g1:4 c2:4 c2:4"),
    )
    intent = read_intent(score)
    assert intent.role[0].count("leading") == 4
    assert (intent.reliance[1] >= SHADOW).all()
    assert (intent.reliance[1] > intent.reliance[2]).all()

"""How long a solo and a mark of expression hold (common practice, no source)."""

import pytest

from auditor.score.grid import Grid
from auditor.score.sheet import Mark
from auditor.score.techniques import playing

BARS = 24
GRID = Grid(
    tuple(str(k + 1) for k in range(BARS)),
    tuple(4.0 * k for k in range(BARS)),
    (4.0,) * BARS,
    (4.0,) * BARS,
    (None,) * BARS,
)


def held(word, marks, played):
    """Bars among those played in which a word holds."""
    found = playing([Mark(bar, 0.0, "words", text) for bar, text in marks], GRID, played)
    return [bar for bar in played if word in found.at(4.0 * bar)]


def test_a_solo_ends_after_more_than_two_bars_of_rest():
    assert held("solo", [(0, "Solo")], [0, 1, 4, 5]) == [0, 1, 4, 5]
    assert held("solo", [(0, "Solo")], [0, 1, 5, 6]) == [0, 1]


def test_a_solo_told_again_after_a_long_rest_holds():
    assert held("solo", [(0, "Solo"), (4, "solo")], [0, 1, 5, 6]) == [0, 1, 5, 6]


@pytest.mark.parametrize("word", ["tutti", "unis.", "a 2", "div.", "gli altri"])
def test_words_end_a_solo(word):
    assert held("solo", [(0, "Solo"), (2, word)], [0, 1, 2, 3]) == [0, 1]


@pytest.mark.parametrize(
    "text",
    ["espr.", "p espressivo", "molto espress.", "cantabile", "dolce", "hervortretend",
     "en dehors", "marc. il canto", "ausdrucksvoll", "poco espr."],
)  # fmt: skip
def test_words_that_bring_a_line_out(text):
    assert held("espressivo", [(1, text)], [0, 1, 2]) == [1, 2]


@pytest.mark.parametrize("text", ["marcato", "leggiero", "non espr.", "senza espressione"])
def test_words_that_do_not(text):
    assert held("espressivo", [(1, text)], [0, 1, 2]) == []


def test_expression_ends_with_a_bars_rest_or_with_the_phrase():
    assert held("espressivo", [(0, "espr.")], [0, 1, 3]) == [0, 1]
    assert held("espressivo", [(0, "espr.")], list(range(12))) == list(range(8))
    assert held("espressivo", [(0, "espr."), (6, "espr.")], list(range(14))) == list(range(14))

"""Ways of playing in four languages, and how long they hold (common practice, no source)."""

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


MUTED = (
    "con sord.|con sordini|c. sord.|mit Dämpfer|mit Dpf.|Dämpfer auf|avec sourdine|"
    "mettez les sourdines|with mute|mutes on|put on mutes|sord.|gedämpft|harmon mute|"
    "mettete i sordini"
)
NOT_MUTED = (
    "senza sord.|senza sordini|s. sord.|via sordini|via le sordine|levate le sordine|"
    "togliete i sordini|sordini tolti|ohne Dämpfer|ohne Dpf.|Dämpfer weg|Dämpfer ab|"
    "Sordinen weg|sans sourdines|enlevez la sourdine|ôtez les sourdines|ôtez|"
    "quittez les sourdines|retirez la sourdine|without mute|mutes off|take off mutes|"
    "remove mute|mute out|unmuted|aperto|offen|ouvert"
)


@pytest.mark.parametrize("text", MUTED.split("|"))
def test_mutes_go_on(text):
    assert held("mute", [(0, text)], [0, 1]) == [0, 1]


@pytest.mark.parametrize("text", NOT_MUTED.split("|"))
def test_mutes_come_off(text):
    assert held("mute", [(0, "con sord."), (1, text)], [0, 1]) == [0]


@pytest.mark.parametrize(
    ("texts", "word"),
    [
        ("pizz.|pizzicato|gezupft|pincé|plucked", "pizz"),
        ("col legno|c.l.|mit dem Holz|avec le bois|with the wood|dos de l'archet", "col-legno"),
        (
            "sul pont.|am Steg|près du chevalet|near the bridge",
            "sul-ponticello",
        ),
        ("sul tasto|sur la touche|auf dem Griffbrett|on the fingerboard", "sul-tasto"),
        ("Flatterzunge|Flz.|flutter-tongue|frullato|tremolo dentale", "flutter"),
        ("gestopft|bouchés|stopped|chiusi", "stopped"),
        ("Flag.|armonici|sons harmoniques|harm.", "harmonic"),
        ("espr.|en dehors|hervortretend|ausdrucksvoll|in rilievo|singend", "espressivo"),
        ("Schwammschlägel|baguettes d'éponge|bacchette di spugna", "soft-sticks"),
        ("Holzschlägel|baguettes de bois|bacchette di legno|hard mallets", "hard-sticks"),
        ("div.|geteilt|divisés", "div"),
        ("solo|seul|allein", "solo"),
    ],
)
def test_words_that_switch_on(texts, word):
    assert all(held(word, [(0, text)], [0]) == [0] for text in texts.split("|"))


@pytest.mark.parametrize(
    ("on", "texts", "word"),
    [
        ("pizz.", "arco|gestrichen|mit dem Bogen|archet|with the bow|senza pizz.", "pizz"),
        ("sul pont.", "ord.|naturale|gewöhnlich|position naturelle|ordinaire|norm.",
         "sul-ponticello"),
        ("gestopft", "offen|ouverts|aperti|open", "stopped"),
        ("div.", "unis.|tutti|zusammen|non div.|nicht geteilt|ensemble", "div"),
        ("solo", "tutti|tous|alle|tutte", "solo"),
    ],
)  # fmt: skip
def test_words_that_switch_off(on, texts, word):
    for text in texts.split("|"):
        assert held(word, [(0, on), (1, text)], [0, 1]) == [0]

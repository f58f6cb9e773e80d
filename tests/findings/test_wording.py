import pytest

from auditor.findings import wording
from auditor.score.notes import Bar

BARS = (
    *(Bar(i, str(i + 1), i, 1, 4.0 * i, 4.0) for i in range(4)),
    *(Bar(i + 4, str(i + 1), i, 2, 4.0 * (i + 4), 4.0) for i in range(2)),
    Bar(6, "X1", 4, 1, 24.0, 4.0),
)
# Words of hearing models that have no place in a remark to an orchestrator.
JARGON = ("sone", "masker", "masking", "ratio", "dB", "excitation", "threshold", "Cam", "None")


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (0, 0, "bar 1"),
        (0, 3, "bars 1–4"),
        (4, 5, "bars 1–2 (second time)"),
        (6, 6, "bar X1"),
    ],
)
def test_bars_are_named_as_printed(first, last, said):
    assert wording.bars_named(BARS, first, last) == said


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["Oboe 1"], "Oboe 1"),
        (["Oboe 1", "Horn 1"], "Oboe 1 and Horn 1"),
        (["A", "B", "C"], "A, B and C"),
        (["A", "B", "C", "D", "E"], "A, B and three others"),
        ([], "nobody"),
    ],
)
def test_names_are_listed(names, said):
    assert wording.listed(names) == said


# Steps as in auditor/score/notes.py: pp 0, p 1, mp 2, mf 3, f 4, ff 5.
@pytest.mark.parametrize(
    ("level", "said"), [(0, "pp"), (1.2, "p"), (3, "mf"), (4.6, "ff"), (9, "fff"), (-5, "ppp")]
)
def test_marks(level, said):
    assert wording.mark(level) == said


def test_a_covered_line_is_said_with_cause_and_remedy():
    said = wording.covered_sentence(
        "bars 12–15", ["Oboe 1"], ["Horn 1", "Horn 2"],
        "Horn 1 plays in the same register", "mark the horns p instead of mf",
    )  # fmt: skip
    assert said == (
        "Bars 12–15: Oboe 1 is lost under Horn 1 and Horn 2; Horn 1 plays in the same "
        "register. Mark the horns p instead of mf."
    )


ALL = (
    wording.covered_sentence("bar 3", ["Flute", "Oboe"], [], "", ""),
    wording.faint_sentence("bars 1–2", ["Flute"], ["Viola"], "Viola holds", "thin out"),
    wording.silent_sentence("bars 5–9", "Harp"),
    wording.idle_sentence("bar 7", "Bassoon 2", "Violoncello", -12),
    wording.works_sentence("bars 1–8", ["Clarinet 1"], 9, True),
    wording.works_sentence("bars 1–8", ["Flute", "Violin I"], 2, False),
)


@pytest.mark.parametrize("sentence", ALL)
def test_every_sentence_is_plain_and_whole(sentence):
    assert sentence[0] == "B"
    assert sentence.endswith(".")
    assert len(sentence) < 240
    assert not any(word in sentence for word in JARGON)
    assert "  " not in sentence


def test_one_is_and_two_are():
    assert " are lost" in ALL[0]
    assert " comes through" in ALL[1]


@pytest.mark.parametrize("level", [0.0, 0.5, 1.5, 2.5, 3.5, 4.5])
def test_a_mark_less_is_another_mark(level):
    assert wording.mark(wording.step(level) - 1) != wording.mark(level)


def test_other_marks_are_asked_for_by_the_marks_that_stand_on_the_page():
    """An average of p and f is no mp: nobody would find it in the part."""
    steady, varied = [4.0] * 5, [1.0, 1.0, 4.0, 4.0]
    assert wording.change_of_marks([("Horn 1", steady)], -1) == "mark Horn 1 mf instead of f"
    assert wording.change_of_marks([("Flute 1", varied)], 1) == (
        "mark Flute 1 one degree louder throughout"
    )
    assert wording.change_of_marks([("A", steady), ("B", varied), ("C", steady)], -2) == (
        "mark A and C mp instead of f and B two degrees softer throughout"
    )

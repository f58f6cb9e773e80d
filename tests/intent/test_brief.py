"""A brief overrules the inference; what is wrong in it is said all at once."""

import tomllib

import numpy as np
import pytest

from auditor.errors import InputError
from auditor.intent.brief import read_brief
from auditor.intent.drafting import draft
from auditor.intent.reliance import read_intent

TUNE = "e5:1.5 f5:0.5 g5 c6 b5:1.5 a5:0.5 g5:2 a5 f5:0.5 e5:0.5 d5 g5 e5:4"


@pytest.fixture
def score(make):
    return make(
        ("Flute 1", "flute", TUNE),
        ("Violin I", "violin", "g4 g4 g4 g4 " * 4),
        ("Viola", "viola", "e4:4 f4:4 d4:4 e4:4"),
        ("Violoncello", "cello", "c3:2 e3:2 g2:2 b2:2 f2:2 g2:2 c3:4"),
    )


@pytest.fixture
def brief_of(tmp_path, score):
    def read(text):
        path = tmp_path / "brief.toml"
        path.write_text(text, encoding="utf-8")
        return read_brief(path, score)

    return read


def passage(lines, bars, role="foreground", more=""):
    return f'[[passage]]\nlines = {lines}\nbars = {bars}\nrole = "{role}"\n{more}\n'


def test_a_declared_foreground_leads_and_ousts_the_inferred_one(score, brief_of):
    assert set(read_intent(score).role[0]) == {"leading"}
    intent = read_intent(
        score, brief_of(passage('["Viola"]', '"2-3"', more='comment = "sing"'))
    )
    assert intent.role[2][1:3] == ("leading", "leading")
    assert np.all(intent.reliance[2, 1:3] == 1.0)
    assert "leading" not in intent.role[0][1:3]
    assert np.all(intent.reliance[0, 1:3] < 0.5)
    assert intent.role[0][0] == intent.role[0][3] == "leading"
    assert np.all(intent.certainty[1:3] == 1.0)
    words = next(w for (line, a, z), w in intent.reasons if line == 3)
    assert words == "the brief puts it in the foreground (sing)"


@pytest.mark.parametrize("role", ["background", "colour"])
def test_what_is_declared_background_is_not_relied_upon(score, brief_of, role):
    intent = read_intent(score, brief_of(passage('["Flute 1"]', '"1-4"', role)))
    assert not {"leading", "answer"} & set(intent.role[0])
    assert intent.reliance[0].max() <= 0.2


def test_numbers_groups_families_and_bars_in_every_form(brief_of):
    text = (
        '[groups]\npair = ["flute 1", 3]\n'
        + passage('["pair"]', "2")
        + passage('["strings"]', "[3, 4]", "middleground")
        + passage('[4, "Viola"]', '"1"', "colour")
    )
    found = [(p.lines, p.bars, p.role) for p in brief_of(text).passages]
    assert found == [
        ((1, 3), (1,), "foreground"),
        ((2, 3, 4), (2, 3), "middleground"),
        ((3, 4), (0,), "colour"),
    ]


@pytest.mark.parametrize(
    ("word", "lines"),
    [("Violins", (2,)), ("1st Violin", (2,)), ("celli", (4,)), ("Flöten", (1,))],
)
def test_an_instrument_may_be_named_as_scores_in_any_language_name_it(brief_of, word, lines):
    """Names from the table of instruments, whose last column has their sources."""
    (one,) = brief_of(passage(f'["{word}"]', '"1"', "Foreground")).passages
    assert one.lines == lines
    assert one.role == "foreground"


def test_bars_may_be_several_stretches(brief_of):
    (one,) = brief_of(passage('["Viola"]', '"1, 3-4"')).passages
    assert one.bars == (0, 2, 3)


def test_of_names_as_near_the_first_in_the_score_is_offered(make, tmp_path):
    score = make(("Oboe 1", "oboe", "c5:4"), ("Oboe 2", "oboe", "c5:4"))
    path = tmp_path / "brief.toml"
    path.write_text(passage('["Oboi 3"]', 1), encoding="utf-8")
    with pytest.raises(InputError, match="the nearest is 'Oboe 1'"):
        read_brief(path, score)


def test_everything_wrong_is_said_at_once_with_the_nearest_name(brief_of):
    text = "passages = 1\n[[passage]]\nline = 1\n" + passage(
        '["Violetta", 7]', '"3-9"', "forground"
    )
    with pytest.raises(InputError) as caught:
        brief_of(text)
    for word in (
        "7 things are wrong",
        "unknown key 'passages' (the nearest is 'passage')",
        "unknown key 'line' (the nearest is 'lines')",
        "lines and bars and role not said",
        "no part 'Violetta' (the nearest is 'Viola')",
        "no part 7 (the nearest is 4, 'Violoncello')",
        "no bar 9 (the nearest is '4')",
        "unknown role 'forground' (the nearest is 'foreground')",
    ):
        assert word in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[passage]\n", "not valid TOML"),
        (passage("[]", '"1"'), "names nobody"),
        (passage("[true]", '"1"'), "neither a name nor a number"),
        (passage("[1]", '"3-2"'), "run backwards"),
        (passage("[1]", "[1, 2, 3]"), "expected 12"),
        (passage("[1]", "1") + passage("[1]", "1", "colour"), "both foreground and colour"),
        ("passage = 3", "double brackets"),
    ],
)
def test_refuses(brief_of, text, said):
    with pytest.raises(InputError, match=said):
        brief_of(text)


def test_refuses_what_is_not_there(tmp_path, score):
    with pytest.raises(InputError, match="cannot be read"):
        read_brief(tmp_path / "brief.toml", score)


def test_two_parts_of_one_name_want_a_number(make, tmp_path):
    score = make(("Horn", "horn", "c4:4"), ("Horn", "horn", "e4:4"))
    path = tmp_path / "brief.toml"
    path.write_text(passage('["Horn"]', "1"), encoding="utf-8")
    with pytest.raises(InputError, match="2 parts are named 'Horn'; say 1 or 2"):
        read_brief(path, score)


def test_a_draft_can_be_read_and_changes_no_role_it_is_sure_of(score, brief_of):
    intent = read_intent(score)
    text = draft(score, intent)
    assert tomllib.loads(text)["passage"][0]["lines"] == ["Flute 1"]
    again = read_intent(score, brief_of(text))
    assert again.role == intent.role

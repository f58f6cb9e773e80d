import numpy as np
import pytest

from auditor.intent import context, features
from auditor.intent.chairs import chairs
from auditor.intent.groups import groups_of
from auditor.intent.leading import compare
from auditor.intent.reliance import read_intent
from auditor.intent.roles import ROLES
from auditor.model_files import read_json

TUNE = "e5:1.5 f5:0.5 g5 c6 b5:1.5 a5:0.5 g5:2 a5 f5:0.5 e5:0.5 d5 g5 e5:4"
CHORDS = ("g4 g4 g4 g4 " * 4, "e4 e4 e4 e4 " * 4)
BASS = "c3:2 e3:2 g2:2 b2:2 f2:2 g2:2 c3:4"


def melody_over_chords(make, **kw):
    return make(
        ("Violin 1", "violin", TUNE),
        ("Violin 2", "violin", CHORDS[0]),
        ("Viola", "viola", CHORDS[1]),
        ("Violoncello", "cello", BASS),
        ("Contrabass", "double-bass", BASS.replace("3", "2").replace("g2", "g1")),
        **kw,
    )


def test_the_tune_leads_and_the_bass_is_the_bass(make):
    intent = read_intent(melody_over_chords(make))
    assert all(r == "leading" for r in intent.role[0])
    assert all(r == "bass" for r in intent.role[4])
    assert all(r in ("rhythm", "harmony") for r in intent.role[1] + intent.role[2])
    assert np.all(intent.reliance[0] > intent.reliance[1:].max(axis=0))


def test_every_sounding_line_has_a_role_and_rests_have_none(make):
    score = make(("Flute", "flute", "r:4 " + TUNE), ("Cello", "cello", BASS))
    intent = read_intent(score)
    assert intent.role[0][0] == ""
    assert intent.reliance[0, 0] == 0.0
    assert {r for row in intent.role for r in row} <= {"", *ROLES}
    assert np.all((intent.reliance >= 0) & (intent.reliance <= 1))


def test_a_doubled_tune_is_one_leading_strand(make):
    score = make(
        ("Flute", "flute", TUNE.replace("6", "7").replace("5", "6")
            .replace(":1.6", ":1.5").replace(":0.6", ":0.5")),
        ("Violin 1", "violin", TUNE),
        ("Viola", "viola", CHORDS[1]),
        ("Violoncello", "cello", BASS),
    )  # fmt: skip
    intent = read_intent(score)
    leading = [s for s in intent.strands if s.kind == "strand" and s.role == "leading"]
    assert [s.lines for s in leading] == [(1, 2)]
    assert leading[0].doublings == ("Flute an octave above Violin 1",)
    assert (leading[0].first_bar, leading[0].last_bar) == (0, 3)


def test_a_solo_mark_is_relied_upon(make):
    score = make(
        ("Violin 1", "violin", TUNE),
        ("Oboe", "oboe", "g4:4 a4:4 f4:4 g4:4", 3.0, ("solo",)),
        ("Viola", "viola", CHORDS[1]),
        ("Violoncello", "cello", BASS),
    )
    assert np.all(read_intent(score).reliance[1] >= 0.85)


def test_a_solo_ends_for_a_wind_when_its_partner_joins(make):
    """With a staff for each of a pair, "solo" only says that the other one rests."""

    def reliance(second):
        score = make(
            ("Violin I", "violin", TUNE),
            ("Oboe 1", "oboe", "g4:4 a4:4 f4:4 g4:4", 3.0, ("solo",)),
            ("Oboe 2", "oboe", second),
            ("Viola", "viola", CHORDS[1]),
            ("Violoncello", "cello", BASS),
        )
        return read_intent(score).reliance[1]

    assert np.all(reliance("r:16") >= 0.85)
    joined = reliance("r:8 d4:4 e4:4")
    assert np.all(joined[:2] >= 0.85)
    assert np.all(joined[2:] < 0.6)


def test_one_of_many_doublings_is_relied_upon_less_than_one_of_two(make):
    def least(*more):
        score = make(
            ("Violin 1", "violin", TUNE),
            ("Flute", "flute", TUNE),
            *((f"Oboe {k}", "oboe", TUNE) for k in more),
            ("Viola", "viola", CHORDS[1]),
            ("Violoncello", "cello", BASS),
        )
        intent = read_intent(score)
        carriers = [r for r, row in enumerate(intent.role) if set(row) == {"leading"}]
        assert len(carriers) == 2 + len(more)
        return intent.reliance[carriers].min()

    assert least() > least(1) > least(1, 2)


def test_groups_are_the_strands_in_their_order(make):
    score = melody_over_chords(make)
    intent = read_intent(score)
    groups = groups_of(intent, score)
    assert [g.id for g in groups] == [s.id for s in intent.strands]
    for group, strand in zip(groups, intent.strands, strict=True):
        assert tuple(group.notes) == strand.notes
        assert {score.notes[n].line for n in group.notes} == set(strand.lines)


def test_layers_hold_every_note_once(make):
    score = melody_over_chords(make)
    layers = [s for s in read_intent(score).strands if s.kind == "layer"]
    held = sorted(n for s in layers for n in s.notes)
    assert held == list(range(len(score.notes)))


def test_reasons_are_given_for_what_leads(make):
    intent = read_intent(melody_over_chords(make))
    words = {key[0]: text for key, text in intent.reasons}
    assert words[1]
    assert "marked solo" not in words[1]


def test_chairs_are_read_from_names(make):
    score = make(
        ("Violin I", "violin", "c5:4"),
        ("Violin II", "violin", "c5:4"),
        ("Oboe 2", "oboe", "c5:4"),
        ("Horn 1", "horn", "c4:4"),
        ("Flute", "flute", "c5:4"),
    )
    assert chairs(score.lines) == ("violin-1", "violin-2", "wind-second", "horn-1", "flute-1")


def test_shares_of_the_lead_sum_to_one_and_do_not_move_with_an_offset():
    scores = np.array([[1.0, 2.0], [0.5, -3.0], [9.0, 9.0]])
    on = np.array([[True, True], [True, False], [False, False]])
    share = compare(scores, on)
    np.testing.assert_allclose(share.sum(axis=0), 1.0)
    np.testing.assert_allclose(share, compare(scores + 40.0, on))
    assert share[2].sum() == 0.0


def test_the_model_says_where_it_comes_from():
    model = read_json("reliance.json")
    assert tuple(model["first"]["names"]) == features.NAMES
    assert tuple(model["second"]["names"]) == features.NAMES + context.NAMES
    assert "CC BY-SA" in model["provenance"]


@pytest.mark.parametrize("by", [-2, 3])
def test_roles_do_not_change_with_the_key(make, by):
    assert (
        read_intent(melody_over_chords(make, transpose=by)).role
        == read_intent(melody_over_chords(make)).role
    )


def test_a_line_marked_to_be_brought_out_is_relied_upon_more(make):
    def reliance(words):
        score = make(
            ("Violin I", "violin", TUNE),
            ("Viola", "viola", "g3:4 a3:4 g3:4 f3:4", 3.0, words),
            ("Violoncello", "cello", "c3:4 f3:4 e3:4 d3:4"),
        )
        return read_intent(score).reliance[1]

    assert (reliance(("espressivo",)) >= reliance(())).all()
    assert reliance(("espressivo",)).min() >= 0.6


def test_certainty_is_given_for_each_bar(make):
    score = melody_over_chords(make)
    certainty = read_intent(score).certainty
    assert certainty.shape == (len(score.bars),)
    assert np.all((certainty > 0) & (certainty <= 1))

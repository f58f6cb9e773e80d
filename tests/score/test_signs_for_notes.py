"""Slashes under beats, fermatas beside notes, and kettles tuned anew."""

import pytest

from auditor.score.crooks import retuned, tuning_of
from auditor.score.reading import read_score


def read(xml, name, *bars):
    return read_score(xml.save(xml.score(xml.part(name, *bars))))


# MusicXML 4.0, <beat-repeat>: "a single beat (but possibly many notes) is repeated".
def beats(kind, value=""):
    inside = f'<beat-repeat type="{kind}" slashes="1">{value}</beat-repeat>'
    return f"<attributes><measure-style>{inside}</measure-style></attributes>"


def test_beat_slashes_are_written_out(xml):
    pair = xml.note("C5", 0.5) + xml.note("E5", 0.5)
    rests = "".join(xml.note("R", 1) for _ in range(3))
    score = read(xml, "Viola", pair + beats("start") + rests + beats("stop"), xml.note("R", 4))
    assert [(n.onset, n.pitch) for n in score.notes] == [
        (k / 2, 76 if k % 2 else 72) for k in range(8)
    ]
    assert any("beat slashes" in remark for remark in score.remarks)


def test_a_beat_slash_repeats_chords_and_one_rest_stands_for_several(xml):
    chord = xml.note("C5", 1) + xml.note("E5", 1, chord=True)
    score = read(xml, "Viola", chord + beats("start") + xml.note("R", 3))
    assert [(n.onset, n.pitch) for n in score.notes] == [
        (k, p) for k in range(4) for p in (72, 76)
    ]


def test_notes_beside_a_beat_slash_are_left_alone(xml):
    bar = xml.note("C5", 1) + beats("start") + xml.note("D5", 1) + xml.note("E5", 2)
    assert [n.pitch for n in read(xml, "Viola", bar).notes] == [72, 74, 76]


def test_fermatas_over_rests_and_barlines(xml):
    over_rest = xml.note("C5", 2) + xml.note("R", 2, notations="<fermata/>")
    over_bar = xml.note("C5", 4) + '<barline location="right"><fermata/></barline>'
    score = read(xml, "Oboe", over_rest, over_bar)
    found = [(d.part, d.onset, d.text) for d in score.directions if d.kind == "fermata"]
    assert found == [(1, 2, "rest"), (0, 8, "barline")]


@pytest.mark.parametrize(
    ("words", "tuning"),
    [
        ("in D, A", (2, 9)), ("C-G", (0, 7)), ("Timpani in Es, B", (3, 10)),
        ("(D. A.)", (2, 9)), ("Do-Sol", (0, 7)), ("G.P.", ()), ("cresc.", ()),
    ],
)  # fmt: skip
def test_tunings_in_words(words, tuning):
    assert tuning_of(words) == tuning


@pytest.mark.parametrize(
    ("words", "after"),
    [
        ("muta in D A", (2, 9)), ("mutano in F C", (5, 0)), ("muta G in A", (0, 9)),
        ("G muta in A", (0, 9)), ("muta in D, A", (2, 9)), ("C nach D", (2, 7)),
        ("solo", (0, 7)), ("muta in Piccolo", (0, 7)),
    ],
)  # fmt: skip
def test_kettles_are_tuned_anew(words, after):
    assert retuned(words, (0, 7)) == after


def test_timpani_written_c_and_g_follow_their_tuning(xml):
    beat = xml.note("C3", 2) + xml.note("G2", 2)
    notes = read(xml, "Timpani in D, A", beat, xml.words("muta in F, C") + beat).notes
    # An old pair covers F2 to F3 (Johnstone, 1917).
    assert [n.pitch for n in notes] == [50, 45, 53, 48]

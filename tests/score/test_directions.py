"""What the page says between the notes, on the played axis, and how notes are spelt."""

import pytest

from auditor.score.reading import read_score


def read(xml, *parts):
    return read_score(xml.save(xml.score(*parts)))


def said(score, kind):
    return [(d.part, d.bar, d.onset, d.end, d.text) for d in score.directions if d.kind == kind]


@pytest.mark.parametrize(
    ("pitch", "spelling"),
    [("F#4", "F#4"), ("Bb3", "B-3"), ("C4", "C4"), ("Ebb5", "E--5"), ("G##2", "G##2")],
)
def test_spelling(xml, pitch, spelling):
    assert read(xml, xml.part("Piano", xml.note(pitch, 4))).notes[0].spelling == spelling


def test_spelling_is_as_printed_and_empty_without_pitch(xml):
    horn = xml.part(
        "Horn", xml.note("C5", 4), more="<transpose><chromatic>-7</chromatic></transpose>"
    )
    drum = xml.part("Triangle", xml.note("C5", 4))
    assert [n.spelling for n in read(xml, horn, drum).notes] == ["C5", ""]


def test_dynamics_words_and_hairpins(xml):
    bars = [
        xml.dynamic("p") + xml.words("dolce") + xml.note("C5", 4),
        xml.wedge("crescendo") + xml.note("C5", 2) + xml.note("C5", 2),
        xml.note("C5", 2) + xml.wedge("stop") + xml.dynamic("f") + xml.note("C5", 2),
    ]
    score = read(xml, xml.part("Flute", *bars))
    assert said(score, "dynamic") == [(1, 0, 0, 0, "p"), (1, 2, 10, 10, "f")]
    assert said(score, "words") == [(1, 0, 0, 0, "dolce")]
    assert said(score, "hairpin") == [(1, 1, 4, 10, "crescendo")]


def test_two_hairpins_at_once_keep_their_ends(xml):
    # MusicXML 4.0, <wedge>: "The number attribute is used to distinguish multiple wedges".
    def numbered(kind, number):
        return xml.direction(f'<wedge type="{kind}" number="{number}"/>')

    bar = numbered("crescendo", 1) + numbered("diminuendo", 2) + xml.note("C5", 1)
    bar += numbered("stop", 2) + xml.note("C5", 2) + numbered("stop", 1) + xml.note("C5", 1)
    assert set(said(read(xml, xml.part("Flute", bar)), "hairpin")) == {
        (1, 0, 0, 3, "crescendo"),
        (1, 0, 0, 1, "diminuendo"),
    }


def test_a_hairpin_nobody_closed_ends_with_its_bar(xml):
    bars = [xml.wedge("diminuendo") + xml.note("C5", 4), xml.note("C5", 4)]
    assert said(read(xml, xml.part("Flute", *bars)), "hairpin") == [(1, 0, 0, 4, "diminuendo")]


def test_tempo_and_rehearsal_marks_hold_for_all_and_come_once(xml):
    top = xml.direction("<rehearsal>A</rehearsal>") + xml.words("Allegro")
    top += xml.direction(
        "<metronome><beat-unit>quarter</beat-unit><per-minute>120</per-minute></metronome>"
    )
    parts = [xml.part(name, top + xml.note("C5", 4)) for name in ("Flute", "Oboe")]
    score = read(xml, *parts)
    assert said(score, "rehearsal") == [(0, 0, 0, 0, "A")]
    assert said(score, "tempo") == [(0, 0, 0, 0, "Allegro"), (0, 0, 0, 0, "quarter = 120")]
    assert said(score, "words") == []


def slur(kind, number=1):
    return f'<slur type="{kind}" number="{number}"/>'


def test_notes_under_a_slur(xml):
    bar = xml.note("C5", notations=slur("start")) + xml.note("D5")
    bar += xml.note("E5", notations=slur("stop")) + xml.note("F5")
    score = read(xml, xml.part("Flute", bar))
    assert ["slurred" in n.techniques for n in score.notes] == [False, True, True, False]
    assert said(score, "slur") == [(1, 0, 0, 3, "")]


def test_one_slur_ends_where_the_next_begins(xml):
    bar = xml.note("C5", notations=slur("start"))
    bar += xml.note("D5", notations=slur("start") + slur("stop")) + xml.note("E5")
    bar += xml.note("F5", notations=slur("stop"))
    score = read(xml, xml.part("Flute", bar))
    assert said(score, "slur") == [(1, 0, 0, 2, ""), (1, 0, 1, 4, "")]
    assert ["slurred" in n.techniques for n in score.notes] == [False, True, True, True]


def test_slurs_of_two_voices_with_one_number(xml):
    def voice(number):
        notes = xml.note("C5", 2, notations=slur("start"), voice=number)
        return notes + xml.note("D5", 2, notations=slur("stop"), voice=number)

    bar = voice(1) + "<backup><duration>96</duration></backup>" + voice(2)
    score = read(xml, xml.part("Flute", bar))
    assert sorted((n.voice, n.onset) for n in score.notes if "slurred" in n.techniques) == [
        ("1", 2),
        ("2", 2),
    ]


def test_a_chord_is_slurred_whole_and_its_first_not_at_all(xml):
    bar = xml.note("C5", 2, notations=slur("start")) + xml.note("E5", 2, chord=True)
    bar += xml.note("D5", 2, notations=slur("stop")) + xml.note("F5", 2, chord=True)
    notes = read(xml, xml.part("Piano", bar)).notes
    assert [("slurred" in n.techniques, n.onset) for n in notes] == [
        (False, 0), (False, 0), (True, 2), (True, 2),
    ]  # fmt: skip


def test_a_slur_without_an_end_is_none(xml):
    bar = xml.note("C5", 2, notations=slur("start")) + xml.note("D5", 2)
    score = read(xml, xml.part("Flute", bar, xml.note("C5", 4)))
    assert said(score, "slur") == []
    assert not any("slurred" in n.techniques for n in score.notes)


def test_everything_comes_again_with_a_repeat(xml):
    end = '<barline location="right"><repeat direction="backward"/></barline>'
    bars = [xml.dynamic("p") + xml.note("C5", 4), xml.note("C5", 4) + end]
    assert [d[1:3] for d in said(read(xml, xml.part("Flute", *bars)), "dynamic")] == [
        (0, 0),
        (2, 8),
    ]


def test_what_leads_into_a_second_bracket_ends_at_the_jump(xml):
    first = '<barline location="left"><ending type="start" number="1"/></barline>'
    close = (
        '<barline location="right"><ending type="stop" number="1"/>'
        '<repeat direction="backward"/></barline>'
    )
    second = '<barline location="left"><ending type="start" number="2"/></barline>'
    bars = [
        xml.wedge("crescendo") + xml.note("C5", 4),
        first + xml.note("C5", 4) + close,
        second + xml.note("C5", 4) + xml.wedge("stop"),
    ]
    # The first time the hairpin runs through the first bracket and stops at the repeat; the
    # second time the route leaves its bar by a jump.
    assert [d[2:4] for d in said(read(xml, xml.part("Flute", *bars)), "hairpin")] == [
        (0, 8),
        (8, 12),
    ]


def test_directions_are_in_order(xml):
    bars = [xml.dynamic("p") + xml.words("dolce") + xml.note("C5", 4)] * 3
    score = read(xml, xml.part("Flute", *bars), xml.part("Oboe", *bars))
    keys = [(d.onset, d.part) for d in score.directions]
    assert keys == sorted(keys)

"""Dynamic levels and ways of playing.

The order pp < p < mp < mf < f < ff is the handbook's; the steps and what an accent
adds are common practice, no source, and are held here as laws rather than figures.
"""

from itertools import pairwise

import pytest

from auditor.score.dynamic_words import words
from auditor.score.reading import read_score

STEPS = {"ppp": -1, "pp": 0, "p": 1, "mp": 2, "mf": 3, "f": 4, "ff": 5, "fff": 6}


def notes(xml, *bars, name="Violin"):
    return read_score(xml.save(xml.score(xml.part(name, *bars)))).notes


def levels(xml, *bars):
    return [n.dynamic for n in notes(xml, *bars)]


def four(xml):
    return xml.note("C5") * 4


@pytest.mark.parametrize(("letters", "step"), STEPS.items())
def test_steps(xml, letters, step):
    assert levels(xml, xml.dynamic(letters) + xml.note("C5", 4)) == [step]


def test_mf_is_assumed_and_said(xml):
    found = notes(xml, xml.note("C5", 4), xml.dynamic("p") + xml.note("C5", 4))
    assert [(n.dynamic, n.dynamic_written) for n in found] == [(3, False), (1, True)]
    silent = xml.part("Flute", xml.note("C5", 4))
    loud = xml.part("Oboe", xml.dynamic("f") + xml.note("C5", 4))
    some = read_score(xml.save(xml.score(silent, loud))).remarks
    assert any("no dynamics for Flute; mf is assumed" in remark for remark in some)
    none = read_score(xml.save(xml.score(silent, silent))).remarks
    assert any("no dynamics; mf is assumed throughout" in remark for remark in none)


def test_a_mark_holds_until_the_next(xml):
    bars = [xml.dynamic("pp") + four(xml), four(xml), xml.dynamic("ff") + four(xml)]
    assert levels(xml, *bars) == [0] * 8 + [5] * 4


def test_dynamics_written_under_a_note(xml):
    under = xml.note("C5", 2, notations="<dynamics><f/></dynamics>")
    assert levels(xml, xml.dynamic("p") + xml.note("C5", 2) + under) == [1, 4]


def test_marks_of_one_part_leave_the_others_alone(xml):
    score = read_score(
        xml.save(
            xml.score(
                xml.part("Flute", xml.dynamic("ff") + xml.note("C5", 4)),
                xml.part("Oboe", xml.note("C5", 4)),
            )
        )
    )
    assert {n.part: n.dynamic for n in score.notes} == {1: 5, 2: 3}


def test_hairpin_runs_straight_to_the_next_mark(xml):
    bars = [
        xml.dynamic("p") + xml.wedge("crescendo") + four(xml) + xml.wedge("stop"),
        xml.dynamic("ff") + four(xml),
    ]
    assert levels(xml, *bars) == pytest.approx([1, 2, 3, 4, 5, 5, 5, 5], abs=0.01)


def test_hairpin_without_goal_is_one_step(xml):
    bars = [
        xml.dynamic("f") + xml.wedge("diminuendo") + four(xml) + xml.wedge("stop"),
        four(xml),
    ]
    assert levels(xml, *bars) == pytest.approx([4, 3.75, 3.5, 3.25, 3, 3, 3, 3], abs=0.01)


def test_crescendo_to_a_sudden_piano_still_grows(xml):
    bars = [
        xml.dynamic("mf") + xml.wedge("crescendo") + four(xml) + xml.wedge("stop"),
        xml.dynamic("p") + four(xml),
    ]
    found = levels(xml, *bars)
    assert found[:4] == sorted(found[:4])
    assert 3 < found[3] < 4
    assert found[4:] == [1] * 4


def test_swell_comes_back(xml):
    swell = (
        xml.dynamic("p")
        + xml.wedge("crescendo")
        + xml.note("C5") * 2
        + xml.wedge("stop")
        + xml.wedge("diminuendo")
        + xml.note("C5") * 2
        + xml.wedge("stop")
    )
    found = levels(xml, swell, xml.note("C5", 4))
    assert found == pytest.approx([1, 1.5, 2, 1.5, 1], abs=0.01)


@pytest.mark.parametrize("word", ["cresc.", "crescendo", "poco a poco cresc.", "(cresc.)"])
def test_the_word_crescendo_grows_to_the_next_mark(xml, word):
    bars = [
        xml.dynamic("p") + xml.words(word) + four(xml),
        four(xml),
        xml.dynamic("f") + four(xml),
    ]
    found = levels(xml, *bars)
    assert found[0] == 1
    assert all(a < b for a, b in pairwise(found[:8]))
    assert found[8:] == [4] * 4


@pytest.mark.parametrize("word", ["dim.", "decresc.", "diminuendo", "smorz.", "perdendosi"])
def test_words_that_fade(xml, word):
    found = levels(xml, xml.dynamic("f") + xml.words(word) + four(xml), xml.dynamic("p"))
    assert all(a > b for a, b in pairwise(found))


def test_accents_add_about_half_a_step(xml):
    accent = xml.note("C5", 2, notations="<articulations><accent/></articulations>")
    strong = xml.note("C5", 2, notations="<articulations><strong-accent/></articulations>")
    plain, accented = levels(xml, xml.dynamic("mf") + xml.note("C5", 2) + accent)
    assert accented - plain == pytest.approx(0.5)
    assert levels(xml, xml.dynamic("mf") + accent + strong)[1] > accented


@pytest.mark.parametrize("letters", ["sf", "sfz", "fz", "sffz", "rfz"])
def test_sforzato_is_for_one_note(xml, letters):
    found = levels(xml, xml.dynamic("p") + xml.note("C5"), xml.dynamic(letters) + four(xml))
    assert found == [1, 3, 1, 1, 1]


def test_sforzato_inside_fortissimo_stops_at_fff(xml):
    found = levels(xml, xml.dynamic("ff") + xml.note("C5"), xml.dynamic("sf") + four(xml))
    assert found == [5, STEPS["fff"], 5, 5, 5]


@pytest.mark.parametrize(("letters", "after"), [("fp", 1), ("sfp", 1), ("sfpp", 0)])
def test_fortepiano_strikes_and_stays_soft(xml, letters, after):
    found = levels(xml, xml.dynamic(letters) + four(xml))
    assert found[0] >= after + 2
    assert found[1:] == [after] * 3


@pytest.mark.parametrize(
    ("text", "step"),
    [("sempre pp", 0), ("poco f", 3), ("poco forte", 3), ("sotto voce", 1), ("f marcato", 4)],
)
def test_dynamics_in_words(xml, text, step):
    assert levels(xml, xml.words(text) + xml.note("C5", 4)) == [step]


# SMuFL 1.4: U+E520 dynamicPiano, U+E522 dynamicForte, U+E539 dynamicSforzato1 (sfz).
@pytest.mark.parametrize(
    ("glyphs", "step"),
    [("\ue520", 1), ("\ue520\ue520", 0), ("sempre \ue522", 4), ("\ue539", 5)],
)
def test_letters_drawn_as_music_glyphs(xml, glyphs, step):
    path = xml.save(xml.score(xml.part("Oboe", xml.words(glyphs) + xml.note("C5", 4))))
    assert read_score(path).notes[0].dynamic == step


@pytest.mark.parametrize(
    ("texts", "way", "change"),
    [
        ("stärker werdend|anschwellend|nach und nach stärker|cres.|augmenter peu à peu", 1, 0),
        ("schwächer werdend|allmählich leiser|dying away|s'éteignant", -1, 0),
        ("etwas stärker|louder|più forte|plus fort", 0, 1),
        ("leiser|softer|meno f|moins fort", 0, -1),
        ("stark hervortretend|zart|doux|con forza", 0, 0),
    ],
)
def test_louder_and_softer_in_four_languages(texts, way, change):
    for text in texts.split("|"):
        said = words(text)
        assert (said.way, said.change, said.level) == (way, change, None), text


@pytest.mark.parametrize("text", ["dolce", "Tempo I", "arco", "espress.", "p. 12 of the part"])
def test_words_without_dynamics(xml, text):
    assert levels(xml, xml.dynamic("f") + xml.words(text) + xml.note("C5", 4)) == [4]


def test_louder_and_softer_words(xml):
    bars = [xml.dynamic("f") + four(xml), xml.words("più f") + four(xml)]
    assert levels(xml, *bars)[4] == 5
    bars = [xml.dynamic("p") + four(xml), xml.words("più p") + four(xml)]
    assert levels(xml, *bars)[4] == 0


def test_repeats_read_the_written_dynamics_again(xml):
    end = '<barline location="right"><repeat direction="backward"/></barline>'
    bars = [xml.dynamic("p") + four(xml), xml.dynamic("f") + four(xml) + end]
    assert levels(xml, *bars) == [1] * 4 + [4] * 4 + [1] * 4 + [4] * 4


def ways(xml, *bars, name="Violin"):
    return [n.techniques for n in notes(xml, *bars, name=name)]


@pytest.mark.parametrize(
    ("on", "off", "word"),
    [
        ("pizz.", "arco", "pizz"),
        ("con sord.", "senza sord.", "mute"),
        ("mit Dämpfer", "ohne Dämpfer", "mute"),
        ("avec sourdines", "ôtez la sourdine", "mute"),
        ("sourd.", "sans sourd.", "mute"),
        ("col legno", "arco", "col-legno"),
        ("sul pont.", "ord.", "sul-ponticello"),
        ("sul tasto", "ord.", "sul-tasto"),
        ("gestopft", "offen", "stopped"),
        ("Solo", "tutti", "solo"),
        ("div.", "unis.", "div"),
    ],
)
def test_words_hold_until_taken_back(xml, on, off, word):
    bars = [xml.note("C5", 4), xml.words(on) + four(xml), xml.words(off) + four(xml)]
    found = ways(xml, *bars)
    assert [word in techniques for techniques in found] == [False] + [True] * 4 + [False] * 4


def test_pizzicato_by_sound_alone(xml):
    bars = [
        '<sound pizzicato="yes"/>' + xml.note("C5", 4),
        '<sound pizzicato="no"/>' + xml.note("C5", 4),
    ]
    assert ways(xml, *bars) == [("pizz",), ()]


@pytest.mark.parametrize(
    ("notation", "word"),
    [
        ("<ornaments><trill-mark/></ornaments>", "trill"),
        ('<ornaments><tremolo type="single">3</tremolo></ornaments>', "tremolo"),
        ("<articulations><staccato/></articulations>", "staccato"),
        ("<articulations><staccatissimo/></articulations>", "staccatissimo"),
        ("<articulations><tenuto/></articulations>", "tenuto"),
        ("<technical><harmonic/></technical>", "harmonic"),
        ("<technical><snap-pizzicato/></technical>", "snap-pizz"),
        ("<fermata/>", "fermata"),
    ],
)
def test_signs_at_a_note(xml, notation, word):
    found = ways(xml, xml.note("C5", 2, notations=notation) + xml.note("C5", 2))
    assert word in found[0]
    assert word not in found[1]


def test_tremolo_between_two_notes(xml):
    def end(kind):
        return f'<ornaments><tremolo type="{kind}">3</tremolo></ornaments>'

    bar = xml.note("C5", 2, notations=end("start")) + xml.note("E5", 2, notations=end("stop"))
    assert ways(xml, bar) == [("tremolo",), ("tremolo",)]


def players(xml, name, *bars):
    return [n.players for n in notes(xml, *bars, name=name)]


def test_two_players_on_one_part(xml):
    chord = xml.note("C5", 2) + xml.note("E5", 2, chord=True)
    assert players(xml, "Flutes 1-2", chord + xml.note("C5", 2)) == [1, 1, 2]
    assert players(xml, "Flutes 1-2", xml.words("1.") + xml.note("C5", 4)) == [1]
    assert (
        players(
            xml, "Flutes 1-2", xml.words("1. Solo") + four(xml), xml.words("a 2") + four(xml)
        )
        == [1] * 4 + [2] * 4
    )


def test_a_section_divides(xml):
    chord = xml.note("C5", 4) + xml.note("E5", 4, chord=True)
    whole, *_ = players(xml, "Violin I", chord)
    assert players(xml, "Violin I", xml.words("div.") + chord) == [whole / 2] * 2
    assert players(xml, "Violin I", xml.words("solo") + xml.note("C5", 4)) == [1]

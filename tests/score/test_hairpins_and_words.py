"""Louder and softer by words and hairpins: goals, denials, how far, how long.

What a word changes is common practice, no source; held here as laws.
"""

from itertools import pairwise

import pytest

from auditor.score.reading import read_score

STEPS = {"ppp": -1, "pp": 0, "p": 1, "mp": 2, "mf": 3, "f": 4, "ff": 5, "fff": 6}


def notes(xml, *bars, name="Violin"):
    return read_score(xml.save(xml.score(xml.part(name, *bars)))).notes


def levels(xml, *bars):
    return [n.dynamic for n in notes(xml, *bars)]


def four(xml):
    return xml.note("C5") * 4


@pytest.mark.parametrize(
    "text", ["cresc. al ff", "poco a poco cresc. fino al ff", "cresc. molto al ff"]
)
def test_a_goal_in_the_words_is_reached(xml, text):
    found = levels(xml, xml.dynamic("p") + xml.words(text) + four(xml), *[four(xml)] * 5)
    assert found[0] == 1
    assert found[-1] == 5
    assert all(a <= b for a, b in pairwise(found))


@pytest.mark.parametrize("text", ["dim. al niente", "morendo al niente"])
def test_niente_is_the_least_there_is(xml, text):
    found = levels(xml, xml.dynamic("p") + xml.words(text) + four(xml), *[four(xml)] * 4)
    assert found[-1] == min(found) < STEPS["ppp"]


def test_a_hairpin_to_nothing(xml):
    # MusicXML 4.0, <wedge>: niente "indicates a crescendo from nothing or diminuendo to
    # nothing", with a stop for the latter.
    stop = xml.direction('<wedge type="stop" niente="yes"/>')
    bar = xml.dynamic("p") + xml.wedge("diminuendo") + four(xml) + stop
    found = levels(xml, bar, xml.note("C5", 4))
    assert all(a > b for a, b in pairwise(found))
    assert found[-1] < STEPS["ppp"]
    rise = xml.direction('<wedge type="crescendo" niente="yes"/>')
    found = levels(xml, rise + four(xml) + xml.wedge("stop"), xml.dynamic("f") + four(xml))
    assert found[0] < STEPS["ppp"]
    assert found[4] == STEPS["f"]


def test_molto_leads_further_and_poco_less_far(xml):
    ends = [
        levels(xml, xml.dynamic("p") + xml.words(w) + four(xml), *[four(xml)] * 5)[-1]
        for w in ("poco cresc.", "cresc.", "cresc. molto")
    ]
    assert ends == sorted(ends)
    assert len(set(ends)) == 3


@pytest.mark.parametrize("text", ["senza cresc.", "non dim.", "ohne Cresc."])
def test_what_is_denied_does_not_happen(xml, text):
    assert set(levels(xml, xml.dynamic("f") + xml.words(text) + four(xml), four(xml))) == {4}


def test_half_a_phrase_belongs_to_the_next_sign(xml):
    more = xml.words("più") + xml.dynamic("f")
    assert levels(xml, xml.dynamic("f") + four(xml), more + four(xml))[4] == 5
    assert levels(xml, xml.words("poco") + xml.dynamic("f") + four(xml))[0] == 3
    gradual = xml.words("poco a poco") + xml.words("cresc.")
    found = levels(xml, xml.dynamic("p") + gradual + four(xml), xml.dynamic("f") + four(xml))
    assert found[0] < found[3] < found[4]


def test_meno_forte(xml):
    bars = [xml.dynamic("f") + four(xml), xml.words("meno f") + four(xml)]
    assert levels(xml, *bars)[4] == 3


@pytest.mark.parametrize(
    ("glued", "step"), [("ffmarc.", 5), ("semprepp", 0), ("pdolce", 1), ("pp subito", 0)]
)
def test_words_glued_to_letters(xml, glued, step):
    sign = xml.direction(f"<dynamics><other-dynamics>{glued}</other-dynamics></dynamics>")
    assert levels(xml, sign + four(xml)) == [step] * 4


def test_words_beside_letters_stand_apart(xml):
    inner = "<dynamics><ff/><other-dynamics>sec</other-dynamics></dynamics>"
    assert levels(xml, xml.direction(inner) + four(xml)) == [5] * 4


def test_letters_written_as_words(xml):
    assert levels(xml, xml.dynamic("p") + xml.note("C5"), xml.words("sf") + four(xml))[1] == 3


def test_sempre_piu_forte_is_a_crescendo(xml):
    bars = [xml.dynamic("p") + four(xml), xml.words("sempre più f") + four(xml), four(xml)]
    found = levels(xml, *bars, xml.dynamic("ff") + four(xml))
    assert all(a < b for a, b in pairwise(found[4:13]))


def test_a_crescendo_is_carried_on_by_the_next_word(xml):
    bars = [
        xml.dynamic("p") + xml.words("cresc.") + four(xml),
        xml.words("sempre cresc.") + four(xml),
        xml.dynamic("ff") + four(xml),
    ]
    steps = [b - a for a, b in pairwise(levels(xml, *bars)[:9])]
    assert steps == pytest.approx([0.5] * 8, abs=0.01)


def test_dashes_end_a_crescendo(xml):
    # MusicXML 4.0, <dashes>: "used for instance with cresc. and dim. marks."
    bars = [
        xml.dynamic("p")
        + xml.words("cresc.")
        + xml.direction('<dashes type="start" number="1"/>')
        + four(xml)
        + xml.direction('<dashes type="stop" number="1"/>'),
        four(xml),
    ]
    found = levels(xml, *bars)
    assert found[4:] == pytest.approx([2] * 4, abs=0.01)


def test_the_word_piano_with_a_capital_is_the_instrument(xml):
    assert levels(xml, xml.dynamic("f") + xml.words("Piano") + four(xml)) == [4] * 4


@pytest.mark.parametrize("letters", ["pf", "sfzp", "fffff", "ppppp", "n"])
def test_rare_letters_are_known(xml, letters):
    # Names of MusicXML 4.0, <dynamics>.
    found = notes(xml, xml.dynamic(letters) + four(xml))
    assert all(n.dynamic_written for n in found)
    assert found[-1].dynamic != 4 or letters == "f"

"""Excerpts carry our identifiers through the engraver and show what is in force."""

import warnings
from pathlib import Path
from xml.etree import ElementTree

import music21
import pytest
import verovio

from auditor.errors import InputError
from auditor.score.engraved import stamped_excerpt
from auditor.score.reading import open_score

CORPUS = Path(music21.__file__).parent / "corpus"


def excerpt(page, parts, first, last):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a first import inside music21
        return stamped_excerpt(page, parts, first, last)


def heads(text):
    notes = ElementTree.fromstring(text).iter("note")
    return {note.get("id") for note in notes if note.find("rest") is None}


def drawn(text):
    verovio.enableLog(verovio.LOG_OFF)
    engraver = verovio.toolkit()
    engraver.setOptions({"breaks": "none"})
    assert engraver.loadData(text)
    return engraver.renderToSVG(1)


@pytest.mark.parametrize(
    ("name", "parts", "first", "last"),
    [
        ("beethoven/opus18no1/movement4.mxl", [1, 4], 40, 44),
        ("haydn/opus74no1/movement3.mxl", [2], 0, 7),
        ("schumann_clara/opus17/movement3.xml", [1, 2, 3], 10, 12),
    ],
)
def test_every_note_of_the_bars_is_drawn_under_its_name(name, parts, first, last):
    page = open_score(CORPUS / name)
    text = excerpt(page, parts, first, last)
    bars = {bar.index for bar in page.score.bars if first <= bar.written_index <= last}
    expected = {
        note.element for note in page.score.notes if note.bar in bars and note.part in parts
    }
    assert len(expected) > 10
    assert expected <= heads(text)
    svg = drawn(text)
    assert [name for name in expected if f'id="{name}"' not in svg] == []


def test_key_time_and_clef_in_force_are_shown(xml):
    change = (
        "<attributes><key><fifths>3</fifths></key>"
        "<time><beats>3</beats><beat-type>4</beat-type></time>"
        "<clef><sign>F</sign><line>4</line></clef></attributes>"
    )
    part = xml.part("Bassoon", xml.note("C4", 4), change + xml.note("C3", 3), xml.note("D3", 3))
    page = open_score(xml.save(xml.score(part)))
    head = ElementTree.fromstring(excerpt(page, [1], 2, 2)).find("part/measure/attributes")
    assert head.findtext("key/fifths") == "3"
    assert head.findtext("time/beats") == "3"
    assert head.findtext("clef/sign") == "F"


def test_a_part_without_a_clef_gets_one(xml):
    text = xml.score(xml.part("Flute", xml.note("C5", 4), xml.note("D5", 4)))
    text = text.replace("<clef><sign>G</sign><line>2</line></clef>", "")
    page = open_score(xml.save(text))
    head = ElementTree.fromstring(excerpt(page, [1], 1, 1)).find("part/measure/attributes")
    assert head.findtext("clef/sign") == "G"


def test_pitches_stay_as_written(xml):
    more = "<transpose><chromatic>-7</chromatic></transpose>"
    page = open_score(xml.save(xml.score(xml.part("Horn", xml.note("C5", 4), more=more))))
    text = excerpt(page, [1], 0, 0)
    assert ElementTree.fromstring(text).findtext("part/measure/note/pitch/octave") == "5"
    assert page.score.notes[0].pitch == 65


def test_both_staves_of_a_part_come_along(xml):
    harp = xml.part(
        "Harp",
        xml.note("C5", 4, staff=1)
        + "<backup><duration>96</duration></backup>"
        + xml.note("C3", 4, voice=5, staff=2),
        more="<staves>2</staves>",
    )
    page = open_score(xml.save(xml.score(harp)))
    text = excerpt(page, [1], 0, 0)
    assert heads(text) == {note.element for note in page.score.notes}
    assert len(ElementTree.fromstring(text).findall("part-list/score-part")) == 1


def test_the_page_is_not_changed_by_cutting(xml):
    path = xml.save(xml.score(xml.part("Flute", xml.note("C5", 4), xml.note("D5", 4))))
    page = open_score(path)
    first = excerpt(page, [1], 0, 1)
    excerpt(page, [1], 1, 1)
    assert heads(excerpt(page, [1], 0, 1)) == heads(first) == {"p1m1n1", "p1m2n1"}


@pytest.mark.parametrize(
    ("parts", "bars", "match"),
    [
        ([], (0, 0), "at least one part"),
        ([7], (0, 0), "no part 7"),
        ([1], (0, 9), "not in the"),
    ],
)
def test_what_is_not_there_is_refused(xml, parts, bars, match):
    page = open_score(xml.save(xml.score(xml.part("Flute", xml.note("C5", 4)))))
    with pytest.raises(InputError, match=match):
        stamped_excerpt(page, parts, *bars)

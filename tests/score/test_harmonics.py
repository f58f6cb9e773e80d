"""Sounding pitch of string harmonics, against the physics of the string."""

import math

import pytest

from auditor.score import harmonics
from auditor.score.reading import read_score


def read(xml, name, *bars, more=""):
    return read_score(xml.save(xml.score(xml.part(name, *bars, more=more))))


def diamond(text):
    return text.replace("</note>", "<notehead>diamond</notehead></note>", 1)


@pytest.mark.parametrize(("node", "sounds"), harmonics._NODES.items())
def test_nodes_are_where_the_string_has_them(node, sounds):
    # An ideal string touched at k/n of its length sounds its nth partial: 12 log2(n) above
    # the open string, and the fret of that point is 12 log2(1 / (1 - k/n)) above it.
    best = min(
        (abs(12 * math.log2(1 / (1 - k / n)) - node), n)
        for n in range(2, 7)
        for k in range(1, n)
        if math.gcd(k, n) == 1
    )
    assert best[0] < 0.2
    assert sounds == round(12 * math.log2(best[1]))


@pytest.mark.parametrize(
    ("base", "touched", "sounds"),
    [
        ("A4", "D5", 93),  # a fourth: two octaves, A6
        ("A4", "C#5", 97),  # a major third: two octaves and a major third
        ("A4", "E5", 88),  # a fifth: an octave and a fifth
    ],
)
def test_artificial_harmonics(xml, base, touched, sounds):
    # The table of any orchestration handbook.
    chord = xml.note(base, 4) + diamond(xml.note(touched, 4, chord=True))
    notes = read(xml, "Violin", chord).notes
    assert [(n.pitch, n.spelling, "harmonic" in n.techniques) for n in notes] == [
        (sounds, base, True)
    ]


def test_the_sounding_note_printed_above_is_the_same(xml):
    chord = xml.note("G4", 4) + diamond(xml.note("C5", 4, chord=True))
    chord += xml.note("G6", 4, chord=True)
    assert [n.pitch for n in read(xml, "Violin", chord).notes] == [91]


def test_artificial_harmonics_spelt_out(xml):
    # MusicXML 4.0, <harmonic>: base-pitch "the pitch at which the string is played before
    # touching", touching-pitch, sounding-pitch "the pitch which is heard".
    def of(pitch, role, chord):
        sign = f"<technical><harmonic><artificial/><{role}-pitch/></harmonic></technical>"
        return xml.note(pitch, 4, notations=sign, chord=chord)

    two = of("A4", "base", False) + of("D5", "touching", True)
    three = two + of("A6", "sounding", True)
    for bar in (two, three):
        assert [n.pitch for n in read(xml, "Violin", bar).notes] == [93]


def test_a_circle_sounds_as_written(xml):
    bar = xml.note("A5", 4, notations="<technical><harmonic/></technical>")
    note = read(xml, "Violin", bar).notes[0]
    assert (note.pitch, note.techniques) == (81, ("harmonic",))


@pytest.mark.parametrize(
    ("name", "touched", "sounds"),
    [
        ("Violin", "G#5", 104),  # a major third on the E string (76): G#7
        ("Violin", "A5", 100),  # a fourth on the E string (76): E7
        ("Cello", "D3", 62),  # a fifth on the G string (43): D4
        ("Viola", "C4", 79),  # a fourth on the G string (55): G5
    ],
)
def test_natural_harmonics_at_the_touched_node(xml, name, touched, sounds):
    bar = diamond(xml.note(touched, 4))
    note = read(xml, name, bar).notes[0]
    assert note.pitch == sounds
    assert "harmonic" in note.techniques


def test_double_bass_nodes_are_printed_an_octave_high(xml):
    more = "<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>"
    # Printed D4 = fifth above the open G string as printed (G3): sounds 43 + 19.
    note = read(xml, "Double Bass", diamond(xml.note("D4", 4)), more=more).notes[0]
    assert note.pitch == 43 + 19


def test_harp_harmonics_sound_an_octave_up(xml):
    # Common practice, no source: written where the string is plucked.
    bar = xml.note("A3", 4, notations="<technical><harmonic/></technical>")
    assert read(xml, "Harp", bar).notes[0].pitch == 69


def test_diamonds_of_others_are_no_harmonics(xml):
    bar = diamond(xml.note("G4", 4))
    note = read(xml, "Flute", bar).notes[0]
    assert (note.pitch, note.techniques) == (67, ())


def test_flageolet_in_words(xml):
    bars = [xml.words("flag.") + xml.note("A5", 4), xml.words("ord.") + xml.note("A5", 4)]
    assert [n.techniques for n in read(xml, "Violin", *bars).notes] == [("harmonic",), ()]

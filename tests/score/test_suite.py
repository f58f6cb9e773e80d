"""The MusicXML conformance suite that music21 carries, read as its files describe themselves.

Each file holds a sentence on what it shows (the field "description"); the figures here were
taken from those sentences and from the files' own lyrics.
"""

import re
from pathlib import Path

import music21
import pytest

from auditor.errors import ScoreError
from auditor.score.reading import read_score

SUITE = Path(music21.__file__).parent / "musicxml" / "lilypondTestSuite"
FILES = sorted([*SUITE.glob("*.xml"), *SUITE.glob("*.mxl")])


def suite(name):
    return read_score(next(SUITE.glob(f"{name}*")))


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_file_is_read_or_has_only_rests(path):
    text = path.read_bytes()
    if path.suffix == ".xml" and b"<pitch>" not in text and b"<unpitched>" not in text:
        with pytest.raises(ScoreError, match="only rests"):
            read_score(path)
    else:
        assert read_score(path).notes


def test_all_pitches_from_g_with_every_sharp_and_flat():
    # "All pitches from G to c'''' in ascending steps; First without accidentals, then with a
    # sharp and then with a flat accidental."
    notes = suite("01a").notes
    naturals = [n for n in notes if len(n.spelling) == 2]
    assert naturals[0].spelling == "G2"
    assert naturals[0].pitch == 43
    assert "C7" in {n.spelling for n in notes}
    assert {n.pitch - 1 for n in notes if n.spelling.count("#") == 1} <= {
        n.pitch for n in naturals
    }
    assert {n.pitch + 1 for n in notes if n.spelling.count("-") == 1} <= {
        n.pitch for n in naturals
    }


def test_rhythm():
    # "All common note durations, from brevis, whole until 64th; First with their plain
    # values, then dotted and finally doubly-dotted (to 32nd)."
    lengths = [n.duration for n in suite("03aa").notes]
    assert lengths[:8] == [8, 4, 2, 1, 1 / 2, 1 / 4, 1 / 8, 1 / 16]
    assert lengths[9:17] == [1.5 * v for v in lengths[:8]]
    assert lengths[18:25] == [1.75 * v for v in lengths[:7]]


def test_divisions_may_change_inside_a_bar():
    assert [n.onset for n in suite("03c").notes] == [0, 1, 2, 3, 4, 6]


def test_time_signatures():
    # "2/2 (alla breve), 4/4 (C), 2/2, 3/2, 2/4, 3/4, 4/4, 5/4, 3/8, 6/8, 12/8"
    lengths = [bar.duration for bar in suite("11a").bars]
    assert lengths == [4, 4, 4, 6, 2, 3, 4, 5, 1.5, 3, 6]


def test_compound_time_signatures():
    # "(3+2)/8 and (5+3+1)/4", "3/8+2/8+3/4 and 5/2+1/8", "(3+2)/8+3/4"
    assert [b.duration for b in suite("11c").bars] == [2.5, 9]
    assert [b.duration for b in suite("11d").bars] == [5.5, 10.5]
    assert [b.duration for b in suite("11e").bars] == [5.5]


def test_a_direction_inside_a_chord_does_not_break_it():
    # "Between the individual notes of a chord there can be direction or harmony elements,
    # which should be properly assigned to the chord (or the position of the chord)."
    score = suite("21f")
    assert {n.onset for n in score.notes} == {0}
    assert [(d.onset, d.text) for d in score.directions] == [(0, "p")]


def test_chords_after_ornaments():
    # "Chords in the second measure, after several ornaments in the first measure and a p at
    # the beginning of the second measure." The fp is nudged to the right on paper only.
    score = suite("21d")
    dynamics = [(d.onset, d.text) for d in score.directions if d.kind == "dynamic"]
    assert dynamics == [(0, "fp"), (4, "p")]
    assert score.notes[0].techniques == ("accent", "fermata")
    assert [n.dynamic for n in score.notes][1:] == [1] * 8


def test_tuplets():
    # "Some tuplets (3:2, 3:2, 3:2, 4:2, 4:1, 7:3, 6:2)"
    lengths = [round(n.duration, 4) for n in suite("23a").notes]
    expected = [2 / 3] * 9 + [1 / 2] * 4 + [1 / 4] * 4 + [3 / 7] * 7 + [1 / 3] * 6
    assert lengths[:30] == [round(v, 4) for v in expected]


def test_tuplets_with_strokes():
    # "the notes with 2/3 of their time", with tremolo strokes on single notes
    found = suite("23e").notes
    assert all("tremolo-measured" in n.techniques for n in found if n.duration >= 1)


def test_grace_notes():
    score = suite("24b")
    graces = [n for n in score.notes if n.grace]
    assert [(n.onset, n.duration) for n in graces] == [(1, 0), (1, 0), (2, 0), (2, 0)]


def test_directions_as_the_lyrics_tell():
    # "The lyrics for each note describes the direction element assigned to that note."
    path = next(SUITE.glob("31a*"))
    letters = re.findall(r"<dynamics[^>]*>\s*<(\w+)", path.read_text())
    found = [d.text for d in read_score(path).directions if d.kind == "dynamic"]
    assert [t for t in letters if t != "other"] == [t for t in found if t in letters]
    rehearsals = [d.text for d in read_score(path).directions if d.kind == "rehearsal"]
    assert rehearsals == ["A", "B", "Test", "Crc"]


def test_metronome_marks():
    # "Tempo Markings: note=bpm, text (note=bpm), note=note, (note=note), (note=bpm)"
    texts = [d.text for d in suite("31c").directions if d.kind == "tempo"]
    assert texts[0] == "dotted quarter = 100"
    assert "Adagio" in texts
    assert "dotted quarter = dotted half" in texts
    assert suite("31c").bars[0].tempo == 150


@pytest.mark.parametrize(
    ("name", "at", "word"),
    [
        ("32a", 0, "fermata"), ("32a", 5, "arpeggio"), ("32a", 8, "accent"),
        ("32a", 9, "marcato"), ("32a", 10, "staccato"), ("32a", 11, "tenuto"),
        ("32a", 12, "portato"), ("32a", 13, "staccatissimo"), ("32a", 14, "spiccato"),
        ("32a", 19, "breath"), ("32a", 20, "caesura"), ("32aa", 0, "trill"),
        ("32aa", 1, "turn"), ("32aa", 8, "mordent"), ("32aa", 10, "schleifer"),
        ("32aa", 11, "tremolo"), ("32ab", 0, "up-bow"), ("32ab", 1, "down-bow"),
        ("32ab", 2, "harmonic"), ("32ab", 8, "open"), ("32ab", 9, "thumb"),
        ("32ab", 20, "double-tongue"), ("32ab", 21, "triple-tongue"), ("32ab", 22, "stopped"),
        ("32ab", 23, "snap-pizz"),
    ],
)  # fmt: skip
def test_notations_as_the_lyrics_tell(name, at, word):
    score = suite(name)
    assert {word} <= {w for n in score.notes if n.onset == at for w in n.techniques}


def test_it_makes_no_difference_how_articulations_are_grouped():
    # "Thus, all three notes should have a staccato and an accent."
    assert [n.techniques for n in suite("32c").notes] == [("accent", "staccato")] * 3


def test_slurs():
    # "A note can be the end of one slur and the start of a new slur. Also, ... in the second
    # measure where one slur goes over all four notes, and another slur goes from the second
    # to the third note."
    score = suite("33c")
    slurs = [(d.onset, d.end) for d in score.directions if d.kind == "slur"]
    assert (4, 8) in slurs
    assert (5, 7) in slurs
    assert ["slurred" in n.techniques for n in score.notes] == [False, True, True, True] * 2


def test_ties():
    # "Two simple tied whole notes"
    assert [(n.onset, n.duration) for n in suite("33b").notes] == [(0, 8)]


def test_octave_shifts_leave_the_pitch():
    # "All types of octave shifts (15ma, 15mb, 8va, 8vb)": the file's pitches are sounding.
    assert [n.spelling for n in suite("33d").notes][:4] == ["A4", "C5", "A6", "C3"]


def test_wavy_lines_are_trills():
    assert all("trill" in n.techniques for n in suite("99c").notes)


def test_parts_come_in_the_order_of_the_list():
    # "A piece with four parts (P0, P1, P2, P3; different from what Finale creates!)."
    assert [p.name for p in suite("41a").parts] == [f"Part {k}" for k in range(1, 5)]


def test_a_part_without_an_id(tmp_path):
    # "Since this piece has only one part, it is clear which part is described"
    text = next(SUITE.glob("41g*")).read_text()
    pitch = "<pitch><step>C</step><octave>5</octave></pitch>"
    path = tmp_path / "score.xml"
    path.write_text(re.sub(r"<rest[^>]*/>", pitch, text))
    assert len(read_score(path).parts) == 1


def test_a_big_orchestra():
    # "A huge orchestra score with 28 parts"; a few of its names, as instruments
    keys = [part.instrument.key for part in suite("41c").parts]
    assert len(keys) == 28
    assert keys[:4] == ["piccolo", "flute", "flute", "oboe"]
    assert keys[-3:] == ["viola", "cello", "double-bass"]


def orders(tmp_path, name):
    text = next(SUITE.glob(f"{name}*")).read_text()
    pitch = "<pitch><step>C</step><octave>5</octave></pitch>"
    path = tmp_path / "score.xml"
    path.write_text(re.sub(r"<rest[^>]*/>", pitch, text))
    score = read_score(path)
    return [int(bar.number) for bar in score.bars], score.remarks


@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("45a", [1] * 5 + [2]),  # "A simple, repeated measure (repeated 5 times)"
        ("45b", [1, 2, 1, 3, 4]),  # "A simple repeat with two alternative endings"
        ("45c", [1, *[2, 3] * 5, *[4, 5, 6, 7] * 3, 8]),  # times="5", times="3"
        ("45e", [1, 2, 1, 3, 4, 5, 5, 6, 7, 6, 8, 9, 8, 9, 10]),
        ("45g", [1, 2]),  # "A forward-repeating bar line without an ending repeat bar."
    ],
)
def test_repeats(tmp_path, name, order):
    assert orders(tmp_path, name)[0] == order


def test_repeats_that_make_no_sense_are_read_straight_through(tmp_path):
    # "where the MusicXML file does not make sense in the first place"
    order, remarks = orders(tmp_path, "45f")
    assert order == [1, 2, 3, 4, 5]
    assert any("badly formed" in remark for remark in remarks)


def test_pickups_and_short_bars():
    # "A 3/8 pickup measure, a measure that is split into one (incomplete, only 2/4) measure
    # and an implicit measure, and an incomplete measure (containg 3/4)."
    bars = suite("46d").bars
    assert [(b.number, b.duration) for b in bars] == [("0", 1.5), ("1", 2), ("X1", 2), ("2", 3)]
    # "Voice 2 should start at 2nd beat of first full measure."
    second = [n for n in suite("46e").notes if n.voice == "2"]
    assert min(n.onset for n in second) == 2
    # "the first and third measures contain only two quarters instead of four"
    assert [b.duration for b in suite("46f").bars] == [2, 4, 2, 4]


def test_every_transposition_sounds_the_same():
    # "Each part plays a c'', just displayed in different display pitches."
    pitches = [n.pitch for n in suite("72b").notes]
    assert pitches.count(72) >= 9


def test_percussion():
    # "A five-line staff with bass clef for Timpani, ... percussion staff with only unpitched"
    score = suite("73a")
    assert [p.name for p in score.parts] == ["Timpani", "Cymbals", "Triangle"]
    assert [n.unpitched for n in score.notes if n.part == 1] == [False, False]
    assert all(n.unpitched for n in score.notes if n.part > 1)

import music21
import pytest

from auditor.craft import harp, keyboards, percussion
from auditor.craft.percussion import remarks


@pytest.mark.parametrize("key", percussion.BARS)
def test_every_note_of_the_range_is_there(made, kinds, key):
    from auditor.score import instruments

    one = instruments.entry(key).instrument
    score = made.page([(key, [made.note(0, one.low), made.note(2, one.high)])])
    assert kinds(remarks, score) == []


# Trade: glockenspiels from F5, xylophones from C4, vibraphones from C3; none goes an octave
# lower. Common practice, no source.
@pytest.mark.parametrize(
    ("key", "pitch", "weight"),
    [
        ("glockenspiel", 77, "risky"), ("glockenspiel", 67, "cannot be played"),
        ("xylophone", 60, "risky"), ("xylophone", 53, "cannot be played"),
        ("vibraphone", 48, "risky"), ("marimba", 35, "cannot be played"),
        ("crotales", 72, "cannot be played"),
    ],
)  # fmt: skip
def test_beyond_the_bars(made, kinds, key, pitch, weight):
    # A note in the middle keeps the part from being taken for one an octave off.
    score = made.page([(key, [made.note(0, pitch)])])
    assert kinds(remarks, score) == [("out-of-range", weight)]


# S. Solomon, How to Write for Percussion: four mallets in comfort; an octave between the two of
# a hand at the bottom of a five-octave marimba.
@pytest.mark.parametrize(
    ("pitches", "expected"),
    [
        ((48, 60), []),
        ((48, 55, 60, 64), [("four-mallets", "worth a thought")]),
        ((40, 52, 60, 72), [("four-mallets", "worth a thought")]),
        ((40, 54, 60, 74), [("mallets-too-wide", "risky")]),
        ((48, 52, 55, 60, 64), [("too-many-mallets", "cannot be played")]),
    ],
)
def test_mallets_on_the_marimba(made, kinds, pitches, expected):
    score = made.page([("marimba", made.chord(0, pitches))])
    assert kinds(remarks, score) == expected


def test_tubular_bells_take_one_hammer_a_hand(made, kinds):
    score = made.page([("tubular-bells", made.chord(0, (60, 64, 67)))])
    assert kinds(remarks, score) == [("too-many-mallets", "cannot be played")]


@pytest.mark.parametrize(
    ("key", "count", "expected"),
    [
        ("tom-toms", 2, []), ("tom-toms", 3, [("strokes-at-once", "risky")]),
        ("drum-kit", 4, []), ("drum-kit", 5, [("strokes-at-once", "risky")]),
        ("percussion", 3, [("strokes-at-once", "worth a thought")]),
    ],
)  # fmt: skip
def test_hands_for_drums(made, kinds, key, count, expected):
    score = made.page([(key, made.chord(0, range(60, 60 + 2 * count, 2)))])
    assert kinds(remarks, score) == expected


SET = ("bass-drum", "cymbals", "snare-drum", "triangle", "tambourine")


def entering(made, seconds_apart):
    """One instrument after the other, each for a quarter of a second."""
    return made.page(
        [(key, [made.note(seconds_apart * k, 60, 0.25)]) for k, key in enumerate(SET)], bars=16
    )


def test_players_are_counted_where_nobody_has_time_to_walk_over(made, kinds):
    assert kinds(remarks, entering(made, 0.5)) == [("percussion-players", "worth a thought")]
    assert kinds(remarks, entering(made, 8.0)) == []
    assert kinds(remarks, entering(made, 8.0), percussion_change_s=40.0) == [
        ("percussion-players", "worth a thought")
    ]


# Most hands span a ninth, few a tenth: common practice, no source.
@pytest.mark.parametrize(
    ("right", "expected"),
    [
        ((60, 74), []), ((60, 76), [("hand-too-wide", "risky")]),
        ((60, 79), [("hand-too-wide", "cannot be played")]),
    ],
)  # fmt: skip
@pytest.mark.parametrize("key", ["piano", "celesta"])
def test_spans_at_the_keyboard(made, kinds, key, right, expected):
    # Five notes below keep the left hand busy and out of reach.
    shift = 24 if key == "celesta" else 0
    chord = made.chord(0, [p + shift for p in (36, 38, 40, 43, 45, *right)])
    assert kinds(keyboards.remarks, made.page([(key, chord)])) == expected


def test_eleven_notes_are_more_than_ten_fingers(made, kinds):
    score = made.page([("piano", made.chord(0, range(48, 70, 2)))])
    assert kinds(keyboards.remarks, score) == [("too-many-notes", "cannot be played")]
    rolled = made.page([("piano", made.chord(0, range(48, 70, 2), techniques=("arpeggio",)))])
    assert kinds(keyboards.remarks, rolled) == []


# music21 10.5 gives piano, harpsichord and harp their lowest and highest notes.
@pytest.mark.parametrize(
    ("key", "name", "family"),
    [
        ("piano", "Piano", keyboards), ("harpsichord", "Harpsichord", keyboards),
        ("harp", "Harp", harp),
    ],
)  # fmt: skip
def test_compass_is_at_least_that_of_music21(made, kinds, key, name, family):
    one = getattr(music21.instrument, name)()
    ends = [
        made.note(2 * k, p.midi, spelling=p.nameWithOctave)
        for k, p in enumerate((one.lowestNote, one.highestNote))
    ]
    assert kinds(family.remarks, made.page([(key, ends)])) == []


# 88 keys from A0 to C8: common knowledge of the trade.
@pytest.mark.parametrize(
    ("pitch", "expected"),
    [(21, []), (108, []), (20, "risky"), (109, "cannot be played")],
)
def test_keys_of_the_piano(made, kinds, pitch, expected):
    found = kinds(keyboards.remarks, made.page([("piano", [made.note(0, pitch)])]))
    assert found == ([("out-of-range", expected)] if expected else [])


def test_a_celesta_written_without_its_octave_is_read_with_it(made, kinds):
    from dataclasses import replace

    score = made.page([("celesta", [made.note(k, 52 + k) for k in range(8)])])
    part = score.parts[0]
    untransposed = replace(part, instrument=replace(part.instrument, transposition=0))
    assert kinds(keyboards.remarks, replace(score, parts=(untransposed,))) == []
    assert {w for _, w in kinds(keyboards.remarks, score)} == {"risky"}

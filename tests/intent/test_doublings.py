import pytest

from auditor.intent.doublings import find_doublings

TUNE = "c5 d5 e5 g5 f5 e5 d5 b4 c5:2 a4 b4 c5:4"


def octave(text: str, by: int) -> str:
    """Move every note name by octaves; lengths stay."""
    words = []
    for word in text.split():
        name, colon, length = word.partition(":")
        name = name if name == "r" else f"{name[:-1]}{int(name[-1]) + by}"
        words.append(name + colon + length)
    return " ".join(words)


def test_unison_and_octave_are_found_with_their_interval(make):
    score = make(
        ("Violin 1", "violin", TUNE),
        ("Flute", "flute", octave(TUNE, 1)),
        ("Cello", "cello", octave(TUNE, -2)),
    )
    found = {(d.line, d.of): d.interval for d in find_doublings(score)}
    assert found[(2, 1)] == 12
    assert found[(3, 1)] == -24
    assert all((d.first_bar, d.last_bar) == (0, 3) for d in find_doublings(score))


def test_repeated_notes_agree_with_held_ones(make):
    """A flute that holds what the violins repeat is their doubling."""
    held = "c5:2 d5:2 e5:2 f5:2 g5:4"
    repeated = " ".join(f"{p}5:0.25 " * 8 for p in "cdef") + "g5:0.25 " * 16
    score = make(("Flute", "flute", held), ("Violin 1", "violin", repeated))
    (one,) = find_doublings(score)
    assert one.interval == 0
    assert (one.first_bar, one.last_bar) == (0, 2)


def test_an_ornament_and_a_dropped_note_do_not_end_it(make):
    plain = "c5 d5 e5 f5 g5 f5 e5 d5 c5 d5 e5 f5"
    adorned = "c5 d5 e5:0.75 d5:0.125 e5:0.125 f5 g5 r e5 d5 c5 d5 e5 f5"
    score = make(("Violin 1", "violin", plain), ("Oboe", "oboe", adorned))
    (one,) = find_doublings(score)
    assert (one.line, one.of) == (2, 1)
    assert (one.first_bar, one.last_bar) == (0, 2)


def test_a_hand_over_ends_it(make):
    """The oboe doubles for two bars, then goes its own way."""
    first = "c5 d5 e5 f5 g5 f5 e5 d5 c5 d5 e5 f5 g5 a5 b5 c6"
    second = "c5 d5 e5 f5 g5 f5 e5 d5 a4:4 g4:4"
    score = make(("Violin 1", "violin", first), ("Oboe", "oboe", second))
    (one,) = find_doublings(score)
    assert (one.first_bar, one.last_bar) == (0, 1)


@pytest.mark.parametrize(
    "other",
    ["e5 f5 g5 b5 a5 g5 f5 d5 e5:2 c5 d5 e5:4", "g4:4 g4:4 e4:4 g4:4", "r:8 c5 e5 g5 c6 r:4"],
)
def test_thirds_chords_and_answers_are_no_doublings(make, other):
    assert not find_doublings(make(("Violin 1", "violin", TUNE), ("Oboe", "oboe", other)))


@pytest.mark.parametrize("by", [-5, 1, 7])
def test_transposing_everything_changes_nothing(make, by):
    lines = (("Violin 1", "violin", TUNE), ("Flute", "flute", octave(TUNE, 1)))
    assert find_doublings(make(*lines, transpose=by)) == find_doublings(make(*lines))


def test_the_order_of_lines_changes_only_numbers(make):
    violin, flute = ("Violin 1", "violin", TUNE), ("Flute", "flute", octave(TUNE, 1))
    (a,) = find_doublings(make(violin, flute))
    (b,) = find_doublings(make(flute, violin))
    assert (a.line, a.of, a.interval) == (b.of, b.line, b.interval)

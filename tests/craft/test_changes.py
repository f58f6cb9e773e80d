import pytest

from auditor.craft import changes


def switch(made, key, before, after, gap, **more):
    """Two notes, a second each at 60, `gap` seconds apart, words before and after."""
    notes = [
        made.note(0, 60, 1, techniques=before),
        made.note(1 + gap, 60, 1, techniques=after),
    ]
    return made.page([(key, notes)], tempo=60.0, **more)


# All seconds: common practice, no source; the tests move them about.
@pytest.mark.parametrize(
    ("key", "before", "after", "kind", "needs"),
    [("violin", (), ("mute",), "time-to-mute", 3.0),
     ("violin", ("mute",), (), "time-to-mute", 2.0),
     ("trumpet", (), ("mute",), "time-to-mute", 3.0)],
)  # fmt: skip
def test_time_for_the_mute(made, kinds, key, before, after, kind, needs):
    assert kinds(changes.remarks, switch(made, key, before, after, needs)) == []
    assert kinds(changes.remarks, switch(made, key, before, after, 0.7 * needs)) == [
        (kind, "worth a thought")
    ]
    assert kinds(changes.remarks, switch(made, key, before, after, 0.2)) == [(kind, "risky")]


def test_no_time_at_all_for_a_mute_cannot_be_played(made, kinds):
    notes = [made.note(0, 60, 0.1), made.note(0.1, 60, 1, techniques=("mute",))]
    score = made.page([("trombone", notes)])
    assert kinds(changes.remarks, score) == [("time-to-mute", "cannot be played")]


def test_a_plucked_note_frees_the_hand_at_once(made, kinds):
    # Arco follows at the end of a plucked second: a second to take up the bow.
    assert kinds(changes.remarks, switch(made, "cello", ("pizz",), (), 0)) == []
    short = [
        made.note(0, 60, 0.25, techniques=("pizz",)),
        made.note(0.25, 60, 1),
    ]
    assert kinds(changes.remarks, made.page([("cello", short)])) == [
        ("time-to-arco", "worth a thought")
    ]


@pytest.mark.parametrize(
    ("key", "words", "quarters", "expected"),
    [("percussion", ("Triangle", "Bass Drum"), 1, "time-to-cross-the-section"),
     ("percussion", ("Triangle", "Bass Drum"), 4, None),
     ("percussion", ("Triangle", "Triangle"), 1, None),
     ("glockenspiel", ("dolce", "Xylophone"), 1, "time-to-cross-the-section"),
     ("glockenspiel", ("Glockenspiel", "leggiero"), 1, None)],
)  # fmt: skip
def test_a_percussionist_walks_over(made, kinds, key, words, quarters, expected):
    # A struck note frees the hands at once; at 60 a quarter is a second, and two are needed.
    notes = [made.note(b * quarters, 84, 1) for b in range(4)]
    signs = [made.sign("words", 1, 0.0, words[0]),
             made.sign("words", 1, 2.0 * quarters, words[1])]  # fmt: skip
    found = kinds(changes.remarks, made.page([(key, notes)], tempo=60.0, directions=signs))
    assert [k for k, _ in found] == ([expected] if expected else [])


@pytest.mark.parametrize("gap", [0.0, 0.05, 0.2, 0.5, 1.0, 3.0, 10.0])
def test_more_time_is_never_worse(made, kinds, gap):
    def weight(seconds):
        order = ["worth a thought", "risky", "cannot be played"]
        found = kinds(changes.remarks, switch(made, "viola", (), ("mute",), seconds))
        return max([order.index(w) + 1 for _, w in found], default=0)

    assert weight(gap + 0.5) <= weight(gap)


def test_faster_tempo_leaves_less_time(made, kinds):
    notes = [made.note(0, 60, 1), made.note(4, 60, 1, techniques=("mute",))]
    assert kinds(changes.remarks, made.page([("violin", notes)], tempo=50.0)) == []
    assert kinds(changes.remarks, made.page([("violin", notes)], tempo=120.0)) == [
        ("time-to-mute", "worth a thought")
    ]


@pytest.mark.parametrize(
    ("key", "shifts", "expected"),
    [("clarinet", (2, 3), 1), ("clarinet", (2, 2), 0), ("horn", (7, 10), 0),
     ("flute", (0, 5), 1), ("flute", (0, 12), 0)],
)  # fmt: skip
def test_another_woodwind_takes_time_and_a_crook_does_not(made, kinds, key, shifts, expected):
    # Horn parts in several keys are read on one instrument today.
    notes = [
        made.note(at, 72, 1, written_pitch=72 + shift)
        for at, shift in zip((0, 2), shifts, strict=True)
    ]
    found = kinds(changes.remarks, made.page([(key, notes)], tempo=120.0))
    assert [k for k, _ in found] == ["time-to-change-instrument"] * expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [("muta in Piccolo", 1), ("to Alto Flute", 1), ("nimmt Piccolo", 1), ("to the end", 0),
     ("dolce", 0)],
)  # fmt: skip
def test_words_that_ask_for_another_instrument(made, kinds, text, expected):
    notes = [made.note(0, 72, 4), made.note(4, 72, 4)]
    score = made.page([("flute", notes)], directions=[(1, 4.0, text)])
    found = kinds(changes.remarks, score)
    assert [k for k, _ in found] == ["time-to-change-instrument"] * expected


def test_the_first_sticks_are_in_the_hand(made, kinds):
    notes = [made.note(b, 60, 1) for b in range(16)]
    first, second = (1, 0.0, "soft sticks"), (1, 8.0, "hard sticks")
    one = made.page([("bass-drum", notes)], directions=[first])
    two = made.page([("bass-drum", notes)], directions=[first, second])
    assert kinds(changes.remarks, one) == []
    assert [k for k, _ in kinds(changes.remarks, two)] == ["time-to-change-sticks"]

import pytest

from auditor.craft.harp import remarks

STAVES = {"left": "2.1", "right": "1.1"}


def harp(made, *notes, **more):
    return made.page([("harp", list(notes))], **more)


def struck(made, onset, left, right, **more):
    return [
        *made.chord(onset, left, voice=STAVES["left"], **more),
        *made.chord(onset, right, voice=STAVES["right"], **more),
    ]


def test_eight_notes_within_two_tenths_are_usual(made, kinds):
    chord = struck(made, 0, (48, 52, 55, 60), (64, 67, 72, 76))
    assert kinds(remarks, harp(made, *chord)) == []


# E. Volpé Bligh: four fingers a hand, the little finger does not play.
def test_nine_notes_at_once_are_too_many_unless_rolled(made, kinds):
    notes = (48, 52, 55, 60), (64, 67, 72, 76, 79)
    assert kinds(remarks, harp(made, *struck(made, 0, *notes))) == [
        ("too-many-notes", "cannot be played")
    ]
    rolled = struck(made, 0, *notes, techniques=("arpeggio",))
    assert kinds(remarks, harp(made, *rolled)) == []


@pytest.mark.parametrize(
    ("right", "weight"), [((64, 80), None), ((64, 82), "risky"), ((64, 86), "cannot be played")]
)
def test_a_hand_spans_a_tenth_and_stretches_to_a_twelfth(made, kinds, right, weight):
    # The left hand is full and far below, so that the right one has to take both.
    chord = struck(made, 0, (36, 40, 43, 48), right)
    assert kinds(remarks, harp(made, *chord)) == ([("hand-too-wide", weight)] if weight else [])


def test_a_hand_with_too_much_may_be_helped_by_the_other(made, kinds):
    chord = struck(made, 0, (48,), (60, 64, 67, 72, 76))
    assert kinds(remarks, harp(made, *chord)) == [("hands-uneven", "worth a thought")]


def test_the_right_hand_has_a_floor_that_can_be_set(made, kinds):
    low = struck(made, 0, (26, 33), (38, 43))
    assert kinds(remarks, harp(made, *low)) == [("both-hands-low", "risky")]
    assert kinds(remarks, harp(made, *low), harp_right_floor=36.0) == []


# Abjad 3.19 and E. Volpé Bligh: 47 strings, from C flat 1 to G sharp 7.
@pytest.mark.parametrize(("pitch", "found"), [(23, 0), (22, 1), (104, 0), (105, 1)])
def test_strings_end_at_c_flat_and_g_sharp(made, kinds, pitch, found):
    spelling = {23: "C-1", 104: "G#7"}.get(pitch, "A7")
    score = harp(made, made.note(0, pitch, spelling=spelling))
    assert kinds(remarks, score) == [("out-of-range", "cannot be played")] * found


def test_one_letter_in_two_settings_is_saved_by_another_name(made, kinds):
    score = harp(made, made.note(0, 60, spelling="C4"), made.note(0, 73, spelling="C#5"))
    assert kinds(remarks, score) == [("pedal-contradiction", "risky")]


def test_g_its_sharp_and_a_are_saved_by_nothing(made, kinds):
    score = harp(
        made,
        made.note(0, 67, spelling="G4"),
        made.note(0, 68, spelling="G#4"),
        made.note(0, 69, spelling="A4"),
    )
    assert ("pedal-contradiction", "cannot be played") in kinds(remarks, score)


def test_the_rescue_is_named(made):
    from auditor.craft.limits import CraftLimits
    from auditor.craft.page import Page

    notes = [
        made.note(0.1 * k, 65 + k % 2, 0.1, spelling=("F4", "F#4")[k % 2]) for k in range(4)
    ]
    one = next(iter(remarks(Page(harp(made, *notes), CraftLimits()), CraftLimits())))
    assert one.kind == "pedals-impossible"
    assert "G flat for F sharp" in one.remedy or "E sharp for F" in one.remedy


def test_pedals_have_time_between_slow_notes_and_none_between_fast_ones(made, kinds):
    def step(quarters):
        return harp(
            made,
            made.note(0, 67, 0.05, spelling="G4"),
            made.note(quarters, 69, 0.05, spelling="A4"),
            made.note(2 * quarters, 68, 0.05, spelling="G#4"),
            made.note(2 * quarters, 70, 0.05, spelling="A#4"),
        )

    assert kinds(remarks, step(2.0)) == []
    assert [k for k, _ in kinds(remarks, step(0.4))] == ["pedals-hurried"]
    assert "pedals-impossible" in [k for k, _ in kinds(remarks, step(0.1))]


# E. Volpé Bligh: the bottom C and D have no discs.
def test_the_bottom_strings_keep_one_setting(made, kinds):
    both = (made.note(0, 24, spelling="C1"), made.note(12, 25, spelling="C#1"))
    assert kinds(remarks, harp(made, *both)) == [("bottom-string", "risky")]
    assert kinds(remarks, harp(made, *both[:1])) == []


def test_without_spelling_the_names_that_move_least_are_taken(made, kinds):
    chromatic = [made.note(k, 60 + k, spelling="") for k in range(6)]
    assert kinds(remarks, harp(made, *chromatic)) == []


def test_two_harps_share_what_is_too_much_for_one(made, kinds):
    chord = struck(made, 0, (48, 52, 55, 60), (64, 67, 72, 76, 79))
    assert kinds(remarks, harp(made, *chord, players={1: 2})) == []

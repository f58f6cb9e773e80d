import numpy as np
import pytest

from auditor.craft import leading, texture
from auditor.craft.limits import CraftLimits
from auditor.craft.moments import moments, stretches
from auditor.craft.naming import tone_name
from auditor.craft.page import Page


def struck(made, pitches, dynamic=4.0, length=8.0):
    """One held note a part; the instrument does not matter to texture."""
    return made.page([("cello", [made.note(0, p, length, dynamic=dynamic)]) for p in pitches])


# Rimsky-Korsakov, Principles (1922), ch. III: octaves and sixths low, fifths and fourths in
# the middle, thirds and seconds high.
@pytest.mark.parametrize(
    ("pitches", "expected"),
    [((36, 48, 55, 60, 64), []), ((36, 45, 52, 57, 60), []),
     ((36, 40, 48, 55, 60), ["low-spacing"]), ((40, 43, 52, 59, 64), ["low-spacing"]),
     ((60, 64, 67, 72, 76), [])],
)  # fmt: skip
def test_close_intervals_are_kept_from_the_bottom(made, kinds, pitches, expected):
    assert [k for k, _ in kinds(texture.remarks, struck(made, pitches))] == expected


def test_spacing_is_by_pitch_so_a_transposition_upwards_only_helps(made, kinds):
    count = [
        len(kinds(texture.remarks, struck(made, [p + k for p in (36, 40, 48, 55, 60)])))
        for k in range(12)
    ]
    assert count == sorted(count, reverse=True)
    assert count[0] == 1
    assert count[-1] == 0


def test_a_loud_chord_has_no_hole_in_its_middle(made, kinds):
    # Rimsky-Korsakov, ch. III: no gap in the middle of a loud chord; the bass stands apart.
    gaping = (36, 48, 52, 76, 79, 84)
    assert [k for k, _ in kinds(texture.remarks, struck(made, gaping))] == ["hole"]
    assert kinds(texture.remarks, struck(made, gaping, dynamic=1.0)) == []
    assert kinds(texture.remarks, struck(made, (36, 60, 64, 67, 72, 76))) == []
    # The bass may stand an octave and more below the rest, but not three.
    two_below = (36, 36, 72, 76, 79, 84)
    assert [k for k, _ in kinds(texture.remarks, struck(made, two_below))] == ["hole"]
    assert kinds(texture.remarks, struck(made, (36, 36, 60, 64, 67, 72))) == []


def test_a_loud_tutti_wants_a_bass(made, kinds):
    chord = (60, 64, 67, 72, 76, 79)
    assert [k for k, _ in kinds(texture.remarks, struck(made, chord))] == ["no-bass"]
    assert kinds(texture.remarks, struck(made, (36, *chord))) == []
    assert kinds(texture.remarks, struck(made, chord, dynamic=2.0)) == []


@pytest.mark.parametrize(("apart", "expected"), [(0, ["doubled-by-all"]), (4, [])])
def test_a_tune_that_everyone_doubles(made, kinds, apart, expected):
    def part(k):
        low = 36 + 12 * (k % 4)
        return [made.note(b, low + step + (apart if k % 4 < 2 else 0), 1, dynamic=3.0)
                for b, step in enumerate((0, 2, 4, 5, 7, 5, 4, 2))]  # fmt: skip

    score = made.page([("cello", part(k)) for k in range(9)])
    assert [k for k, _ in kinds(texture.remarks, score)] == expected


def test_register_weight_counts_players_by_register_and_dynamic(made):
    # Registers begin at C3, C4, C5, C6; two players at mf for half a bar weigh one.
    notes = [
        made.note(0, 36, 4),
        made.note(4, 60, 2, players=2.0),
        made.note(8, 84, 4, dynamic=4.0),
    ]
    weight = texture.register_weight(Page(made.page([("cello", notes)], bars=4), CraftLimits()))
    assert weight.shape == (4, len(texture.REGISTERS))
    expected = np.zeros((4, 5))
    expected[0, 0], expected[1, 2], expected[2, 4] = 1.0, 1.0, 1.5
    np.testing.assert_allclose(weight, expected)


def test_register_weight_of_a_note_held_over_bars_is_spread(made):
    page = Page(made.page([("cello", [made.note(2, 60, 8)])], bars=3), CraftLimits())
    np.testing.assert_allclose(texture.register_weight(page)[:, 2], [0.5, 1.0, 0.5])


def test_moments_cover_what_sounds_once(made):
    notes = [made.note(0, 60, 3), made.note(4, 62, 4)]
    page = Page(made.page([("flute", notes), ("oboe", [made.note(1, 72, 5)])]), CraftLimits())
    cut = moments(page)
    assert [(m.onset, m.end, len(m.notes)) for m in cut] == [
        (0, 1, 1), (1, 3, 2), (3, 4, 1), (4, 6, 2), (6, 8, 1),
    ]  # fmt: skip
    rows = list(stretches(cut, lambda m: len(m.notes) == 2, 2.0))
    assert [(row[0].onset, row[-1].end) for row in rows] == [(1, 3), (4, 6)]


def cadence(made, inner, tune=(76, 74, 72), key=0, fourth=True):
    """ii, V7, I in four or more parts; `inner` are two lines of three notes each."""
    bass = (50, 43, 48)
    lines = [tune, *inner, (65, 65 if fourth else 62, 64), bass]
    return made.page(
        [
            ("viola", [made.note(4 * k, p + key, 4) for k, p in enumerate(line)])
            for line in lines
        ]
    )


# The rule of every harmony book: the leading note is not doubled between independent parts.
@pytest.mark.parametrize("key", [0, 1, 5, -2])
def test_a_leading_note_in_two_independent_parts(made, kinds, key):
    apart = ((62, 59, 60), (57, 59, 55))
    assert kinds(leading.remarks, cadence(made, apart, key=key)) == [
        ("leading-note-doubled", "worth a thought")
    ]


def test_an_octave_doubling_is_one_line(made, kinds):
    assert kinds(leading.remarks, cadence(made, ((60, 59, 60), (72, 71, 72)))) == []


def test_another_doubled_tone_is_left_alone(made, kinds):
    assert kinds(leading.remarks, cadence(made, ((62, 59, 60), (57, 55, 55)))) == []


def test_the_tonic_before_the_subdominant_is_no_dominant(made, kinds):
    # C major to F major in C: E is no leading note.
    lines = [(67, 72, 72), (71, 76, 77), (69, 64, 60), (62, 64, 65), (55, 48, 53), (59, 59, 57)]
    score = made.page(
        [("viola", [made.note(4 * k, p, 4) for k, p in enumerate(line)]) for line in lines]
    )
    assert kinds(leading.remarks, score) == []


def test_broken_chords_are_no_voices_of_the_harmony(made, kinds):
    score = cadence(made, ((62, 59, 60),))
    broken = [
        made.note(k / 2, p, 0.5) for k, p in enumerate((57, 62, 57, 62) * 2 + (59, 55) * 4)
    ]
    plain = [(p.instrument.key, []) for p in score.parts]
    for part, row in enumerate(plain):
        row[1].extend(
            made.note(n.onset, n.pitch, n.duration) for n in score.notes if n.part == part + 1
        )
    assert kinds(leading.remarks, made.page([*plain, ("viola", broken)])) == []


@pytest.mark.parametrize(
    ("printed", "up", "expected"),
    [("D#5", 0, "D sharp"), ("E-5", 0, "E flat"), ("F5", 2, "E flat")],
)
def test_a_tone_is_named_as_it_is_printed_in_c(made, printed, up, expected):
    notes = [made.note(0, 75, spelling=printed, written_pitch=75 + up)]
    page = Page(made.page([("clarinet", notes)]), CraftLimits())
    assert tone_name(page.notes_of(1)) == expected

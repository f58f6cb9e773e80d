from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.craft.drums import (
    RANGES,
    USUAL_SET,
    Stroke,
    drum_set,
    drums_needed,
    retunings,
)
from auditor.craft.timpani import remarks


def timpani(made, *notes, **more):
    return made.page([("timpani", list(notes))], **more)


# J. J. Papastefan, Timpani Sizes and Ranges: a pair (29 and 26 inches) gives every note from
# F2 to F3, the 20-inch drum carries on to C4; four drums of 32, 29, 26, 23 are the set.
def test_the_set_covers_what_papastefan_says():
    pair = {p for size in (29, 26) for p in range(RANGES[size][0], RANGES[size][1] + 1)}
    assert set(range(41, 54)) <= pair
    assert RANGES[20][1] == 60
    assert USUAL_SET == (32, 29, 26, 23)


# An instrumentation handbook's largest ranges by diameter in cm (75-80: C2 to C3, 65-70: E2 to
# E3, 60-65: A flat 2 to A flat 3, 55-60: C3 to G sharp 3, 50-60: C3 to C sharp 4).
@pytest.mark.parametrize(
    ("inches", "low", "high"), [(32, 36, 48), (26, 40, 56), (23, 48, 61), (20, 48, 61)]
)
def test_no_drum_is_given_more_than_the_handbook(inches, low, high):
    assert low <= RANGES[inches][0]
    assert RANGES[inches][1] <= high


@pytest.mark.parametrize(
    ("pitch", "expected"),
    [
        (38, []), (57, []),
        (37, [("special-drum", "worth a thought")]),
        (60, [("special-drum", "worth a thought")]),
        (35, [("out-of-range", "cannot be played")]),
        (61, [("out-of-range", "cannot be played")]),
    ],
)  # fmt: skip
def test_range_of_the_set(made, kinds, pitch, expected):
    assert kinds(remarks, timpani(made, made.note(0, pitch))) == expected


@pytest.mark.parametrize(
    ("pitches", "expected"),
    [
        ((41, 48), ("drums-together", "worth a thought")),
        ((41, 46, 50), ("too-many-drums", "risky")),
        ((38, 41, 46, 50, 53), ("too-many-drums", "cannot be played")),
    ],
)
def test_drums_together(made, kinds, pitches, expected):
    # The last asks a fifth note of four drums; only what is struck together is looked at here.
    found = kinds(remarks, timpani(made, *made.chord(0, pitches)))
    assert expected in found


def test_two_players_strike_four_drums(made, kinds):
    score = timpani(made, *made.chord(0, (38, 43, 47, 52)), players={1: 2})
    assert kinds(remarks, score) == [("drums-together", "worth a thought")]


def test_four_notes_on_four_drums_need_no_retuning(made, kinds):
    score = timpani(made, *[made.note(k, p) for k, p in enumerate((40, 45, 50, 55) * 2)])
    assert kinds(remarks, score) == []


@pytest.mark.parametrize(("drums", "quick"), [(2, True), (4, False), (5, False)])
def test_the_number_of_drums_can_be_set(made, kinds, drums, quick):
    score = timpani(made, *[made.note(k, p) for k, p in enumerate((40, 45, 50, 55) * 2)])
    found = {kind for kind, _ in kinds(remarks, score, drums=drums)}
    assert bool(found & {"retuning-quick", "retuning-too-quick"}) == quick


def test_a_pair_and_a_set_are_those_papastefan_names():
    assert drum_set(2) == (29, 26)
    assert drum_set(4) == USUAL_SET


# A timpanist's page (datimp.com): E flat, F, G flat, A flat at speed cannot be had on a
# standard set without the pedals.
def test_the_set_that_cannot_be_tuned(made, kinds):
    fast = [made.note(0.25 * k, p, 0.25) for k, p in enumerate((51, 53, 54, 56) * 2)]
    found = kinds(remarks, timpani(made, *fast))
    assert ("retuning-too-quick", "cannot be played") in found


@pytest.mark.parametrize(
    ("pitches", "drums", "expected"),
    [((40, 45, 50, 55), 4, []), ((40, 45, 50, 55), 3, ["many-drums"]),
     ((51, 53, 54, 56), 4, ["many-drums"])],
)  # fmt: skip
def test_drums_beyond_the_set_are_told_once(made, kinds, pitches, drums, expected):
    # The last row is datimp.com's: at speed more drums than the standard set, or pedals.
    fast = [made.note(0.25 * k, p, 0.25) for k, p in enumerate(pitches * 2)]
    found = [k for k, _ in kinds(remarks, timpani(made, *fast), drums=drums)]
    assert [k for k in found if k == "many-drums"] == expected


def test_time_to_retune_makes_one_drum_do_for_two(made, kinds):
    # Four bars of rest at 60: 16 s to take the drums down a tone, where 4 s are comfort.
    notes = [made.note(k, p) for k, p in enumerate((40, 45, 50, 55))]
    later = [made.note(20 + k, p - 1) for k, p in enumerate((40, 45, 50, 55))]
    assert kinds(remarks, timpani(made, *notes, *later)) == []
    # From the top down: the highest drum has less than two seconds.
    soon = [made.note(5 + k, p - 1) for k, p in enumerate((55, 50, 45, 40))]
    found = [k for k, _ in kinds(remarks, timpani(made, *notes, *soon))]
    assert found.count("many-drums") == 1


@pytest.mark.parametrize(
    ("gap", "expected"),
    [(0.1, "retuning-too-quick"), (3.0, "retuning-quick"), (8.0, None)],
)
def test_time_to_retune(made, kinds, gap, expected):
    notes = [made.note(0.25 * k, p, 0.25) for k, p in enumerate((38, 43, 48, 53))]
    # The low D drum is the only one that reaches C sharp 2.
    notes.append(made.note(1.0 + gap, 37, 0.25))
    notes += [made.note(1.25 + gap + 0.25 * k, p, 0.25) for k, p in enumerate((43, 48, 53))]
    other = ("special-drum", "many-drums")
    found = [k for k, _ in kinds(remarks, timpani(made, *notes)) if k not in other]
    assert found == ([expected] if expected else [])


def strokes(pitches, gap_s):
    return [Stroke(k * gap_s, k * gap_s + 0.1, (p,), f"n{k}") for k, p in enumerate(pitches)]


def cost(seconds):
    return 100.0 if seconds < 1.0 else 1.0 if seconds < 4.0 else 0.01


def brute(given_strokes, drums):
    """Cheapest way to share strokes among drums, every way tried."""
    best = None
    for places in product(range(len(drums)), repeat=len(given_strokes)):
        state, total, ok = {}, 0.0, True
        for place, stroke in zip(places, given_strokes, strict=True):
            low, high = RANGES[drums[place]]
            (pitch,) = stroke.pitches
            ok = ok and low <= pitch <= high
            if place in state and state[place][0] != pitch:
                total += cost(stroke.start_s - state[place][1])
            state[place] = (pitch, stroke.end_s)
        if ok and (best is None or total < best):
            best = total
    return best


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(39, 55), min_size=1, max_size=6),
    st.sampled_from([0.4, 1.5, 3.0, 6.0]),
)
def test_drums_are_shared_out_as_well_as_brute_force(pitches, gap_s):
    drums = (29, 26, 23)
    given_strokes = strokes(pitches, gap_s)
    expected = brute(given_strokes, drums)
    found = sum(cost(r.seconds) for r in retunings(given_strokes, drums, 4.0, 1.0))
    assert found == pytest.approx(expected)


@pytest.mark.parametrize(
    ("pitches", "count"), [((43, 48), 2), ((41, 46, 50), 3), ((38, 43, 47, 52), 4)]
)
def test_drums_needed(pitches, count):
    assert drums_needed(strokes(pitches * 3, 0.5), 4.0, 1.0) == count

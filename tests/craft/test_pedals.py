"""The pedal solver against brute force and what harpists write."""

from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.craft.feet import (
    Change,
    Struck,
    changes_of,
    faults,
    first_fault,
    in_two_settings,
    missed,
    respelled,
)
from auditor.craft.pedals import (
    FEET,
    LETTERS,
    fewest_changes,
    spelled,
    string_name,
    strings_for,
)


# E. Volpé Bligh, Writing for the Pedal Harp: left foot D C B, right foot E F G A.
def test_pedals_stand_as_on_the_harp():
    assert LETTERS == "DCBEFGA"
    assert [letter for letter in LETTERS if FEET[letter] == "left"] == list("DCB")
    assert [letter for letter in LETTERS if FEET[letter] == "right"] == list("EFGA")


# Three settings of seven letters make 21 names for 12 notes: D, G and A (natural) have one
# name each, the nine others two.
def test_every_note_has_its_strings():
    counts = [len(strings_for(pitch)) for pitch in range(12)]
    assert [k for k, count in enumerate(counts) if count == 1] == [2, 7, 9]
    assert sum(counts) == 21


@pytest.mark.parametrize(
    ("name", "string"),
    [("F#4", ("F", 1)), ("B-3", ("B", -1)), ("C5", ("C", 0)), ("F##4", None), ("", None)],
)
def test_spellings_name_strings(name, string):
    assert spelled(name) == string


def test_settings_are_named_in_words():
    assert [string_name(("B", s)) for s in (-1, 0, 1)] == ["B flat", "B", "B sharp"]


def free(*chords):
    return [[strings_for(p) for p in chord] for chord in chords]


# S. Canton and M. Overlach, composing for harp: C, C sharp and D together go as B sharp,
# C sharp and D; G, G sharp and A together do not go at all.
def test_a_cluster_that_goes_and_one_that_does_not():
    assert fewest_changes(free((60, 61, 62))).strings == ((("B", 1), ("C", 1), ("D", 0)),)
    assert fewest_changes(free((67, 68, 69))) is None


def brute(chords):
    """Fewest changes by trying every spelling of every note."""
    best = None
    for strings in product(*(s for chord in chords for s in chord)):
        notes, settings_, moved, ok = iter(strings), {}, 0, True
        for chord in chords:
            now = {}
            for _ in chord:
                letter, setting = next(notes)
                ok = ok and now.setdefault(letter, setting) == setting
            moved += sum(settings_.get(k, v) != v for k, v in now.items())
            settings_ |= now
        if ok and (best is None or moved < best):
            best = moved
    return best


passages = st.lists(
    st.lists(st.integers(48, 72), min_size=1, max_size=3, unique_by=lambda p: p % 12),
    min_size=1,
    max_size=4,
)


@settings(max_examples=150, deadline=None)
@given(passages)
def test_fewest_changes_are_those_of_brute_force(chords):
    plan = fewest_changes(free(*chords))
    assert (plan.changes if plan else None) == brute(free(*chords))


@settings(max_examples=50, deadline=None)
@given(passages)
def test_a_plan_sounds_what_was_asked_for(chords):
    plan = fewest_changes(free(*chords))
    for chord, strings in zip(chords, plan.strings if plan else [], strict=False):
        assert all(s in strings_for(p) for p, s in zip(chord, strings, strict=True))


def test_a_scale_in_one_key_moves_no_pedal_wherever_it_begins():
    for key in range(12):
        scale = [[p + key] for p in (60, 62, 64, 65, 67, 69, 71, 72)]
        assert fewest_changes(free(*scale)).changes == 0


jobs = st.lists(
    st.tuples(st.sampled_from("DCB"), st.integers(0, 12), st.integers(1, 5)),
    min_size=1,
    max_size=6,
)


def changes_from(given_jobs):
    """Changes on the left foot, each pedal's own ones one after the other."""
    changes, reached = [], {}
    for k, (letter, start, length) in enumerate(sorted(given_jobs, key=lambda j: j[1])):
        begin = max(start, reached.get(letter, 0))
        reached[letter] = begin + length
        changes.append(
            Change(
                Struck(float(begin), (letter, k % 2), f"a{k}"),
                Struck(float(begin + length), (letter, 1 - k % 2), f"b{k}"),
            )
        )
    return changes


def can_be_done(changes, pedal_s):
    """Whether some order of the changes meets every time, by trying all orders."""
    for order in permutations(changes):
        at, ok = float("-inf"), True
        for change in order:
            at = max(at, change.before.time_s) + pedal_s
            ok = ok and at <= change.after.time_s + 1e-9
        if ok:
            return True
    return False


@settings(max_examples=200, deadline=None)
@given(jobs, st.sampled_from([0.5, 1.0, 1.5, 2.0]))
def test_a_foot_gets_there_just_when_some_order_does(given_jobs, pedal_s):
    changes = changes_from(given_jobs)
    late = missed(changes, pedal_s)
    assert (not late) == can_be_done(changes, pedal_s)
    kept = [c for c in changes if c not in late]
    assert can_be_done(kept, pedal_s)


@settings(max_examples=100, deadline=None)
@given(jobs)
def test_a_slower_foot_never_gets_further(given_jobs):
    changes = changes_from(given_jobs)
    assert bool(missed(changes, 1.0)) <= bool(missed(changes, 2.0))


def struck(*notes):
    return [Struck(t, spelled(name), f"n{k}") for k, (t, name) in enumerate(notes)]


# E. Volpé Bligh: two pedals a second for one foot; one foot each moves at once.
def test_two_feet_move_two_pedals_at_once_one_foot_does_not():
    apart = struck((0, "C4"), (0, "F4"), (0.5, "C#4"), (0.5, "F#4"))
    beside = struck((0, "F4"), (0, "G4"), (0.5, "F#4"), (0.5, "G#4"))
    assert missed(changes_of(apart), 0.5) == []
    assert len(missed(changes_of(beside), 0.5)) == 1


def test_a_letter_is_in_one_setting_at_a_time():
    assert len(in_two_settings(struck((0, "C4"), (0, "C#5")))) == 1
    assert in_two_settings(struck((0, "C4"), (0, "D-5"))) == []


def test_another_name_saves_a_chord_and_a_run():
    chord = struck((0, "C4"), (0, "C#5"))
    assert respelled(chord, {"n0": 60, "n1": 73}, 0.0, 0.25) in (
        {"n0": ("B", 1)},
        {"n1": ("D", -1)},
    )
    run = struck((0, "F4"), (0.1, "F#4"), (0.2, "G4"))
    assert respelled(run, {"n0": 65, "n1": 66, "n2": 67}, 0.1, 0.25) in (
        {"n0": ("E", 1)},
        {"n1": ("G", -1)},
    )


def test_no_name_saves_g_and_its_sharp_beside_a():
    run = struck((0, "G4"), (0, "G#4"), (0, "A4"))
    assert respelled(run, {"n0": 67, "n1": 68, "n2": 69}, 0.0, 0.25) is None


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(48, 72), min_size=3, max_size=10),
    st.sampled_from([0.1, 0.2, 0.4]),
)
def test_new_names_mend_the_place_sound_the_same_and_spoil_nothing(pitches, gap_s):
    printed = [Struck(k * gap_s, strings_for(p)[-1], f"n{k}") for k, p in enumerate(pitches)]
    sounding = {f"n{k}": p for k, p in enumerate(pitches)}
    fault = first_fault(printed, float("-inf"), 0.25)
    swap = respelled(printed, sounding, fault.after.time_s, 0.25) if fault else None
    if not swap:
        return
    assert all(string in strings_for(sounding[note]) for note, string in swap.items())
    mended = [Struck(s.time_s, swap.get(s.note, s.string), s.note) for s in printed]
    left = {change.after.note for change in faults(mended, 0.25)}
    assert left < {change.after.note for change in faults(printed, 0.25)}
    assert fault.after.note not in left

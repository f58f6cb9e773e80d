import warnings
from dataclasses import replace

import pytest

from auditor.craft import range as ranges
from auditor.craft.abilities import ability, known_keys
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.remark import WEIGHTS
from auditor.score import instruments

# Lowest note of each class in music21 10.5 (`music21.instrument`, written pitch), and ours.
LOWEST = {
    "Piccolo": "piccolo", "Flute": "flute", "Oboe": "oboe", "EnglishHorn": "english-horn",
    "Clarinet": "clarinet", "Bassoon": "bassoon", "Violin": "violin", "Viola": "viola",
    "Violoncello": "cello",
}  # fmt: skip
# Of these the note below is to be had with an extension, or on some instruments only.
EXTENDED = {"piccolo", "flute", "english-horn", "bassoon", "clarinet"}


def lowest_sounding(name):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21

    one = getattr(music21.instrument, name)()
    shift = one.transposition.semitones if one.transposition else 0
    return music21.pitch.Pitch(str(one.lowestNote)).midi + shift


def weight(kinds, made, key, pitch, **more):
    found = kinds(ranges.remarks, made.page([(key, [made.note(0, pitch, **more)])]))
    return [w for kind, w in found if kind == "out-of-range"]


@pytest.mark.parametrize(("name", "key"), LOWEST.items())
def test_the_floor_is_music21s(made, kinds, name, key):
    low = lowest_sounding(name)
    assert weight(kinds, made, key, low) == []
    expected = "risky" if key in EXTENDED else "cannot be played"
    assert weight(kinds, made, key, low - 1) == [expected]


def test_every_ability_belongs_to_a_known_instrument_and_reaches_as_far_as_its_range():
    rows = {entry.instrument.key: entry.instrument for entry in instruments.table()}
    for key in known_keys():
        can = ability(rows[key])
        assert can.lowest <= rows[key].low, key
        assert can.highest >= rows[key].high, key


@pytest.mark.parametrize("key", ["flute", "oboe", "clarinet", "horn", "trombone", "violin"])
def test_further_out_is_never_lighter(made, kinds, key):
    high = instruments.entry(key).instrument.high
    rank = [
        max([WEIGHTS.index(w) for w in weight(kinds, made, key, high + k)], default=-1)
        for k in range(15)
    ]
    assert rank == sorted(rank)
    assert rank[0] == -1
    assert WEIGHTS[rank[-1]] == "cannot be played"


def test_the_clarinet_in_a_goes_a_semitone_lower_than_that_in_b_flat(made, kinds):
    # Written E3 is the lowest on both (music21: Clarinet.lowestNote).
    assert weight(kinds, made, "clarinet", 49, written_pitch=52) == []
    # Full-Boehm clarinets have E flat (common practice, no source).
    assert weight(kinds, made, "clarinet", 49, written_pitch=51) == ["risky"]
    assert weight(kinds, made, "clarinet", 49, written_pitch=50) == ["cannot be played"]


def test_a_low_horn_in_the_old_bass_clef_is_a_question_of_notation(made, kinds):
    # Beethoven's second horn in D, written C2 in the bass clef, sounds D2, not D1.
    assert weight(kinds, made, "horn", 26) == ["worth a thought"]


def test_a_harmonic_is_not_held_against_the_range_of_stopped_notes(made, kinds):
    assert weight(kinds, made, "violin", 108, techniques=("harmonic",)) == []


def test_only_the_usual_range_counts_where_the_table_says_nothing(made, kinds):
    low = instruments.entry("serpent").instrument.low
    assert weight(kinds, made, "serpent", low - 1) == ["risky"]
    assert weight(kinds, made, "serpent", low - 4) == ["cannot be played"]


def registers(kinds, made, key, pitch, dynamic):
    notes = [made.note(0, pitch, 2, dynamic=dynamic)]
    return [k for k, _ in kinds(ranges.remarks, made.page([(key, notes)]))]


# The dynamics of low reeds: the clarinet "can reduce volume of tone to a mere breath", the
# double reeds are "less mobile and supple" (Rimsky-Korsakov, Principles, p. 19).
@pytest.mark.parametrize(
    ("key", "pitch", "expected"),
    [("oboe", 59, ["low-register-soft"]), ("bassoon", 35, ["low-register-soft"]),
     ("clarinet", 52, []), ("oboe", 72, []), ("bassoon", 50, [])],
)  # fmt: skip
def test_low_double_reeds_will_not_whisper_and_clarinets_will(
    made, kinds, key, pitch, expected
):
    assert registers(kinds, made, key, pitch, 0.0) == expected


# Common practice, no source: the low flute does not carry at ff; high brass cracks at pp.
@pytest.mark.parametrize(
    ("key", "pitch", "dynamic", "expected"),
    [("flute", 62, 5.0, ["low-register-loud"]), ("flute", 62, 1.0, []),
     ("flute", 84, 5.0, []), ("horn", 74, 0.0, ["high-register-soft"]),
     ("horn", 74, 3.0, []), ("trumpet", 81, 0.0, ["high-register-soft"])],
)  # fmt: skip
def test_registers_and_the_dynamics_they_do_not_give(
    made, kinds, key, pitch, dynamic, expected
):
    assert registers(kinds, made, key, pitch, dynamic) == expected


def test_a_dynamic_the_page_does_not_give_is_not_held_against_a_register(made, kinds):
    notes = [made.note(0, 59, 2, dynamic=0.0, dynamic_written=False)]
    assert kinds(ranges.remarks, made.page([("oboe", notes)])) == []


def flute_line(made, pitch, rest):
    # At 60 quarters a minute three quarters last three seconds.
    return [made.note(k * (3 + rest), pitch, 3) for k in range(14)]


@pytest.mark.parametrize(
    ("pitch", "rest", "expected"),
    [(88, 1, ["high-lying"]), (80, 1, []), (88, 10, [])],
)
def test_a_passage_lies_high_by_its_mean_pitch_and_rests_break_it(
    made, kinds, pitch, rest, expected
):
    score = made.page([("flute", flute_line(made, pitch, rest))], bars=50)
    assert [k for k, _ in kinds(ranges.remarks, score)] == expected


def test_an_assumed_tempo_is_said(made):
    score = made.page([("flute", flute_line(made, 90, 0))], bars=12)
    bars = tuple(replace(bar, tempo=None) for bar in score.bars)
    limits = CraftLimits(assumed_tempo=60.0)
    (one,) = ranges.remarks(Page(replace(score, bars=bars), limits), limits)
    assert "assumed 60 quarters a minute" in one.sentence

from dataclasses import replace

import pytest

from auditor.craft import winds
from auditor.craft.abilities import ability
from auditor.score import instruments


def tongued(made, key, a_second, count=16, **more):
    # At 60 quarters a minute a quarter is a second.
    notes = [made.note(k / a_second, 64, 1 / a_second, **more) for k in range(count)]
    return made.page([(key, notes)], tempo=60.0)


def speeds(kinds, score):
    return [(k, w) for k, w in kinds(winds.remarks, score) if k == "fast-tonguing"]


# C. W. Fobes, "Synthetic Speed Tonguing" (2000): four notes a beat at 144 to 152 are "out of
# range of the majority of players" on the clarinet.
@pytest.mark.parametrize("beats", [144, 146, 152])
def test_speeds_fobes_calls_out_of_range_are_risky_on_the_clarinet(made, kinds, beats):
    score = tongued(made, "clarinet", 4 * beats / 60)
    assert speeds(kinds, score) == [("fast-tonguing", "risky")]


# trade: sixteenths at 120 are an ordinary single tongue (common practice, no source)
@pytest.mark.parametrize("key", ["flute", "oboe", "clarinet", "bassoon", "trumpet", "trombone"])
def test_sixteenths_at_120_are_left_alone(made, kinds, key):
    assert speeds(kinds, tongued(made, key, 7.95)) == []


# contemporarytuba.com, "Tonguing": single 9 to 10 a second, double about 12 and faster.
def test_the_tuba_double_tongues_between_ten_and_twelve(made, kinds):
    assert speeds(kinds, tongued(made, "tuba", 8.9)) == []
    assert speeds(kinds, tongued(made, "tuba", 11)) == [("fast-tonguing", "worth a thought")]


def test_among_woodwinds_only_flutes_double_tongue():
    # Rimsky-Korsakov, Principles (1922), p. 19: "only possible on the flute".
    can = {
        entry.instrument.key
        for entry in instruments.table()
        if entry.instrument.family == "woodwind" and ability(entry.instrument).multiple_hz
    }
    assert can == {"piccolo", "flute", "alto-flute", "bass-flute"}


@pytest.mark.parametrize("word", ["slurred", "tremolo", "flutter"])
def test_what_is_not_tongued_note_by_note_is_left_alone(made, kinds, word):
    assert speeds(kinds, tongued(made, "oboe", 12, techniques=(word,))) == []


def test_a_few_fast_notes_are_left_alone(made, kinds):
    assert speeds(kinds, tongued(made, "oboe", 12, count=6)) == []


def held(made, key, seconds, **more):
    bars = int(seconds // 4) + 2
    return made.page([(key, [made.note(0, 64, seconds, **more)])], bars=bars, tempo=60.0)


def breaths(kinds, score):
    return [w for k, w in kinds(winds.remarks, score) if k == "no-breath"]


@pytest.mark.parametrize("key", ["violin", "cello", "organ", "piano"])
def test_strings_and_keyboards_need_no_breath(made, kinds, key):
    # Rimsky-Korsakov, Principles (1922), p. 20: rest is "unnecessary in the case of string
    # players".
    assert breaths(kinds, held(made, key, 120)) == []


@pytest.mark.parametrize("key", ["flute", "oboe", "clarinet", "bassoon", "horn", "tuba"])
def test_a_longer_note_never_needs_less_breath(made, kinds, key):
    rank = [len(breaths(kinds, held(made, key, s))) for s in (2, 8, 20, 60, 120)]
    assert rank == sorted(rank)
    assert rank[0] == 0
    assert rank[-1] == 1


def test_loud_takes_more_breath_than_soft(made, kinds):
    assert breaths(kinds, held(made, "trumpet", 16, dynamic=5.0)) == ["worth a thought"]
    assert breaths(kinds, held(made, "trumpet", 16, dynamic=1.0)) == []


def test_two_players_take_turns(made, kinds):
    assert breaths(kinds, held(made, "flute", 60, players=2.0)) == []


def slurred(made, gap):
    notes, at = [], 0.0
    for phrase in range(8):
        for k in range(5):
            words = ("slurred",) if k or (phrase and not gap) else ()
            notes.append(made.note(at, 72, 1, techniques=words))
            at += 1
        at += gap
    return made.page([("flute", notes)], bars=14, tempo=60.0)


def test_a_short_rest_is_a_breath_and_a_slur_is_none(made, kinds):
    assert breaths(kinds, slurred(made, 0.3)) == []
    assert breaths(kinds, slurred(made, 0.0)) == ["risky"]


def test_limits_move_the_remark(made, kinds):
    score = held(made, "flute", 11)
    assert kinds(winds.remarks, score) == []
    assert kinds(winds.remarks, score, breath_share=0.5) == [("no-breath", "risky")]


def test_an_assumed_tempo_makes_no_remark_heavier_than_a_question(made, kinds):
    score = tongued(made, "oboe", 12)
    assert speeds(kinds, score) == [("fast-tonguing", "risky")]
    unsaid = replace(score, bars=tuple(replace(bar, tempo=None) for bar in score.bars))
    assert [(k, w) for k, w in kinds(winds.remarks, unsaid, assumed_tempo=60.0)] == [
        ("fast-tonguing", "worth a thought")
    ]

from dataclasses import replace

import pytest

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.score.notes import Bar


def flute(made, notes, **more):
    return Page(made.page([("flute", notes)], **more), CraftLimits())


def test_notes_that_begin_together_are_a_chord_and_graces_stand_before_it(made):
    page = flute(
        made,
        [made.note(0, 72, grace=True), *made.chord(0, (60, 64, 67)), made.note(1, 72)],
    )
    assert [c.pitches for c in page.chords(1)] == [(72,), (60, 64, 67), (72,)]


def test_stems_apart_are_no_chord_when_voices_are_asked_for(made):
    page = flute(made, [made.note(0, 60, voice="2"), made.note(0, 67, voice="1")])
    assert len(page.chords(1)) == 1
    assert len(page.chords(1, by_voice=True)) == 2


def test_held_notes_sound_with_those_that_begin_over_them(made):
    page = flute(made, [made.note(0, 60, 4), made.note(2, 67, 1)])
    assert [(c.onset, c.pitches) for c in page.sounding(1)] == [(0, (60,)), (2, (60, 67))]


def test_lengths_rounded_a_little_long_do_not_overlap(made):
    page = flute(made, [made.note(0, 60, 1.03), made.note(1, 67)])
    assert [c.pitches for c in page.sounding(1)] == [(60,), (67,)]


def test_gaps_are_rests_before_between_and_after(made):
    page = flute(made, [made.note(4, 60, 2), made.note(8, 60, 2)], bars=3)
    assert [(r.onset, r.end) for r in page.rests(1)] == [(0, 4), (6, 8), (10, 12)]


def test_runs_part_at_long_rests_only(made):
    page = flute(made, [made.note(at, 60) for at in (0, 2, 8)])
    assert [len(run) for run in page.runs(1, longest_rest=2)] == [2, 1]


def test_seconds_follow_the_written_tempo(made):
    page = flute(made, [made.note(0, 60)], tempo=120.0)
    assert page.seconds_between(2, 10) == pytest.approx(4.0)
    assert page.said_tempo(0) == ""


def test_a_tempo_that_had_to_be_assumed_is_said(made):
    page = flute(made, [made.note(0, 60)], tempo=None)
    assert page.seconds_between(0, 10) == pytest.approx(6.0)
    assert "assumed 100 quarters a minute" in page.said_tempo(0)


def test_the_second_pass_of_a_repeat_is_not_read_and_leaves_no_gap(made):
    score = made.page([("flute", [made.note(at, 60, 4) for at in (0, 4, 8, 12)])], bars=4)
    # Bars 1 2 | 1 2 again would be 1 2 1 3: the third played bar repeats the first.
    bars = list(score.bars)
    bars[2] = Bar(2, "1", 0, 2, 8.0, 4.0, 60.0)
    page = Page(replace(score, bars=tuple(bars)), CraftLimits())
    assert [n.onset for n in page.notes_of(1)] == [0, 4, 8]
    assert page.bar(3).onset == 8
    assert page.rests(1) == ()

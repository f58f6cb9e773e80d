"""What is said of lines that are not rendered as written: words, place and restraint."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.findings.finding import KINDS
from auditor.hearing.measures import Limits
from auditor.judging.conformity import (
    among_strangers,
    find_rendering_faults,
    tainted,
    unverified_sentence,
)
from auditor.judging.scene import scene
from auditor.score.instruments import recognise
from auditor.score.notes import Direction
from auditor.sound.spectrum import POOL_HZ
from auditor.spectra.explained import POOLS
from auditor.spectra.suspicions import Suspicion, Suspicions
from auditor.spectra.unwritten import Unwritten

START_S = np.arange(0.0, 16.0, 0.5)


def nothing_foreign(rise=-1.0, hz=440.0, start_s=START_S):
    power = np.zeros(POOLS)
    power[np.argmin(np.abs(POOL_HZ[:POOLS] - hz))] = 1.0
    size = start_s.size
    return Unwritten(0.0, start_s, start_s + 0.5, np.full(size, rise), np.full(size, 69), power)


@pytest.fixture
def played(low_horn):
    """Sixteen seconds in eight bars: what judgement is given."""
    heard = low_horn.heard(lambda line, bar: 0.5)
    return (
        low_horn.score, low_horn.timeline, low_horn.windows, low_horn.intent, heard, Limits()
    )  # fmt: skip


def said(case, *lines, foreign=False, rest=None, before=()):
    s = scene(*case)
    found = Suspicions(tuple(lines), rest or nothing_foreign(), 0.9, foreign)
    return find_rendering_faults(s, found, before)


def about(case, line, answer, interval=0):
    score = case[0]
    row = [n.line - 1 for n in score.notes]
    return Suspicion(line, answer, interval, 0.9, np.flatnonzero(np.array(row) == line))


@pytest.mark.parametrize(
    ("interval", "words"),
    [
        (12, "an octave higher than written"),
        (-12, "an octave lower than written"),
        (-2, "a tone lower than written"),
        (9, "a major sixth higher than written"),
    ],
)
def test_a_transposed_line_is_said_to_be(played, interval, words):
    (fault,) = said(played, about(played, 0, "transposed", interval))
    assert (fault.kind, fault.lines) == ("transposed", (1,))
    assert words in fault.sentence
    assert "seems to" in fault.sentence
    octave = abs(interval) == 12
    assert ("octave switch" in fault.sentence) == octave
    assert ("left out or applied twice" in fault.sentence) == (not octave)


def test_a_fault_spans_the_bars_of_its_line_and_is_no_surer_than_the_mix(played):
    (fault,) = said(played, about(played, 0, "transposed", 12))
    bars = [n.bar for n in played[0].notes if n.line == 1]
    assert (fault.first_bar, fault.last_bar) == (min(bars), max(bars))
    assert 0.0 <= fault.confidence <= 0.9
    assert fault.kind in KINDS
    assert fault.caution


def test_a_bowed_line_that_is_plucked(played):
    (fault,) = said(played, about(played, 3, "otherwise"))
    assert fault.kind == "technique"
    assert "plucked where arco is written" in fault.sentence


def test_a_missing_line_is_said_once(played):
    missing = about(played, 0, "missing")
    (fault,) = said(played, missing)
    assert fault.kind == "silent"
    assert "track" in fault.sentence
    assert said(played, missing, before=[fault]) == []


@pytest.mark.parametrize("answer", ["as written", "unverified"])
def test_what_cannot_be_told_is_no_fault(played, answer):
    assert said(played, about(played, 0, answer)) == []


def test_without_trials_nothing_is_said(played):
    assert find_rendering_faults(scene(*played), None) == []
    assert unverified_sentence(played[0], None) == ""


def test_unverified_lines_are_named_and_not_blamed(played):
    found = Suspicions((about(played, 0, "unverified"),), nothing_foreign(), 0.1, False)
    words = unverified_sentence(played[0], found)
    assert played[0].lines[0].name in words
    assert "no sign of a fault" in words


def test_foreign_sound_is_placed_in_bars_and_register(played):
    """Seconds 4 to 8 hold notes nobody wrote, all their power near A4 (440 Hz, ISO 16)."""
    start = START_S
    rest = nothing_foreign()
    rest.rise[(start >= 4.0) & (start < 8.0)] = 2.5
    (fault,) = said(played, foreign=True, rest=rest)
    assert fault.kind == "unwritten"
    assert "alto" in fault.sentence
    times = {b.bar: (b.start_s, b.end_s) for b in played[1].bars}
    assert times[fault.first_bar][1] > 4.0
    assert times[fault.last_bar][0] < 8.0


def test_levels_beside_sound_nobody_wrote_are_trusted_from_stems_only(played):
    """A mix gives a stranger's power to the lines beside it; a stem holds its line alone."""
    rest = nothing_foreign()
    rest.rise[(START_S >= 4.0) & (START_S < 8.0)] = 2.5
    faults = said(played, foreign=True, rest=rest)
    inside = replace(faults[0], kind="dynamic")
    outside = replace(inside, first_bar=faults[0].last_bar + 1, last_bar=7)
    found = Suspicions((), rest, 0.9, True)
    assert among_strangers(inside, faults, found)
    assert not among_strangers(outside, faults, found)
    stems = replace(found, unwritten=replace(rest, beyond_stems=True))
    assert not among_strangers(inside, faults, stems)
    assert "is in no stem" in find_rendering_faults(scene(*played), stems)[0].sentence


def test_remarks_on_a_line_at_a_wrong_pitch_are_held_back(played):
    (fault,) = said(played, about(played, 0, "transposed", 12))
    bars = {"first_bar": fault.first_bar, "last_bar": fault.last_bar}
    covered = type("Said", (), {"kind": "covered", "lines": (1,), **bars})
    assert tainted(covered, [fault])
    covered.lines = (1, 2)
    assert not tainted(covered, [fault])
    covered.lines, covered.first_bar, covered.last_bar = (1,), 90, 92
    assert not tainted(covered, [fault])


def of_passages(case, *passages):
    found = Suspicions((), nothing_foreign(), 0.9, False, passages)
    return find_rendering_faults(scene(*case), found)


def with_score(case, score):
    return (score, *case[1:])


@pytest.mark.parametrize("text", ["fp", "sf", "sfp"])
def test_a_stressed_note_may_fall_off(played, text):
    short = about(played, 0, "short")
    assert [f.kind for f in of_passages(played, short)] == ["short"]
    score = played[0]
    marks = tuple(
        Direction("dynamic", n.part, n.bar, n.onset, n.onset, text) for n in score.notes
    )
    assert of_passages(with_score(played, replace(score, directions=marks)), short) == []
    plain = tuple(replace(mark, text="p") for mark in marks)
    assert len(of_passages(with_score(played, replace(score, directions=plain)), short)) == 1


def test_a_roll_is_neither_early_nor_late(played):
    late = about(played, 0, "late")
    assert [f.kind for f in of_passages(played, late)] == ["entry"]
    score = played[0]
    drums = replace(score.lines[0], instrument=recognise("Timpani")[0])
    rolled = replace(score, lines=(drums, *score.lines[1:]))
    assert of_passages(with_score(played, rolled), late) == []

"""Bars and times in words."""

import dataclasses
import math

import pytest

from auditor.report.places import (
    bar_span,
    bars_in_words,
    clock_span,
    listed,
    part_name,
    runs,
)
from auditor.units import clock


@pytest.fixture
def twice(audit):
    """Bars 1 to 4 with a repeat, then bar X1."""
    bars = [
        dataclasses.replace(audit.score.bars[i], number=str(i % 4 + 1), pass_number=1 + i // 4)
        for i in range(8)
    ]
    bars.append(dataclasses.replace(audit.score.bars[8], number="X1", pass_number=1))
    return dataclasses.replace(audit.score, bars=tuple(bars))


@pytest.mark.parametrize(
    ("first", "last", "cell", "words"),
    [
        (0, 0, "1", "bar 1"),
        (0, 3, "1-4", "bars 1–4"),
        (4, 7, "1-4", "bars 1–4, second time"),
        (5, 5, "2", "bar 2, second time"),
        (2, 5, "3-2", "bar 3 (first time) to bar 2 (second time)"),
        (8, 8, "X1", "bar X1"),
    ],
)
def test_bars_carry_their_printed_numbers(twice, first, last, cell, words):
    assert bar_span(twice, first, last) == cell
    assert bars_in_words(twice, first, last) == words


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0, "0:00"), (59.4, "0:59"), (59.6, "1:00"), (725, "12:05"), (math.nan, "–")],
)
def test_clock(seconds, shown):
    assert clock(seconds) == shown


def test_two_times_on_one_second_are_one():
    assert clock_span(61.0, 61.2) == "1:01"
    assert clock_span(61.0, 72.0) == "1:01–1:12"


def test_runs_gather_neighbours():
    assert runs([1, 2, 3, 7, 9, 10]) == [(1, 3), (7, 7), (9, 10)]
    assert runs([]) == []


def test_listed_as_english_has_it():
    assert listed([]) == ""
    assert listed(["oboe"]) == "oboe"
    assert listed(["oboe", "horn", "viola"]) == "oboe, horn and viola"


def test_parts_are_named_by_number_where_numbers_have_gaps(audit):
    part = dataclasses.replace(audit.score.parts[0], number=7, name="Viola")
    score = dataclasses.replace(audit.score, parts=(part,))
    assert part_name(score, 7) == "Viola"
    assert part_name(score, 1) == "part 1"

"""How visits to written bars are named on the played axis."""

from dataclasses import replace

import pytest
from music_made import made_score, melody

from auditor.alignment.page import Page

# Bars 1 to 8 twice, then 9 to 12: played bars 0 to 7, 8 to 15, 16 to 19.
PAGE = Page(made_score(melody(3, 12), repeat=(0, 8)))
WHOLE = [*range(8), *range(8), *range(8, 12)]


@pytest.mark.parametrize(
    ("rows", "played"),
    [
        (WHOLE, list(range(20))),
        # The repeat is not taken: it is the second time that is missing.
        ([*range(12)], [*range(8), *range(16, 20)]),
        # Four bars three times within the first time.
        ([0, 1, 2, 3, 2, 3, 2, 3, *WHOLE[4:]], [0, 1, 2, 3, 2, 3, 2, 3, *range(4, 20)]),
        # The last bars of the second time once too often.
        ([*WHOLE[:16], 6, 7, *range(8, 12)], [*range(16), 14, 15, *range(16, 20)]),
        # Begun inside the first time, with the repeat taken.
        (WHOLE[3:], list(range(3, 20))),
        # The repeat taken once too often.
        ([*range(8), *WHOLE], [*range(8), *range(20)]),
        ([], []),
    ],
)
def test_passes_are_named_so_that_the_page_is_left_least_often(rows, played):
    assert PAGE.passes(rows) == played


def test_of_two_repeats_left_out_it_is_the_second_times_that_are_missing():
    # Bars 1 to 4 twice, 5 to 8 twice, then 9.
    twice = made_score(melody(3, 9), repeat=(0, 4))
    order = [*range(4), *range(4), *range(4, 8), *range(4, 8), 8]
    page = Page(replace(twice, bars=tuple(
        replace(twice.bars[0], index=k, written_index=w, onset=4.0 * k)
        for k, w in enumerate(order)
    )))  # fmt: skip
    assert page.passes(list(range(9))) == [0, 1, 2, 3, 8, 9, 10, 11, 16]


def test_a_repeat_left_out_goes_straight_into_the_second_ending():
    # Bars 1 to 4 with a first ending, again with a second one, then bar 6.
    one = made_score(melody(3, 6))
    order = [0, 1, 2, 3, 0, 1, 2, 4, 5]
    page = Page(replace(one, bars=tuple(
        replace(one.bars[0], index=k, written_index=w, onset=4.0 * k)
        for k, w in enumerate(order)
    )))  # fmt: skip
    assert page.passes([0, 1, 2, 4, 5]) == [0, 1, 2, 7, 8]

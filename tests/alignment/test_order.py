"""What is chosen between the page's order of bars and another."""

import pytest
from music_made import made_score, melody, played

from auditor.alignment.closer import closer
from auditor.alignment.expected import events
from auditor.alignment.order import _only_exchanges
from auditor.alignment.page import Page
from auditor.alignment.search import heard
from auditor.alignment.visits import Order, Visit
from auditor.sound.features import listen

STRAIGHT = Order(tuple(Visit(k, 2.0 * k, 2.0 * k + 2.0) for k in range(10)), (), 0.2, 1.0)


def left_out(strange_s):
    """Bars 3 to 6, eight seconds, left out, and so much strange sound in their place."""
    end = 6.0 + strange_s
    before = [Visit(k, 2.0 * k, 2.0 * k + 2.0) for k in range(3)]
    after = [Visit(k, end + 2.0 * (k - 7), end + 2.0 * (k - 7) + 2.0) for k in range(7, 10)]
    strange = ((6.0, end),) if strange_s else ()
    return Order((*before, *after), strange, 0.2, 0.8)


@pytest.mark.parametrize(
    ("strange_s", "exchanged"),
    [(8.0, True), (7.0, True), (0.0, False), (2.0, False), (30.0, False)],
)
def test_strange_sound_as_long_as_the_bars_left_out_is_those_bars(strange_s, exchanged):
    assert _only_exchanges(left_out(strange_s), STRAIGHT) is exchanged


def test_where_no_bar_was_found_there_is_nothing_to_look_at_more_closely():
    score = made_score(melody(1, 4))
    samples, _ = played(score, seed=1)
    nothing = Order((), ((0.5, 9.0),), 0.36, 0.0)
    sound = heard(listen(samples))
    assert closer(Page(score), events(score), sound, nothing) is nothing


def test_a_repeat_is_no_exchange():
    back = Order((*STRAIGHT.visits, Visit(4, 20.0, 22.0)), ((21.0, 22.0),), 0.2, 1.0)
    assert not _only_exchanges(back, STRAIGHT)

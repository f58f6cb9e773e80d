"""Written changes of dynamic that the rendering does or does not make."""

import pytest

from auditor.timbre.dynamics import power_level_db

PLAYING = {
    1: lambda bar: [(float(k), 1.0, 76 + (bar + k) % 5) for k in range(4)],
    4: lambda bar: [(float(k), 1.0, 67 + (bar + k) % 3) for k in range(4)],
    5: lambda bar: [(float(k), 1.0, 60 + (bar + k) % 2) for k in range(4)],
    6: lambda bar: [(float(k), 1.0, 48 - (bar + k) % 3) for k in range(4)],
}
KEYS = {1: ("flute", "woodwind"), 4: ("violin", "strings"), 5: ("viola", "strings"),
        6: ("cello", "strings")}  # fmt: skip


def marks(line, bar):
    """Piano, and forte in bars 4 to 7."""
    return 4.0 if 4 <= bar < 8 else 1.0


def level(follow):
    """Give levels that make `follow(line)` of each dB the marks ask."""

    def of(line, bar):
        soft, loud = (float(power_level_db(*KEYS[line], d, 1.0)) for d in (1.0, 4.0))
        return soft + follow(line) * (loud - soft) * (marks(line, bar) == 4.0) + 0.3 * (bar % 2)

    return of


def flat(made, follow):
    case = made(PLAYING, count=12, marks=marks)
    found = case.judged(lambda line, bar: 0.6, level=level(follow))
    return [f for f in found if f.kind == "hairpin"]


@pytest.mark.parametrize("follow", [1.0, 0.7, 0.5])
def test_marks_that_are_made_at_least_by_half_are_no_remark(made, follow):
    assert flat(made, lambda line: follow) == []


def test_a_line_that_stays_as_loud_as_it_was_is_named(made):
    (one,) = flat(made, lambda line: 0.0 if line == 1 else 1.0)
    assert one.lines == (1,)
    assert "Flute 1 is marked from p to f here, but its level hardly changes" in one.sentence
    assert "rendering's doing" in one.sentence
    assert one.first_bar <= 4 <= one.last_bar


def test_a_rendering_that_follows_no_mark_is_told_so_once(made):
    (one,) = flat(made, lambda line: 0.1)
    assert set(one.lines) == {1, 4, 5, 6}
    assert "hardly made anywhere" in one.sentence


def test_a_page_of_one_dynamic_asks_for_no_change(made):
    case = made(PLAYING, count=12)
    found = case.judged(lambda line, bar: 0.6, level=lambda line, bar: 70.0 + bar % 2)
    assert not [f for f in found if f.kind == "hairpin"]


def test_a_short_hairpin_that_is_not_made_is_told_among_marks_that_are(made):
    """From p to f in four bars, after forte and before piano, all of which are followed."""

    def hairpin(line, bar):
        return 1.0 + (bar - 4) if 4 <= bar < 8 else 4.0 if bar < 4 else 1.0

    def level(line, bar):
        wanted = 2.5 if line == 1 and 4 <= bar < 8 else hairpin(line, bar)
        return float(power_level_db(*KEYS[line], wanted, 1.0)) + 0.3 * (bar % 2)

    case = made(PLAYING, count=12, marks=hairpin)
    found = case.judged(lambda line, bar: 0.6, level=level)
    (one,) = [f for f in found if f.kind == "hairpin"]
    assert one.lines == (1,)
    assert (one.first_bar, one.last_bar) == (4, 7)

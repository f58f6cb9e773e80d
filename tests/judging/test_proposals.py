"""What is proposed, and what is kept of it: one thing at a time, and only what comes far."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.hearing.measures import Limits
from auditor.judging.altered import given_to, played
from auditor.judging.elsewhere import rendered
from auditor.judging.foretold import foretell
from auditor.judging.proposals import ideas
from auditor.judging.remedy import trials
from auditor.judging.scene import scene
from auditor.judging.trial import cut
from auditor.spectra.forecast import ROOM_GAIN_DB
from auditor.spectra.line_spectra import FLOOR_DB

LIMITS = Limits()
FLUTE_1, FLUTE_2, HORN, VIOLA = 0, 1, 2, 4


def low(bar):
    return [(0.0, 4.0, 67 + bar % 3)]


def under(bar):
    return [(0.0, 4.0, 65 + (bar + 1) % 3)]


def steps_out(ratio):
    """0 covered, 1 faint, 2 clear."""
    return int(ratio >= LIMITS.covered) + int(ratio >= LIMITS.clear)


class Told:
    """A forecast's heaviest covered finding about Flute 1, ready to be changed."""

    def __init__(self, case, move=None):
        told = foretell(case.score, case.intent, case.timeline, LIMITS, remedies=False)
        self.spectra = told.spectra
        if move is not None:
            level = told.spectra.level_db.copy()
            level[FLUTE_2][level[FLUTE_2] > FLOOR_DB] += move
            self.spectra = replace(told.spectra, level_db=level)
        self.s = scene(case.score, case.timeline, told.windows, case.intent, told.heard, LIMITS)
        self.finding = next(
            f for f in told.findings if f.lines == (1,) and f.kind in ("covered", "faint")
        )
        self.ground = cut(self.s, self.spectra, self.finding)


@pytest.fixture(scope="module")
def kept():
    return {}


@pytest.fixture
def doubled(made, kept):
    """Flute 1 under a horn that a viola doubles all the way; cellos beneath."""
    if "doubled" not in kept:
        cello = lambda bar: [(0.0, 4.0, 55)]  # noqa: E731
        kept["doubled"] = Told(made({1: low, 3: under, 5: under, 6: cello}, count=6))
    return kept["doubled"]


@pytest.fixture
def later(made):
    """Flute 2 rests while Flute 1 is covered, and plays afterwards."""
    first = lambda bar: low(bar) if bar < 6 else []  # noqa: E731
    after = lambda bar: low(bar) if bar >= 6 else []  # noqa: E731
    return made({1: first, 2: after, 3: lambda bar: under(bar) if bar < 6 else []}, count=10)


def test_a_doubling_is_taken_out_and_its_notes_stay(doubled):
    out = [
        i for i in ideas(doubled.ground, doubled.finding) if "who has them as well" in i.words
    ]
    assert {i.rows for i in out} <= {(HORN,), (VIOLA,)}
    assert out
    for idea in out:
        assert idea.kind == "rest"
        (row,) = idea.rows
        assert idea.change.power[row].sum() == 0.0
        other = VIOLA if row == HORN else HORN
        np.testing.assert_array_equal(idea.change.power[other], doubled.ground.power[other])


def test_who_doubles_for_part_of_the_passage_only_is_not_asked_to(made):
    some = Told(made({1: low, 3: under, 5: lambda bar: under(bar) if bar < 2 else
                      [(0.0, 4.0, 55)]}, count=6))  # fmt: skip
    said = [i for i in ideas(some.ground, some.finding) if "who has them as well" in i.words]
    assert all(i.rows != (VIOLA,) for i in said)


def test_a_helper_is_as_loud_as_published_powers_have_it_in_a_forecast(later):
    # Lp = LW + G - 31 dB.
    told = Told(later)
    own = [k for k in told.ground.of(FLUTE_1) if told.ground.target[k]]
    power = played(told.ground, FLUTE_2, own)
    over = (power * rendered(told.ground, FLUTE_2)).sum() / power.sum()
    assert 10 * np.log10(over) == pytest.approx(ROOM_GAIN_DB - 31.0, abs=0.5)


def test_who_plays_nowhere_stands_as_the_others_do(made):
    """Flute 2 has no note; the others are all where published powers have them."""
    cello = lambda bar: [(0.0, 4.0, 55)]  # noqa: E731
    told = Told(made({1: low, 3: under, 6: cello}, count=6))
    over = rendered(told.ground, FLUTE_2)
    assert 10 * np.log10(over) == pytest.approx(ROOM_GAIN_DB - 31.0, abs=1.0)


def test_a_section_that_takes_a_solo_over_plays_it_with_all_who_sit_there(later):
    """N equal players add 10 lg n: twelve violins for one flute's notes, and not one violin."""
    told = Told(later)
    loud = []
    for players in (1.0, 12.0):
        lines = list(told.s.score.lines)
        lines[FLUTE_2] = replace(lines[FLUTE_2], players=players)
        s = replace(told.s, score=replace(told.s.score, lines=tuple(lines)))
        given = played(replace(told.ground, s=s), FLUTE_2, [
            k for k in told.ground.of(FLUTE_1) if told.ground.target[k]
        ])  # fmt: skip
        loud.append(10 * np.log10(given.sum()))
    assert loud[1] - loud[0] == pytest.approx(10 * np.log10(12), abs=0.01)


def test_a_helper_is_as_loud_as_where_it_plays(later):
    """A fader that lifts a player elsewhere lifts the doubling, too."""
    plain, lifted = (Told(later, by) for by in (0.0, 6.0))
    given = [given_to(t.ground, FLUTE_2, instead=False).power[FLUTE_2].sum()
             for t in (plain, lifted)]  # fmt: skip
    assert 10 * np.log10(given[1] / given[0]) == pytest.approx(6.0, abs=0.1)


def test_two_things_at_once_only_where_no_one_thing_comes_as_far(doubled, later):
    for told in (doubled, Told(later)):
        found = trials(told.s, told.spectra, told.finding)
        tried = {i.words: i for i in ideas(told.ground, told.finding)}
        alone = [steps_out(t.ratio_after) for t in found if not tried[t.words].compound]
        at_once = [steps_out(t.ratio_after) for t in found if tried[t.words].compound]
        assert all(far > max(alone, default=-1) for far in at_once)


def test_what_is_not_enough_is_left_out_beside_what_is(doubled):
    found = trials(doubled.s, doubled.spectra, doubled.finding)
    rise = [steps_out(t.ratio_after) > steps_out(t.ratio_before) for t in found]
    assert found
    assert all(rise) or not any(rise)

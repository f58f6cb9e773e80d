"""A doubling is heard with and without: what earns its players, and what adds nothing."""

from dataclasses import replace

import pytest

from auditor.hearing.measures import Limits
from auditor.judging.doublings_tried import adds_nothing, earned
from auditor.judging.foretold import foretell
from auditor.judging.saying import remark
from auditor.judging.scene import scene
from auditor.spectra.line_spectra import FLOOR_DB

LIMITS = Limits()


def heard(made, marks):
    """A flute in its low register under violas; violins have its notes."""
    case = made(
        {
            1: lambda bar: [(0.0, 4.0, 67 + bar % 3)],
            4: lambda bar: [(0.0, 4.0, 67 + bar % 3)],
            5: lambda bar: [(0.0, 4.0, 62 + bar % 2)],
        },
        count=4,
        marks=lambda line, bar: marks.get(line, 3.0),
    )
    forecast = foretell(case.score, case.intent, case.timeline, LIMITS)
    s = scene(case.score, case.timeline, forecast.windows, case.intent, forecast.heard, LIMITS)
    return s, forecast.spectra


def finding(s, kind):
    return remark(s, kind, (1, 4), (0, 3), weight=0.5, why="", sentence="As before.", own=2)


def test_a_doubling_without_which_the_line_is_lost_earns_its_players(made):
    s, spectra = heard(made, {1: 1.0, 4: 4.0, 5: 4.0})
    told = earned(s, spectra, finding(s, "works"))
    assert told.sentence.startswith("Bars 1–4: Violin I doubles Flute 1, which alone would be ")
    assert "A doubling that earns its player: leave it." in told.sentence


def test_a_line_that_does_without_its_doubling_is_praised_as_before(made):
    s, spectra = heard(made, {1: 5.0, 4: 1.0, 5: 0.0})
    praise = finding(s, "works")
    assert earned(s, spectra, praise) == praise


@pytest.mark.parametrize(("violins", "said"), [(4.0, False), (-60.0, True)])
def test_only_what_can_be_left_out_unheard_adds_nothing(made, violins, said):
    """Violins that double at f are missed when they rest; without any sound they are not."""
    s, spectra = heard(made, {1: 3.0, 4: 4.0, 5: 3.0})
    idle = replace(finding(s, "idle-doubling"), lines=(4, 1))
    if violins < 0:
        level = spectra.level_db.copy()
        level[3] = FLOOR_DB
        spectra = replace(spectra, level_db=level)
    assert adds_nothing(s, spectra, idle) is said

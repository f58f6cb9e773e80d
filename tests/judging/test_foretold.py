"""The forecast is heard with its uncertainty, and set beside a rendering."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.hearing.measures import Limits
from auditor.judging.foretold import (
    FORECAST_CAUTION,
    MOST_SURE,
    SURE,
    Forecast,
    assumptions,
    chances,
    foretell,
)
from auditor.judging.live import set_beside
from auditor.judging.scene import scene
from auditor.judging.trial import cut

LIMITS = Limits()
_KEPT: list[Forecast] = []


@pytest.fixture
def buried(made):
    """Low flute under horn, both marked; violas and cellos beneath."""
    tune = lambda bar: [(0.0, 4.0, 62 + bar % 3)]  # noqa: E731
    horn = lambda bar: [(0.0, 4.0, 60 + (bar + 1) % 3)]  # noqa: E731
    return made({1: tune, 3: horn, 5: lambda bar: [(0.0, 4.0, 55)]}, count=6)


@pytest.fixture
def forecast(buried):
    if not _KEPT:  # nothing changes it, and it takes a second
        _KEPT.append(foretell(buried.score, buried.intent, buried.timeline, LIMITS))
    return _KEPT[0]


def test_chances_are_those_of_a_normal_spread():
    # At a limit it is even; two standard deviations above it 0.977 (tables of the normal
    # distribution); the three classes are everything.
    sd = np.array([0.2, 0.2, 0.2])
    ratio = np.array([0.05, 0.05 * 10**0.4, 0.15])
    got = chances(ratio, sd, LIMITS)
    np.testing.assert_allclose(got.sum(axis=1), 1.0)
    assert got[0, 0] == pytest.approx(0.5, abs=0.01)
    assert 1 - got[1, 0] == pytest.approx(0.977, abs=0.003)
    assert got[2, 2] == pytest.approx(0.5, abs=0.01)


def test_a_low_flute_under_a_horn_is_forecast_covered(forecast, buried):
    flute = [k for k, n in enumerate(buried.score.notes) if n.line == 1]
    assert (forecast.chance[flute, 0] > 0.7).all()


def test_what_is_uncertain_has_no_state(forecast):
    notes = zip(forecast.heard.note_state, forecast.heard.note_confidence, strict=True)
    for word, sure in notes:
        if word in ("covered", "faint", "clear"):
            assert sure >= SURE


def test_no_finding_is_about_a_rendering_and_all_say_what_they_are(forecast):
    for finding in forecast.findings:
        assert finding.kind not in ("silent", "dynamic", "tempo", "climax")
        assert finding.caution == FORECAST_CAUTION
        assert "forecast" in finding.sentence


def test_the_same_score_gives_the_same_forecast(forecast, buried):
    again = foretell(buried.score, buried.intent, buried.timeline, LIMITS)
    np.testing.assert_array_equal(again.chance, forecast.chance)


def test_a_borrowed_figure_is_said(buried):
    line = buried.score.lines[0]
    strange = replace(
        line, instrument=replace(line.instrument, key="alto-flute", name="Alto flute")
    )
    said = assumptions(replace(buried.score, lines=(strange, *buried.score.lines[1:])), 4.5)
    assert any("Alto flute" in words and "6 dB" in words for words in said)


def test_remedies_can_be_left_out_and_change_no_figure(buried, forecast):
    bare = foretell(buried.score, buried.intent, buried.timeline, LIMITS, remedies=False)
    np.testing.assert_array_equal(bare.chance, forecast.chance)
    assert {f.id for f in bare.findings} >= {f.id for f in forecast.findings}
    assert any(f.tried for f in forecast.findings)
    assert not any(f.tried for f in bare.findings)


def test_a_figure_from_memory_and_what_levels_are_known_to_are_said(buried):
    line = buried.score.lines[0]
    small = replace(line, instrument=replace(line.instrument, key="piccolo", name="Piccolo"))
    said = assumptions(replace(buried.score, lines=(small, *buried.score.lines[1:])), 4.5)
    assert any("Piccolo: no measured power" in words and "5 dB" in words for words in said)
    # 3 dB of the figure at forte and 2 dB of the player are 3.6 dB; softer is less sure.
    assert any("known to 4 dB (published power, loud) to" in words for words in said)


def _beside(buried, forecast, left, **kw):
    from auditor.judging.judge import judge

    heard = buried.heard(left, **kw)
    found = judge(buried.score, buried.timeline, buried.windows, buried.intent, heard, LIMITS)
    s = scene(buried.score, buried.timeline, buried.windows, buried.intent, heard, LIMITS)
    return set_beside(s, forecast, found), found


def test_a_line_clear_in_the_mix_and_covered_in_the_forecast_is_flattered(buried, forecast):
    beside, _ = _beside(buried, forecast, lambda line, bar: 0.9)
    assert [f.kind for f in beside.findings if 1 in f.lines] == ["flattered"]
    assert "flatters Flute 1" in beside.findings[0].sentence
    assert "10 in 10" not in beside.findings[0].sentence
    assert beside.findings[0].confidence <= MOST_SURE


def test_a_single_bar_is_not_worth_a_word_and_a_bar_between_does_not_part(buried, forecast):
    once, _ = _beside(buried, forecast, lambda line, bar: 0.9 if bar == 2 else 0.1)
    assert not [f for f in once.findings if f.kind == "flattered"]
    twice, _ = _beside(buried, forecast, lambda line, bar: 0.1 if bar == 2 else 0.9)
    spans = [(f.first_bar, f.last_bar) for f in twice.findings if 1 in f.lines]
    assert spans == [(0, 5)]


def test_a_line_covered_in_the_mix_and_clear_in_the_forecast_is_wronged(made):
    """A horn has the tune over violas: nothing in a hall covers it."""
    steps = (0, 2, 4, 5, 7, 4)
    tune = lambda bar: [(0.0, 1.5, 60 + steps[bar]), (1.5, 0.5, 62), (2.0, 2.0, 64)]  # noqa: E731
    solo = made({3: tune, 5: lambda bar: [(0.0, 4.0, 55)]}, count=6)
    told = foretell(solo.score, solo.intent, solo.timeline, LIMITS, remedies=False)
    beside, _ = _beside(solo, told, lambda line, bar: 0.001)
    kinds = {(f.kind, f.lines[0]) for f in beside.findings}
    assert ("wronged", 3) in kinds
    assert "flattered" not in {kind for kind, _ in kinds}


def test_both_agree_where_both_have_it_covered(buried, forecast):
    beside, found = _beside(buried, forecast, lambda line, bar: 0.001 if line == 1 else 0.9)
    words = {name: word for name, word, _ in beside.agreement}
    about = [f.id for f in found if f.kind == "covered" and f.lines == (1,)]
    assert about
    assert all(words[name] == "agrees" for name in about)


def test_a_passage_without_times_is_not_cut(buried, forecast):
    nowhere = replace(buried.windows, onset_s=np.full(buried.windows.onset_s.size, np.nan))
    heard = buried.heard(lambda line, bar: 0.001)
    s = scene(buried.score, buried.timeline, nowhere, buried.intent, heard, LIMITS)
    found = [f for f in forecast.findings if f.kind in ("covered", "faint")]
    assert all(cut(s, forecast.spectra, f) is None for f in found)

"""Remedies are heard again: laws of the change, and a made case with a known answer."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.findings.finding import Tried
from auditor.hearing.measures import Limits
from auditor.judging.altered import both, given_to, marked, moved, shortened, silenced
from auditor.judging.foretold import Forecast, foretell
from auditor.judging.proposals import ideas
from auditor.judging.remedy import advice, heard_again, outlook, trials
from auditor.judging.scene import scene
from auditor.judging.trial import cut, hear
from auditor.spectra.line_spectra import FLOOR_DB
from auditor.timbre.dynamics import power_level_db

LIMITS = Limits()
FLUTE, HORN = 0, 2
_KEPT: list[Forecast] = []


@pytest.fixture
def case(made):
    """Flute 1 has a tune under a horn in its own register; Flute 2 rests."""
    return made({
        1: lambda bar: [(0.0, 4.0, 67 + bar % 3)],
        3: lambda bar: [(0.0, 4.0, 65 + (bar + 1) % 3)],
        5: lambda bar: [(0.0, 4.0, 55)],
    }, count=6)  # fmt: skip


@pytest.fixture
def forecast(case):
    if not _KEPT:  # nothing changes it, and it takes a second
        _KEPT.append(foretell(case.score, case.intent, case.timeline, LIMITS))
    return _KEPT[0]


@pytest.fixture
def told(case, forecast):
    """Scene of the forecast, and its finding about the flute."""
    s = scene(case.score, case.timeline, forecast.windows, case.intent, forecast.heard, LIMITS)
    about = [f for f in forecast.findings if f.lines == (1,) and f.kind in ("covered", "faint")]
    assert about
    return s, replace(about[0], tried=())


@pytest.fixture
def ground(told, forecast):
    return cut(told[0], forecast.spectra, told[1])


def level(power) -> float:
    return 10 * float(np.log10(power.sum()))


def test_a_mark_changes_the_level_as_published_powers_do(ground):
    before, after = ground.power[HORN], marked(ground, [(HORN, -1.0)]).power[HORN]
    step = float(power_level_db("horn", "brass", 3.0) - power_level_db("horn", "brass", 4.0))
    assert level(after) - level(before) == pytest.approx(step, abs=0.05)


def test_a_softer_mark_is_darker_and_touches_nobody_else(ground):
    after = marked(ground, [(HORN, -1.0)]).power
    band = np.arange(after.shape[2])
    centre = [(band * p[HORN].sum(axis=0)).sum() / p[HORN].sum() for p in (ground.power, after)]
    assert centre[1] < centre[0]
    np.testing.assert_array_equal(after[FLUTE], ground.power[FLUTE])


def test_softer_coverers_never_cover_more(ground):
    ratios = [hear(ground, marked(ground, [(HORN, -k)])).ratio for k in (0.0, 1.0, 2.0)]
    assert ratios[0] <= ratios[1] <= ratios[2]


def test_no_change_leaves_everything(ground):
    nothing = marked(ground, [(HORN, 0.0)])
    np.testing.assert_allclose(nothing.power, ground.power, rtol=1e-5)
    assert hear(ground, nothing).ratio == pytest.approx(hear(ground).ratio, rel=1e-3)


def test_without_coverers_the_line_is_clear(ground):
    others = [r for r in range(ground.power.shape[0]) if r != FLUTE]
    assert hear(ground, silenced(ground, others)).ratio > 0.9


def test_an_octave_moves_the_weight_up_an_octave(ground):
    """The centre of a held tone's lowest band with sound moves by twelve semitones."""
    up = moved(ground, FLUTE, 12)
    from auditor.units import cam_to_hz

    hz = cam_to_hz(ground.spectra.band_cam)
    strongest = [hz[int(np.argmax(p[FLUTE].sum(axis=0)))] for p in (ground.power, up.power)]
    assert 1.0 < strongest[1] / strongest[0] <= 2.6
    assert up.edits == ((FLUTE, "octave", 12.0),)


def test_a_helper_is_part_of_what_is_listened_for(ground):
    helped = given_to(ground, 1, instead=False)
    assert helped.power[1].sum() > 0
    assert hear(ground, helped).ratio > hear(ground).ratio
    instead = given_to(ground, 1, instead=True)
    assert instead.power[FLUTE].sum() == 0.0


def test_shorter_notes_only_take_away(ground):
    after = shortened(ground, [HORN]).power
    assert (after <= ground.power + 1e-12).all()
    assert after[HORN].sum() < ground.power[HORN].sum()


def test_two_changes_are_both_made(ground):
    one, two = marked(ground, [(FLUTE, 1.0)]), marked(ground, [(HORN, -1.0)])
    joint = both(one, two, ground)
    np.testing.assert_allclose(joint.power[FLUTE], one.power[FLUTE], rtol=1e-5)
    np.testing.assert_allclose(joint.power[HORN], two.power[HORN], rtol=1e-4, atol=1e-9)


def test_every_proposal_is_playable_and_is_said(told, ground):
    for idea in ideas(ground, told[1]):
        assert idea.words
        assert idea.cost >= 1.0
        assert idea.change.edits
        for row, what, amount in idea.change.edits:
            if what == "octave":
                line = told[0].score.lines[row].instrument
                pitches = told[0].windows.pitch[[ground.notes[k] for k in ground.of(row)]]
                assert line.low <= pitches.min() + amount
                assert pitches.max() + amount <= line.high


def test_the_smallest_change_that_brings_it_out_is_first(told, forecast):
    found = trials(told[0], forecast.spectra, told[1])
    assert found
    clear = [t for t in found if t.state == "clear"]
    assert [t.cost for t in clear] == sorted(t.cost for t in clear)
    assert found[: len(clear)] == tuple(clear)
    assert all(t.margin_gain_db >= 1.0 for t in found)


def test_what_was_tried_replaces_the_rules_and_promises_nothing(told, forecast):
    s, finding = told
    (better,) = heard_again(s, forecast.spectra, [finding])
    assert better.tried
    assert len(better.remedies) == len(better.tried)
    for words in better.remedies:
        assert "by this forecast it would" in words
        assert " will " not in words


def test_findings_of_other_kinds_are_left_alone(told, forecast):
    s, finding = told
    other = replace(finding, kind="works")
    assert heard_again(s, forecast.spectra, [other]) == (other,)


def tried(kind, after, gain, state):
    return Tried(f"do {kind}", kind, (3,), 1.0, 0.01, after, gain, state, 0.9)


def test_where_nothing_brings_it_out_that_is_said_plainly():
    """No advice begins with a change that is not enough."""
    weak = tried("rest", 0.03, 4.0, "covered")
    assert advice([weak], LIMITS, "rendering").startswith(
        "No single change that was tried brings it out; most is gained if you do rest"
    )
    assert "needs other scoring" in advice([], LIMITS, "rendering")
    assert advice([tried("rest", 0.3, 9.0, "clear")], LIMITS, "rendering").startswith(
        "To begin with, do rest: by this rendering it would very likely come out"
    )


def test_line_and_company_are_not_both_changed_for_nothing(told, forecast):
    """A mark up and a mark down at once are proposed only where they bring the line out."""
    s, finding = told
    hopeless = replace(s, limits=Limits(covered=0.98, clear=0.99))
    found = trials(hopeless, forecast.spectra, finding)
    assert found
    assert all(t.kind != "both" for t in found)
    gains = [t.margin_gain_db for t in found]
    assert gains == sorted(gains, reverse=True)


def test_a_passage_that_is_clear_as_a_whole_is_no_finding(told, forecast):
    """Each of its bars may be lost while all of it, heard as one, is not."""
    s, finding = told
    easy = replace(s, limits=Limits(covered=1e-6, clear=1e-5))
    assert heard_again(easy, forecast.spectra, [finding]) == ()


@pytest.mark.parametrize(
    ("chance", "word"), [(0.95, "very likely"), (0.7, "probably"), (0.5, "perhaps")]
)
def test_words_follow_the_chance(chance, word):
    tried = Tried("mark it p", "softer", (1,), 1.0, 0.01, 0.3, 6.0, "clear", chance)
    told = outlook(tried, LIMITS, "rendering")
    assert f"it would {word} come out (about 6 dB gained)" in told


def test_silence_is_not_cut(told, forecast):
    s, finding = told
    empty = replace(
        forecast.spectra, level_db=np.full_like(forecast.spectra.level_db, FLOOR_DB)
    )
    assert trials(s, empty, finding) == ()

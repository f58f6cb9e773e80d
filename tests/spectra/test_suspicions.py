"""Lines that are not rendered as written, on tones whose pitches are known by construction."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.model_files import read_json
from auditor.spectra.explained import POOLS, combed, explained, unexplained
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.suspicions import (
    ANSWERS,
    judged,
    line_features,
    score,
    suspicions,
)
from auditor.spectra.trials import INTERVALS, MOST_NOTES, other_way, trials
from auditor.spectra.unwritten import unwritten

GAIN_DB = 94.0
HORN = 1


def decomposed(piece, stems):
    found = []
    mix_spectra(stems.sum(axis=0), piece.notes, piece.timbres, GAIN_DB, watch=found.append)
    return found[0]


@pytest.fixture(scope="module")
def right(three):
    return decomposed(three, three.stems)


def with_horn(three, make_piece, interval):
    """The same page, its horn sounding `interval` off."""
    pitch = [int(p) + interval for p in three.notes.pitch[three.notes.line == HORN]]
    stems = three.stems.copy()
    stems[HORN] = make_piece({"horn": pitch}).stems[0][: stems.shape[1]]
    return decomposed(three, stems)


def test_a_page_that_is_played_as_written_is_not_accused(right):
    found = suspicions(right)
    assert {s.answer for s in found.lines} <= {"as written", "unverified"}
    assert not found.foreign
    assert [s.line for s in found.lines] == [0, 1, 2]


# Written against sounding: parts in B flat a tone, in F a fifth, in E flat a major sixth
# (standard transpositions, e.g. W. Piston, Orchestration, 1955; from memory); octaves.
# Upwards only: far below, these additive tones have nothing of a horn left.
@pytest.mark.parametrize("interval", [2, 3, 7, 9, 12])
def test_a_transposed_line_is_found_with_its_interval(three, make_piece, interval):
    found = suspicions(with_horn(three, make_piece, interval))
    horn = found.lines[HORN]
    assert (horn.answer, horn.interval) == ("transposed", interval)
    assert horn.chance > 0.5


def test_a_muted_line_is_missing_and_nothing_else_is(three):
    stems = three.stems.copy()
    stems[HORN] = 0.0
    found = suspicions(decomposed(three, stems))
    assert found.lines[HORN].answer == "missing"
    assert [s.answer for s in found.lines].count("missing") == 1


def test_a_line_buried_under_noise_is_never_called_missing(three):
    """Noise 20 dB above every tone: what is not there and what is not heard look alike."""
    rng = np.random.default_rng(8)
    stems = three.stems.copy()
    stems[HORN] = 0.0
    noise = rng.normal(0, 10 * np.sqrt((three.stems**2).sum(axis=0).mean()), stems.shape[1])
    buried = decomposed(three, np.vstack([stems, noise[None].astype(np.float32)]))
    answers = {s.answer for s in suspicions(buried).lines}
    assert "missing" not in answers


def test_a_stranger_is_sound_nobody_wrote(three, make_piece):
    """Tones at pitches a tritone or third from whatever is written."""
    stranger = make_piece({"oboe": [66, 68, 63, 65, 70, 68, 66, 61, 63, 67, 69, 65]}).stems[0]
    alone = unwritten(right_of := decomposed(three, three.stems), explained(right_of), {})
    added = np.vstack([three.stems, stranger[None, : three.stems.shape[1]]])
    found = decomposed(three, added)
    both = unwritten(found, explained(found), {})
    assert both.excess > 4 * alone.excess
    clear = both.rise > both.rise.max() - 0.7
    played = np.array([66, 68, 63, 65, 70, 68, 66, 61, 63, 67, 69, 65]) % 12
    assert np.isin(both.pitch[clear] % 12, played).mean() > 0.8
    assert suspicions(found).foreign


def test_a_transposed_line_is_not_a_stranger_to_itself(three, make_piece):
    found = with_horn(three, make_piece, 2)
    mix = explained(found)
    known = unwritten(found, mix, {HORN: 2})
    assert known.excess < 0.5 * unwritten(found, mix, {}).excess


def test_the_model_beside_the_mix_is_what_the_fit_holds(right):
    """Floor, tails and every entry's level times template, written out plainly."""
    p, fitted, mix = right.problem, right.fitted, explained(right)
    plain = (fitted.floor + p.tails)[:, :POOLS].astype(np.float64)
    for entry, segment in enumerate(mix.segment):
        plain[segment] += fitted.level[entry] * fitted.atoms[p.atom[entry], :POOLS]
    np.testing.assert_allclose(mix.model, plain, rtol=1e-3)


def test_nothing_stands_above_a_model_that_explains_all(right):
    mix = explained(right)
    assert unexplained(replace(mix, power=mix.model)).max() == pytest.approx(0.0, abs=1e-6)
    assert combed(np.ones((3, POOLS), np.float32), np.array([40.0, 60, 80])) == pytest.approx(1)


def test_trials_hold_only_intervals_that_are_asked_for(right):
    for trial in trials(right, explained(right)):
        assert set(trial.moved) <= set(INTERVALS)
        assert {12, -12} <= set(trial.moved)
        assert trial.notes.size <= MOST_NOTES
        assert (trial.otherwise is not None) == (trial.line == 2)


def test_a_line_of_few_notes_is_not_accused(three):
    stems = three.stems.copy()
    stems[HORN] = 0.0
    found = decomposed(three, stems)
    trial = trials(found, explained(found))[HORN]
    assert judged(trial).answer == "missing"
    few = replace(
        trial, notes=trial.notes[:3], written=trial.written[:3], coloured=trial.coloured[:3],
        moved={i: g[:3] for i, g in trial.moved.items()}, softer=trial.softer[:, :3],
    )  # fmt: skip
    assert judged(few).answer in ("unverified", "as written")
    assert judged(few).answer in ANSWERS


def test_more_gain_elsewhere_is_more_suspect(right):
    trial = trials(right, explained(right))[HORN]
    more = replace(trial, moved={i: g + 30.0 for i, g in trial.moved.items()})
    given = [score("transposed", line_features(t)["transposed"]) for t in (trial, more)]
    assert given[1] > given[0]


@pytest.mark.parametrize(
    ("timbre", "other"),
    [("violin", "violin+pizz"), ("cello+pizz", "cello"), ("viola-solo", "viola+pizz")],
)
def test_the_other_way_of_playing(timbre, other):
    assert other_way(timbre) == other


def test_limits_of_the_models_are_in_order():
    models = read_json("rendering_faults.json")
    for kind in ("missing", "transposed", "otherwise"):
        assert models[kind]["limits"]["said"] >= models[kind]["limits"]["often"]
    missing = models["missing"]["limits"]
    assert missing["there"] < missing["said"]

"""Lines that are not rendered as written, on tones whose pitches are known by construction."""

from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest

from auditor.model_files import read_json
from auditor.spectra.activity import PlayedNotes
from auditor.spectra.explained import POOLS, combed, explained, unexplained
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.suspicions import (
    ANSWERS,
    judged,
    line_features,
    line_support,
    score,
    suspicions,
)
from auditor.spectra.trials import INTERVALS, MOST_NOTES, held_along, other_way, trials
from auditor.spectra.unwritten import _held, unwritten

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
        onset_s=trial.onset_s[:3], offset_s=trial.offset_s[:3],
    )  # fmt: skip
    assert judged(few).answer in ("unverified", "as written")
    assert judged(few).answer in ANSWERS


@pytest.fixture(scope="module")
def without_horn(three):
    stems = three.stems.copy()
    stems[HORN] = 0.0
    found = decomposed(three, stems)
    return trials(found, explained(found))[HORN]


def against(trial, notes):
    """The same line, its notes out of place only where said, as strongly as can be counted."""
    softer = np.where(notes, -1000.0, 0.0) * np.ones((len(trial.softer), 1))
    return replace(trial, softer=softer)


def test_one_note_that_is_out_of_place_is_no_missing_line(without_horn):
    """However strongly: a last chord that is placed wrongly once accused eight lines."""
    assert judged(without_horn).answer == "missing"
    one = np.arange(without_horn.notes.size) == 0
    assert judged(against(without_horn, one)).answer in ("unverified", "as written")
    assert judged(against(without_horn, ~one)).answer == "missing"


def test_what_lies_in_two_places_is_no_missing_line(without_horn):
    close = replace(without_horn, onset_s=np.linspace(0.0, 3.9, without_horn.notes.size))
    assert judged(close).answer == "unverified"
    spread = replace(close, onset_s=2 * close.onset_s)
    assert judged(spread).answer == "missing"


def test_most_notes_must_speak_against_a_line(without_horn):
    size = without_horn.notes.size
    for share, said in ((0.4, 0.0), (0.7, 1.0)):
        some = np.arange(size) < share * size
        more = replace(against(without_horn, some), onset_s=np.arange(size) * 2.0)
        assert line_support(more)["missing"] == said


def test_what_fits_at_six_decibels_less_does_not_speak_against_a_line(without_horn):
    """Figures of instruments and players leave that much open (figure_sd_db, PLAYERS_SD)."""
    softer = without_horn.softer.copy()
    softer[1:] = 0.0
    assert line_support(replace(without_horn, softer=softer))["missing"] == 0.0


@pytest.mark.parametrize(("seconds", "said"), [(0.08, 0.0), (0.5, 1.0)])
def test_short_notes_do_not_tell_plucked_from_bowed(right, seconds, said):
    """A spiccato of 80 ms and a plucked note of 80 ms die away alike (common practice)."""
    trial = trials(right, explained(right))[2]
    plucked = replace(
        trial, otherwise=np.abs(trial.written) + 50.0, offset_s=trial.onset_s + seconds
    )
    assert line_support(plucked)["otherwise"] == said


@pytest.mark.parametrize(("beyond", "along", "said"), [
    (0.5, 0.0, True), (0.5, 1.0, False), (1.5, 1.0, True), (0.5, 0.4, True),
])  # fmt: skip
def test_plucked_must_show_more_where_others_hold_the_notes(right, beyond, along, said):
    trial = trials(right, explained(right))[2]
    limit = read_json("rendering_faults.json")["otherwise"]["limits"]["said"] + beyond
    for gain in np.arange(-40.0, 60.0, 0.25):
        plucked = replace(
            trial, coloured=trial.written, otherwise=trial.written + gain, moved={},
            along=along, offset_s=trial.onset_s + 1.0,
        )  # fmt: skip
        if score("otherwise", line_features(plucked)["otherwise"]) > limit:
            break
    assert (judged(plucked).answer == "otherwise") == said


def test_notes_that_others_hold_at_the_octave_are_held_along(make_piece):
    """The lower of two in octaves throughout, and a third line a tone off."""
    low = [38, 41, 43, 36]
    piece = make_piece({"cello": low, "horn": [p + 12 for p in low], "flute": [86, 88, 90, 85]})
    share = [held_along(piece.notes, k, np.flatnonzero(piece.notes.line == k)) for k in (0, 1)]
    assert share == [1.0, 0.0]


def test_a_transposition_in_one_place_is_no_wrong_part(right):
    trial = trials(right, explained(right))[HORN]
    moved = replace(trial, moved={i: np.full_like(g, 1e3) for i, g in trial.moved.items()})
    assert line_support(moved)["transposed"] == 1.0
    assert line_support(replace(moved, onset_s=0.1 * moved.onset_s))["transposed"] == 0.0


def test_sound_where_the_page_has_no_place_is_not_foreign(make_piece):
    """Notes from 3 to 9 s were not placed: the mix goes on for six seconds without a page."""
    whole = make_piece({"flute": [86, 88, 90, 85] * 6, "cello": [38, 41, 43, 36] * 6})
    keep = (whole.notes.onset_s < 3.0) | (whole.notes.onset_s > 9.0)
    given = {f.name: getattr(whole.notes, f.name) for f in fields(whole.notes)}
    placed = {k: v[keep] if isinstance(v, np.ndarray) else v for k, v in given.items()}
    notes = PlayedNotes(**placed)
    part = SimpleNamespace(notes=notes, timbres=whole.timbres)
    found = decomposed(part, whole.stems)
    rest = unwritten(found, explained(found), {})
    inside = (rest.start_s > 4.0) & (rest.end_s < 8.5)
    assert (rest.rise[inside] == -1.0).all()
    assert (rest.start_s < 5.0).any()
    assert not suspicions(found).foreign


@pytest.mark.parametrize(
    ("densest", "held", "said"), [(0.8, 9, True), (0.8, 1, False), (0.05, 9, False)]
)
def test_a_layer_for_some_bars_is_foreign_though_the_whole_mix_holds_little(
    right, monkeypatch, densest, held, said
):
    """A few bars of a movement: the mean over all of it is no more than without them."""
    rest = replace(
        unwritten(right, explained(right), {}), excess=0.03, densest=densest, held=held
    )
    monkeypatch.setattr("auditor.spectra.suspicions.unwritten", lambda *_: rest)
    assert suspicions(right).foreign == said


def test_a_short_stranger_is_dense_where_it_sounds(make_piece):
    """Twelve seconds in forty: the mean over all is under a third of that where it plays."""
    lines = {"flute": [86, 88, 90, 85] * 20, "cello": [38, 41, 43, 36] * 20}
    piece = make_piece(lines)
    layer = make_piece({"oboe": [0] * 30 + [66, 68, 63, 65, 70, 68] * 4 + [0] * 26}).stems[0]
    whole = np.vstack([piece.stems, layer[None, : piece.stems.shape[1]]])
    found = decomposed(piece, whole)
    rest = unwritten(found, explained(found), {})
    assert rest.densest > 2.5 * rest.excess
    assert rest.densest > 0.2


@pytest.mark.parametrize(("held", "said"), [(0, False), (1, False), (2, True)])
def test_what_stands_out_once_or_is_not_held_is_not_foreign(right, monkeypatch, held, said):
    """Strokes and noises that no template has stand out as far as a foreign note does."""
    rest = replace(unwritten(right, explained(right), {}), excess=3.0, held=held)
    monkeypatch.setattr("auditor.spectra.suspicions.unwritten", lambda *_: rest)
    assert suspicions(right).foreign == said


def test_only_what_is_held_counts_as_a_foreign_note():
    """Sound that stands out for 0.1 s is counted nowhere; half a second is."""
    for seconds, held in ((0.1, 0), (0.5, 3)):
        edge = np.arange(0.0, 7 * seconds, seconds)
        rise = np.array([-1.0, 3.0, -1.0, 3.0, -1.0, 3.0])
        assert _held(rise, np.full(6, 70), edge[:7]) == held


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


@pytest.mark.parametrize(("interval", "said"), [(12, True), (-12, True), (7, False)])
def test_a_passage_in_another_key_must_show_more_than_one_in_another_octave(
    right, monkeypatch, interval, said
):
    """An octave switch may be thrown for some bars; a transposition is the whole track's."""
    trial = trials(right, explained(right))[HORN]
    limit = read_json("rendering_faults.json")["transposed"]["limits"]["said"]
    for gain in np.arange(0.0, 60.0, 0.5):
        moved = {interval: np.maximum(trial.written, 0.0) + gain}
        doubted = replace(trial, moved=moved, otherwise=None)
        if score("transposed", line_features(doubted)["transposed"]) > limit + 1.0:
            break
    monkeypatch.setattr("auditor.spectra.suspicions.doubtful", lambda *_: [(0, doubted)])
    found = [s for s in suspicions(right).passages if s.answer == "transposed"]
    assert [s.interval for s in found] == ([interval] if said else [])

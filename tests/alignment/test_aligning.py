import mir_eval
import numpy as np
import pytest
from music_made import NOTE_S, made_score, melody, played

from auditor.alignment.aligning import align
from auditor.errors import AlignmentError
from auditor.sound.reading import Sound


def errors_ms(score, timeline, truth) -> np.ndarray:
    placed = timeline.seconds([n.onset for n in score.notes])
    return 1000 * np.abs(placed - truth)


def sound_of(samples: np.ndarray) -> Sound:
    return Sound(samples, 44_100, 1, samples.size / 44_100, "made.wav")


@pytest.fixture(scope="module")
def piece():
    return made_score(melody(1, 24))


def test_notes_are_found_where_they_were_put(piece):
    samples, truth = played(piece, seed=3)
    timeline = align(piece, sound_of(samples))
    error = errors_ms(piece, timeline, truth)
    # Suggested acceptance for a rendered mock-up: median 20 ms, 95 % within 50 ms.
    assert np.median(error) <= 20
    assert np.percentile(error, 95) <= 50
    assert timeline.order == tuple(range(24))
    assert timeline.surprises == ()
    assert min(b.confidence for b in timeline.bars) > 0.5


def test_both_directions_agree(piece):
    samples, _ = played(piece, seed=4)
    timeline = align(piece, sound_of(samples))
    quarters = np.linspace(1.0, piece.duration - 1.0, 50)
    np.testing.assert_allclose(
        timeline.quarters(timeline.seconds(quarters)), quarters, atol=1e-6
    )
    for run in timeline.stretches:
        assert np.all(np.diff(run.quarters) > 0)
        assert np.all(np.diff(run.seconds) > 0)


def test_sound_before_and_after_is_left_out(piece):
    samples, truth = played(piece, seed=5)
    lead, tail = np.zeros(3 * 44_100, np.float32), np.zeros(4 * 44_100, np.float32)
    timeline = align(piece, sound_of(np.concatenate([lead, samples, tail])))
    assert np.percentile(errors_ms(piece, timeline, truth + 3.0), 95) <= 50
    assert np.isnan(timeline.quarters([1.0])[0])


def test_tempo_may_be_half_of_what_the_page_says(piece):
    samples, truth = played(piece, seed=6, slower=1.9)
    assert np.percentile(errors_ms(piece, align(piece, sound_of(samples)), truth), 95) <= 50


def test_a_repeat_that_is_not_taken_is_found():
    score = made_score(melody(2, 16), repeat=(0, 8))
    assert [b.pass_number for b in score.bars[:16]] == [1] * 8 + [2] * 8
    samples, truth = played(score, seed=7, order=[*range(8), *range(16, 24)])
    timeline = align(score, sound_of(samples))
    assert timeline.order == (*range(8), *range(16, 24))
    assert timeline.surprises == (
        "the music of bars 1 to 8 (time 2) sounds once less than the repeats ask",
    )
    heard = np.isfinite(truth)
    error = errors_ms(score, timeline, truth)
    assert np.percentile(error[heard], 95) <= 50
    assert np.all(np.isnan(error[~heard]))
    assert timeline.bars[10].reason == "not played"
    assert timeline.bars[10].confidence == 0


def test_a_repeat_that_is_taken_is_found():
    score = made_score(melody(2, 16), repeat=(0, 8))
    samples, truth = played(score, seed=8)
    timeline = align(score, sound_of(samples))
    assert timeline.order == tuple(range(24))
    assert timeline.surprises == ()
    assert np.percentile(errors_ms(score, timeline, truth), 95) <= 50


def test_a_cut_is_found(piece):
    samples, _ = played(piece, seed=9, order=[*range(8), *range(16, 24)])
    timeline = align(piece, sound_of(samples))
    assert timeline.order == (*range(8), *range(16, 24))
    assert timeline.surprises == ("the music of bars 9 to 16 is not played",)


def test_an_excerpt_is_found(piece):
    samples, _ = played(piece, seed=10, order=list(range(6, 18)))
    assert align(piece, sound_of(samples)).order == tuple(range(6, 18))


def test_another_piece_is_refused(piece):
    samples, _ = played(made_score(melody(77, 24)), seed=11)
    with pytest.raises(AlignmentError, match="check that") as caught:
        align(piece, sound_of(samples))
    assert caught.value.exit_code == 4


def test_noise_is_refused(piece):
    noise = np.random.default_rng(0).normal(0, 0.1, 30 * 44_100).astype(np.float32)
    with pytest.raises(AlignmentError, match="check that"):
        align(piece, sound_of(noise))


def test_a_transposed_sound_says_by_how_much(piece):
    samples, _ = played(piece, seed=12, transpose=2)
    with pytest.raises(AlignmentError, match="2 semitones higher than the score"):
        align(piece, sound_of(samples))


def test_a_tone_a_third_of_a_semitone_off_is_followed(piece):
    samples, truth = played(piece, seed=13, cents=35.0)
    timeline = align(piece, sound_of(samples))
    assert dict(timeline.fit)["tuning_semitones"] == pytest.approx(0.35, abs=0.06)
    assert np.percentile(errors_ms(piece, timeline, truth), 95) <= 50


@pytest.mark.parametrize("cents", [-60.0, 60.0])
def test_more_than_half_a_semitone_off_is_no_transposition(piece, cents):
    samples, truth = played(piece, seed=18, cents=cents)
    timeline = align(piece, sound_of(samples))
    assert dict(timeline.fit)["tuning_semitones"] == pytest.approx(cents / 100, abs=0.06)
    assert np.percentile(errors_ms(piece, timeline, truth), 95) <= 50


def test_drums_alone_cannot_be_aligned(piece):
    drums = made_score([(o, d, 0) for o, d, _ in melody(1, 8)], unpitched=True)
    samples, _ = played(piece, seed=14)
    with pytest.raises(AlignmentError, match="no pitched notes"):
        align(drums, sound_of(samples))


@pytest.mark.parametrize("bars", [1, 2])
def test_very_short_scores_are_taken(bars):
    score = made_score(melody(5, bars))
    samples, truth = played(score, seed=15)
    timeline = align(score, sound_of(samples))
    assert np.max(errors_ms(score, timeline, truth)) <= 3 * 1000 * NOTE_S


def test_mir_eval_judges_the_same(piece):
    # mir_eval 0.8 on a toy case: median 0.075 s, mean 0.0925 s.
    toy = np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.02, 2.05, 2.9, 4.2])
    assert mir_eval.alignment.absolute_error(*toy) == pytest.approx((0.075, 0.0925))
    samples, truth = played(piece, seed=16)
    timeline = align(piece, sound_of(samples))
    onsets = np.array([n.onset for n in piece.notes])
    _, first = np.unique(onsets, return_index=True)
    reference, estimate = truth[first], timeline.seconds(onsets[first])
    median, mean = mir_eval.alignment.absolute_error(reference, estimate)
    assert median <= 0.02
    assert mean <= 0.03
    assert mir_eval.alignment.percentage_correct(reference, estimate, window=0.05) >= 0.95


def test_a_long_silence_is_no_tempo_and_no_jump(piece):
    samples, truth = played(piece, seed=17)
    at = truth[next(k for k, n in enumerate(piece.notes) if n.bar == 10)] - 0.03
    cut = round(at * 44_100)
    quiet = np.zeros(15 * 44_100, np.float32)
    timeline = align(piece, sound_of(np.concatenate([samples[:cut], quiet, samples[cut:]])))
    moved = np.where(truth >= at, truth + 15.0, truth)
    assert timeline.order == tuple(range(24))
    assert np.percentile(errors_ms(piece, timeline, moved), 95) <= 50


@pytest.mark.parametrize("soft", [range(8), range(8, 16), range(16, 24)])
def test_soft_music_is_neither_silence_nor_a_fading_room(piece, soft):
    # Orchestras span some 50 dB between pp and ff (common practice, no source).
    samples, truth = played(piece, seed=19)
    edges = [truth[next(k for k, n in enumerate(piece.notes) if n.bar == b)] for b in soft]
    start, end = edges[0] - 0.03, np.inf if soft[-1] == 23 else edges[-1] + 1.9
    at = np.arange(samples.size) / 44_100
    samples = np.where((at >= start) & (at < end), samples * 10 ** (-50 / 20), samples)
    timeline = align(piece, sound_of(samples.astype(np.float32)))
    assert timeline.order == tuple(range(24))
    assert timeline.surprises == ()
    assert np.percentile(errors_ms(piece, timeline, truth), 95) <= 60


def test_a_pause_with_hiss_is_no_music(piece):
    samples, truth = played(piece, seed=17)
    at = truth[next(k for k, n in enumerate(piece.notes) if n.bar == 10)] - 0.03
    cut = round(at * 44_100)
    hiss = np.random.default_rng(1).normal(0, 1, 12 * 44_100).astype(np.float32)
    hiss *= float(np.sqrt(np.mean(samples**2))) * 10 ** (-55 / 20)
    timeline = align(piece, sound_of(np.concatenate([samples[:cut], hiss, samples[cut:]])))
    moved = np.where(truth >= at, truth + 12.0, truth)
    assert timeline.order == tuple(range(24))
    assert np.percentile(errors_ms(piece, timeline, moved), 95) <= 50


def test_a_passage_played_once_too_often_is_found(piece):
    order = [*range(12), *range(4, 24)]
    samples, _ = played(piece, seed=19, order=order)
    timeline = align(piece, sound_of(samples))
    assert timeline.order == tuple(order)
    assert timeline.surprises == (
        "the music of bars 5 to 12 sounds more often than the score asks",
    )


def test_four_bars_in_a_loop_are_found(piece):
    order = [*range(12), *range(8, 12), *range(8, 24)]
    samples, _ = played(piece, seed=22, order=order)
    timeline = align(piece, sound_of(samples))
    assert timeline.order == tuple(order)
    assert timeline.surprises == (
        "the music of bars 9 to 12 sounds more often than the score asks",
    )


@pytest.mark.parametrize("order", [range(8, 24), range(14)], ids=["from bar 9", "ends early"])
def test_a_mock_up_of_a_part_of_the_score_is_followed(piece, order):
    samples, truth = played(piece, seed=23, order=list(order))
    timeline = align(piece, sound_of(samples))
    assert timeline.order == tuple(order)
    heard = np.isfinite(truth)
    assert np.percentile(errors_ms(piece, timeline, truth)[heard], 95) <= 50


def test_another_movement_in_the_same_file_is_named(piece):
    samples, truth = played(piece, seed=20)
    other, _ = played(made_score(melody(78, 16)), seed=21)
    timeline = align(piece, sound_of(np.concatenate([samples, other])))
    assert timeline.order == tuple(range(24))
    assert len(timeline.surprises) == 1
    assert timeline.surprises[0].endswith("the sound is not in the score")
    assert np.percentile(errors_ms(piece, timeline, truth), 95) <= 50
    after = np.arange(samples.size / 44_100 + 1.0, (samples.size + other.size) / 44_100, 0.5)
    assert np.all(np.isnan(timeline.quarters(after)))

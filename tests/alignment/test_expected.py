import numpy as np

from auditor.alignment.expected import Events, chroma_rows, flux_rows, pitch_rows
from auditor.sound.features import LOWEST


def one(pitch: int, *, decays: bool = False) -> Events:
    return Events(
        onset=np.array([1.0]),
        offset=np.array([3.0]),
        pitch=np.array([pitch - LOWEST]),
        power=np.array([1.0]),
        decays=np.array([decays]),
        kind=np.array([0]),
        lag_s=np.array([0.0]),
    )


def test_a_note_stands_where_it_sounds_and_nowhere_else():
    rows = pitch_rows(one(69), np.array([1.0]), np.array([3.0]), 50, 10.0)
    assert rows[:9].max() == 0
    assert rows[35:].max() < 0.05 * rows.max()
    assert np.argmax(rows[20]) == 69 - LOWEST


def test_partials_lie_where_the_harmonic_series_puts_them():
    # Intervals of the harmonic series above the fundamental in whole semitones: octave 12,
    # twelfth 19, double octave 24, seventeenth 28 (any acoustics textbook).
    row = pitch_rows(one(60), np.array([0.0]), np.array([3.0]), 20, 10.0)[10]
    for step in (12, 19, 24, 28):
        at = 60 - LOWEST + step
        assert row[at] > row[at - 2]
        assert row[at] > row[at + 2]


def test_plucked_notes_die_away_and_held_ones_do_not():
    times = np.array([0.0]), np.array([3.0])
    held = pitch_rows(one(60), *times, 30, 10.0)
    plucked = pitch_rows(one(60, decays=True), *times, 30, 10.0)
    assert held[25].max() == held[5].max()
    assert plucked[25].max() < 0.5 * plucked[5].max()


def test_transposing_the_notes_transposes_the_rows():
    # Below, where a semitone is narrower than the window resolves, the smear differs.
    low = pitch_rows(one(72), np.array([0.0]), np.array([3.0]), 10, 10.0)[5]
    high = pitch_rows(one(79), np.array([0.0]), np.array([3.0]), 10, 10.0)[5]
    strong = np.flatnonzero(low[:78] > 0.3 * low.max())
    assert len(strong) >= 3
    np.testing.assert_array_equal(np.flatnonzero(high[7:] > 0.3 * high.max()), strong)


def test_chroma_is_strongest_at_the_pitch_class():
    rows = chroma_rows(pitch_rows(one(62), np.array([0.0]), np.array([3.0]), 10, 10.0))
    assert np.argmax(rows[5]) == 2


def test_rises_stand_at_the_onset_only():
    rows = flux_rows(one(69), np.array([1.0]), 300, 100.0)
    assert np.flatnonzero(rows.max(axis=1)).tolist() == [100]


def test_unpitched_notes_rise_in_the_broad_column_only():
    drum = Events(*(np.array([v]) for v in (1.0, 1.2, -1, 1.0, True, 0, 0.0)))
    rows = flux_rows(drum, np.array([1.0]), 300, 100.0)
    assert rows[100, -1] > 0
    assert rows[:, :-1].max() == 0


def test_a_live_room_lets_notes_fade_for_longer():
    times = np.array([0.0]), np.array([1.0])
    dry, wet = (pitch_rows(one(60), *times, 30, 10.0, fall) for fall in (20.0, 5.0))
    np.testing.assert_array_equal(dry[:10], wet[:10])
    # 60 dB is a factor of 1e6 in power: ln(1e6) / 5 = 2.8 s; after 0.5 s a sixth of it is gone.
    fallen_db = 10 * np.log10(wet[15].max() / wet[9].max()) / 0.3
    assert -60 * 0.6 / 2.76 < fallen_db < -60 * 0.4 / 2.76
    assert dry[15].max() < wet[15].max()

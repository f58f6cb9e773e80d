import numpy as np
import pytest

from auditor.hearing.salience import note_colour, pitch_salience
from auditor.sound.spectrum import POOL_HZ, RATE_HZ, frame_times, pooled_power
from auditor.units import midi_to_hz


def sung(pitches, levels_db, seconds=1.5):
    """Harmonic notes with amplitudes falling by 6 dB an octave, frames and times."""
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    out = np.zeros(t.size)
    for pitch, level in zip(pitches, levels_db, strict=True):
        hz = float(midi_to_hz(pitch))
        for k in range(1, int(8000 / hz) + 1):
            out += 10 ** (level / 20) / k * np.sin(2 * np.pi * k * hz * t + k)
    power = pooled_power(out.astype(np.float32))
    return power, frame_times(len(power))


@pytest.mark.parametrize("pitch", [45, 57, 69, 81])
def test_the_pitch_that_sounds_is_the_most_salient(made, pitch):
    # Salamon and Gómez (2012): the sum over 20 harmonics peaks at the fundamental.
    power, frame_s = sung([pitch], [-20])
    notes = [(0, 0.3, 1.2, p) for p in range(pitch - 11, pitch + 12)]
    salience = pitch_salience(power, POOL_HZ, frame_s, made.windows(notes, ["x"]))
    assert salience.argmax() == 11
    assert salience[11] > 0.95


def test_a_softer_note_is_less_salient(made):
    given = made.windows([(0, 0.3, 1.2, 64), (0, 0.3, 1.2, 57)], ["x"])
    seen = [
        pitch_salience(*(lambda s: (s[0], POOL_HZ, s[1]))(sung([64, 57], [level, -20])), given)
        for level in (-20, -30, -40)
    ]
    assert seen[0][0] > seen[1][0] > seen[2][0]
    assert seen[2][1] > 0.95


def test_no_pitch_no_salience(made):
    power, frame_s = sung([60], [-20])
    given = made.windows([(0, 0.3, 1.2, 0), (0, np.nan, np.nan, 60)], ["x"])
    assert np.isnan(pitch_salience(power, POOL_HZ, frame_s, given)).all()


def test_colour_tells_bright_from_dark_and_slow_from_quick(made):
    dark = made.band_levels(*made.harmonic(220.0, 70, -12.0))
    bright = made.band_levels(*made.harmonic(220.0, 70, -3.0))
    swell = [(20 + k, 21 + k, bright - 30 + k) for k in range(30)]
    spectra = made.spectra([[(20, 60, dark)], [(20, 60, bright)], swell])
    notes = [(row, 20 * made.step_s, 50 * made.step_s, 57) for row in range(3)]
    colour = note_colour(spectra, made.windows(notes, ["a", "b", "c"]))
    assert colour.centroid_hz[1] > 2 * colour.centroid_hz[0]
    assert colour.attack_s[0] == 0.0
    assert colour.attack_s[2] == pytest.approx(29 * made.step_s, abs=made.step_s)

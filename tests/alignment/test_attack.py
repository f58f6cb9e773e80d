import numpy as np
import pytest

from auditor.alignment.attack import KINDS, average_rise, kind_of, lags_s, usual_lag_s, width_ms
from auditor.score.instruments import table
from auditor.score.notes import Note

STRUCK, REED, SECTION = (KINDS.index(k) for k in ("struck", "reed", "section"))


def rises(width: int, pitch: int = 40) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Forty notes whose rise begins `width` frames before the steepest place."""
    flux = np.zeros((5000, 86), np.float32)
    peaks = np.arange(100, 4900, 120)
    for peak in peaks:
        for lag in range(-width, width + 1):
            flux[peak + lag, [pitch, pitch + 12]] += 1 - abs(lag) / (width + 1)
    return flux, peaks / 100.0, np.full(peaks.size, pitch)


def lag(width: int, kind: int) -> float:
    flux, onset, pitch = rises(width)
    return float(lags_s(flux, onset, pitch, np.full(pitch.size, kind))[0])


@pytest.mark.parametrize("kind", [STRUCK, REED, SECTION])
def test_slower_rises_are_later(kind):
    assert np.all(np.diff([lag(width, kind) for width in (1, 3, 5, 8)]) > 0)


def test_lag_stays_within_what_single_notes_show():
    # Struck notes are seen 17 ms early, slow string ensembles 92 ms late at most
    # (tests/bench/alignment_lag.py, FluidR3); a mean of seconds' worth would be no attack.
    for width in (0, 2, 14):
        for kind in range(len(KINDS)):
            assert -0.03 <= lag(width, kind) <= 0.092


def test_few_notes_get_what_is_usual_for_their_kind():
    flux, onset, pitch = rises(3)
    kind = np.full(5, SECTION)
    np.testing.assert_array_equal(lags_s(flux, onset[:5], pitch[:5], kind), usual_lag_s(kind))


def test_kinds_are_heard_apart():
    fast, onset, low = rises(1, 30)
    slow, _, high = rises(7, 50)
    found = lags_s(
        fast + slow,
        np.concatenate([onset, onset]),
        np.concatenate([low, high]),
        np.repeat([STRUCK, SECTION], onset.size),
    )
    assert found[0] < found[-1]


# Onset of the sound before the middle of its rise grows with the time a player needs:
# plucked at once, bowed sections last (common practice, no source).
def test_usual_lags_keep_the_order_of_the_families():
    struck, reed, section = usual_lag_s(np.array([STRUCK, REED, SECTION]))
    assert struck < reed < section


@pytest.mark.parametrize(
    ("key", "techniques", "players", "kind"),
    [
        ("harp", (), 1.0, "struck"), ("timpani", (), 1.0, "struck"),
        ("violin", ("pizz",), 14.0, "struck"), ("violin", (), 14.0, "section"),
        ("violin", (), 1.0, "bowed"), ("flute", (), 1.0, "flute"), ("oboe", (), 1.0, "reed"),
        ("horn", (), 1.0, "brass"), ("choir", (), 20.0, "voice"),
    ],
)  # fmt: skip
def test_the_instrument_and_its_technique_decide_the_kind(key, techniques, players, kind):
    instrument = next(e.instrument for e in table() if e.instrument.key == key)
    note = Note("n", "n", 1, 1, 0, 1.0, 0.0, 1.0, 60, 60, 3.0, True, techniques, players)
    assert KINDS[kind_of(note, instrument)] == kind


def test_the_end_of_an_earlier_note_is_no_attack():
    flux, onset, pitch = rises(3)
    before = flux.copy()
    for peak in np.rint(onset * 100).astype(int):
        before[peak - 9 : peak - 6, [40, 52]] += 0.3
    widths = [width_ms(average_rise(f, onset, pitch)) for f in (flux, before)]
    assert widths[1] == pytest.approx(widths[0], abs=1.0)

"""Takes for comparison by ear: which there are, at what levels, exact where stems are."""

import dataclasses

import numpy as np
import pytest
import soundfile

from auditor.report.clips import RATE_HZ
from auditor.report.takes import Wanted, takes_of

SPAN_S = (9.6, 19.2)  # bars 5 to 8 of the invented piece


def wanted(audit, kind="covered", **more):
    finding = next(f for f in audit.findings if f.kind == kind)
    return Wanted(finding, *SPAN_S, **more)


def words(audit, want):
    return [take.words for take in takes_of(audit, [want])[want.finding.id]]


def rms(x):
    return float(np.sqrt(np.mean(np.square(x, dtype=np.float64))))


def test_a_covered_line_has_four_takes(audit):
    # The invented finding names line 8, the trombone, as its chief coverer.
    assert words(audit, wanted(audit)) == [
        "as it is", "line 6 dB forward", "line alone", "without Trombone",
    ]  # fmt: skip


def test_an_idle_doubling_is_first_heard_without_itself(audit):
    assert words(audit, wanted(audit, "idle-doubling"))[1] == "without Viola"


def test_what_works_or_is_only_glanced_at_has_the_mix_alone(audit):
    assert words(audit, wanted(audit, "works")) == ["as it is"]
    assert words(audit, wanted(audit, parted=False)) == ["as it is"]


def test_where_there_is_nothing_to_hear_there_are_no_takes(audit):
    finding = audit.findings[0]
    for span in ((np.nan, 3.0), (1.0, np.nan), (9e3, 9e3 + 3), (2.0, 2.0)):
        assert takes_of(audit, [Wanted(finding, *span)]) == {}


@pytest.fixture
def stemmed(audit, tmp_path):
    """The invented audit with two stems: the oboe's and the trombone's make up the mix."""
    t = np.arange(audit.samples.size) / RATE_HZ
    oboe = (0.05 * np.sin(2 * np.pi * 880 * t)).astype(np.float32)
    trombone = (0.4 * np.sin(2 * np.pi * 220 * t)).astype(np.float32)
    paths = [None] * len(audit.score.lines)
    for row, sound in ((1, oboe), (7, trombone)):
        paths[row] = tmp_path / f"{row}.wav"
        soundfile.write(paths[row], sound, RATE_HZ, subtype="FLOAT")
    return (
        dataclasses.replace(audit, samples=oboe + trombone, stems=tuple(paths)),
        oboe,
        trombone,
    )


def test_from_stems_takes_are_exact_and_share_one_gain(stemmed):
    audit, oboe, trombone = stemmed
    want = wanted(audit)
    takes = takes_of(audit, [want])[want.finding.id]
    assert all(take.exact for take in takes)
    mix, forward, alone, without = (take.samples for take in takes)
    middle = slice(RATE_HZ, 8 * RATE_HZ)  # ends are faded
    first = round(SPAN_S[0] * RATE_HZ)
    o, t = (x[first:][middle].astype(np.float64) for x in (oboe, trombone))
    # One gain for all: that of the mix as it is.
    gain = rms(mix[middle]) / rms(o + t)
    for take, truth in (
        (mix, o + t), (forward, 10 ** (6 / 20) * o + t), (alone, o), (without, o),
    ):  # fmt: skip
        np.testing.assert_allclose(take[middle], gain * truth, atol=1e-5)


def test_no_take_is_louder_than_the_mix_ever_is(stemmed):
    audit, *_ = stemmed
    allowed = np.abs(audit.samples).max()
    peaks = [np.abs(t.samples).max() for t in takes_of(audit, [wanted(audit)]).popitem()[1]]
    assert max(peaks) == pytest.approx(allowed, rel=1e-3)  # the forward take had to give way
    assert all(peak <= allowed * (1 + 1e-6) for peak in peaks)


def test_where_nothing_was_kept_the_mix_is_all_there_is(audit):
    bare = dataclasses.replace(audit, spectra=None)
    assert words(bare, wanted(bare)) == ["as it is"]


@pytest.mark.parametrize(
    ("confidence", "off_db"), [(1.0, 1.0), (0.8, 1.0), (0.7, 2.0), (0.5, 3.0), (0.1, 4.0)]
)
def test_an_estimate_says_how_far_it_may_be_off(audit, confidence, off_db):
    sure = np.full_like(audit.spectra.confidence, confidence)
    unsure = dataclasses.replace(
        audit, spectra=dataclasses.replace(audit.spectra, confidence=sure)
    )
    want = wanted(unsure)
    mix, *parted = takes_of(unsure, [want])[want.finding.id]
    assert mix.sure_db == 0.0
    assert [take.sure_db for take in parted] == [off_db] * 3


def test_what_is_exact_is_sure(stemmed):
    audit, *_ = stemmed
    takes = takes_of(audit, [wanted(audit)]).popitem()[1]
    assert {take.sure_db for take in takes} == {0.0}


def test_where_a_stem_is_missing_the_line_is_parted_by_estimate(stemmed):
    audit, *_ = stemmed
    some = dataclasses.replace(audit, stems=(*audit.stems[:7], *[None] * 6))
    want = wanted(some)
    assert [take.exact for take in takes_of(some, [want])[want.finding.id]] == [
        True, False, False, False,
    ]  # fmt: skip

"""Faults of the rendering: marks and tempi that the sound does not make."""

import pytest


def tune(bar):
    a = 76 + (3 * bar) % 8
    return [(0.0, 1.5, a), (1.5, 0.5, a + 1), (2.0, 2.0, a + 4)]


def chord(pitch):
    return lambda bar: [(float(k), 1.0, pitch + (bar % 2)) for k in range(4)]


PLAYING = {1: tune, 4: chord(67), 5: chord(60), 6: lambda bar: [(0.0, 4.0, 48 - bar % 3)]}
# Sound power of one player in forte, dB: what the marks ask of each line, less one step.
USUAL = {1: 78.0, 4: 75.0, 5: 73.0, 6: 74.0}


def clear(line, bar):
    return 0.6


def of_kind(findings, kind):
    return [f for f in findings if f.kind == kind]


def lowered(by, bars):
    return lambda line, bar: USUAL[line] - (by if line == 1 and bar in bars else 0.0)


def test_a_line_that_sinks_under_its_mark_is_the_renderings_fault(made):
    found = made(PLAYING, count=12).judged(clear, level=lowered(12.0, (4, 5, 6)))
    (one,) = of_kind(found, "dynamic")
    assert one.lines == (1,)
    assert (one.first_bar, one.last_bar) == (4, 6)
    assert "Flute 1 is marked about mf, but sounds some 12 dB softer" in one.sentence
    assert "rendering's doing" in one.sentence


@pytest.mark.parametrize("by", [0.0, 4.0, -12.0])
def test_small_differences_and_louder_passages_are_no_remark(made, by):
    found = made(PLAYING, count=12).judged(clear, level=lowered(by, (4, 5, 6)))
    assert not of_kind(found, "dynamic")


def test_a_line_marked_softer_may_be_softer(made):
    case = made(
        PLAYING,
        count=12,
        marks=lambda line, bar: 0.0 if line == 1 and bar in (4, 5, 6) else 3.0,
    )
    found = case.judged(clear, level=lowered(12.0, (4, 5, 6)))
    assert not of_kind(found, "dynamic")


def test_an_accompaniment_may_be_held_back(made):
    found = made(PLAYING, count=12).judged(
        clear, level=lambda line, bar: USUAL[line] - (12.0 if line == 5 and bar > 5 else 0.0)
    )
    assert not of_kind(found, "dynamic")


def louder(by, bars, line=5):
    return lambda n, bar: USUAL[n] + (by if n == line and bar in bars else 0.0)


def test_an_accompaniment_far_over_its_mark_is_the_renderings_fault(made):
    found = made(PLAYING, count=12).judged(clear, level=louder(14.0, (4, 5, 6)))
    (one,) = of_kind(found, "dynamic")
    assert one.lines == (5,)
    assert (one.first_bar, one.last_bar) == (4, 6)
    assert "Viola is marked about mf, but sounds some 14 dB louder" in one.sentence


@pytest.mark.parametrize(("by", "bars", "line"), [(6.0, (4, 5, 6), 5), (14.0, (4,), 5),
                                                  (14.0, (4, 5, 6), 1)])  # fmt: skip
def test_a_little_louder_a_short_swell_and_a_melody_are_no_remark(made, by, bars, line):
    found = made(PLAYING, count=12).judged(clear, level=louder(by, bars, line))
    assert not of_kind(found, "dynamic")


# The made case is played at 120 quarters a minute.
@pytest.mark.parametrize(("asked", "way"), [(80.0, "faster"), (180.0, "slower")])
def test_a_tempo_far_from_the_mark(made, asked, way):
    found = made(PLAYING, count=12, tempo=lambda bar: asked).judged(clear)
    (one,) = of_kind(found, "tempo")
    assert (one.first_bar, one.last_bar) == (0, 11)
    assert f"{way} than the mark, about 120 quarters a minute instead of {asked:.0f}" in (
        one.sentence
    )
    assert one.weight == pytest.approx(0.3)


@pytest.mark.parametrize("asked", [None, 100.0, 120.0, 140.0])
def test_a_tempo_near_the_mark_or_none_is_no_remark(made, asked):
    found = made(PLAYING, count=12, tempo=lambda bar: asked).judged(clear)
    assert not of_kind(found, "tempo")


def test_an_accompaniment_that_is_too_loud_as_a_whole_is_one_remark(made):
    """By less than any one line must show to be remarked on."""

    def level(line, bar):
        return USUAL[line] + (6.5 if line != 1 and bar in (4, 5, 6) else 0.0)

    found = made(PLAYING, count=12).judged(clear, level=level)
    (one,) = of_kind(found, "dynamic")
    assert one.lines == (4, 5, 6)
    assert (one.first_bar, one.last_bar) == (4, 6)
    assert "are marked about mf, but sound some 6 dB louder" in one.sentence


def test_a_tutti_that_is_loud_with_its_melody_is_no_remark(made):
    found = made(PLAYING, count=12).judged(
        clear, level=lambda line, bar: USUAL[line] + (6.5 if bar in (4, 5, 6) else 0.0)
    )
    assert not of_kind(found, "dynamic")


def test_a_patch_whose_piano_is_always_soft_is_no_slip_of_one_passage(made):
    """The mark gives as little in the rest of the rendering: the sentence would be untrue."""
    piano = (1, 2, 5, 6, 9, 10)
    case = made(
        PLAYING, count=16, marks=lambda line, bar: 1.0 if line == 1 and bar in piano else 3.0
    )
    asked = 15.0  # from mf to p, beyond what the marks ask
    found = case.judged(clear, level=lowered(asked + 6.0, piano))
    assert not of_kind(found, "dynamic")


def test_a_leading_line_that_sinks_is_told_though_another_carries_its_tune(made):
    playing = {**PLAYING, 4: lambda bar: [(t, q, p - 12) for t, q, p in tune(bar)]}
    found = made(playing, count=12).judged(clear, level=lowered(14.0, (4, 5, 6)))
    (one,) = of_kind(found, "dynamic")
    assert one.lines == (1,)
    assert (one.first_bar, one.last_bar) == (4, 6)

"""Made cases for what is louder than what, each with one in which nothing may be said."""

import pytest

TUNE = (76, 77, 79, 84, 83, 81, 79, 77)


def tune(bar, shift=0):
    a, b, c = (TUNE[(3 * bar + k) % len(TUNE)] + shift for k in range(3))
    return [(0.0, 1.5, a), (1.5, 0.5, b), (2.0, 2.0, c)]


def chord(pitch):
    return lambda bar: [(float(k), 1.0, pitch + (bar % 2)) for k in range(4)]


def bass(bar):
    return [(0.0, 4.0, 48 - bar % 3)]


PLAYING = {1: tune, 3: chord(65), 5: chord(60), 6: bass}


def clear(line, bar):
    return 0.6


def of_kind(findings, kind):
    return [f for f in findings if f.kind == kind]


def test_an_accompaniment_twice_as_loud_as_its_melody(made):
    found = made(PLAYING).judged(clear, sone=lambda line, bar: {1: 2.0, 3: 6.0}.get(line, 1.0))
    (one,) = of_kind(found, "accompaniment")
    assert one.lines == (1, 3)
    assert one.sentence.startswith("Bars 1–8: Horn 1 accompanies, but is about 3 times as loud")
    assert one.remedies[0] == "mark Horn 1 mf instead of f"


def test_an_accompaniment_as_loud_as_its_melody_is_none(made):
    found = made(PLAYING).judged(clear, sone=lambda line, bar: 3.0)
    assert not of_kind(found, "accompaniment")


def test_a_melody_that_is_not_there_is_not_said_to_be_outweighed_a_thousand_times(made):
    """In a mix as written a resting estimate of the tune made it 235,100 times."""
    found = made(PLAYING).judged(clear, sone=lambda line, bar: 1e-5 if line == 1 else 2.0)
    assert not of_kind(found, "accompaniment")


def test_a_covered_melody_is_said_once(made):
    found = made(PLAYING).judged(
        lambda line, bar: 0.01 if line == 1 else 0.6,
        sone=lambda line, bar: 0.1 if line == 1 else 6.0,
    )
    assert of_kind(found, "covered")
    assert not of_kind(found, "accompaniment")


def climax_case(made):
    """Sixteen bars in p, but for ff in bars 13 and 14."""
    return made(PLAYING, count=16, marks=lambda line, bar: 5.0 if bar in (12, 13) else 1.0)


def test_a_climax_that_is_not_the_loudest_place(made):
    found = climax_case(made).judged(
        clear, mix=lambda bar: 9.0 if bar in (3, 4) else 4.0 if bar in (12, 13) else 1.0
    )
    (one,) = of_kind(found, "climax")
    assert (one.first_bar, one.last_bar) == (12, 13)
    assert "bars 4–5 come out louder to the ear" in one.sentence


@pytest.mark.parametrize("elsewhere", [1.0, 4.0])
def test_a_climax_that_is_the_loudest_place_is_no_remark(made, elsewhere):
    found = climax_case(made).judged(
        clear, mix=lambda bar: 4.0 if bar in (12, 13) else elsewhere
    )
    assert not of_kind(found, "climax")


# The cello takes up two bars of the flute two octaves lower, two bars later, and so on.
ANSWERED = {
    1: lambda bar: tune(bar) if bar % 4 < 2 else [],
    4: lambda bar: tune(bar - 2, -12) if bar % 4 >= 2 else [],
    5: chord(60),
    6: bass,
}


def test_an_answer_much_weaker_than_its_statement(made):
    found = made(ANSWERED).judged(
        lambda line, bar: 0.2 if line == 4 else 0.6,
        sone=lambda line, bar: {1: 8.0, 4: 2.0}.get(line, 1.0),
    )
    answers = of_kind(found, "weak-answer")
    assert answers
    assert answers[0].lines == (4, 1)
    assert (
        "Violin I answers Flute 1 with the same figure at the same mark" in answers[0].sentence
    )


def test_an_answer_as_loud_or_marked_softer_is_no_remark(made):
    def left(line, bar):
        return 0.2 if line == 4 else 0.6

    as_loud = made(ANSWERED).judged(left, sone=lambda line, bar: 4.0)
    assert not of_kind(as_loud, "weak-answer")
    echo = made(ANSWERED, marks=lambda line, bar: 1.0 if line == 4 else 3.0)
    found = echo.judged(left, sone=lambda line, bar: {1: 8.0, 4: 2.0}.get(line, 1.0))
    assert not of_kind(found, "weak-answer")


DOUBLED = {1: lambda bar: tune(bar, 12), 4: tune, 5: chord(60), 6: bass}


def test_a_doubling_that_carries_the_line(made):
    found = made(DOUBLED).judged(lambda line, bar: 0.01 if line == 4 else 0.6)
    (one,) = of_kind(found, "carrying-doubling")
    assert one.lines == (4, 1)
    assert "Flute 1 doubles Violin I, but carries the line" in one.sentence
    assert "gives its colour instead of tinting that of Violin I" in one.sentence


def test_a_doubling_of_a_line_that_is_heard_carries_nothing(made):
    found = made(DOUBLED).judged(clear)
    assert not of_kind(found, "carrying-doubling")

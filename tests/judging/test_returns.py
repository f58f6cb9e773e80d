"""A tune that comes back: unchanged, changed, or in another colour."""

TUNE = (76, 77, 79, 84, 83, 81, 79, 77)


def tune(bar):
    a, b, c = (TUNE[(3 * bar + k) % len(TUNE)] for k in range(3))
    return [(0.0, 1.5, a), (1.5, 0.5, b), (2.0, 2.0, c)]


def other(bar):
    """Bars of no shape of their own between the statements."""
    return [(0.0, 4.0 - bar % 3, 72 + bar % 5)]


def theme(bar):
    return tune(bar) if bar % 12 < 5 else other(bar)


CHORDS = {
    5: lambda bar: [(float(k), 1.0, 60 + (bar % 2)) for k in range(4)],
    6: lambda bar: [(0.0, 4.0, 48 - bar % 3)],
}


def clear(line, bar):
    return 0.6


def of_kind(findings, kind):
    return [f for f in findings if f.kind == kind]


def returning(bar):
    """Bars 1 to 5 come back as bars 13 to 17."""
    return theme(bar % 12)


def test_a_return_with_the_same_balance_is_said(made):
    found = made({1: returning, **CHORDS}, count=17).judged(clear)
    (one,) = of_kind(found, "repetition")
    assert one.first_bar == 12
    assert "bring bars 1–5 again with the same scoring, marks and balance" in one.sentence


def test_a_return_at_another_mark_or_loudness_is_not(made):
    marked = made({1: returning, **CHORDS}, count=17,
                  marks=lambda line, bar: 4.0 if bar >= 12 else 3.0)  # fmt: skip
    assert not of_kind(marked.judged(clear), "repetition")
    louder = made({1: returning, **CHORDS}, count=17)
    found = louder.judged(clear, sone=lambda line, bar: 6.0 if bar >= 12 else 3.0)
    assert not of_kind(found, "repetition")


def test_a_return_in_another_colour_that_speaks_is_praised(made):
    playing = {
        1: lambda bar: returning(bar) if bar < 12 else [],
        4: lambda bar: returning(bar) if bar >= 12 else [],
        **CHORDS,
    }
    found = made(playing, count=17).judged(clear)
    assert [f for f in of_kind(found, "works")
            if "what Flute 1 had in bars 1–5 returns in Violin I" in f.sentence]  # fmt: skip
    assert not of_kind(found, "repetition")
    lost = made(playing, count=17).judged(lambda line, bar: 0.01 if line == 4 else 0.6)
    assert not [f for f in of_kind(lost, "works") if "returns in Violin I" in f.sentence]

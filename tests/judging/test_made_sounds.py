"""Every way of being lost, and what works, on tones made for it, through the whole program."""

import pytest

from tests.judging.made_sounds import Player, audited

TUNE = (76, 77, 79, 84, 83, 81, 79, 77)
INNER, FOOT = (60, 62, 59, 57, 60, 64, 62, 55), (48, 43, 45, 50, 41, 48, 43, 38)
FOOT2 = (40, 45, 47, 43, 36, 41, 38, 43)


def tune(shift=0):
    def bar_of(bar):
        a, b, c = (TUNE[(3 * bar + k) % 8] + shift for k in range(3))
        return [(0.0, 1.5, a), (1.5, 0.5, b), (2.0, 2.0, c)]

    return bar_of


def held(*pitches):
    return lambda bar: [(0.0, 4.0, pitches[bar % len(pitches)])]


def repeated(count, *pitches):
    return lambda bar: [(k * 4 / count, 4 / count, pitches[bar % 8]) for k in range(count)]


def bass(bar):
    foot = FOOT + FOOT2
    return [(0.0, 2.0, foot[2 * bar % 16]), (2.0, 2.0, foot[(2 * bar + 1) % 16])]


def at(db):
    return lambda bar: db


INNER_VOICE = Player("Viola", held(*INNER), at(-30))
BASS = Player("Violoncello", bass, at(-26))
HIGH = held(76, 79, 74, 72, 77, 81, 76, 74)


def said(folder, players, kind, bars=8):
    found = audited(folder, players, bars).findings
    return [f for f in found if f.kind == kind]


@pytest.mark.parametrize(
    ("lost", "over", "cause"),
    [
        (
            Player("Oboe", tune(), at(-35)),
            Player("Horn", HIGH, at(-15), 9.0),
            "Horn plays in the same register",
        ),
        (
            Player("Violin", tune(), at(-34), 9.0),
            Player("Trombone", held(*INNER), at(-14), 4.0),
            "Trombone lies below, and its upper partials fill the register",
        ),
        (
            Player("Clarinet", tune(-5), at(-34)),
            Player("Xylophone", repeated(8, 72, 74, 71, 72, 76, 72, 74, 71), at(-8), 4.0, 0.8),
            "the attacks of Xylophone hide its entries",
        ),
        (
            Player("Harp", tune(), at(-28), 7.0, 0.8),
            Player("Violin", HIGH, at(-14)),
            "its notes die away while Violin holds",
        ),
        (
            Player("Flute", tune(), at(-32)),
            Player("Cymbals", repeated(4, *[0] * 8), at(-14)),
            "the noise of Cymbals spreads over its register",
        ),
    ],
    ids=["louder in one register", "partials", "attacks", "decay", "percussion"],
)
def test_a_lost_tune_is_said_with_its_coverer_and_the_way(tmp_path, lost, over, cause):
    (one,) = said(tmp_path, [lost, over, INNER_VOICE, BASS], "covered")
    assert one.sentence.startswith(f"Bars 1–8: {lost.name} is lost under {over.name}; {cause}")
    assert one.tried[0].state == "clear"


@pytest.mark.parametrize("dies", [0.0, 0.8])
def test_a_stem_that_sounds_is_neither_missing_nor_cut_short(tmp_path, dies):
    """Tones of a colour no template has, under noise that leaves them little."""
    noise = Player("Cymbals", repeated(4, *[0] * 8), at(-14), 7.0, dies)
    players = [Player("Flute", tune(), at(-32)), noise, INNER_VOICE, BASS]
    found = audited(tmp_path, players).findings
    assert not [f.sentence for f in found if f.kind in ("silent", "short", "entry")]


def test_a_doubling_that_nobody_hears_is_idle(tmp_path):
    players = [Player("Flute", tune(12), at(-58)), Player("Violin", tune(), at(-22))]
    (one,) = said(tmp_path, [*players, INNER_VOICE, BASS], "idle-doubling")
    assert "Flute doubles Violin at the octave, but adds nothing" in one.sentence


def test_a_doubling_that_replaces_the_colour_carries_the_line(tmp_path):
    players = [Player("Violin", tune(), at(-48)), Player("Trumpet", tune(), at(-20), 4.0)]
    (one,) = said(tmp_path, [*players, INNER_VOICE, BASS], "carrying-doubling")
    assert "Trumpet doubles Violin, but carries the line and gives its colour" in one.sentence


def test_a_climax_must_be_the_loudest_place(tmp_path):
    """The page asks ff in bars 13 and 14, the sound is loudest in bars 4 and 5."""

    def level(low, high):
        return lambda bar: high if bar in (3, 4) else low

    def mark(bar):
        return "ff" if bar in (12, 13) else "p"

    players = [
        Player("Violin", tune(), level(-28, -12), mark=mark),
        Player("Viola", held(*INNER, 62, 60), level(-34, -22), mark=mark),
        Player("Violoncello", bass, level(-30, -16), mark=mark),
    ]
    (one,) = said(tmp_path, players, "climax", bars=16)
    assert one.sentence.startswith("Bars 13–14: the page asks most of everybody here, but bars")


def test_a_chord_with_nothing_above_its_bass_has_a_hole(tmp_path):
    players = [
        Player("Flute", tune(), at(-24)),
        Player("Oboe", held(79, 81, 79, 76, 77, 81, 79, 77), at(-26)),
        Player("Clarinet", held(72, 74, 71, 72, 74, 76, 74, 72), at(-26)),
        Player("Violin", held(76, 77, 74, 76, 79, 77, 76, 74), at(-26)),
        Player("Contrabass", lambda bar: [(t, o, p - 12) for t, o, p in bass(bar)], at(-20)),
    ]
    (one,) = said(tmp_path, players, "hole")
    assert "nothing is heard between the bass and the next note" in one.sentence


def test_an_exposed_tune_that_carries_works_and_its_return_is_the_same(tmp_path):
    players = [Player("Violin", tune(), at(-20)), INNER_VOICE, BASS]
    found = audited(tmp_path, players, 16).findings
    assert [f.kind for f in found] == ["repetition", "works"]
    assert "bring bars 1–8 again with the same scoring, marks and balance" in found[0].sentence
    assert found[1].sentence.startswith("Bars 1–16: Violin stays clear")


def test_a_layer_in_the_mix_that_is_in_no_stem_is_told_with_its_bars(tmp_path):
    layer = Player("Horn", lambda bar: tune(-7)(bar) if bar in (4, 5) else [], at(-26))
    players = [Player("Violin", tune(), at(-20)), INNER_VOICE, BASS]
    found = audited(tmp_path, players, 16, layer).findings
    (one,) = [f for f in found if f.kind == "unwritten"]
    assert one.sentence.startswith("Bars 5–6: something sounds that is in no stem")


@pytest.mark.parametrize("octave", [12, -12])
def test_a_few_long_notes_an_octave_off_are_told(tmp_path, octave):
    """Five notes among sixteen that are right, in a stem of their own."""
    off = lambda bar: octave if 5 <= bar < 10 else 0  # noqa: E731
    wrong = Player("Viola", held(*INNER), at(-28), off=off)
    players = [Player("Violin", tune(), at(-20)), wrong, BASS]
    (one,) = said(tmp_path, players, "transposed", bars=16)
    way = "higher" if octave > 0 else "lower"
    assert one.sentence.startswith(f"Bars 6–10: Viola seems to sound an octave {way} than")

"""What orchestrators know, on forecasts: published powers through the hall and the ear.

Nothing here was adjusted to come out. Where the published powers do not bear a rule out, the
check says so with the figures that were measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from auditor.alignment.written import written_timeline
from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, Heard, Limits
from auditor.hearing.placed import windows_of
from auditor.score import instruments
from auditor.score.notes import Bar, Line, Note, Part, Score
from auditor.spectra.forecast import forecast_spectra
from auditor.spectra.playing import note_times
from auditor.timbre.dynamics import power_level_db

LIMITS = Limits()
P, MF, F, FF = 1.0, 3.0, 4.0, 5.0


@dataclass(frozen=True)
class Playing:
    """One line: instrument key, sounding pitches held together, dynamic step, players."""

    key: str
    pitches: tuple[int, ...]
    dynamic: float
    players: float = 1.0
    techniques: tuple[str, ...] = ()
    length: float = 4.0


def page(playing: Sequence[Playing], bars: int = 2) -> Score:
    """Every line plays its notes in every bar, 60 quarters a minute."""
    parts, lines, notes = [], [], []
    for number, one in enumerate(playing, start=1):
        instrument = instruments.entry(one.key).instrument
        parts.append(Part(number, f"P{number}", one.key, instrument, one.players))
        lines.append(Line(number, number, one.key, instrument, one.players))
        for bar in range(bars):
            for k, pitch in enumerate(one.pitches):
                name = f"n{number}-{bar}-{k}"
                notes.append(
                    Note(name, name, number, number, bar, 1.0, 4.0 * bar, one.length, pitch,
                         pitch, one.dynamic, True, one.techniques, one.players)
                )  # fmt: skip
    notes.sort(key=lambda n: (n.onset, n.line, n.pitch))
    grid = tuple(Bar(b, str(b + 1), b, 1, 4.0 * b, 4.0, 60.0) for b in range(bars))
    return Score("made", tuple(parts), tuple(lines), grid, tuple(notes), bars)


def hear(playing: Sequence[Playing], strand: Sequence[int] = ()) -> Heard:
    """Hear a forecast; the lines of `strand` (from 0) also as one group."""
    score = page(playing)
    onset, offset = note_times(score, written_timeline(score))
    windows = windows_of(score, onset, offset)
    groups = [Group("strand", np.flatnonzero(np.isin(windows.line, strand)))] if strand else []
    return listen(forecast_spectra(score, onset, offset), windows, groups, LIMITS)


def ratio(heard: Heard, line: int = 0) -> float:
    return float(heard.lines.distinct_ratio[line])


def loudness_level(key: str, pitch: int, dynamic: float, players: float = 1.0) -> float:
    """Phon of a line by itself, after ISO 532-2: 40 phon and 10 for each doubling of sone."""
    heard = hear([Playing(key, (pitch,), dynamic, players)])
    return 40.0 + 10.0 * float(np.log2(heard.lines.alone_sone[0]))


def not_borne_out(measured: str) -> pytest.MarkDecorator:
    return pytest.mark.xfail(strict=True, reason=f"published powers do not give it: {measured}")


# Rimsky-Korsakov, Principles of Orchestration (Engl. ed. 1922), ch. I, relative power of
# tone: in forte one trumpet, trombone or tuba equals two horns, one horn two woodwinds; in
# piano all winds are about equal. Each in its middle register; 3 dB either way was fixed
# beforehand, as the spread of the power tables (auditor/timbre/power.py).
WINDS = {
    "flute": 79, "oboe": 74, "clarinet": 72, "bassoon": 55, "horn": 58, "trumpet": 67,
    "trombone": 53, "tuba": 41,
}  # fmt: skip
FORTE = {
    "trombone": 1,
    "tuba": 1,
    "horn": 2,
    "flute": 4,
    "oboe": 4,
    "clarinet": 4,
    "bassoon": 4,
}


def power_over_trumpet_db(key: str, players: int) -> float:
    return float(power_level_db(key, "", F, players) - power_level_db("trumpet", "", F))


@pytest.mark.parametrize(
    "key",
    [
        "trombone", "tuba", "oboe", "clarinet", "bassoon",
        pytest.param("horn", marks=not_borne_out("two horns +4 dB")),
        pytest.param("flute", marks=not_borne_out("four flutes -4 dB")),
    ],
)  # fmt: skip
def test_in_forte_the_groups_have_equal_power(key):
    assert abs(power_over_trumpet_db(key, FORTE[key])) <= 3.0 + 1e-9


# The horn radiates darker than the trumpet: of equal power it is the softer one to the ear,
# so by loudness the rule for horns holds, and by power it does not. The powers followed for
# horns are Meyer's (about those of a trumpet), not Rimsky-Korsakov's half of one.
@pytest.mark.parametrize(
    "key",
    [
        "trombone", "horn",
        pytest.param("oboe", marks=not_borne_out("four oboes -4 phon")),
        pytest.param("clarinet", marks=not_borne_out("four clarinets -6 phon")),
        pytest.param("bassoon", marks=not_borne_out("four bassoons -7 phon")),
        pytest.param("flute", marks=not_borne_out("four flutes -8 phon")),
        pytest.param("tuba", marks=not_borne_out("one tuba -10 phon")),
    ],
)  # fmt: skip
def test_in_forte_the_groups_are_equally_loud(key):
    trumpet = loudness_level("trumpet", WINDS["trumpet"], F)
    assert abs(loudness_level(key, WINDS[key], F, FORTE[key]) - trumpet) <= 3.0


@pytest.mark.parametrize(
    "key",
    [
        "flute", "oboe", "bassoon", "horn", "trumpet", "trombone",
        pytest.param("clarinet", marks=not_borne_out("-6 dB")),
        pytest.param("tuba", marks=not_borne_out("+4 dB")),
    ],
)  # fmt: skip
def test_in_piano_all_winds_have_equal_power(key):
    power = {k: float(power_level_db(k, "", P)) for k in WINDS}
    assert abs(power[key] - np.mean(list(power.values()))) <= 3.0


HELD = [Playing("viola", (55, 60), MF, 8), Playing("double-bass", (36,), MF, 5)]


def test_held_strings_cover_a_pizzicato():
    # Rimsky-Korsakov, ch. II: sustained tone covers pizzicato. As in the facts on stems,
    # what is covered is not clear; here it is just at the limit of covered (0.053).
    plucked = Playing("cello", (52,), MF, 6, ("pizz",))
    assert ratio(hear([plucked, *HELD])) < LIMITS.clear
    assert ratio(hear([plucked])) > 0.9


def test_held_strings_leave_no_celesta_clear():
    # The same place: and celesta; glockenspiel prevails.
    strings = [Playing("violin", (72,), F, 12), Playing("viola", (64,), F, 8)]
    assert ratio(hear([Playing("celesta", (76,), MF), *strings])) < LIMITS.clear
    assert ratio(hear([Playing("glockenspiel", (96,), MF), *strings])) >= LIMITS.clear


def strings(level: float, top: int) -> list[Playing]:
    return [
        Playing("violin", (top,), level, 12), Playing("violin", (64,), level, 10),
        Playing("viola", (57,), level, 8), Playing("cello", (45,), level, 6),
    ]  # fmt: skip


def test_solo_violin_against_sections():
    # Common practice, no source: a forte solo above soft sections stands out, one in the
    # middle of loud sections does not.
    assert ratio(hear([Playing("violin", (81,), F), *strings(P, 69)])) >= LIMITS.clear
    assert ratio(hear([Playing("violin", (76,), MF), *strings(F, 81)])) < LIMITS.covered


TUTTI = [
    *(Playing(k, v, F, n) for k, v, n in (
        ("violin", (84,), 12), ("violin", (76,), 10), ("viola", (67,), 8), ("cello", (48,), 6),
        ("double-bass", (36,), 5), ("flute", (84,), 2), ("oboe", (79,), 2),
        ("clarinet", (72,), 2), ("bassoon", (48,), 2), ("horn", (64, 60), 1),
        ("trombone", (55, 48), 1), ("tuba", (36,), 1),
    )),
]  # fmt: skip


# The facts of tests/whole/test_trade_facts.py again, from the page alone.
def test_high_trumpet_ff_is_clear_in_a_tutti_and_mf_is_not():
    assert ratio(hear([Playing("trumpet", (79,), FF), *TUTTI])) >= LIMITS.clear
    assert ratio(hear([Playing("trumpet", (79,), MF), *TUTTI])) < LIMITS.clear


def test_saxophones_are_not_clear_under_high_horns():
    saxophones = Playing("alto-saxophone", (67, 64), F)
    horns = Playing("horn", (72, 67, 64, 60), F)
    assert ratio(hear([saxophones, horns])) < LIMITS.clear
    assert ratio(hear([saxophones])) > 0.9
    helped = hear([saxophones, Playing("trumpet", (67, 64), F), horns], strand=(0, 1))
    assert float(helped.groups.distinct_ratio[0]) > ratio(hear([saxophones, horns]))


def test_lower_of_two_timpani_is_the_weaker():
    both = hear([Playing("timpani", (43,), F), Playing("timpani", (50,), F)])
    assert ratio(both) < ratio(both, 1)


def test_harp_is_clear_over_soft_held_strings():
    soft = [Playing("cello", (64,), 0.0, 6), Playing("viola", (67,), 0.0, 8)]
    assert ratio(hear([Playing("harp", (48, 55), MF), *soft])) >= LIMITS.clear


def test_harp_is_not_clear_under_low_pizzicato():
    low = [Playing("cello", (48,), F, 6, ("pizz",)),
           Playing("double-bass", (43,), F, 5, ("pizz",))]  # fmt: skip
    assert ratio(hear([Playing("harp", (48, 55), MF), *low])) < LIMITS.clear


@not_borne_out("0.40 of the harp is left, 0.23 of the xylophone")
def test_xylophone_in_unison_takes_the_harp_over():
    both = hear([Playing("harp", (84,), MF), Playing("xylophone", (84,), MF)])
    assert ratio(both) <= 0.65 * ratio(both, 1)


def test_low_flute_is_covered_by_horns():
    # Common practice (The Idiomatic Orchestra, as quoted): the low flute is easily masked.
    horns = [Playing("horn", (60,), MF), Playing("horn", (55,), MF)]
    assert ratio(hear([Playing("flute", (62,), MF), *horns])) < LIMITS.covered

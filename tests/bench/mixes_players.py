"""The made orchestra: who can play what, and how loud each is at a written dynamic.

Levels are sound power in dB re 1 pW of one player at pp, mf and ff.

References
----------
.. [1] I. Simurra's teaching table (UNICAMP), after Henrique, Meyer 1995 and Patterson
       1974; its author states 2 to 3 dB of uncertainty. At forte it agrees within 4 dB
       with Meyer's single-player powers (Acoustics and the Performance of Music, 2009;
       that column from memory).
.. [2] S. Weinzierl et al., J. Acoust. Soc. Am. 144 (2018), 1347, table I (as quoted by
       two notes): softest pp and loudest ff of harp and pedal timpani.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

DYNAMICS = ("pp", "p", "mp", "mf", "f", "ff")

# pp, mf, ff. "m": from memory or guessed by kinship, no published value at hand.
POWER_DB: dict[str, tuple[float, float, float, str]] = {
    "piccolo": (66, 88, 99, "m"),
    "flute": (60, 84, 96, "1"),
    "alto-flute": (60, 82, 92, "m"),
    "oboe": (68, 88, 100, "1"),
    "english-horn": (68, 87, 98, "m"),
    "clarinet": (58, 84, 100, "1"),
    "bass-clarinet": (58, 84, 98, "m"),
    "bassoon": (68, 88, 99, "1"),
    "contrabassoon": (68, 88, 99, "m"),
    "soprano-saxophone": (70, 92, 105, "1"),
    "alto-saxophone": (70, 92, 105, "1"),
    "tenor-saxophone": (70, 92, 105, "1"),
    "baritone-saxophone": (70, 92, 105, "1"),
    "horn": (70, 92, 106, "1"),
    "trumpet": (70, 93, 106, "1"),
    "trombone": (74, 96, 109, "1"),
    "bass-trombone": (74, 96, 109, "1"),
    "tuba": (74, 95, 105, "1"),
    "timpani": (58, 88, 108, "2, mf between"),
    "harp": (54, 76.2, 91, "2, mf between"),
    "xylophone": (70, 88, 100, "m"),
    "glockenspiel": (68, 86, 98, "m"),
    "violin": (62, 82, 92, "1"),
    "viola": (60, 80, 90, "1"),
    "cello": (64, 84, 94, "1"),
    "double-bass": (66, 85, 94, "1"),
}
FAMILY_POWER_DB = {
    "woodwind": (64.0, 86.0, 99.0),
    "saxophone": (70.0, 92.0, 105.0),
    "brass": (72.0, 94.0, 107.0),
    "percussion": (60.0, 88.0, 104.0),
    "plucked": (54.0, 76.0, 91.0),
    "keyboard": (60.0, 82.0, 96.0),
    "strings": (63.0, 83.0, 93.0),
    "voice": (65.0, 85.0, 100.0),
    "other": (64.0, 85.0, 98.0),
}
# A pizzicato of the same player; from memory, an order of magnitude.
PIZZICATO_DB = -9.0

# How much brighter a step louder is, dB per octave above 700 Hz. The literature's
# dynamic tone-colour factors (Meyer; from memory: strings 1.1, woodwind 1.2 to 1.8, brass
# 1.8 to 2.4 dB at 3 kHz per dB) would ask for twice as much; fonts bring the other half.
BRIGHTER_DB = {"woodwind": 0.8, "saxophone": 1.2, "brass": 2.0, "percussion": 0.8}


@dataclass(frozen=True, slots=True)
class Chair:
    """One desk of the made orchestra.

    Parameters
    ----------
    instrument
        Key as in the package's instrument table.
    name
        Name as printed; ``{}`` takes a number when there are several.
    program, family, sustained
        General MIDI program from 0, family, whether tones are held.
    low, high
        Sounding MIDI pitches used here.
    transposition
        MusicXML chromatic, diatonic and octave change, written to sounding.
    clef
        Sign and line.
    players
        Players in the section (strings: Rimsky-Korsakov's medium orchestra).
    roles
        Letters: m melody, d doubling, c counter, p pad, f figure, b bass, t timpani.
    """

    instrument: str
    name: str
    program: int
    family: str
    sustained: bool
    low: int
    high: int
    transposition: tuple[int, int, int]
    clef: tuple[str, int]
    players: int
    roles: str


_TREBLE, _ALTO, _BASS = ("G", 2), ("C", 3), ("F", 4)
_IN_C, _IN_B_FLAT, _IN_E_FLAT, _IN_F = (0, 0, 0), (-2, -1, 0), (-9, -5, 0), (-7, -4, 0)
_UP, _TWO_UP, _DOWN = (0, 0, 1), (0, 0, 2), (0, 0, -1)

CHAIRS: dict[str, Chair] = {
    "piccolo": Chair(
        "piccolo", "Piccolo", 72, "woodwind", True, 74, 102, _UP, _TREBLE, 1, "md"),
    "flute": Chair(
        "flute", "Flute {}", 73, "woodwind", True, 62, 93, _IN_C, _TREBLE, 1, "mdcpf"),
    "oboe": Chair(
        "oboe", "Oboe {}", 68, "woodwind", True, 60, 88, _IN_C, _TREBLE, 1, "mdcpf"),
    "english-horn": Chair(
        "english-horn", "English Horn", 69, "woodwind",
        True, 54, 79, _IN_F, _TREBLE, 1, "mdcp"),
    "clarinet": Chair(
        "clarinet", "Clarinet in Bb {}", 71, "woodwind",
        True, 52, 88, _IN_B_FLAT, _TREBLE, 1, "mdcpf"),
    "bassoon": Chair(
        "bassoon", "Bassoon {}", 70, "woodwind", True, 36, 70, _IN_C, _BASS, 1, "cpb"),
    "soprano-saxophone": Chair(
        "soprano-saxophone", "Soprano Saxophone", 64, "saxophone",
        True, 58, 84, _IN_B_FLAT, _TREBLE, 1, "mdcp"),
    "alto-saxophone": Chair(
        "alto-saxophone", "Alto Saxophone", 65, "saxophone",
        True, 51, 78, _IN_E_FLAT, _TREBLE, 1, "mdcp"),
    "tenor-saxophone": Chair(
        "tenor-saxophone", "Tenor Saxophone", 66, "saxophone",
        True, 46, 73, (-2, -1, -1), _TREBLE, 1, "cp"),
    "baritone-saxophone": Chair(
        "baritone-saxophone", "Baritone Saxophone", 67, "saxophone",
        True, 38, 66, (-9, -5, -1), _TREBLE, 1, "bp"),
    "horn": Chair(
        "horn", "Horn in F {}", 60, "brass", True, 45, 76, _IN_F, _TREBLE, 1, "mcp"),
    "trumpet": Chair(
        "trumpet", "Trumpet in Bb {}", 56, "brass",
        True, 55, 84, _IN_B_FLAT, _TREBLE, 1, "mdpf"),
    "trombone": Chair(
        "trombone", "Trombone {}", 57, "brass", True, 41, 70, _IN_C, _BASS, 1, "pb"),
    "tuba": Chair(
        "tuba", "Tuba", 58, "brass", True, 29, 58, _IN_C, _BASS, 1, "b"),
    "timpani": Chair(
        "timpani", "Timpani", 47, "percussion", False, 41, 57, _IN_C, _BASS, 1, "t"),
    "xylophone": Chair(
        "xylophone", "Xylophone", 13, "percussion", False, 65, 96, _UP, _TREBLE, 1, "df"),
    "glockenspiel": Chair(
        "glockenspiel", "Glockenspiel", 9, "percussion",
        False, 79, 103, _TWO_UP, _TREBLE, 1, "df"),
    "harp": Chair(
        "harp", "Harp {}", 46, "plucked", False, 33, 93, _IN_C, _TREBLE, 1, "fd"),
    "solo-violin": Chair(
        "violin", "Solo Violin", 40, "strings", True, 57, 96, _IN_C, _TREBLE, 1, "md"),
    "violin-1": Chair(
        "violin", "Violin I", 48, "strings", True, 57, 96, _IN_C, _TREBLE, 12, "mdcpf"),
    "violin-2": Chair(
        "violin", "Violin II", 48, "strings", True, 55, 88, _IN_C, _TREBLE, 10, "dcpf"),
    "viola": Chair(
        "viola", "Viola", 48, "strings", True, 48, 80, _IN_C, _ALTO, 8, "dcpf"),
    "cello": Chair(
        "cello", "Violoncello", 48, "strings", True, 36, 70, _IN_C, _BASS, 6, "mcpbf"),
    "double-bass": Chair(
        "double-bass", "Contrabass", 48, "strings", True, 28, 55, _DOWN, _BASS, 4, "b"),
}  # fmt: skip
PIZZICATO_PROGRAM = 45


def power_db(
    instrument: str,
    dynamic: float,
    *,
    players: float = 1.0,
    pizzicato: bool = False,
    family: str = "other",
) -> float:
    """Sound power of a line in dB re 1 pW at a written dynamic (steps, pp 0 to ff 5)."""
    row = POWER_DB.get(instrument)
    soft, middle, loud = row[:3] if row else FAMILY_POWER_DB.get(family, (64.0, 85.0, 98.0))
    slope_soft, slope_loud = (middle - soft) / 3, (loud - middle) / 2
    step = slope_soft if dynamic < 3 else slope_loud
    level = middle + (dynamic - 3) * step + 10 * float(np.log10(max(players, 1.0)))
    return level + (PIZZICATO_DB if pizzicato else 0.0)

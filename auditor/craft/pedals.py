"""The pedals of the harp: which strings give a chord, and which spelling moves least.

Each of seven pedals sets all strings of its letter flat, natural or sharp. The left foot has
D, C and B, the right E, F, G and A (E. Volpé Bligh, *Writing for the Pedal Harp*).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

LETTERS = "DCBEFGA"
FEET: Mapping[str, str] = {**dict.fromkeys("DCB", "left"), **dict.fromkeys("EFGA", "right")}
SETTINGS = (-1, 0, 1)
_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SPELLED = re.compile(r"^([A-G])(#+|-*)(\d+)$")
_SIGNS = {-1: " flat", 0: "", 1: " sharp"}

String = tuple[str, int]


def string_name(string: String) -> str:
    """A setting in words: ``B flat``."""
    return f"{string[0]}{_SIGNS[string[1]]}"


def spelled(name: str) -> String | None:
    """Letter and setting of a spelling such as ``B-3``; None when it is none of a harp's."""
    found = _SPELLED.match(name)
    if not found:
        return None
    letter, signs = found.group(1), found.group(2)
    setting = len(signs) if signs.startswith("#") else -len(signs)
    return (letter, setting) if setting in SETTINGS else None


def strings_for(pitch: int) -> tuple[String, ...]:
    """Every string that gives a pitch: one for D, G and A, two for all others."""
    return tuple(
        (letter, setting)
        for letter in LETTERS
        for setting in SETTINGS
        if (_NATURAL[letter] + setting - pitch) % 12 == 0
    )


@dataclass(frozen=True, slots=True)
class Plan:
    """Strings chosen for each note of each chord, and how many times a pedal moves."""

    strings: tuple[tuple[String, ...], ...]
    changes: int


# Settings of the pedals in the order of LETTERS, None for one not used yet.
_State = tuple[int | None, ...]
_Chord = tuple[String, ...]
# A way to a state: what it costs, and the chord played last with the way before it.
_Way = tuple[int, Any]


def fewest_changes(chords: Sequence[Sequence[Sequence[String]]]) -> Plan | None:
    """Choose strings for a passage so that the pedals move least.

    Exact: dynamic programming over the settings of all pedals.

    Parameters
    ----------
    chords
        For each chord, in the order of the music, the strings that each of its notes may
        take: those of `strings_for`, or the printed one alone.

    Returns
    -------
    Plan or None
        None when some chord has no set of strings (G, A flat and A together).
    """
    best: dict[_State, _Way] = {(None,) * len(LETTERS): (0, None)}
    for options in chords:
        after: dict[_State, _Way] = {}
        for choice in _choices(options):
            for state, (cost, past) in best.items():
                new, moved = _set(state, choice)
                if new not in after or cost + moved < after[new][0]:
                    after[new] = (cost + moved, (choice, past))
        if not after:
            return None
        best = after
    cost, past = min(best.values(), key=lambda way: way[0])
    strings: list[_Chord] = []
    while past is not None:
        choice, past = past
        strings.append(choice)
    return Plan(tuple(reversed(strings)), cost)


def _choices(options: Sequence[Sequence[String]]) -> list[_Chord]:
    """Strings for the notes of a chord in which no letter stands in two settings."""
    found = []
    for choice in product(*options):
        used = set(choice)
        if len({letter for letter, _ in used}) == len(used):
            found.append(choice)
    return found


def _set(state: _State, choice: _Chord) -> tuple[_State, int]:
    new, moved = list(state), 0
    for letter, setting in set(choice):
        place = LETTERS.index(letter)
        moved += new[place] is not None and new[place] != setting
        new[place] = setting
    return tuple(new), moved

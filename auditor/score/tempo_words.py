"""Tempo in words and note signs: ♩ = 96, ♩ = ♩. , Tempo I.

Note signs come as words, as Unicode symbols, or as SMuFL 1.4 metronome glyphs (U+ECA0 to
U+ECB7), which programs write into plain text.
"""

from __future__ import annotations

import re

from auditor.score.signs import TYPE_QUARTERS

_SIGNS = {
    "\ueca0": "breve", "\ueca2": "whole", "\ueca3": "half", "\ueca4": "half",
    "\ueca5": "quarter", "\ueca6": "quarter", "\ueca7": "eighth", "\ueca8": "eighth",
    "\ueca9": "16th", "\uecaa": "16th", "\U0001d15d": "whole", "\U0001d15e": "half",
    "♩": "quarter", "\U0001d15f": "quarter", "♪": "eighth", "\U0001d160": "eighth",
    "\U0001d161": "16th", "crotchet": "quarter", "minim": "half", "quaver": "eighth",
}  # fmt: skip
_DOTS = ("\uecb7", "\U0001d16d")
_VALUE = r"((?:dotted )*)(breve|whole|half|quarter|eighth|16th)((?: ?\.)*)"
_RATE = re.compile(_VALUE + r"\s*=\s*(?:ca?\.?\s*|≈\s*)?(\d{2,3}(?:\.\d+)?)\b")
_MODULATION = re.compile(_VALUE + r"\s*=\s*" + _VALUE)
_FIRST = re.compile(r"\b(tempo (i|1|primo|1o|1°)(?!\w)|(ier|1er) mouv|erstes zeitma)", re.I)


def rate(text: str) -> float | None:
    """Quarters a minute of a metronome mark in words; None if there is none.

    >>> rate("Allegro (♩. = 40)"), rate("half = c. 60"), rate("Allegro")
    (60.0, 120.0, None)
    """
    found = _RATE.search(_spelled(text))
    return _quarters(*found.group(1, 2, 3)) * float(found.group(4)) if found else None


def modulation(text: str) -> float | None:
    """How many times faster the quarter becomes in ``♩ = ♩.``, old value first.

    >>> modulation("♩ = ♩."), modulation("eighth = quarter"), modulation("♩ = 60")
    (1.5, 2.0, None)
    """
    found = _MODULATION.search(_spelled(text))
    if not found:
        return None
    return _quarters(*found.group(4, 5, 6)) / _quarters(*found.group(1, 2, 3))


def is_first_tempo(text: str) -> bool:
    """Tell whether words call the first tempo back.

    >>> is_first_tempo("Tempo I"), is_first_tempo("a tempo")
    (True, False)
    """
    return _FIRST.search(text) is not None


def _spelled(text: str) -> str:
    for sign, name in _SIGNS.items():
        text = text.replace(sign, name)
    for dot in _DOTS:
        text = text.replace(dot, ".")
    return text.lower()


def _quarters(before: str, value: str, after: str) -> float:
    dots = before.count("dotted") + after.count(".")
    return TYPE_QUARTERS[value] * float(2.0 - 0.5**dots)

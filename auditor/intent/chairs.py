"""Which chair of the orchestra a line sits in: who usually leads differs by chair."""

from __future__ import annotations

import re

from auditor.score.notes import Line

# The chairs told apart; everything else is "other".
CHAIRS: tuple[str, ...] = (
    "violin-1", "violin-2", "viola", "cello", "double-bass", "flute-1", "oboe-1", "clarinet-1",
    "bassoon-1", "piccolo", "english-horn", "wind-low", "wind-second", "horn-1", "horn-2",
    "trumpet-1", "trumpet-2", "trombone", "percussion", "keyboard", "voice", "other",
)  # fmt: skip

_ROMAN = {"i": 1, "ii": 2, "iii": 3, "iv": 4}
_WINDS = ("flute", "oboe", "clarinet", "bassoon")


def _desk(line: Line, order: int) -> int:
    """Read the number at the end of a name, arabic or roman; else its order in its kind."""
    found = re.search(r"(\d+|\b[ivIV]{1,3})\.?\s*$", line.name)
    if not found:
        return order
    word = found.group(1).lower()
    return int(word) if word.isdigit() else _ROMAN.get(word, order)


def _chair_of(line: Line, desk: int) -> str:
    key, family = line.instrument.key, line.instrument.family
    first = "1" if desk == 1 else "2"
    if key in ("violin", "horn", "trumpet"):
        return f"{key}-{first}"
    if key in ("viola", "cello", "double-bass", "piccolo", "english-horn"):
        return key
    if key in _WINDS or family == "saxophone":
        name = "clarinet" if family == "saxophone" else key
        return f"{name}-1" if desk == 1 else "wind-second"
    named = {"woodwind": "wind-low", "brass": "trombone", "keyboard": "keyboard"}
    named |= {"plucked": "keyboard", "percussion": "percussion", "voice": "voice"}
    return named.get(family, "other")


def chairs(lines: tuple[Line, ...]) -> tuple[str, ...]:
    """Chair of each line: one of `CHAIRS`."""
    seen: dict[str, int] = {}
    out: list[str] = []
    for line in lines:
        key = line.instrument.key
        seen[key] = seen.get(key, 0) + 1
        out.append(_chair_of(line, _desk(line, seen[key])))
    return tuple(out)

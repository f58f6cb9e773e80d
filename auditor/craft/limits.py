"""The thresholds of the craft checks: what each says, its source, and how a file sets them.

A file ``craft.toml`` holds lines such as ``harp_span = 16``; what it leaves out keeps the
value given here.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from auditor.craft.remark import COMMON_PRACTICE
from auditor.errors import InputError


def _limit(default: float, says: str, source: str = COMMON_PRACTICE) -> Any:
    """One threshold: its value, what it says (with the unit), and where it comes from."""
    return field(default=default, metadata={"says": says, "source": source})


@dataclass(frozen=True, slots=True)
class CraftLimits:
    """Every threshold of the craft checks; what each says stands in its metadata.

    Pitches are sounding MIDI numbers, spans are semitones, times seconds.
    """

    # Reading the page
    assumed_tempo: float = _limit(
        100.0, "quarters a minute where the page gives no tempo", "our choice, said in results"
    )
    neighbour_bars: float = _limit(
        2.0, "like remarks this many bars apart or nearer are told as one", "our choice"
    )


def read_limits(path: Path) -> CraftLimits:
    """Thresholds of a ``craft.toml``.

    Raises
    ------
    InputError
        If the file cannot be read as TOML, or names what is no threshold, or gives what is no
        number; all of them are told at once.
    """
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as exc:
        raise InputError(f"{path} cannot be read ({exc}); name a text file") from exc
    except tomllib.TOMLDecodeError as exc:
        raise InputError(f"{path} is not valid TOML: {exc}") from exc
    known = {one.name for one in fields(CraftLimits)}
    wrong = [_wrong(name, value, known) for name, value in given.items()]
    told = [sentence for sentence in wrong if sentence]
    if told:
        raise InputError(f"{path}: {'; '.join(told)}")
    return CraftLimits(**{name: float(value) for name, value in given.items()})


def _wrong(name: str, value: object, known: set[str]) -> str:
    """Say what is wrong with one line of the file; empty when nothing is."""
    if name not in known:
        near = difflib.get_close_matches(name, sorted(known), n=1, cutoff=0.0)
        return f"there is no threshold {name!r}, the nearest is {near[0]!r}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"{name} is {value!r}, expected a number"
    if not math.isfinite(value):
        return f"{name} is {value}, expected a finite number"
    return ""


def limits_text() -> str:
    """Every threshold as a ``craft.toml`` with its meaning and source as comments."""
    lines = []
    for one in fields(CraftLimits):
        lines.append(f"# {one.metadata['says']}; source: {one.metadata['source']}")
        lines.append(f"{one.name} = {one.default:g}")
    return "\n".join(lines) + "\n"

"""What the user says about the parts of a score, in `score.toml` beside it.

One table a part, by its name or its number in the part list::

    [parts."Horn 3"]
    transposition = -8      # semitones from written to sounding

    [parts.12]
    instrument = "bass clarinet"
    players = 2
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.errors import InputError
from auditor.score import instruments
from auditor.score.notes import Instrument
from auditor.settings_files import read_toml

FILE_NAME = "score.toml"
_KEYS = ("transposition", "instrument", "players")
_MOST_SEMITONES = 36
_MOST_PLAYERS = 200


@dataclass(frozen=True, slots=True)
class Setting:
    """What is settled for one part; None where nothing is."""

    transposition: int | None = None
    instrument: Instrument | None = None
    players: float | None = None


def beside(score: Path) -> Path | None:
    """Find the settings beside a score; None if there are none."""
    path = score.parent / FILE_NAME
    return path if path.is_file() else None


def load(path: Path, names: Mapping[int, str]) -> dict[int, Setting]:
    """Settings by part number.

    Parameters
    ----------
    path
        A `score.toml`.
    names
        The score's part names by number.

    Raises
    ------
    InputError
        If anything in it cannot be used; the message tells all of it at once.
    """
    table = read_toml(path)
    wrong: list[str] = []
    wrong.extend(
        f"'{key}' is not a section{_nearest(key, ['parts'])}" for key in table if key != "parts"
    )
    parts = table.get("parts", {})
    if not isinstance(parts, dict):
        wrong.append("'parts' must hold one table for each part")
        parts = {}
    found: dict[int, Setting] = {}
    for name, values in parts.items():
        number = _number(name, names, wrong)
        setting = _setting(name, values, wrong)
        if number is not None and number in found:
            wrong.append(f"part {number} is set twice, once as '{name}'")
        elif number is not None:
            found[number] = setting
    if wrong:
        raise InputError(f"{path}: {'; '.join(wrong)}")
    return found


def _nearest(word: str, known: Sequence[str]) -> str:
    near = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return f" (did you mean '{near[0]}'?)" if near else f" (known: {', '.join(known)})"


def _number(name: str, names: Mapping[int, str], wrong: list[str]) -> int | None:
    if name.isascii() and name.isdigit() and int(name) in names:
        return int(name)
    same = [n for n, each in names.items() if _plain(each) == _plain(name)]
    if len(same) == 1:
        return same[0]
    if same:
        listed = ", ".join(map(str, same))
        wrong.append(f"'{name}' names parts {listed}; use one of the numbers")
    else:
        wrong.append(f"no part is called '{name}'{_nearest(name, list(names.values()))}")
    return None


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()


def _setting(name: str, values: Any, wrong: list[str]) -> Setting:
    if not isinstance(values, dict):
        wrong.append(f"'{name}' must be a table with {', '.join(_KEYS)}")
        return Setting()
    wrong.extend(
        f"'{key}' of '{name}' is not a setting{_nearest(key, _KEYS)}"
        for key in values
        if key not in _KEYS
    )
    shift, players, instrument = (
        values.get(key) for key in ("transposition", "players", "instrument")
    )
    if shift is not None and not (_is_number(shift, int) and abs(shift) <= _MOST_SEMITONES):
        wrong.append(
            f"transposition of '{name}' is {shift!r}; expected whole semitones from "
            f"-{_MOST_SEMITONES} to {_MOST_SEMITONES}"
        )
        shift = None
    if players is not None and not (
        _is_number(players, (int, float)) and 1 <= players <= _MOST_PLAYERS
    ):
        wrong.append(
            f"players of '{name}' is {players!r}; expected a number from 1 to {_MOST_PLAYERS}"
        )
        players = None
    return Setting(
        transposition=shift,
        instrument=_instrument(name, instrument, wrong),
        players=None if players is None else float(players),
    )


def _is_number(value: Any, kind: type | tuple[type, ...]) -> bool:
    return isinstance(value, kind) and not isinstance(value, bool)


def _instrument(name: str, said: Any, wrong: list[str]) -> Instrument | None:
    if said is None:
        return None
    keys = [entry.instrument.key for entry in instruments.table()]
    if isinstance(said, str):
        if said in keys:
            return instruments.entry(said).instrument
        entry = instruments.named(said)
        if entry is not None:
            return entry.instrument
        near = difflib.get_close_matches(said.lower(), keys, n=1, cutoff=0.5)
        hint = f"did you mean '{near[0]}'?" if near else "no instrument of the table"
        wrong.append(f"instrument of '{name}' is '{said}' ({hint})")
    else:
        wrong.append(f"instrument of '{name}' is {said!r}; expected a name in quotes")
    return None

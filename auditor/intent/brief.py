"""What the composer declares must be heard: ``brief.toml`` beside the score.

::

    comment = "The oboe carries the whole first page."

    [groups]
    chorale = ["Horn 1", "Horn 2", 9]      # names or numbers of parts

    [[passage]]
    lines = ["Oboe 1", "chorale"]          # parts, groups, an instrument or a family
    bars = "12-20, 30-34"                  # as printed; also 12 or [12, 20]
    role = "foreground"                    # middleground, background, colour
    comment = "singing, over everybody"
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from pathlib import Path
from typing import Any

from auditor.errors import InputError
from auditor.score.instruments import exactly, numbers_of, words_of
from auditor.score.notes import Score
from auditor.settings_files import read_toml

ROLES: tuple[str, ...] = ("foreground", "middleground", "background", "colour")
FAMILIES: tuple[str, ...] = ("woodwind", "brass", "strings", "percussion", "voice")
_ROMAN: tuple[str, ...] = ("i", "ii", "iii", "iv")
_TOP, _KEYS = ("comment", "groups", "passage"), ("lines", "bars", "role", "comment")


@dataclass(frozen=True, slots=True)
class Passage:
    """One thing declared.

    Parameters
    ----------
    lines
        Numbers of the lines, in score order.
    bars
        Indices on the played axis, every pass, ascending.
    role
        One of `ROLES`.
    comment
        As written.
    """

    lines: tuple[int, ...]
    bars: tuple[int, ...]
    role: str
    comment: str = ""


@dataclass(frozen=True, slots=True)
class Brief:
    """Everything declared, in the order of the file."""

    passages: tuple[Passage, ...]
    comment: str = ""


def _nearest(word: object, known: Iterable[str]) -> str:
    """Name the nearest of some names, or list a few of them."""
    held = list(dict.fromkeys(known))
    plain = {name.casefold(): name for name in held}
    said = str(word).casefold()
    found = get_close_matches(said, plain, n=1, cutoff=0.5)
    if found:
        best = SequenceMatcher(None, found[0], said).ratio()
        # Of names as near, the first in the score.
        near = next(n for n in plain if SequenceMatcher(None, n, said).ratio() >= best - 1e-9)
        return f"the nearest is {plain[near]!r}"
    return f"there is {', '.join(repr(name) for name in held[:6])}" if held else "there is none"


class _Reader:
    """Reads a parsed file and keeps every complaint."""

    def __init__(self, score: Score) -> None:
        self.score = score
        self.wrong: list[str] = []
        self.groups: dict[str, tuple[int, ...]] = {}

    def unknown(self, where: str, table: Mapping[str, Any], known: tuple[str, ...]) -> None:
        self.wrong += [
            f"{where}: unknown key {key!r} ({_nearest(key, known)})"
            for key in table
            if key not in known
        ]

    def named(self, where: str, word: object) -> tuple[int, ...]:
        """Lines of a part's name or number, a group or a family."""
        lines = self.score.lines
        if isinstance(word, int) and not isinstance(word, bool):
            found = tuple(line.number for line in lines if line.part == word)
            if not found:
                last = len(self.score.parts)
                near = min(max(word, 1), last)
                name = self.score.parts[near - 1].name if last else ""
                self.wrong.append(
                    f"{where}: there is no part {word} (the nearest is {near}, {name!r})"
                )
            return found
        if not isinstance(word, str):
            self.wrong.append(f"{where}: {word!r} is neither a name nor a number of a part")
            return ()
        return self._by_name(where, word)

    def _by_name(self, where: str, word: str) -> tuple[int, ...]:
        plain = " ".join(word.split()).casefold()
        if plain in self.groups:
            return self.groups[plain]
        names = {p.number: " ".join(p.name.split()).casefold() for p in self.score.parts}
        parts = [number for number, name in names.items() if name == plain]
        if len(parts) > 1:
            numbers = " or ".join(map(str, parts))
            self.wrong.append(f"{where}: {len(parts)} parts are named {word!r}; say {numbers}")
            return ()
        own = [
            n.number for n in self.score.lines if n.part in parts or n.name.casefold() == plain
        ]
        if not own and plain in FAMILIES:
            own = [n.number for n in self.score.lines if n.instrument.family == plain]
        own = own or self._by_instrument(word)
        if not own:
            known = [p.name for p in self.score.parts] + list(self.groups)
            self.wrong.append(f"{where}: there is no part {word!r} ({_nearest(word, known)})")
        return tuple(own)

    def _by_instrument(self, word: str) -> list[int]:
        """Every line of an instrument, or those with its number: "Horns", "1st Violin"."""
        numbers = numbers_of(word)
        bare = tuple(w for w in words_of(word) if not w.isdigit() and w not in _ROMAN)
        kind = exactly(bare)
        if kind is None:
            return []
        return [
            line.number
            for line in self.score.lines
            if line.instrument.key == kind.instrument.key
            and (not numbers or set(numbers) & set(numbers_of(line.name)))
        ]

    def lines(self, where: str, said: object) -> tuple[int, ...]:
        words = said if isinstance(said, list) else [said]
        if not words:
            self.wrong.append(f"{where}: names nobody")
        found = {number for word in words for number in self.named(where, word)}
        return tuple(line.number for line in self.score.lines if line.number in found)

    def _bar(self, where: str, word: object) -> int | None:
        """Written index of a printed bar number."""
        number = str(word).strip()
        for bar in self.score.bars:
            if bar.number == number:
                return bar.written_index
        printed = [bar.number for bar in self.score.bars]
        numbers = [n for n in printed if n.isdigit()]
        if number.isdigit() and numbers:
            near = min(numbers, key=lambda n: abs(int(n) - int(number)))
            near = f"the nearest is {near!r}"
        else:
            near = _nearest(number, printed)
        self.wrong.append(f"{where}: the score has no bar {number} ({near})")
        return None

    def bars(self, where: str, said: object) -> tuple[int, ...]:
        if isinstance(said, str) and "," in said:
            found = {b for span in said.split(",") for b in self.bars(where, span)}
            return tuple(sorted(found))
        if isinstance(said, str):
            ends: list[object] = list(said.replace("–", "-").split("-"))
        else:
            ends = said if isinstance(said, list) else [said]
        if len(ends) not in (1, 2) or any(isinstance(e, bool) for e in ends):
            self.wrong.append(f'{where}: bars {said!r}; expected 12, "12-20" or [12, 20]')
            return ()
        places = [self._bar(where, end) for end in ends]
        if None in places:
            return ()
        first, last = int(places[0] or 0), int(places[-1] or 0)
        if last < first:
            self.wrong.append(f"{where}: bars {said!r} run backwards")
        return tuple(b.index for b in self.score.bars if first <= b.written_index <= last)

    def passage(self, where: str, table: object) -> Passage | None:
        if not isinstance(table, dict):
            self.wrong.append(f"{where}: expected lines, bars and role")
            return None
        self.unknown(where, table, _KEYS)
        missing = [key for key in ("lines", "bars", "role") if key not in table]
        if missing:
            self.wrong.append(f"{where}: {' and '.join(missing)} not said")
        lines = self.lines(where, table["lines"]) if "lines" in table else ()
        bars = self.bars(where, table["bars"]) if "bars" in table else ()
        role = table.get("role", ROLES[0])
        role = role.casefold() if isinstance(role, str) else role
        if role not in ROLES:
            self.wrong.append(f"{where}: unknown role {role!r} ({_nearest(role, ROLES)})")
        return Passage(lines, bars, str(role), str(table.get("comment", "")))

    def clashes(self, passages: list[Passage]) -> None:
        """Complain of a line that is given two roles in one bar."""
        held: dict[tuple[int, int], int] = {}
        said: set[tuple[int, int]] = set()
        for k, passage in enumerate(passages):
            for place in ((n, b) for n in passage.lines for b in passage.bars):
                other = held.setdefault(place, k)
                if passages[other].role != passage.role and (other, k) not in said:
                    said.add((other, k))
                    name = next(n.name for n in self.score.lines if n.number == place[0])
                    self.wrong.append(
                        f"passages {other + 1} and {k + 1}: {name} is both "
                        f"{passages[other].role} and {passage.role} in bar "
                        f"{self.score.bars[place[1]].number}"
                    )


def read_brief(path: Path, score: Score) -> Brief:
    """Read what the composer declares.

    Parameters
    ----------
    path
        The file.
    score
        The page it speaks of.

    Raises
    ------
    InputError
        If it cannot be read; with everything that is wrong in it at once.
    """
    held = read_toml(path)
    reader = _Reader(score)
    reader.unknown("the file", held, _TOP)
    groups = held.get("groups", {})
    if not isinstance(groups, dict):
        reader.wrong.append("groups: expected name = [parts]")
        groups = {}
    for name, said in groups.items():
        reader.groups[" ".join(name.split()).casefold()] = reader.lines(f"group {name!r}", said)
    tables = held.get("passage", [])
    if not isinstance(tables, list):
        reader.wrong.append("passage: expected [[passage]], in double brackets")
        tables = []
    read = [reader.passage(f"passage {k}", t) for k, t in enumerate(tables, start=1)]
    passages = [p for p in read if p is not None]
    reader.clashes(passages)
    if reader.wrong:
        count = len(reader.wrong)
        many = f"{count} things are" if count > 1 else "one thing is"
        raise InputError(f"{path}: {many} wrong: {'; '.join(reader.wrong)}")
    return Brief(tuple(passages), str(held.get("comment", "")))

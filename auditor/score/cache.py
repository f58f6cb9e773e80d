"""Scores read before, kept as flat tables in the user's cache folder.

An entry is named by the SHA-256 of the score's bytes, of the settings beside it and of
this package's sources, so that whatever could change the reading changes the name. Entries
hold plain arrays and JSON, never pickled objects.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict, fields
from functools import cache
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.errors import AuditError
from auditor.score.notes import Bar, Direction, Instrument, Line, Note, Part, Score

_LOG = logging.getLogger(__name__)
VARIABLE = "AUDITOR_CACHE"
_OFF = ("off", "0", "no", "none", "")
# A long cohort of movements fits; each entry takes some hundred kB to a few MB.
MOST_ENTRIES = 128
_SUFFIX = ".score.npz"
_STALE_S = 3600.0
_FLOATS = ("beat", "onset", "duration", "dynamic", "players")
_INTEGERS = ("part", "line", "bar", "pitch", "written_pitch")
_FLAGS = ("dynamic_written", "grace", "unpitched")
_TEXTS = ("id", "element")
_TABLED = ("techniques", "voice", "chairs", "spelling")
_DAMAGED = (
    AuditError,
    OSError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    EOFError,
    MemoryError,
    zipfile.BadZipFile,
)


def kept(path: Path, read: Callable[[], Score]) -> Score:
    """Return the score of a file from the cache, or read it and keep it.

    Parameters
    ----------
    path
        The score file; `score.toml` beside it counts too.
    read
        Reads it when the cache does not know it; what it raises is passed on.
    """
    folder = folder_of(os.environ)
    entry = None
    with suppress(OSError):
        if folder is not None and path.is_file():
            entry = folder / (_name(path) + _SUFFIX)
    if entry is None:
        return read()
    found = _load(entry)
    if found is None:
        found = read()
        _store(entry, found)
    return found


def folder_of(environment: Any) -> Path | None:
    """Folder of the cache, or None when the user switched it off.

    ``AUDITOR_CACHE`` names another folder, or says ``off``; otherwise it lies in
    ``XDG_CACHE_HOME`` (XDG Base Directory Specification 0.8), by default ``~/.cache``.
    """
    own = environment.get(VARIABLE)
    if own is not None:
        return None if own.strip().lower() in _OFF else Path(own).expanduser()
    base = environment.get("XDG_CACHE_HOME") or ""
    # The specification: "All paths set in these environment variables must be absolute."
    root = Path(base) if base and Path(base).is_absolute() else None
    with suppress(RuntimeError):
        return (root or Path.home() / ".cache") / "auditor" / "scores"
    return None


def _name(path: Path) -> str:
    from auditor.score.settings import beside

    digest = hashlib.sha256(version().encode())
    digest.update(path.suffix.lower().encode("utf-8", "replace"))
    settings = beside(path)
    for file in (path, settings):
        body = file.read_bytes() if file is not None else b""
        digest.update(f"{file is not None} {len(body)} ".encode() + body)
    return digest.hexdigest()


@cache
def version() -> str:
    """Hash of this package's sources and tables: what decides how a score is read."""
    digest = hashlib.sha256()
    here = Path(__file__).parent
    for source in sorted(p for p in here.rglob("*") if p.suffix in (".py", ".tsv", ".json")):
        digest.update(source.relative_to(here).as_posix().encode() + source.read_bytes())
    return digest.hexdigest()


def _load(entry: Path) -> Score | None:
    if not entry.is_file():
        return None
    try:
        # Opened here, for the loader leaves a file open that turns out to be no archive.
        with entry.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            score = _score({name: arrays[name] for name in arrays.files})
        os.utime(entry)
    except _DAMAGED as exc:
        _LOG.info("the cached score %s is not usable and is made anew: %s", entry, exc)
        return None
    return score


def _store(entry: Path, score: Score) -> None:
    """Write beside the entry and move it into place, so that readers see all or nothing."""
    try:
        entry.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            dir=entry.parent, prefix=".", suffix=".part", delete=False
        ) as file:
            try:
                np.savez(file, **_arrays(score))  # type: ignore[arg-type]
                file.close()
                Path(file.name).replace(entry)
            except BaseException:
                Path(file.name).unlink(missing_ok=True)
                raise
        _tidy(entry.parent)
    except (OSError, ValueError) as exc:
        _LOG.info("the score could not be kept in %s: %s", entry.parent, exc)


def _tidy(folder: Path) -> None:
    """Remove what was not used for longest, and what broken runs left behind."""
    now = time.time()
    for left in folder.glob(".*.part"):
        with suppress(OSError):
            if now - left.stat().st_mtime > _STALE_S:
                left.unlink()
    entries: list[tuple[float, Path]] = []
    for entry in folder.glob(f"*{_SUFFIX}"):
        with suppress(OSError):
            entries.append((entry.stat().st_mtime, entry))
    for _, entry in sorted(entries, reverse=True)[MOST_ENTRIES:]:
        with suppress(OSError):
            entry.unlink()


def _arrays(score: Score) -> dict[str, NDArray[Any]]:
    notes = score.notes
    found: dict[str, NDArray[Any]] = {"head": np.array(json.dumps(_head(score)))}
    for name in _FLOATS:
        found[name] = np.array([getattr(n, name) for n in notes], dtype=np.float64)
    for name in _INTEGERS:
        found[name] = np.array([getattr(n, name) for n in notes], dtype=np.int64)
    for name in _FLAGS:
        found[name] = np.array([getattr(n, name) for n in notes], dtype=np.bool_)
    for name in _TEXTS:
        found[name] = np.array([getattr(n, name) for n in notes], dtype=np.str_)
    for name in _TABLED:
        values = [getattr(n, name) for n in notes]
        table = {value: row for row, value in enumerate(dict.fromkeys(values))}
        found[name] = np.array([table[value] for value in values], dtype=np.int64)
        found[f"{name}_table"] = np.array(json.dumps(list(table)))
    return found


def _head(score: Score) -> dict[str, Any]:
    return {
        "title": score.title,
        "parts": [asdict(part) for part in score.parts],
        "lines": [asdict(line) for line in score.lines],
        "bars": [asdict(bar) for bar in score.bars],
        "written_bars": score.written_bars,
        "remarks": score.remarks,
        "directions": [list(asdict(d).values()) for d in score.directions],
        "notes": len(score.notes),
    }


def _score(arrays: dict[str, NDArray[Any]]) -> Score:
    head = json.loads(str(arrays["head"]))
    return Score(
        title=head["title"],
        parts=tuple(Part(**_with_instrument(part)) for part in head["parts"]),
        lines=tuple(Line(**_with_instrument(line)) for line in head["lines"]),
        bars=tuple(Bar(**bar) for bar in head["bars"]),
        notes=_notes(arrays, head["notes"]),
        written_bars=head["written_bars"],
        remarks=tuple(head["remarks"]),
        directions=tuple(Direction(*values) for values in head["directions"]),
    )


def _with_instrument(record: dict[str, Any]) -> dict[str, Any]:
    return {**record, "instrument": Instrument(**record["instrument"])}


def _notes(arrays: dict[str, NDArray[Any]], count: int) -> tuple[Note, ...]:
    columns = dict(_columns(arrays))
    if any(len(column) != count for column in columns.values()):
        raise ValueError("columns of different lengths")
    if set(columns) != {field.name for field in fields(Note)}:
        raise ValueError("columns that are not those of a note")
    # One call a column instead of one a note and field: a score opens in a quarter of the
    # time. The values passed the checks of `Note` before they were stored.
    notes = list(map(object.__new__, repeat(Note, count)))
    for name, column in columns.items():
        _fill(map(getattr(Note, name).__set__, notes, column))
    return tuple(notes)


def _fill(steps: Iterable[None]) -> None:
    for _ in steps:
        pass


def _columns(arrays: dict[str, NDArray[Any]]) -> Iterator[tuple[str, list[Any]]]:
    for name in (*_FLOATS, *_INTEGERS, *_FLAGS, *_TEXTS):
        yield name, arrays[name].tolist()
    for name in _TABLED:
        table = json.loads(str(arrays[f"{name}_table"]))
        table = [tuple(value) if isinstance(value, list) else value for value in table]
        yield name, [table[row] for row in arrays[name].tolist()]

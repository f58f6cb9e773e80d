"""What lies where in the kit: ``kit.json`` for the program, ``kit.txt`` for a reader."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import InputError
from auditor.learning.kit import (
    BAR_QUARTERS,
    DYNAMIC_NAMES,
    TEMPO,
    KitNote,
    Sheet,
    seconds,
)
from auditor.learning.midi import midi_of
from auditor.learning.page import musicxml_of
from auditor.report.results import fill_folder

FORMAT = 1
LIST, _TEXT = "kit.json", "kit.txt"
_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_WAYS = ("held", "short", "plucked", "struck")
_LONGEST_S = 600.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """One note a render should hold.

    Parameters
    ----------
    start_s, end_s
        Seconds from the first barline.
    pitch, dynamic, way
        As in `KitNote`.
    bar
        Number of its bar.
    """

    start_s: float
    end_s: float
    pitch: int
    dynamic: int
    way: str
    bar: int

    @property
    def name(self) -> str:
        """Place and name for a message: ``bar 4, C4 mf``."""
        played = DYNAMIC_NAMES.get(self.dynamic, str(self.dynamic))
        short = " short" if self.way == "short" else ""
        return f"bar {self.bar}, {pitch_name(self.pitch)} {played}{short}"


@dataclass(frozen=True, slots=True)
class Render:
    """One file that should come back.

    Parameters
    ----------
    name, key
        As in `Sheet`.
    notes
        By onset.
    """

    name: str
    key: str
    notes: tuple[Wanted, ...]


def pitch_name(pitch: int) -> str:
    """Name of a MIDI pitch, middle C being C4; ``stroke`` for none."""
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}" if pitch else "stroke"


def wanted(note: KitNote) -> Wanted:
    """A note in seconds."""
    return Wanted(
        round(seconds(note.onset), 4),
        round(seconds(note.onset + note.duration), 4),
        note.pitch,
        note.dynamic,
        note.way,
        note.bar,
    )


def renders_of(sheets: Sequence[Sheet]) -> tuple[Render, ...]:
    """What should come back when the sheets were rendered."""
    return tuple(Render(s.name, s.key, tuple(map(wanted, s.notes))) for s in sheets)


def write_kit(sheets: Sequence[Sheet], folder: Path, controller: int | None = None) -> None:
    """Write a MusicXML and a MIDI file for each sheet, and both lists; all or none.

    An earlier kit in the folder goes; everything else there stays.

    Raises
    ------
    InputError
        If the folder cannot be written.
    """

    def fill(fresh: Path) -> None:
        for sheet in sheets:
            (fresh / f"{sheet.name}.musicxml").write_text(musicxml_of(sheet), encoding="utf-8")
            (fresh / f"{sheet.name}.mid").write_bytes(midi_of(sheet, controller))
        (fresh / LIST).write_text(_json(sheets), encoding="utf-8")
        (fresh / _TEXT).write_text(_text(sheets), encoding="utf-8")

    names = {sheet.name for sheet in sheets} | _names_in(folder)
    files = [f"{name}{suffix}" for name in names for suffix in (".musicxml", ".mid")]
    fill_folder(folder, fill, ours=(*files, LIST, _TEXT))


def _names_in(folder: Path) -> set[str]:
    """Names of the sheets of the kit that a folder holds."""
    try:
        return {render.name for render in read_list(folder)}
    except InputError:
        return set()


def _json(sheets: Sequence[Sheet]) -> str:
    files = []
    for sheet, render in zip(sheets, renders_of(sheets), strict=True):
        rows = [[n.start_s, n.end_s, n.pitch, n.dynamic, n.way, n.bar] for n in render.notes]
        files.append(
            {"name": sheet.name, "key": sheet.key, "title": sheet.title,
             "seconds": round(sheet.seconds, 2), "notes": rows}
        )  # fmt: skip
    head = {
        "format": FORMAT,
        "tempo": TEMPO,
        "beats": BAR_QUARTERS,
        "columns": ["start_s", "end_s", "pitch", "dynamic", "way", "bar"],
    }
    return json.dumps(head | {"files": files}, ensure_ascii=False) + "\n"


def _text(sheets: Sequence[Sheet]) -> str:
    whole = sum(sheet.seconds for sheet in sheets)
    lines = [
        f"{len(sheets)} files to render, {whole / 60:.0f} min in all, at quarter = {TEMPO:g}.",
        "Pitches are sounding ones, middle C is C4; seconds count from the first barline.",
        "Render each file alone, dry as the patch comes, with no limiter, starting at bar 1,",
        "and keep its name: text in front of it or behind it does no harm.",
    ]
    for sheet in sheets:
        lines += ["", f"{sheet.name}  ({sheet.title}; {sheet.seconds:.0f} s)"]
        for note in map(wanted, sheet.notes):
            played = DYNAMIC_NAMES[note.dynamic]
            lines.append(
                f"  bar {note.bar:3d}  {note.start_s:7.2f} s to {note.end_s:7.2f} s  "
                f"{pitch_name(note.pitch):6s} {played:2s}  {note.way}"
            )
    return "\n".join(lines) + "\n"


def read_list(folder: Path) -> tuple[Render, ...]:
    """What the kit in a folder asked for.

    Raises
    ------
    InputError
        If the folder holds no list, or one that cannot be read.
    """
    path = folder / LIST
    if not path.is_file():
        raise InputError(
            f"{folder} holds no {LIST}; put the renders into the folder that auditor kit made, "
            f"or name that folder: --kit FOLDER"
        )
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        if record["format"] != FORMAT:
            raise ValueError(f"format {record['format']}, expected {FORMAT}")
        found = tuple(_render(row) for row in record["files"])
    except (OSError, ValueError, KeyError, TypeError) as err:
        raise InputError(
            f"{path} is not a list of a kit ({err}); make it again with auditor kit"
        ) from err
    return found


def _render(row: dict[str, object]) -> Render:
    rows = row["notes"]
    if not isinstance(rows, list):
        raise TypeError("notes are no list")
    notes = tuple(
        Wanted(float(a), float(b), int(pitch), int(dynamic), str(way), int(bar))
        for a, b, pitch, dynamic, way, bar in rows
    )
    sound = all(
        0 <= n.start_s < n.end_s < _LONGEST_S and 0 <= n.pitch < 128 and n.way in _WAYS
        for n in notes
    )
    if not notes or not sound:
        raise ValueError(f"{row['name']} holds notes that cannot be")
    return Render(str(row["name"]), str(row["key"]), notes)

"""A case: one score, one mix, and what may come with them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from auditor.errors import InputError

SCORE_SUFFIXES = (".musicxml", ".mxl", ".xml")
AUDIO_SUFFIXES = (
    ".wav",
    ".flac",
    ".aiff",
    ".aif",
    ".caf",
    ".ogg",
    ".opus",
    ".mp3",
    ".w64",
    ".rf64",
)


@dataclass(frozen=True, slots=True)
class Case:
    """What one audit works on.

    Parameters
    ----------
    score, mix
        Files. `mix` may be None when stems are given.
    stems
        Folder with one sound file per line, or None.
    """

    score: Path
    mix: Path | None
    stems: Path | None = None


def _only(folder: Path, suffixes: tuple[str, ...], what: str) -> Path:
    found = sorted(p for p in folder.iterdir() if p.suffix.lower() in suffixes)
    if not found:
        raise InputError(
            f"{folder} holds no {what} (looked for {', '.join(suffixes)}); "
            f"put one there or name the files: auditor audit SCORE MIX"
        )
    if len(found) > 1:
        raise InputError(
            f"{folder} holds {len(found)} files that could be the {what} "
            f"({', '.join(p.name for p in found)}); leave one or name the files"
        )
    return found[0]


def open_case(folder: Path) -> Case:
    """Find score, mix and stems in a folder.

    Raises
    ------
    InputError
        If the folder does not hold exactly one score and one mix.
    """
    if not folder.is_dir():
        raise InputError(f"{folder} is not a folder; name a case folder, or a score and a mix")
    stems = folder / "stems"
    return Case(
        score=_only(folder, SCORE_SUFFIXES, "score"),
        mix=_only(folder, AUDIO_SUFFIXES, "mix"),
        stems=stems if stems.is_dir() else None,
    )

"""A case: one score, one mix, and what may come with them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from auditor.errors import InputError

# A page says more than keys do, so MusicXML goes before the other formats in a folder.
PAGE_SUFFIXES = (".musicxml", ".mxl", ".xml")
SCORE_SUFFIXES = (*PAGE_SUFFIXES, ".mei", ".krn", ".abc", ".mid", ".midi")
# What the composer declares, beside the score.
BRIEF = "brief.toml"
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
    brief
        What the composer declares must be heard (``brief.toml``), or None.
    """

    score: Path
    mix: Path | None
    stems: Path | None = None
    brief: Path | None = None


def _found(folder: Path, suffixes: tuple[str, ...]) -> list[Path]:
    # Some systems lay a hidden "._name" beside every file they copy.
    return sorted(
        p
        for p in folder.iterdir()
        if p.suffix.lower() in suffixes and not p.name.startswith(".")
    )


def _check_name(path: Path | None) -> None:
    # Reports and the libraries that decode sound need names that can be written down.
    try:
        str(path).encode("utf-8")
    except UnicodeEncodeError:
        raise InputError(
            f"the name {str(path).encode('utf-8', 'replace').decode()} is not valid text in "
            f"UTF-8; rename the file"
        ) from None


def _only(folder: Path, suffixes: tuple[str, ...], what: str) -> Path:
    found = _found(folder, suffixes)
    if not found:
        raise InputError(
            f"{folder} holds no {what} (looked for {', '.join(suffixes)}); "
            f"put one there or name the files"
        )
    if len(found) > 1:
        raise InputError(
            f"{folder} holds {len(found)} files that could be the {what} "
            f"({', '.join(p.name for p in found)}); leave one or name the files"
        )
    return found[0]


def open_case(folder: Path) -> Case:
    """Find score, mix and stems in a folder; stems can do without a mix.

    Raises
    ------
    InputError
        If the folder does not hold exactly one score and one mix.
    """
    if not folder.exists():
        raise InputError(f"{folder} does not exist; name a case folder, or a score and a mix")
    if not folder.is_dir():
        raise InputError(f"{folder} is not a folder; name a case folder, or a score and a mix")
    stems = folder / "stems"
    alone = stems.is_dir() and not _found(folder, AUDIO_SUFFIXES)
    score = _score_in(folder)
    return Case(
        score=score,
        mix=None if alone else _only(folder, AUDIO_SUFFIXES, "mix"),
        stems=stems if stems.is_dir() else None,
        brief=_brief_beside(score),
    )


def score_of(named: Path) -> Path:
    """Score of a case folder, or the score itself.

    Raises
    ------
    InputError
        If a folder does not hold exactly one.
    """
    return _score_in(named) if named.is_dir() else named


def _score_in(folder: Path) -> Path:
    suffixes = PAGE_SUFFIXES if _found(folder, PAGE_SUFFIXES) else SCORE_SUFFIXES
    return _only(folder, suffixes, "score")


def _brief_beside(score: Path) -> Path | None:
    beside = score.parent / BRIEF
    return beside if beside.is_file() else None


def case_of(
    score: Path, mix: Path | None = None, stems: Path | None = None, *, mix_only: bool = False
) -> Case:
    """Make a case of what was named: two files, a score and stems, or a case folder.

    Parameters
    ----------
    score
        Score file or case folder.
    mix, stems
        Sound file and folder of stems; what is named outweighs what the case folder holds.
    mix_only
        Leave stems aside.

    Raises
    ------
    InputError
        If there is no sound to listen to, `stems` is no folder, or a name is not text.
    """
    whole = mix is None and (stems is None or score.is_dir())
    case = open_case(score) if whole else Case(score=score, mix=mix)
    if stems is not None:
        case = replace(case, stems=stems)
    if mix_only:
        case = replace(case, stems=None)
    if case.brief is None:
        case = replace(case, brief=_brief_beside(case.score))
    for path in (case.score, case.mix, case.stems):
        _check_name(path)
    if case.stems is not None and not case.stems.is_dir():
        raise InputError(f"{case.stems} is not a folder; name one with a sound file a part")
    if case.mix is None and case.stems is None:
        raise InputError("there is neither a mix nor stems to listen to; name a sound file")
    return case

"""Which render is which sheet's: by name, whatever stands in front of it or behind."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from auditor.learning.listing import Render
from auditor.score.instruments import named, words_of


def match_renders(files: Iterable[Path], renders: Sequence[Render]) -> dict[str, Path]:
    """Find each sheet's render.

    The longest sheet name inside the file name wins; where no sheet's name is in it, an
    instrument's name in any language the table knows does.

    Parameters
    ----------
    files
        Sound files.
    renders
        What should have come back.

    Returns
    -------
    dict
        File by sheet name; of several for a sheet the one with the shortest name.
    """
    found: dict[str, Path] = {}
    for path in sorted(files, key=lambda p: (len(p.stem), p.name)):
        if path.name.startswith("."):
            continue
        render = _meant(path.stem, renders)
        if render is not None:
            found.setdefault(render.name, path)
    return found


def _meant(stem: str, renders: Sequence[Render]) -> Render | None:
    words = _words(stem)
    fits = [
        (len(part), render)
        for render in renders
        for part in [_words(render.name.removeprefix("kit-"))]
        if _holds(words, part)
    ]
    if fits:
        # Names whose words stand in another order: "violin solo".
        return max(fits, key=lambda f: f[0])[1]
    entry = named(stem)
    if entry is None:
        return None
    key = entry.instrument.key
    key += "+pizz" if any(w.startswith("pizz") for w in words) else ""
    key += "-solo" if "solo" in words and entry.instrument.family == "strings" else ""
    return next((render for render in renders if render.key == key), None)


def _words(name: str) -> tuple[str, ...]:
    name = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return words_of(name.replace("_", " "))


def _holds(words: tuple[str, ...], part: tuple[str, ...]) -> bool:
    plain = [w for w in part if w not in ("solo", "pizz")]
    size = len(plain)
    inside = any(list(words[k : k + size]) == plain for k in range(len(words) - size + 1))
    return inside and set(part) <= set(words)

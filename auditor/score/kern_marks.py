"""Dynamics and words of a Humdrum file, row by row beside the notes of its kern spines."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

# Humdrum Toolkit, **dynam: signs that begin and end a crescendo and a diminuendo.
_WEDGES = {"<": "crescendo", ">": "diminuendo", "[": "stop", "]": "stop"}
_TOKEN = re.compile(r"[<>\[\]]|[fmpsrzn]+")
_RECIPROCAL = re.compile(r"(\d+)(?:%(\d+))?(\.*)")
_LAYOUT = re.compile(r"^!LO:(?:TX|DY)\b.*?:t=([^:]*)")


@dataclass(slots=True)
class _Spine:
    """One column: its kind, the kern spine it belongs to, and where its note ends."""

    kind: str
    kern: int
    end: float = 0.0
    words: list[str] = field(default_factory=list)


def signs(text: str) -> Iterator[tuple[int, int, float, str, str]]:
    """Kern spine from the left, bar, quarters from the barline, kind and text of each sign.

    Bars are counted from 0 as they hold notes; kinds are ``words`` and ``wedge``.
    """
    spines: list[_Spine] = []
    now, bar, bar_start, begun = 0.0, 0, 0.0, False
    for line in text.splitlines():
        tokens = line.split("\t")
        if line.startswith("**"):
            spines = list(_opened(tokens))
        elif not line or line.startswith("!!") or len(tokens) != len(spines):
            continue
        elif line.startswith("*"):
            spines = _turned(spines, tokens)
        elif line.startswith("!"):
            for spine, token in zip(spines, tokens, strict=True):
                found = _LAYOUT.match(token)
                if found and found.group(1).strip():
                    spine.words.append(found.group(1).strip().replace("&colon;", ":"))
        elif line.startswith("="):
            if begun:
                bar, bar_start, begun = bar + 1, now, False
        else:
            begun = True
            yield from _row(spines, tokens, bar, now - bar_start)
            ends = [s.end for s in spines if s.kind == "**kern"]
            for spine, token in zip(spines, tokens, strict=True):
                length = _length(token) if spine.kind == "**kern" else None
                if length is not None:
                    spine.end = now + length
            ends = [s.end for s in spines if s.kind == "**kern" and s.end > now + 1e-9]
            now = min(ends, default=now)


def _opened(tokens: list[str]) -> Iterator[_Spine]:
    kern = -1
    for token in tokens:
        kern += token == "**kern"
        yield _Spine(token, kern)


def _turned(spines: list[_Spine], tokens: list[str]) -> list[_Spine]:
    """Columns after a row of interpretations, in which spines split, join, swap or end."""
    found: list[_Spine] = []
    joining = False
    for spine, token in zip(spines, tokens, strict=True):
        if token == "*v" and joining:
            found[-1].end = max(found[-1].end, spine.end)
            continue
        joining = token == "*v"
        if token != "*-":
            found.append(spine)
        if token == "*^":
            found.append(_Spine(spine.kind, spine.kern, spine.end))
    swapped = [k for k, token in enumerate(tokens) if token == "*x"]
    if len(swapped) == 2 and len(found) == len(spines):
        one, other = swapped
        found[one], found[other] = found[other], found[one]
    return found


def _row(
    spines: list[_Spine], tokens: list[str], bar: int, at: float
) -> Iterator[tuple[int, int, float, str, str]]:
    for spine, token in zip(spines, tokens, strict=True):
        if spine.kern < 0:
            continue
        for words in spine.words:
            yield spine.kern, bar, at, "words", words
        spine.words.clear()
        if spine.kind == "**dynam" and token != ".":
            for sign in _TOKEN.findall(token):
                kind = "wedge" if sign in _WEDGES else "words"
                yield spine.kern, bar, at, kind, _WEDGES.get(sign, sign)


def _length(token: str) -> float | None:
    """Quarters of a kern token; None for null tokens and grace notes."""
    found = _RECIPROCAL.search(token)
    if token == "." or found is None or "q" in token.lower():
        return None
    value, over, dots = int(found.group(1)[:4]), int(found.group(2) or 1), len(found.group(3))
    # Kern: 0 is a breve; 3%2 is two thirds of a whole note.
    whole = 2.0 if value == 0 else over / value
    return 4.0 * whole * (2.0 - 0.5 ** min(4, dots))

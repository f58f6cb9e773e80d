"""Cues in small notes: what another instrument plays, printed for orientation."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from itertools import groupby

from auditor.score.instruments import named
from auditor.score.noteheads import Notehead
from auditor.score.signs import Mark

_CUE = re.compile(r"\b(cue|stichnoten?|r[ée]plique|guida)\b", re.I)


def without_cues(heads: Sequence[Notehead], marks: Sequence[Mark]) -> list[Notehead]:
    """Leave out small notes that stand under another instrument's name.

    MusicXML 4.0 plays notes of cue size and silences those marked ``<cue/>``; but programs
    also write cues as small notes, and then name who plays them. Small notes without such
    a name are an ossia or ornament of the part's own, and stay.
    """
    if not any(head.small for head in heads):
        return list(heads)
    labels = {mark.bar for mark in marks if mark.kind == "words" and _names_a_cue(mark.text)}
    silent: set[tuple[str, int]] = set()
    for voice in {head.voice for head in heads}:
        silent.update((voice, bar) for bar in _cue_bars(heads, voice, labels))
    return [h for h in heads if not (h.small and (h.voice, h.bar) in silent)]


def _names_a_cue(text: str) -> bool:
    if _CUE.search(text):
        return True
    name = text.strip("()[] ")
    return sum(map(str.isalpha, name)) >= 2 and len(name) < 24 and named(name) is not None


def _cue_bars(heads: Sequence[Notehead], voice: str, labels: Collection[int]) -> list[int]:
    """Bars of runs of small notes that begin in a bar with a name."""
    bars: list[int] = []
    labelled, last = False, -2
    own = [h for h in heads if h.voice == voice and not h.grace]
    for bar, group in groupby(own, key=lambda head: head.bar):
        small = any(head.small for head in group)
        labelled = small and ((labelled and bar == last + 1) or bar in labels)
        last = bar
        if labelled:
            bars.append(bar)
    return bars

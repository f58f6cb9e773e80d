"""Drum kits: which instrument of a shared percussion part a note is for."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

from auditor.score.instruments import named
from auditor.score.noteheads import Notehead
from auditor.score.sheet import KitPiece

# General MIDI Level 1 percussion map: key -> instrument.
_GENERAL_MIDI = {
    **dict.fromkeys((35, 36), "bass drum"),
    **dict.fromkeys((37, 38, 40), "snare drum"),
    **dict.fromkeys((41, 43, 45, 47, 48, 50), "tom-tom"),
    **dict.fromkeys((42, 44, 46), "hi-hat"),
    **dict.fromkeys((49, 51, 52, 53, 55, 57, 59), "cymbal"),
    54: "tambourine", 56: "cowbell", 58: "vibraslap", 60: "bongos", 61: "bongos",
    62: "congas", 63: "congas", 64: "congas", 65: "timbales", 66: "timbales", 67: "agogo",
    68: "agogo", 69: "cabasa", 70: "maracas", 71: "whistle", 72: "whistle", 73: "guiro",
    74: "guiro", 75: "claves", 76: "wood block", 77: "wood block", 78: "cuica", 79: "cuica",
    80: "triangle", 81: "triangle",
}  # fmt: skip


def with_pieces(heads: Sequence[Notehead], kit: Mapping[str, KitPiece]) -> list[Notehead]:
    """Noteheads of a shared percussion part, each with ``on-`` and its instrument's key.

    A part of one instrument is left as it is.
    """
    words = {id_: word for id_, piece in kit.items() if (word := _word(piece))}
    used = {words[h.instrument] for h in heads if h.unpitched and h.instrument in words}
    if len(used) < 2:
        return list(heads)
    return [
        dataclasses.replace(head, techniques=(*head.techniques, words[head.instrument]))
        if head.unpitched and head.instrument in words
        else head
        for head in heads
    ]


def _word(piece: KitPiece) -> str:
    # MusicXML 4.0, <midi-unpitched>: 1 to 128, one more than the key.
    by_key = _GENERAL_MIDI.get((piece.key or 0) - 1, "")
    for name in (piece.name, by_key):
        entry = named(name) if name else None
        if entry is not None and entry.instrument.family == "percussion":
            return f"on-{entry.instrument.key}"
    name = by_key or piece.name
    return "on-" + "-".join(name.lower().split()) if name else ""

"""String harmonics: the pitch that sounds where a circle, a diamond or both are printed.

Touching a string at a fraction k/n of its length sounds its nth partial (the ideal
string). On the stopped string this gives the handbook's table: touched a fourth above,
two octaves; a major third, two octaves and a third; a fifth, an octave and a fifth.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from itertools import groupby

from auditor.score.noteheads import Notehead
from auditor.score.notes import Instrument

# Semitones of the touched node above the open or stopped string -> of what sounds. Nodes at
# k/n of the string: semitones are 12 log2(1 / (1 - k/n)), the nth partial is 12 log2(n).
_NODES = {
    12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28, 28: 28, 3: 31, 31: 31,
}  # fmt: skip
# Open strings, sounding, lowest first (music21's instruments have the same).
OPEN_STRINGS = {
    "violin": (55, 62, 69, 76),
    "viola": (48, 55, 62, 69),
    "cello": (36, 43, 50, 57),
    "double-bass": (28, 33, 38, 43),
}
_ARTIFICIAL = 24  # where the touched note is not printed, the fourth is usual
_HARP_LIFT = 12  # harp harmonics are written an octave below (common practice, no source)


def sounding(heads: Sequence[Notehead], instrument: Instrument) -> list[Notehead]:
    """Noteheads with the lift of harmonics; those that show where to touch are left out."""
    if instrument.key == "harp":
        return [
            dataclasses.replace(h, lift=_HARP_LIFT) if "harmonic" in h.techniques else h
            for h in heads
        ]
    if instrument.family != "strings":
        return list(heads)
    out: list[Notehead] = []
    shown: set[tuple[str, int]] = set()
    for _, group in groupby(heads, key=lambda head: head.event):
        # What only shows where to touch goes on doing so where it is tied.
        chord = [h for h in group if not (h.tied_back and (h.voice, h.pitch) in shown)]
        if any(_is_marked(head) for head in chord):
            heard = _chord(chord, instrument)
            names = {head.element for head in heard}
            shown.update((h.voice, h.pitch) for h in chord if h.element not in names)
            chord = heard
        elif chord and not chord[0].tied_back:
            shown -= {key for key in shown if key[0] == chord[0].voice}
        out.extend(chord)
    return out


def _is_marked(head: Notehead) -> bool:
    return "harmonic" in head.techniques or head.shape == "diamond" or bool(head.string)


def _chord(chord: Sequence[Notehead], instrument: Instrument) -> list[Notehead]:
    touched = [h for h in chord if h.string == "touching" or h.shape == "diamond"]
    heard = [h for h in chord if h.string == "sounding"]
    stopped = [h for h in chord if h not in touched and h not in heard]
    if not stopped:
        return [_natural(head, instrument) for head in (touched or heard)]
    if heard:
        return [_lifted(stopped[0], heard[0].pitch - stopped[0].pitch), *stopped[1:]]
    if touched:
        return _artificial(stopped, touched)
    # A circle over a note: it sounds as written; a base without its node is a fourth.
    return [_lifted(h, _ARTIFICIAL) if h.string == "base" else h for h in chord]


def _artificial(stopped: Sequence[Notehead], touched: Sequence[Notehead]) -> list[Notehead]:
    node = max(head.pitch for head in touched)
    below = [head for head in stopped if head.pitch < node]
    base = max(below, key=lambda head: head.pitch) if below else stopped[0]
    lift = _NODES.get(node - base.pitch, 0)
    # Many editions print what sounds above the two; which octave they print counts.
    above = [h for h in stopped if h.pitch > node and (h.pitch - base.pitch - lift) % 12 == 0]
    if lift and above:
        lift = above[0].pitch - base.pitch
    return [
        _lifted(head, lift) if head is base else head
        for head in stopped
        if head is base or head not in above
    ]


def _natural(head: Notehead, instrument: Instrument) -> Notehead:
    """A diamond alone touches a node of an open string; the simplest node counts.

    An octave above the string sounds as it is written and needs no diamond, so it is the
    last choice.
    """
    if head.string == "sounding" or (head.shape != "diamond" and head.string != "touching"):
        return head
    strings = [
        open_ - instrument.transposition for open_ in OPEN_STRINGS.get(instrument.key, ())
    ]
    nodes = [
        (_NODES[head.pitch - string], string)
        for string in strings
        if head.pitch - string in _NODES
    ]
    if not nodes:
        return _lifted(head, 0)
    partial, string = min(nodes, key=lambda node: (sum(node) == head.pitch, node))
    return _lifted(head, string + partial - head.pitch)


def _lifted(head: Notehead, lift: int) -> Notehead:
    words = frozenset(head.techniques) | {"harmonic"}
    return dataclasses.replace(head, lift=lift, techniques=tuple(words))

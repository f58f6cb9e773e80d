"""Which transposition a part is read with, where file, name, range and harmony disagree.

The file's own is kept unless the evidence is clear: the interval is decided by how the
notes fit the other parts' harmony, the octave by the instrument's range and by the part it
usually doubles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.score import crooks, instruments
from auditor.score.changes import Spell
from auditor.score.harmony import Chords, Written
from auditor.score.notes import Instrument

# How much better another interval must fit the harmony, as a share of the notes: where the
# file gives none, and where it gives one. Right and wrong transpositions of 663 parts of
# the repertory lie apart by far more (tests/bench tells how they were tried).
CLEAR = 0.10
CLEAR_AGAINST_FILE = 0.20
# A fit over n equal notes scatters by about half the root of 1 / n, so a difference of two
# fits by 0.7 of it; this many times that is asked, less where the file gives nothing.
_CERTAIN, _LIKELY = 1.5, 1.0
_SCATTER = 0.7
ENOUGH_NOTES = 6.0
# Share of notes out of range that makes an octave wrong, for one that is the instrument's
# custom, for any other, and against a custom that the file declares; and how much better the
# other must be.
_OUT_OF_RANGE, _FAR_OUT, _HOPELESS = 0.02, 0.1, 0.5
_FEWEST_OUT = 3
_BETTER = 4.0
# Part that sounds how far from its usual companion when they play the same line.
_COMPANIONS = {
    "double-bass": (("cello", -12),),
    "contrabassoon": (("double-bass", 0), ("bassoon", -12)),
    "piccolo": (("flute", 12),),
}
_COMMON_NOTES = 12
# Clarinets come in these (written to sounding); without a key in its name it may be any.
_CLARINETS = (-2, -3, 0, -1)


@dataclass(slots=True)
class Group:
    """Heads of a part under one instrument and one transposition of the file.

    Parameters
    ----------
    rows : ndarray of int
        Indices into the part's `Written`.
    instrument
        What plays them.
    given
        Semitones the file gives, 0 if none.
    declared
        The file gives them for this instrument.
    expected
        Semitones that name or custom lead one to expect, the likelier first.
    named
        A key stands in the name or the words.
    changed
        The player has changed to this instrument or key.
    said_register
        The name says basso or alto, so that the octave is named too.
    treble
        All of it stands in the treble clef.
    taken
        Semitones the part is read with.
    why
        What spoke for it, where it is not the file's; ``doubt`` if name and file disagree and
        nothing tells.
    sure
        Another part has confirmed the octave.
    """

    rows: NDArray[np.int64]
    instrument: Instrument
    given: int
    declared: bool
    expected: tuple[int, ...]
    named: bool
    changed: bool
    said_register: bool
    treble: bool
    taken: int
    why: str = ""
    sure: bool = False


def expected(spell: Spell, names: Sequence[str]) -> tuple[tuple[int, ...], bool]:
    """Semitones to expect of an instrument, and whether its key is named.

    Parameters
    ----------
    spell
        Instrument and, if it was changed, the words that changed it.
    names
        The part's names, the best first.
    """
    key = spell.instrument.key
    if spell.change is not None and spell.change.crook:
        named = _intervals(key, spell.change.crook, spell.change.register)
        if named:
            return named, True
    for name in names:
        named = _intervals(key, crooks.keys_of(name), crooks.register_of(name))
        if named and spell.change is None:
            return named, True
    usual = spell.instrument.transposition if spell.change is None else None
    table = instruments.entry(key).instrument.transposition if spell.instrument.known else 0
    return (table if usual is None else usual,), False


def _intervals(key: str, pitches: Sequence[int], register: str) -> tuple[int, ...]:
    found = [n for pitch in pitches for n in crooks.intervals(key, pitch, register)]
    return tuple(dict.fromkeys(found))


def fits(group: Group) -> bool:
    """Whether the file's transposition is one the instrument is written with."""
    if group.given in group.expected:
        return True
    if group.named:
        return False
    key = group.instrument.key
    return key in ("horn", "trumpet", "cornet", "wagner-tuba") or (
        key == "clarinet" and group.given in _CLARINETS
    )


def decide_interval(group: Group, written: Written, chords: Chords) -> None:
    """Choose the interval, octaves aside, by the harmony of the other parts."""
    options = [group.given, 0, *group.expected]
    if group.instrument.key == "clarinet" and not group.named:
        options.extend(_CLARINETS)
    residues = list(dict.fromkeys(option % 12 for option in options))
    if len(residues) == 1:
        return
    fit, notes = chords.fit(part_of(written, group.rows), residues)
    best = int(np.argmax(fit))
    against = group.declared and group.given != 0
    margin = max(
        CLEAR_AGAINST_FILE if against else CLEAR,
        (_CERTAIN if against else _LIKELY) * _SCATTER / max(notes, 1.0) ** 0.5,
    )
    enough = notes >= ENOUGH_NOTES
    clear = enough and bool(best) and fit[best] - fit[0] >= margin
    if clear:
        ranked = [*options] if group.declared else [*group.expected, *options]
        group.taken = next(o for o in ranked if o % 12 == residues[best])
        group.why = "the other parts' harmony agrees with that"
    elif group.changed and not group.declared:
        asked = residues.index(group.expected[0] % 12)
        if not enough or fit[asked] > fit[0] - margin:
            group.taken = group.expected[0]
            group.why = "so the words ask"
    elif group.named and all((e - group.given) % 12 for e in group.expected):
        # At concert pitch the harmony speaks for the file; where it is silent, that is said.
        at_pitch = group.given == 0 and fit[0] - fit[1:].max() >= CLEAR
        if not (enough and at_pitch):
            group.why = "doubt"


def part_of(written: Written, rows: NDArray[np.int64]) -> Written:
    """Some heads of a part."""
    return Written(
        written.start[rows], written.end[rows], written.pitch[rows], written.shift[rows]
    )


def decide_octave(
    group: Group, written: Written, judged: NDArray[np.bool_], others: dict[str, list[Written]]
) -> None:
    """Choose the octave by the companion part, then by the range.

    Parameters
    ----------
    group, written
        What is decided on.
    judged : ndarray of bool, shape (heads,)
        Heads whose clef leaves no doubt of its own.
    others
        Other parts by instrument, as read.
    """
    rows = group.rows[judged[group.rows]]
    if not rows.size or not group.instrument.known:
        return
    own = part_of(written, rows)
    # Whoever writes the usual octave into the file means it: two may well share a pitch.
    # Only when it leaves the range too is it doubted.
    out = _outside(group, own, group.taken)
    meant = group.declared and group.given in group.expected
    meant = meant and out < max(_FEWEST_OUT, _FAR_OUT * rows.size)
    by_company = None if meant else _by_company(group, own, others)
    if by_company is not None:
        group.sure = True
        if by_company != group.taken and _outside(group, own, by_company) == 0:
            group.taken = by_company
            group.why = "so it runs in octaves with its usual companion"
        return
    custom = [o for o in group.expected if (o - group.taken) % 12 == 0 and o != group.taken]
    asked = not group.declared and (group.named or group.changed)
    if (asked or group.said_register) and custom and group.expected[0] == custom[0]:
        if _outside(group, own, custom[0]) <= out:
            group.taken = custom[0]
            group.why = f"that is how a {group.instrument.name.lower()} so named is written"
        return
    for shift, share in _octaves(group, custom):
        enough = out >= max(_FEWEST_OUT, share * rows.size)
        if enough and _outside(group, own, shift) * _BETTER <= out:
            group.taken = shift
            group.why = f"otherwise {out} of its notes lie outside the instrument's range"
            return


def _octaves(group: Group, custom: Sequence[int]) -> list[tuple[int, float]]:
    """Other octaves to try, and the share of notes out of range that calls for each."""
    taken = group.taken
    if group.instrument.family == "voice":
        # Voices go by clefs more than by names; what is common is the tenor's lost 8.
        men = group.instrument.key in ("tenor", "baritone", "bass")
        lost = men and not group.declared and group.treble
        return [(taken - 12, _FAR_OUT)] if lost else []
    table = instruments.entry(group.instrument.key).instrument.transposition
    usual = [table] if (table - taken) % 12 == 0 and table != taken else []
    likely = list(dict.fromkeys([*custom, *usual]))
    # Without a transposition in the file a part far out of range is only named wrongly.
    rest = [taken + by for by in (-12, 12, -24, 24) if group.given and taken + by not in likely]
    if group.declared and taken == group.expected[0]:
        # File and custom agree: single notes out of range are the composer's.
        return [(shift, _HOPELESS) for shift in (*likely, *rest)]
    return [*((s, _OUT_OF_RANGE) for s in likely), *((s, _FAR_OUT) for s in rest)]


def _outside(group: Group, own: Written, shift: int) -> int:
    sounding = own.pitch + shift
    low, high = group.instrument.low, group.instrument.high
    return int(np.count_nonzero((sounding < low) | (sounding > high)))


def _by_company(group: Group, own: Written, others: dict[str, list[Written]]) -> int | None:
    """Shift that puts a part where its companion shows it to be; None if nothing tells."""
    for key, distance in _COMPANIONS.get(group.instrument.key, ()):
        gaps: list[NDArray[np.int64]] = []
        for other in others.get(key, ()):
            at = {round(float(s) * 48): int(p) for s, p in
                  zip(other.start, other.sounding, strict=True)}  # fmt: skip
            gaps.append(
                np.array(
                    [
                        at[place] - int(p)
                        for s, p in zip(own.start, own.pitch, strict=True)
                        if (place := round(float(s) * 48)) in at
                    ],
                    dtype=np.int64,
                )
            )
        found = np.concatenate(gaps) if gaps else np.empty(0, dtype=np.int64)
        same = found[(found % 12 == 0) & (np.abs(found) <= 24)]
        if same.size < _COMMON_NOTES:
            continue
        values, counts = np.unique(same, return_counts=True)
        if counts.max() * 3 >= same.size * 2 and counts.max() * 2 >= found.size:
            return int(values[np.argmax(counts)]) + distance
    return None

"""What the reader is not sure of in a part, in sentences for the report."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.score import instruments
from auditor.score.casting import Role
from auditor.score.noteheads import Notehead
from auditor.score.notes import Part
from auditor.score.sheet import Sheet
from auditor.score.sounding import Voiced


def remarks_on(role: Role, one: Sheet, heads: Sequence[Notehead]) -> list[str]:
    """Say in one sentence each what was odd in a part and how it was read."""
    part = role.part
    said = list(role.remarks)
    if not part.instrument.known:
        said.append(
            f"Part {part.number}, {part.name}: this instrument is not in the table and is "
            f"treated as a sustained one of middle strength."
        )
    others = [name for name in instruments.all_named(one.name) if name != part.instrument.key]
    alone = len(role.lines) == 1
    if part.instrument.known and alone and (others or _is_mixed(part, one)):
        said.append(
            f"Part {part.number}, {part.name}: several instruments share this part; all of it "
            f"is read as {part.instrument.name.lower()}."
        )
    said.extend(_octave_remarks(role, heads))
    return said


def _is_mixed(part: Part, one: Sheet) -> bool:
    """Whether the file gives a part several instruments that are not all of its kind."""
    found = [instruments.named(piece.name) for piece in one.kit.values()]
    same = {entry.instrument.key for entry in found if entry is not None} <= {
        part.instrument.key
    }
    return one.instruments > 1 and not same


def remarks_on_dynamics(parts: Sequence[Part], voices: Sequence[Voiced]) -> list[str]:
    """Say in which parts the page gives no dynamics."""
    silent = [
        part.name
        for part, voiced in zip(parts, voices, strict=True)
        if voiced.levels.first == float("inf")
    ]
    if not silent:
        return []
    if len(silent) == len(parts):
        return ["The page gives no dynamics; mf is assumed throughout."]
    return [f"The page gives no dynamics for {', '.join(silent)}; mf is assumed there."]


def _octave_remarks(role: Role, heads: Sequence[Notehead]) -> list[str]:
    """Doubt about a part that is usually written an octave off but says nothing of it."""
    part = role.part
    if role.as_given or not part.instrument.known or not part.instrument.pitched:
        return []
    usual = instruments.entry(part.instrument.key).instrument.transposition
    pitches = [head.pitch for head in heads if not head.unpitched]
    if not pitches or usual == 0 or usual % 12:
        return []
    low, high = part.instrument.low, part.instrument.high
    as_is = sum(not low <= p <= high for p in pitches)
    moved = sum(not low <= p + usual <= high for p in pitches)
    if moved and moved >= as_is:
        return []
    way = "lower" if usual < 0 else "higher"
    octaves = "an octave" if abs(usual) == 12 else f"{abs(usual) // 12} octaves"
    return [
        f"Part {part.number}, {part.name}: the file gives no transposition, but its notes fit "
        f"a {part.instrument.name.lower()} written {octaves} away; if it is, it sounds "
        f"{octaves} {way} than read here."
    ]

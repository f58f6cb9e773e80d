"""Transpositions that read more easily: the key a part is printed in, and the one it could be.

The key is read from the printed names of the notes, not from the signature: it is the scale
on the line of fifths that holds most of them. The player chooses the instrument in the end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.players import Stream, streams
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.score.notes import Note

# Semitones from written to sounding of instruments of which players carry more than one, or
# change the pitch of the one (common practice, no source). Not here: horns, which are read
# from F whatever the crook; English horns, saxophones, cornets and flugelhorns, of which there
# is one; bass clarinets in A, which nobody has.
STANDARD: dict[str, dict[int, str]] = {
    "clarinet": {-2: "B flat", -3: "A"},
    "trumpet": {0: "C", -2: "B flat"},
    "piccolo-trumpet": {10: "B flat", 9: "A"},
}
_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on transpositions."""
    for stream in streams(page, "woodwind", "brass"):
        if stream.instrument.key in STANDARD:
            yield from easier(stream, limits)


def fifths_of(spelling: str) -> int | None:
    """Place of a printed note on the line of fifths, C at 0; None without a name.

    >>> fifths_of("F#4"), fifths_of("B-3"), fifths_of("C5")
    (6, -2, 0)
    """
    if not spelling or spelling[0] not in _FIFTHS:
        return None
    return _FIFTHS[spelling[0]] + 7 * (spelling.count("#") - spelling[1:].count("-"))


def signature_of(notes: Sequence[Note]) -> int:
    """Sharps (or flats, negative) of the major scale that holds most of the printed notes."""
    found = Counter(f for n in notes if (f := fifths_of(n.spelling)) is not None)

    def held(sharps: int) -> int:
        return sum(count for place, count in found.items() if sharps - 1 <= place <= sharps + 5)

    return max(range(-7, 8), key=lambda sharps: (held(sharps), -abs(sharps)))


def shift_in_fifths(semitones: int) -> int:
    """Signs a transposition adds to the printed key.

    >>> shift_in_fifths(-2), shift_in_fifths(-3), shift_in_fifths(-7)
    (2, -3, 1)
    """
    steps = (-7 * semitones) % 12
    return steps - 12 if steps > 6 else steps


def _fewest(sharps: int) -> int:
    """The same key with the fewer signs, respelled if need be: eleven sharps are one flat."""
    return (sharps + 5) % 12 - 5


def easier(stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Stretches of many signs that another standard instrument reads with few."""
    notes = [n for n in stream.notes if n.spelling]
    for shift, row in groupby(notes, key=lambda n: n.pitch - n.written_pitch):
        held = list(row)
        options = STANDARD[stream.instrument.key]
        if shift not in options or len(held) < limits.key_notes:
            continue
        printed = signature_of(held)
        if abs(printed) < limits.key_signs:
            continue
        # From five signs on two fewer are a relief; below that only more.
        gain = limits.key_gain - (abs(printed) > limits.key_signs)
        for other, name in options.items():
            would = _fewest(printed - shift_in_fifths(shift) + shift_in_fifths(other))
            if abs(would) <= abs(printed) - gain:
                yield _reads_easier(stream, held, printed, would, options[shift], name)


def _reads_easier(
    stream: Stream, held: Sequence[Note], printed: int, would: int, now: str, name: str
) -> Remark:
    return Remark(
        "easier-transposition", "worth a thought", stream.part, held[0].bar, held[-1].bar,
        (held[0].id, held[-1].id),
        f"{stream.name} in {now} reads in {_signs(printed)} here; in {name} it would read in "
        f"{_signs(would)}.",
        "Fewer signs are read and fingered more surely at sight.",
        f"Offer the part for the instrument in {name}; the player chooses in the end.",
        COMMON_PRACTICE,
    )  # fmt: skip


def _signs(sharps: int) -> str:
    if sharps == 0:
        return "no signs"
    count = abs(sharps)
    return f"{count} {'sharp' if sharps > 0 else 'flat'}{'s' if count > 1 else ''}"

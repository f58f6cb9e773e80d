"""A leading note that two independent parts of the harmony have at once.

A dominant is read where a major triad is followed by a triad on the fifth below, and it has
its seventh or the music around it does. Two lines that have its third and moved, or move on,
apart are not one line doubled but two parts.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from auditor.craft.limits import CraftLimits
from auditor.craft.moments import Moment, moments
from auditor.craft.naming import tone_name
from auditor.craft.page import Page
from auditor.craft.remark import Remark
from auditor.findings.wording import listed
from auditor.score.notes import Note

SOURCE = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. III, from memory; the rule is "
    "that of every harmony book"
)
# Moments before and after in which the key is looked for.
_AROUND = 24
_TRIADS = (frozenset((0, 4, 7)), frozenset((0, 3, 7)))


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on doubled leading notes."""
    cut = moments(page)
    lines = _by_line(page)
    for moment, root in _dominants(cut, limits):
        # The tune may touch the leading note while the harmony holds it.
        top = moment.pitched[-1].pitch
        heard = [n for n in moment.pitched
                 if n.pitch % 12 == (root + 4) % 12 and n.pitch < top]  # fmt: skip
        clash = _independent(heard, lines, limits.leading_quarters)
        if clash:
            yield _doubled(page, moment, clash)


def _by_line(page: Page) -> dict[int, list[Note]]:
    lines: dict[int, list[Note]] = {}
    for part in page.parts:
        for note in page.notes_of(part.number):
            if not note.grace and not note.unpitched:
                lines.setdefault(note.line, []).append(note)
    return lines


def _root_of_dominant(classes: frozenset[int]) -> int | None:
    """Root of a major triad or dominant seventh that uses all the classes."""
    for root in classes:
        steps = {(c - root) % 12 for c in classes}
        if {0, 4} <= steps <= {0, 4, 7, 10} and len(steps) >= 3:
            return root
    return None


def _is_triad(classes: frozenset[int], root: int) -> bool:
    steps = frozenset((c - root) % 12 for c in classes)
    return len(steps) >= 2 and 0 in steps and any(steps <= triad for triad in _TRIADS)


def _dominants(cut: Sequence[Moment], limits: CraftLimits) -> Iterator[tuple[Moment, int]]:
    """Moments of a dominant that resolves to a triad a fifth below, each harmony once."""
    classes = [frozenset(n.pitch % 12 for n in m.pitched) for m in cut]
    for i, moment in enumerate(cut):
        if len(moment.lines) < limits.leading_lines or len(classes[i]) < 3:
            continue
        root = _root_of_dominant(classes[i])
        if root is None:
            continue
        following = next(
            (k for k in range(i + 1, min(i + 7, len(cut))) if classes[k] - classes[i]), None
        )
        if following is None or cut[following].onset > moment.end + 1e-3:
            continue
        if _is_triad(classes[following], (root + 5) % 12) and _in_key(cut, i, root):
            yield moment, root


def _in_key(cut: Sequence[Moment], at: int, root: int) -> bool:
    """Whether the music around has the dominant's seventh, not the major seventh of its root.

    Without this C major before F major would make E a leading note in the key of C.
    """
    seventh = major = 0.0
    for moment in cut[max(0, at - _AROUND) : at + _AROUND]:
        for note in moment.pitched:
            seventh += moment.length * (note.pitch % 12 == (root + 10) % 12)
            major += moment.length * (note.pitch % 12 == (root + 11) % 12)
    return seventh > major


def _independent(
    heard: Sequence[Note], lines: dict[int, list[Note]], shortest: float
) -> list[Note]:
    """Two of the notes whose lines move differently before and after; empty if none do.

    Broken chords and double stops are no voices of the harmony.
    """
    for a, b in combinations(heard, 2):
        if a.line == b.line or min(a.duration, b.duration) < shortest:
            continue
        before_a, after_a = _neighbours(a, lines[a.line])
        before_b, after_b = _neighbours(b, lines[b.line])
        if None in (before_a, after_a, before_b, after_b):
            continue
        if before_a != before_b and after_a != after_b:
            return [a, b]
    return []


def _neighbours(note: Note, line: Sequence[Note]) -> tuple[int | None, int | None]:
    """Pitch classes before and after a note in its line; None where it rests or repeats."""
    at = bisect_left(line, note.onset - 1e-6, key=lambda n: n.onset)
    if sum(abs(n.onset - note.onset) < 1e-3 for n in line[at : at + 2]) > 1:
        return None, None
    before = line[at - 1] if at else None
    rest = (n for n in line[at:] if n.onset >= note.onset + note.duration - 1e-3)
    after = next(rest, None)
    gone = before is None or before.onset + before.duration < note.onset - 1.0
    ends = after is None or after.onset > note.onset + note.duration + 1.0
    return (
        None if gone or before is None else before.pitch % 12,
        None if ends or after is None else after.pitch % 12,
    )


def _doubled(page: Page, moment: Moment, clash: Sequence[Note]) -> Remark:
    names = [page.score.lines[n.line - 1].name for n in clash]
    return Remark(
        "leading-note-doubled", "worth a thought", 0, moment.bar, moment.bar,
        tuple(n.id for n in clash),
        f"{listed(names)} both have the leading note {tone_name(clash)} and are not one line "
        "doubled.",
        "The leading note is the sharpest tone of the chord: twice in independent parts it "
        "sticks out, and either both rise in octaves or one goes astray.",
        "Give the weaker part the root or the fifth instead.",
        SOURCE,
    )  # fmt: skip

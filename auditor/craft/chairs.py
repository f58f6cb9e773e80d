"""Chairs: who of a wind section gets the exposed, the high and the low lines.

Only notes whose player the page tells are judged. All of it is common practice, no source,
but for the first chairs that never change instruments and the high and low horns.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from auditor.craft.limits import CraftLimits
from auditor.craft.moments import Moment, moments, stretches
from auditor.craft.naming import pitch_name
from auditor.craft.page import Page
from auditor.craft.players import WINDS, Chair, chairs, phrases
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.findings.wording import listed, mark
from auditor.score.notes import Note

HORNS = "orchestral horn practice: first and third play high, second and fourth low"
_SOFT = 1.25


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on chairs."""
    cut = moments(page)
    seats = chairs(page)
    for row in seats.values():
        yield from exposed_lower_chair(page, row, cut, limits)
        yield from high_on_lower_chair(row, limits)
    yield from horn_pairs(seats.get("horn", ()), limits)
    yield from soft_a2(page, cut, limits)


def _end(note: Note) -> float:
    return note.onset + note.duration


def _sounds(notes: Sequence[Note], start: float, end: float) -> bool:
    return any(n.onset < end and n.onset + n.duration > start for n in notes)


def _span(run: Sequence[Note]) -> tuple[float, float]:
    return run[0].onset, max(n.onset + n.duration for n in run)


def _is_leader(chair: Chair) -> bool:
    """First chairs; the third horn leads the second pair."""
    return chair.number == 1 or (chair.key == "horn" and chair.number == 3)


def exposed_lower_chair(
    page: Page, row: Sequence[Chair], cut: Sequence[Moment], limits: CraftLimits
) -> Iterator[Remark]:
    """An exposed line on a lower chair while the first rests, and has rested before."""
    first = next((c for c in row if c.number == 1), None)
    if first is None:
        return
    for chair in row:
        if _is_leader(chair):
            continue
        alone = [
            n
            for n in chair.notes
            if _exposed(page, n, cut, limits)
            and not _sounds(first.notes, n.onset - limits.chair_rest, _end(n))
        ]
        for run in phrases(alone, limits.chair_gap):
            start, end = _span(run)
            if end - start < limits.chair_quarters - limits.chair_gap:
                continue
            yield Remark(
                "exposed-lower-chair", "worth a thought", chair.part, run[0].bar, run[-1].bar,
                tuple(n.id for n in run),
                f"{chair.name} is alone or nearly so while {first.name} rests.",
                "The first chair is paid, and expects, to play what is exposed; the second may "
                "be chosen for other strengths.",
                "Give the line to the first player, unless the first needs the rest: then say "
                "so in the part.",
                COMMON_PRACTICE,
            )  # fmt: skip


def _exposed(page: Page, note: Note, cut: Sequence[Moment], limits: CraftLimits) -> bool:
    """Whether a note is marked solo, or stands out during most of its length."""
    if "solo" in note.techniques:
        return True
    own = open_ = 0.0
    for moment in cut[bisect_left(cut, note.onset - 1e-3, key=lambda m: m.onset) :]:
        if moment.onset >= _end(note) - 1e-3:
            break
        own += moment.length
        few = len(moment.lines) <= limits.exposed_lines
        open_ += moment.length * (few or _only_wind(page, note, moment))
    return open_ >= 0.75 * own > 0


def _only_wind(page: Page, note: Note, moment: Moment) -> bool:
    """Whether no other wind sounds, and nothing else begins the same tone with it."""
    for other in moment.notes:
        if other.line == note.line or other.unpitched:
            continue
        doubles = abs(other.onset - note.onset) < 1e-3 and (other.pitch - note.pitch) % 12 == 0
        if doubles or page.instrument_of(other).family in WINDS:
            return False
    return True


def high_on_lower_chair(row: Sequence[Chair], limits: CraftLimits) -> Iterator[Remark]:
    """A short passage in which a lower chair plays above the one that usually lies above it."""
    for upper, lower in pairwise(row):
        if lower.key == "horn" and lower.number == 3:
            continue
        for run in _above(upper.notes, lower.notes, limits):
            top = max(n.pitch for n in run)
            yield Remark(
                "high-on-lower-chair", "worth a thought", lower.part, run[0].bar, run[-1].bar,
                tuple(n.id for n in run),
                f"{lower.name} goes above {upper.name}, up to {pitch_name(top)}, for a "
                "short passage.",
                "High notes are the first player's trade: set up for them, warm in the "
                "register; a lower chair meets them cold.",
                "Exchange the two lines here, unless the first is coming from or going to "
                "something hard.",
                HORNS if lower.key == "horn" else COMMON_PRACTICE,
            )  # fmt: skip


def _above(
    upper: Sequence[Note], lower: Sequence[Note], limits: CraftLimits
) -> Iterator[list[Note]]:
    """Short runs of the lower chair that lie clearly above the upper one, sounding with it."""
    row: list[Note] = []
    for note in lower:
        others = [n for n in upper if n.onset < note.onset + note.duration
                  and n.onset + n.duration > note.onset]  # fmt: skip
        crosses = bool(others) and note.pitch >= max(n.pitch for n in others) + limits.cross
        if crosses:
            row.append(note)
        elif row:
            if _short_passage(row, limits):
                yield row
            row = []
    if row and _short_passage(row, limits):
        yield row


def _short_passage(row: Sequence[Note], limits: CraftLimits) -> bool:
    start, end = _span(row)
    return len(row) >= limits.cross_notes and end - start <= limits.cross_quarters


def horn_pairs(row: Sequence[Chair], limits: CraftLimits) -> Iterator[Remark]:
    """High notes on a low horn while its high one is not up there, and the reverse."""
    for high, low in zip(row[::2], row[1::2], strict=False):
        if low.number != high.number + 1 or high.number % 2 == 0:
            continue
        yield from _wrong_horn(
            low, high, lambda n: n.pitch >= limits.horn_high,
            f"{low.name} plays up to {{}} while {high.name} {{}}", "lower", limits,
        )  # fmt: skip
        yield from _wrong_horn(
            high, low, lambda n: n.pitch <= limits.horn_low,
            f"{high.name} plays down to {{}} while {low.name} {{}}", "higher", limits,
        )  # fmt: skip


def _wrong_horn(
    chair: Chair,
    partner: Chair,
    lies: Callable[[Note], bool],
    says: str,
    way: str,
    limits: CraftLimits,
) -> Iterator[Remark]:
    caught = [n for n in chair.notes if lies(n)]
    for run in phrases(caught, limits.chair_gap):
        start, end = _span(run)
        beside = [n for n in partner.notes if n.onset < end and _end(n) > start]
        if end - start < limits.register_quarters or any(lies(n) for n in beside):
            continue
        pitches = [n.pitch for n in run]
        edge = max(pitches) if min(pitches) >= limits.horn_high else min(pitches)
        where = f"lies {way}" if beside else "rests"
        yield Remark(
            "horn-pairs", "worth a thought", chair.part, run[0].bar, run[-1].bar,
            tuple(n.id for n in run), f"{says.format(pitch_name(edge), where)}.",
            "Horn players specialise: first and third live in the high register, second and "
            "fourth in the low.",
            "Exchange the two parts in this place.", HORNS,
        )  # fmt: skip


def soft_a2(page: Page, cut: Sequence[Moment], limits: CraftLimits) -> Iterator[Remark]:
    """Two players in unison in a soft exposed place."""

    def exposed_unison(moment: Moment) -> bool:
        # Two players are one line on one staff and two on two: what counts is the others.
        doubled = _unison(page, moment)
        others = moment.lines - {n.line for n in doubled}
        return bool(doubled) and len(others) < limits.exposed_lines

    for row in stretches(cut, exposed_unison, limits.a2_quarters, limits.chair_gap):
        doubled = [n for moment in row for n in _unison(page, moment)]
        names = list(dict.fromkeys(page.parts[n.part - 1].name for n in doubled))
        who = f"The players of {names[0]}" if len(names) == 1 else listed(names)
        yield Remark(
            "soft-a2", "worth a thought", doubled[0].part, row[0].bar, row[-1].bar,
            tuple(dict.fromkeys(n.id for n in doubled)),
            f"{who} are in unison at {mark(doubled[0].dynamic)} in an exposed place.",
            "Two winds on one soft note are never quite in tune: it beats, and is no louder "
            "than one good player.",
            "Give it to one player; keep a2 for forte or for cover.",
            COMMON_PRACTICE,
        )  # fmt: skip


def _unison(page: Page, moment: Moment) -> list[Note]:
    """Soft notes of a moment that two wind players of one instrument share."""
    found = []
    by_sound: dict[tuple[str, int], list[Note]] = {}
    for note in moment.notes:
        instrument = page.instrument_of(note)
        if instrument.family not in WINDS or note.dynamic > _SOFT or not note.dynamic_written:
            continue
        by_sound.setdefault((instrument.key, note.pitch), []).append(note)
        if len(note.chairs) >= 2:
            found.append(note)
    for notes in by_sound.values():
        if len(notes) >= 2:
            found += [n for n in notes if n not in found]
    return found

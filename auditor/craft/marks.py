"""Dynamics and cues: entries without a mark, hairpins that lead nowhere, doublings that differ.

All of it is common practice, no source.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence

from auditor.craft.gathering import HAS, WHO, gathered
from auditor.craft.limits import CraftLimits
from auditor.craft.naming import seconds_name
from auditor.craft.page import Page, Rest
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.findings.wording import mark
from auditor.score.dynamic_words import words
from auditor.score.notes import Direction, Note, Part

# How far before an entry its mark may stand, and after, in quarters.
_BEFORE, _AFTER = 8.0, 1.0
# Words that swell or fall towards a goal; morendo and its kin have theirs in themselves.
_SWELLS = re.compile(r"\b(cresc|decresc|dim|dimin)\w*", re.IGNORECASE)
# Words that say how loud, "poco f" and "sempre pp" among them.
_LOUDNESS = re.compile(
    r"\b(sotto voce|mezza voce|piano|pianissimo|forte|fortissimo|dolce|leise|stark|niente"
    r"|p{1,4}|f{1,4}|m[pf])(?![\w'])",
    re.IGNORECASE,
)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on dynamics and cues."""
    for part in page.parts:
        yield from cues(page, part, limits)
    yield from gathered(
        (part.name, remark)
        for part in page.parts
        for check in (bare_entries, lost_hairpins, lost_words)
        for remark in check(page, part, limits)
    )
    yield from differing_doublings(page, limits)


def bare_entries(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Entries after a long rest, and first entries, without a dynamic."""
    own = [d for d in page.directions_of(part.number) if d.part == part.number]
    told = [d.onset for d in own if d.kind == "dynamic" or _says_how_loud(d)]
    notes = [n for n in page.notes_of(part.number) if not n.grace]
    if notes and not told:
        yield _no_dynamic(notes[:1], part, f"{WHO} {HAS} no dynamic anywhere.", notes[-1].bar)
        return
    for rest, entry in _entries(page, part, limits.entry_rest_bars):
        first = rest.onset <= 0
        since = 0.0 if first else max(rest.onset, rest.end - _BEFORE)
        if not any(since - 1e-3 <= at <= rest.end + _AFTER for at in told):
            after = f"an entry after {limits.entry_rest_bars:g} or more bars of rest"
            says = f"{WHO} {HAS} no dynamic at {'the first entry' if first else after}."
            yield _no_dynamic([entry], part, says, entry.bar)


def _says_how_loud(direction: Direction) -> bool:
    return direction.kind == "words" and bool(_LOUDNESS.search(direction.text))


def _entries(page: Page, part: Part, bars: float) -> Iterator[tuple[Rest, Note]]:
    """Rests of so many bars, or before the first note, with the note that ends each."""
    notes = page.notes_of(part.number)
    for rest in page.rests(part.number):
        at = bisect_left(notes, rest.end - 1e-3, key=lambda n: n.onset)
        if at == len(notes):
            continue
        entry = notes[at]
        if rest.onset <= 0 or _bars_between(page, rest) >= bars:
            yield rest, entry
    if notes and notes[0].onset <= 1e-3:
        yield Rest(0.0, 0.0), notes[0]


def _bars_between(page: Page, rest: Rest) -> int:
    """Whole bars inside a rest."""
    first = bisect_left(page.bars, rest.onset - 1e-3, key=lambda bar: bar.onset)
    after = bisect_right(page.bars, rest.end + 1e-3, key=lambda bar: bar.onset + bar.duration)
    return max(0, after - first)


def _no_dynamic(notes: Sequence[Note], part: Part, says: str, last: int) -> Remark:
    return Remark(
        "entry-without-dynamic", "worth a thought", part.number, notes[0].bar, last,
        tuple(n.id for n in notes), says,
        "At a first entry nobody knows the level, after a long rest nobody remembers it: the "
        "player asks, or guesses.",
        "Write a dynamic at the first entry and after every rest of some bars, even if it "
        "repeats the last one.",
        COMMON_PRACTICE,
    )  # fmt: skip


def cues(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """One remark on all the rests of a part after which its player will want a cue."""
    long: list[tuple[Rest, Note]] = [
        (rest, entry)
        for rest, entry in _entries(page, part, limits.cue_bars)
        if _bars_between(page, rest) >= limits.cue_bars
        or page.seconds_between(rest.onset, rest.end) >= limits.cue_s
    ]
    if not long:
        return
    rest, entry = max(long, key=lambda pair: pair[0].end - pair[0].onset)
    length = page.seconds_between(rest.onset, rest.end)
    longest = f"{_bars_between(page, rest)} bars ({seconds_name(length)}"
    longest += f"{page.said_tempo(rest.onset)}) before bar {page.bar(entry.bar).number}"
    count = f"{len(long)} long rests, the longest of " if len(long) > 1 else "a rest of "
    yield Remark(
        "cue-wanted", "worth a thought", part.number, long[0][1].bar, long[-1][1].bar,
        tuple(e.id for _, e in long),
        f"{part.name} has {count}{longest}.",
        "A player who has counted that long comes in more surely after hearing the line in "
        "the part.",
        "Give a cue of two to four bars before each entry, from an instrument the player can "
        "hear.",
        COMMON_PRACTICE,
    )  # fmt: skip


def lost_hairpins(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """Hairpins with no mark at their end."""
    own = [d for d in page.directions_of(part.number) if d.part == part.number]
    for sign in own:
        if sign.kind == "hairpin" and not _has_goal(page, part, sign, own, limits):
            yield _nowhere(page, part, sign)


def _has_goal(
    page: Page, part: Part, sign: Direction, own: Sequence[Direction], limits: CraftLimits
) -> bool:
    reach = sign.end + limits.hairpin_reach
    for other in own:
        if other is sign:
            continue
        if other.kind == "dynamic" and sign.end - 1.0 <= other.onset <= reach:
            return True
        # Swelling and falling back to where it began is complete in itself.
        turned = other.kind == "hairpin" and other.text != sign.text
        if turned and (
            abs(other.onset - sign.end) <= 1.0 or abs(other.end - sign.onset) <= 1.0
        ):
            return True
    if sign.text == "diminuendo":
        # Dying away into a rest needs no mark.
        after = [n for n in page.notes_of(part.number) if n.onset >= sign.end - 1e-3]
        return not after or after[0].onset > sign.end + limits.hairpin_reach
    return False


def _nowhere(page: Page, part: Part, sign: Direction) -> Remark:
    under = [
        n.id for n in page.notes_of(part.number) if sign.onset - 1e-3 <= n.onset < sign.end
    ]
    last = max(sign.bar, page.bar_at(max(sign.end - 1e-3, 0.0)).index)
    return Remark(
        "hairpin-to-nowhere", "worth a thought", part.number, sign.bar, last, tuple(under),
        f"{WHO} {HAS} a {sign.text} that ends without a mark.",
        "Without a goal everyone chooses one; a section then has as many levels as players.",
        "Write the dynamic it leads to, or poco, or the level to return to.",
        COMMON_PRACTICE,
    )  # fmt: skip


def lost_words(page: Page, part: Part, limits: CraftLimits) -> Iterator[Remark]:
    """The word cresc. or dim. with no mark in reach that says where it leads."""
    own = [d for d in page.directions_of(part.number) if d.part == part.number]
    for sign in own:
        said = words(sign.text) if sign.kind == "words" and _SWELLS.search(sign.text) else None
        if said is None or not said.way or said.goal is not None:
            continue
        reach = page.bar_at(sign.onset).onset + limits.cresc_bars * page.bar(sign.bar).duration
        if any(_leads_on(d, sign, reach) for d in own):
            continue
        after = [n for n in page.notes_of(part.number) if sign.onset - 1e-3 <= n.onset < reach]
        if not after or (said.way < 0 and _rests_within(page, part, sign.onset, reach)):
            continue
        yield Remark(
            "cresc-to-nowhere", "worth a thought", part.number, sign.bar, after[-1].bar,
            tuple(n.id for n in after),
            f"{WHO} {HAS} {'cresc.' if said.way > 0 else 'dim.'} and no mark after it for "
            f"{limits.cresc_bars:g} bars or to the end.",
            "Without a goal nobody knows how far to go, or when it is over.",
            "Write the mark it leads to where it is reached.",
            COMMON_PRACTICE,
        )  # fmt: skip


def _leads_on(other: Direction, sign: Direction, reach: float) -> bool:
    """Whether a later sign ends a cresc. or carries it on."""
    if not sign.onset + 1e-3 < other.onset <= reach + 1e-3:
        return False
    if other.kind in ("dynamic", "hairpin"):
        return True
    said = words(other.text) if other.kind == "words" else None
    return said is not None and (said.level is not None or bool(said.change or said.way))


def _rests_within(page: Page, part: Part, start: float, end: float) -> bool:
    """Whether a part falls silent for a bar or more between two places."""
    return any(
        start < rest.onset < end and _bars_between(page, rest) >= 1
        for rest in page.rests(part.number)
    )


def differing_doublings(page: Page, limits: CraftLimits) -> Iterator[Remark]:
    """Lines of one family with the same notes in a bar but marks far apart."""
    families = {line.number: line.instrument.family for line in page.score.lines}
    bars: dict[tuple[int, str], dict[int, list[Note]]] = defaultdict(lambda: defaultdict(list))
    for part in page.parts:
        for note in page.notes_of(part.number):
            if not note.grace and not note.unpitched:
                bars[(note.bar, families[note.line])][note.line].append(note)
    for (bar, _), lines in sorted(bars.items()):
        yield from _differing(page, bar, lines, limits)


def _differing(
    page: Page, bar: int, lines: dict[int, list[Note]], limits: CraftLimits
) -> Iterator[Remark]:
    alike: dict[tuple[tuple[float, int], ...], list[int]] = defaultdict(list)
    for line, notes in lines.items():
        if len(notes) >= limits.doubling_notes and all(n.dynamic_written for n in notes):
            alike[tuple((round(n.onset, 2), n.pitch % 12) for n in notes)].append(line)
    for group in alike.values():
        levels = {i: sum(n.dynamic for n in lines[i]) / len(lines[i]) for i in group}
        soft, loud = min(group, key=levels.__getitem__), max(group, key=levels.__getitem__)
        if levels[loud] - levels[soft] < limits.doubling_steps:
            continue
        names = [page.score.lines[i - 1].name for i in (loud, soft)]
        yield Remark(
            "doubling-marks-differ", "worth a thought", 0, bar, bar,
            tuple(n.id for i in (loud, soft) for n in lines[i]),
            f"{names[0]} has {mark(levels[loud])} and {names[1]} {mark(levels[soft])} on the "
            "same notes.",
            "Players who find they have the same line at different marks stop and ask which "
            "is right.",
            "Mark the doubling alike, or write why it differs (in relief, as an echo).",
            COMMON_PRACTICE,
        )  # fmt: skip

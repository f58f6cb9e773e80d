"""Signs that quarrel: stacked accents, strokes against slurs, pizzicato or mute left on.

All of it is common practice, no source.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence

from auditor.craft.gathering import HAS, IS, WHO, gathered
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.players import Stream, streams
from auditor.craft.remark import Remark
from auditor.score.notes import Direction, Note

_SFORZATO = re.compile(r"^(s?ff?z|sff?|rf|rfz|sfff?z?|fz|ffz|sfp|fp|sfpp)$")
_MUTE_OFF = re.compile(
    r"(senza sord|via sord|ohne d[äa]mpfer|sans sourd|[oô]te[rz].{0,12}sourd|mutes? off)",
    re.IGNORECASE,
)
_ARCO = re.compile(r"\b(arco|gestrichen)\b", re.IGNORECASE)
_FF = 4.75
_REMINDER_BARS = 4
# Signs of one note that say the same thing twice, or two things at once.
_STACKED: tuple[tuple[frozenset[str], str], ...] = (
    (frozenset(("accent", "marcato")), "two accents, > and ^"),
    (frozenset(("staccato", "staccatissimo")), "a dot and a wedge"),
    (frozenset(("staccatissimo", "tenuto")), "a wedge and a tenuto line"),
    (frozenset(("staccatissimo", "fermata")), "a wedge and a fermata"),
    (frozenset(("staccato", "fermata")), "a dot and a fermata"),
)
_AGAINST_SLUR: tuple[tuple[str, str], ...] = (
    ("staccatissimo", "wedges"),
    ("marcato", "^ accents"),
    ("spiccato", "spiccato marks"),
)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on signs that quarrel."""
    yield from gathered(
        (stream.name, remark)
        for stream in streams(page, "strings", "brass", "woodwind", "saxophone")
        for remark in _on_stream(page, stream, limits)
    )


def _on_stream(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    own = [d for d in page.directions_of(stream.part) if d.part == stream.part]
    yield from stacked(stream)
    yield from sforzato_and_accent(stream, own)
    yield from against_slur(stream)
    yield from switches(stream, own)
    if stream.instrument.family == "strings":
        yield from pizzicato_left_on(page, stream, limits)
    yield from mute_left_on(stream, limits)


def _on(
    notes: Sequence[Note], kind: str, weight: str, sentence: str, why: str, remedy: str
) -> Remark:
    return Remark(
        kind, weight, notes[0].part, notes[0].bar, notes[-1].bar, tuple(n.id for n in notes),
        sentence, why, remedy,
    )  # fmt: skip


def _by_bar(notes: Iterable[Note], caught: Callable[[Note], bool]) -> Iterator[list[Note]]:
    """The notes of each bar that something holds for."""
    bars: dict[int, list[Note]] = defaultdict(list)
    for note in notes:
        if caught(note):
            bars[note.bar].append(note)
    yield from bars.values()


def stacked(stream: Stream) -> Iterator[Remark]:
    """Signs on one note that double or contradict each other."""
    for signs, named in _STACKED:
        for notes in _by_bar(stream.notes, lambda n, s=signs: s <= set(n.techniques)):  # type: ignore[misc]
            yield _on(
                notes, "stacked-signs", "worth a thought",
                f"{WHO} {HAS} {named} on one note.",
                "Each player picks one of the two, and the section plays both.",
                "Keep the one that is meant.",
            )  # fmt: skip


def sforzato_and_accent(stream: Stream, own: Sequence[Direction]) -> Iterator[Remark]:
    """An accent on a note that has sf or fp already."""
    stressed = [d.onset for d in own if d.kind == "dynamic" and _SFORZATO.match(d.text.lower())]

    def twice(note: Note) -> bool:
        return bool({"accent", "marcato"} & set(note.techniques)) and any(
            abs(note.onset - at) < 1e-3 for at in stressed
        )

    for notes in _by_bar(stream.notes, twice):
        yield _on(
            notes, "stacked-signs", "worth a thought",
            f"{WHO} {HAS} sf and an accent on one note.",
            "The second sign adds nothing, and raises the question how much more is wanted.",
            "Keep the sf, or the accent alone.",
        )  # fmt: skip


def against_slur(stream: Stream) -> Iterator[Remark]:
    """Strokes under a slur that call for a new attack."""
    for sign, named in _AGAINST_SLUR:
        caught = _by_bar(
            stream.notes,
            lambda n, s=sign: "slurred" in n.techniques and s in n.techniques,  # type: ignore[misc]
        )
        for notes in caught:
            yield _on(
                notes, "sign-against-slur", "worth a thought",
                f"{WHO} {HAS} {named} under a slur.",
                "The slur says one bow or breath, the sign a new attack: someone will ask.",
                "Take the slur off, or write dots or lines under it if portato is meant.",
            )  # fmt: skip


def pizzicato_left_on(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """Bowed signs while pizz. is in force: an arco is missing."""

    def bowed(note: Note) -> bool:
        words = set(note.techniques)
        if "pizz" not in words or "snap-pizz" in words or note.grace:
            return False
        if words & {"tremolo", "slurred", "sul-ponticello", "portato"}:
            return True
        held = page.seconds_between(note.onset, note.onset + note.duration)
        return held >= limits.pizz_long_s

    row: list[Note] = []
    for note in [n for n in stream.notes if "pizz" in n.techniques]:
        if bowed(note):
            row.append(note)
    for notes in _close(row):
        if len(notes) >= limits.pizz_notes:
            yield _on(
                notes, "missing-arco", "risky",
                f"{WHO} {HAS} slurs, tremolo or held notes while pizz. is in force.",
                "Players go on plucking until the part says arco; the first reading fails.",
                "Write arco where the bow returns.",
            )  # fmt: skip


def _close(notes: Sequence[Note]) -> Iterator[list[Note]]:
    """Rows of notes no more than two bars apart."""
    row: list[Note] = []
    for note in notes:
        if row and note.bar > row[-1].bar + 2:
            yield row
            row = []
        row.append(note)
    if row:
        yield row


def mute_left_on(stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """A mute still on at ff, long after it was called for."""
    muted_since: int | None = None
    caught: list[Note] = []
    for note in stream.notes:
        if "mute" not in note.techniques:
            muted_since = None
            continue
        muted_since = note.bar if muted_since is None else muted_since
        if note.dynamic >= _FF and note.bar - muted_since >= limits.mute_bars:
            caught.append(note)
    for notes in _close(caught):
        yield _on(
            notes, "mute-left-on", "worth a thought",
            f"{WHO} {IS} still muted at ff.",
            "A mute at ff is a colour of its own, or a senza sord. that was forgotten; nobody "
            "can tell which.",
            "Write senza sord. where the mute comes off, or sempre con sord. if it stays.",
        )  # fmt: skip


def switches(stream: Stream, own: Sequence[Direction]) -> Iterator[Remark]:
    """A senza sord. or arco that takes back what was never asked for."""
    pairs = [(_MUTE_OFF, "mute", "senza sord."), (_ARCO, "pizz", "arco")]
    for pattern, word, printed in pairs:
        if word == "pizz" and stream.instrument.family != "strings":
            continue
        for sign in own:
            if sign.kind == "words" and pattern.search(sign.text):
                yield from _needless(stream, sign, word, printed)


def _needless(stream: Stream, sign: Direction, word: str, printed: str) -> Iterator[Remark]:
    before = [n for n in stream.notes if n.onset < sign.onset - 1e-3]
    after = [n for n in stream.notes if n.onset >= sign.onset - 1e-3]
    # At the beginning and after a long rest it may be a reminder.
    if not before or not after or sign.bar - before[-1].bar > _REMINDER_BARS:
        return
    if word in before[-1].techniques:
        return
    if word == "pizz" and "col-legno" in before[-1].techniques:
        return
    yield Remark(
        "needless-switch", "worth a thought", stream.part, sign.bar,
        max(sign.bar, after[0].bar),
        (after[0].id,),
        f"{WHO} {HAS} {printed} though nothing was switched on before.",
        "The player looks back for a pizz. or con sord. that is not there.",
        "Take it out, or write the missing instruction before it.",
    )  # fmt: skip

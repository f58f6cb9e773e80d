"""Time to change: instrument, mute, sticks, place in the section, bow and pizzicato.

Seconds available are held against seconds needed. A plucked note frees the hand at once, a
bowed or blown one when it ends, or a little sooner if it is long.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from auditor.craft.limits import CraftLimits
from auditor.craft.naming import seconds_name
from auditor.craft.page import Chord, Page, together
from auditor.craft.players import Stream, streams
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.craft.tempo import weighed
from auditor.score.instruments import exactly, named, words_of

# Woodwinds whose other sizes and keys are other instruments; brass crooks are read across.
_DOUBLERS = ("flute", "oboe", "clarinet", "bass-clarinet", "saxophone", "piccolo", "bassoon")
# Staves that several instruments share.
_MIXED = ("percussion", "drum-kit")
_STICKS = re.compile(
    r"(stick|mallet|beater|brush|schl[äa]gel|bacchett|baguette|mailloche|besen)", re.IGNORECASE
)
_TAKES = re.compile(
    r"^(muta(no)? in|change to|changes to|to|takes?|nimmt|nehmen|prend|prende|prenez)\b",
    re.IGNORECASE,
)


# Less than this is not worth saying: tempos are not kept so exactly.
_SLACK_S = 0.05


@dataclass(frozen=True, slots=True)
class Change:
    """What has to be done between two notes.

    Parameters
    ----------
    kind
        Name of the remark.
    does
        For the sentence: ``put the mute on``.
    needs_s
        Seconds it takes.
    whole
        Whether nothing sounds without it, so that no time at all means it cannot be done.
    """

    kind: str
    does: str
    needs_s: float
    whole: bool = False


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on time to change."""
    for stream in streams(page, "strings", "brass", "woodwind", "saxophone", "percussion"):
        chords = [c for c in together(stream.notes) if not c.notes[0].grace]
        for before, after in pairwise(chords):
            for change in _changes(stream, before, after, limits):
                yield from _hurried(page, stream, (before, after), change, limits)
        yield from _told(page, stream, chords, limits)


def _changes(
    stream: Stream, before: Chord, after: Chord, limits: CraftLimits
) -> Iterator[Change]:
    was, now = set(before.notes[0].techniques), set(after.notes[0].techniques)
    if stream.instrument.family == "strings":
        yield from _bow(was, now, limits)
    if stream.instrument.family in ("strings", "brass"):
        if "mute" in now - was:
            yield Change("time-to-mute", "put the mute on", limits.mute_on_s, whole=True)
        if "mute" in was - now:
            yield Change("time-to-mute", "take the mute off", limits.mute_off_s, whole=True)
    if stream.instrument.family == "brass" and "stopped" in now ^ was:
        yield Change("time-to-stop", "change between stopped and open", limits.stop_s)
    if stream.instrument.key in _DOUBLERS and _shift(before) != _shift(after):
        yield Change(
            "time-to-change-instrument",
            "change the instrument",
            limits.instrument_s,
            whole=True,
        )


def _bow(was: set[str], now: set[str], limits: CraftLimits) -> Iterator[Change]:
    if "snap-pizz" in was | now or "left-hand-pizz" in was | now:
        return
    if "pizz" in now - was:
        yield Change("time-to-pizz", "go from the bow to pizzicato", limits.to_pizz_s)
    elif "pizz" in was - now:
        yield Change("time-to-arco", "take up the bow after pizzicato", limits.to_arco_s)
    for way in ("sul-ponticello", "sul-tasto", "col-legno"):
        if way in was ^ now and "pizz" not in was | now:
            yield Change("time-to-move-bow", f"move the bow ({way.replace('-', ' ')})",
                         limits.bow_place_s)  # fmt: skip


def _shift(chord: Chord) -> int:
    """Semitones from written to sounding, octaves left aside: clefs may add them."""
    note = chord.notes[0]
    return (note.pitch - note.written_pitch) % 12 if not note.unpitched else 0


def _hurried(
    page: Page, stream: Stream, pair: tuple[Chord, Chord], change: Change, limits: CraftLimits
) -> Iterator[Remark]:
    """The change, if the time between two chords is less than it needs."""
    before, after = pair
    has = _available(page, before, after, limits)
    if has > change.needs_s - _SLACK_S:
        return
    hurried = "risky" if has < limits.hurry_share * change.needs_s else "worth a thought"
    weight = weighed(page, before.onset, hurried)
    if change.whole and has < limits.no_time_s:
        weight = "cannot be played"
    yield Remark(
        change.kind, weight, stream.part, before.bar, after.bar,
        (*before.ids, *after.ids),
        f"{stream.name} has {seconds_name(has)} to {change.does}"
        f"{page.said_tempo(before.onset)}; it takes about {seconds_name(change.needs_s)}.",
        "Without time the first notes after the change are late, rough or missing.",
        "Add rests before or after, let half the section change early (div.), or let another "
        "player lead the new colour in.",
        COMMON_PRACTICE,
    )  # fmt: skip


def _available(page: Page, before: Chord, after: Chord, limits: CraftLimits) -> float:
    """Seconds between the hands being free and being needed."""
    first = before.notes[0]
    if "pizz" in first.techniques or page.instrument_of(first).kind == "struck":
        return page.seconds_between(before.onset, after.onset)
    gap = page.seconds_between(min(before.end, after.onset), after.onset)
    held = page.seconds_between(before.onset, before.end)
    return gap + min(limits.leave_early_s, 0.5 * held)


def _told(
    page: Page, stream: Stream, chords: Sequence[Chord], limits: CraftLimits
) -> Iterator[Remark]:
    """Changes that words ask for: other sticks, another instrument."""
    # What the first words on sticks name is what to begin with; so for a mixed staff.
    mixed = stream.instrument.key in _MIXED
    sticks, plays = "", "" if mixed else stream.instrument.name.lower()
    for direction in page.directions_of(stream.part):
        if direction.kind != "words" or not direction.part:
            continue
        change = _asked(stream, direction.text, limits)
        if change is None:
            continue
        if change.kind == "time-to-change-sticks":
            sticks, first = direction.text, not sticks
        elif change.kind == "time-to-cross-the-section":
            first = plays in ("", change.does)
            plays, change = change.does, replace(change, does=f"get to the {change.does}")
        else:
            first = False
        if first:
            continue
        before = [c for c in chords if c.onset < direction.onset - 1e-6]
        after = [c for c in chords if c.onset >= direction.onset - 1e-6]
        if before and after:
            yield from _hurried(page, stream, (before[-1], after[0]), change, limits)


def _asked(stream: Stream, text: str, limits: CraftLimits) -> Change | None:
    """What words over a part ask to be changed."""
    if stream.instrument.family == "percussion":
        if _STICKS.search(text):
            return Change("time-to-change-sticks", "change sticks", limits.sticks_s)
        return _crossing(text, limits)
    if stream.instrument.family in ("woodwind", "saxophone") and _TAKES.search(text.strip()):
        entry = named(_TAKES.sub("", text.strip()))
        if entry is not None and entry.instrument.family in ("woodwind", "saxophone"):
            return Change(
                "time-to-change-instrument", f"take the {entry.instrument.name.lower()}",
                limits.instrument_s, whole=True,
            )  # fmt: skip
    return None


def _crossing(text: str, limits: CraftLimits) -> Change | None:
    """Another instrument of the section named over a percussionist's staff."""
    entry = exactly(words_of(_TAKES.sub("", text.strip())))
    if entry is None or entry.instrument.family not in ("percussion", "keyboard"):
        return None
    return Change(
        "time-to-cross-the-section", entry.instrument.name.lower(), limits.percussion_change_s
    )

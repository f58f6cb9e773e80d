"""The feet of the harpist: pedals to be moved between notes, and whether they get there.

A pedal must move after the last note of its letter in the old setting and before the first
in the new one; a foot moves one pedal at a time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from auditor.craft.pedals import FEET, String, strings_for

# More new names than this in one place are a rewriting, not a rescue.
_MOST_NEW_NAMES = 3
# Single notes spelled unlike their neighbours, and how near the fault they lie, in seconds.
_MOST_NEW_NOTES = 2
_CLOSE_S = 1.0
# Notes nearer than this, in seconds, are struck at once; a pedal may be this much late.
AT_ONCE_S = 0.01
_LATE_S = 1e-9
# Around a fault that was mended no other may be left this near, in seconds.
_NEAR_S = 0.5


@dataclass(frozen=True, slots=True)
class Struck:
    """One note of the harp on a string.

    Parameters
    ----------
    time_s
        Seconds when it is struck.
    string
        Letter and setting.
    note
        Identifier.
    """

    time_s: float
    string: String
    note: str


@dataclass(frozen=True, slots=True)
class Change:
    """One pedal to be moved between two notes of its letter."""

    before: Struck
    after: Struck

    @property
    def letter(self) -> str:
        """The pedal."""
        return self.after.string[0]


def changes_of(struck: Sequence[Struck]) -> list[Change]:
    """Pedals to be moved in a passage, by the time they must be done."""
    last: dict[str, Struck] = {}
    found = []
    for note in sorted(struck, key=lambda s: s.time_s):
        before = last.get(note.string[0])
        if before is not None and before.string != note.string:
            found.append(Change(before, note))
        last[note.string[0]] = note
    return found


def missed(changes: Sequence[Change], pedal_s: float) -> list[Change]:
    """Changes that two feet cannot make in time, at so many seconds a pedal.

    Exact for each foot: of all orders in which it can have made the same changes, the one
    that leaves it free soonest is kept. A change nobody can make is put aside and told.
    """
    feet: dict[str, list[Change]] = defaultdict(list)
    for change in changes:
        feet[FEET[change.letter]].append(change)
    late = [change for own in feet.values() for change in _missed_by_foot(own, pedal_s)]
    return sorted(late, key=lambda change: change.after.time_s)


def _missed_by_foot(changes: Sequence[Change], pedal_s: float) -> list[Change]:
    queues: dict[str, list[Change]] = defaultdict(list)
    late: list[Change] = []
    for change in changes:
        if change.after.time_s - change.before.time_s < pedal_s:
            late.append(change)
        else:
            queues[change.letter].append(change)
    letters = sorted(queues)
    free: dict[tuple[int, ...], float] = {(0,) * len(letters): float("-inf")}
    while any(queues.values()):
        after = _one_more(free, letters, queues, pedal_s)
        if after:
            free = after
            if all(
                done == len(queues[letter])
                for letter, done in zip(letters, next(iter(free)), strict=True)
            ):
                break
            continue
        late.append(_put_aside(free, letters, queues))
        free = {(0,) * len(letters): float("-inf")}
    return late


def _one_more(
    free: Mapping[tuple[int, ...], float],
    letters: Sequence[str],
    queues: Mapping[str, list[Change]],
    pedal_s: float,
) -> dict[tuple[int, ...], float]:
    """Every state of a foot that has made one change more, and when it is free again."""
    after: dict[tuple[int, ...], float] = {}
    for done, at in free.items():
        for place, letter in enumerate(letters):
            if done[place] == len(queues[letter]):
                continue
            change = queues[letter][done[place]]
            end = max(at, change.before.time_s) + pedal_s
            if end > change.after.time_s + _LATE_S:
                continue
            state = (*done[:place], done[place] + 1, *done[place + 1 :])
            after[state] = min(end, after.get(state, float("inf")))
    return {
        state: end
        for state, end in after.items()
        if not _lost(state, end, letters, queues, pedal_s)
    }


def _lost(
    done: Sequence[int],
    at: float,
    letters: Sequence[str],
    queues: Mapping[str, list[Change]],
    pedal_s: float,
) -> bool:
    """Whether some pedal's next change is too late already."""
    return any(
        max(at, queues[letter][k].before.time_s) + pedal_s
        > queues[letter][k].after.time_s + _LATE_S
        for letter, k in zip(letters, done, strict=True)
        if k < len(queues[letter])
    )


def _put_aside(
    free: Mapping[tuple[int, ...], float],
    letters: Sequence[str],
    queues: Mapping[str, list[Change]],
) -> Change:
    """Take out of the queues the open change that is due first, and give it."""
    done = next(iter(free))
    waiting = [
        (queues[letter][k].after.time_s, letter, k)
        for letter, k in zip(letters, done, strict=True)
        if k < len(queues[letter])
    ]
    _, letter, k = min(waiting)
    return queues[letter].pop(k)


def in_two_settings(struck: Sequence[Struck]) -> list[tuple[Struck, Struck]]:
    """Notes struck at once on the same letter in two settings, which no harp has."""
    found = []
    last: dict[str, Struck] = {}
    for note in sorted(struck, key=lambda s: s.time_s):
        other = last.get(note.string[0])
        if other and other.string != note.string and note.time_s - other.time_s < AT_ONCE_S:
            found.append((other, note))
        last[note.string[0]] = note
    return found


def faults(struck: Sequence[Struck], pedal_s: float) -> list[Change]:
    """What a passage asks for and the pedals cannot give, in the order of the music.

    Two settings of a letter at once are told as a change that has no time.
    """
    twice = [Change(first, second) for first, second in in_two_settings(struck)]
    late = [c for c in missed(changes_of(struck), pedal_s) if c not in twice]
    return sorted([*twice, *late], key=lambda change: change.after.time_s)


def first_fault(struck: Sequence[Struck], after_s: float, pedal_s: float) -> Change | None:
    """The first fault later than a place in seconds; None where there is none."""
    return next((c for c in faults(struck, pedal_s) if c.after.time_s > after_s), None)


def respelled(
    struck: Sequence[Struck], pitches: Mapping[str, int], at_s: float, pedal_s: float
) -> dict[str, String] | None:
    """Other strings for some notes of a passage that mend a fault in it.

    Names are changed all through the passage first, up to three of them; failing that, one
    or two single notes close to the fault.

    Parameters
    ----------
    struck
        A passage as printed, the notes around it included.
    pitches
        MIDI pitches of the notes that may be spelled anew, by identifier.
    at_s
        Seconds at which the fault is.
    pedal_s
        Seconds a foot takes for a pedal.

    Returns
    -------
    dict or None
        New string by note; None where nothing mends the fault without making another.
    """
    other = {
        s: next(o for o in strings_for(pitches[s.note]) if o != s.string)
        for s in struck
        if s.note in pitches and len(strings_for(pitches[s.note])) > 1
    }
    printed = {change.after.note for change in faults(struck, pedal_s)}
    for swap in (*_by_name(other), *_by_note(other, at_s)):
        tried = [Struck(s.time_s, swap.get(s.note, s.string), s.note) for s in struck]
        left = faults(tried, pedal_s)
        mended = all(abs(change.after.time_s - at_s) > _NEAR_S for change in left)
        if mended and {change.after.note for change in left} < printed:
            return swap
    return None


def _by_name(other: Mapping[Struck, String]) -> Iterator[dict[str, String]]:
    names = list(dict.fromkeys(s.string for s in other))
    for count in range(1, _MOST_NEW_NAMES + 1):
        for chosen in combinations(names, count):
            yield {s.note: new for s, new in other.items() if s.string in chosen}


def _by_note(other: Mapping[Struck, String], at_s: float) -> Iterator[dict[str, String]]:
    close = [s for s in other if abs(s.time_s - at_s) <= _CLOSE_S]
    for count in range(1, _MOST_NEW_NOTES + 1):
        for chosen in combinations(close, count):
            yield {s.note: other[s] for s in chosen}

"""The words of findings: plain, brief, as a teacher would write them on the page."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.score.notes import Bar

MARKS: dict[int, str] = {
    -1: "ppp", 0: "pp", 1: "p", 2: "mp", 3: "mf", 4: "f", 5: "ff", 6: "fff",
}  # fmt: skip


def step(level: float) -> int:
    """Whole dynamic step nearest to a level, ppp to fff; halves go up."""
    return int(min(max(np.floor(level + 0.5), -1), 6))


def mark(level: float) -> str:
    """Dynamic mark nearest to a level in dynamic steps."""
    return MARKS[step(level)]


# Of a line's notes, this share at one mark makes it the mark of the passage.
_ONE_MARK = 0.8
_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def one_mark(levels: Sequence[float]) -> int | None:
    """The dynamic step that stands for all of a passage; None where its marks differ."""
    steps, count = np.unique([step(x) for x in levels], return_counts=True)
    most = int(np.argmax(count)) if steps.size else 0
    return int(steps[most]) if steps.size and count[most] >= _ONE_MARK * count.sum() else None


def change_of_marks(players: Sequence[tuple[str, Sequence[float]]], by: int) -> str:
    """Words for other marks, naming only marks that stand on the page.

    Parameters
    ----------
    players
        Name and the dynamic steps of the notes of each.
    by
        Steps, down if negative.

    Returns
    -------
    str
        ``mark A and B mf instead of f``; ``mark A one degree softer throughout`` where its
        marks change on the way.
    """
    groups: dict[int | None, list[str]] = {}
    for name, levels in players:
        groups.setdefault(one_mark(levels), []).append(name)
    degrees = {1: "one degree", 2: "two degrees"}.get(abs(by), f"{abs(by)} degrees")
    way = "louder" if by > 0 else "softer"
    said = [
        f"{listed(names)} {degrees} {way} throughout"
        if at is None
        else f"{listed(names)} {mark(at + by)} instead of {mark(at)}"
        for at, names in groups.items()
    ]
    return f"mark {' and '.join(said)}"


def listed(names: Sequence[str], most: int = 3) -> str:
    """Write ``a``, ``a and b``, ``a, b and c``; what goes beyond `most` is counted."""
    kept = list(names[:most])
    if len(names) > most:
        left = len(names) - most + 1
        # "Oboe 1 and 2 others" could be read as two oboes and others.
        count = _COUNTS[left] if left < len(_COUNTS) else str(left)
        kept = [*names[: most - 1], f"{count} others"]
    if len(kept) < 2:
        return kept[0] if kept else "nobody"
    return f"{', '.join(kept[:-1])} and {kept[-1]}"


def bars_named(bars: Sequence[Bar], first: int, last: int) -> str:
    """``bar 12``, ``bars 12–15``, with ``(second time)`` inside a repeat."""
    a, b = bars[first], bars[last]
    name = f"bar {a.number}" if first == last else f"bars {a.number}–{b.number}"
    if first != last and a.number == b.number:
        name = f"bar {a.number}"
    times = {2: "second time", 3: "third time"}
    if a.pass_number > 1:
        name += f" ({times.get(a.pass_number, f'time {a.pass_number}')})"
    return name


def opening(text: str) -> str:
    """Begin a sentence with a capital."""
    return text[:1].upper() + text[1:]


def covered_sentence(
    bars: str, names: Sequence[str], covers: Sequence[str], cause: str, remedy: str
) -> str:
    """Say that a line is lost, why, and what to try first."""
    many = len(names) > 1
    lost = f"{listed(names)} {'are' if many else 'is'} lost"
    under = f" under {listed(covers, 3)}" if covers else ""
    return _join(f"{opening(bars)}: {lost}{under}", cause, remedy)


def faint_sentence(
    bars: str, names: Sequence[str], covers: Sequence[str], cause: str, remedy: str
) -> str:
    """Say that a line comes through only faintly, why, and what to try first."""
    verb = "come" if len(names) > 1 else "comes"
    behind = f" behind {listed(covers, 3)}" if covers else ""
    return _join(f"{opening(bars)}: {listed(names)} {verb} through only faintly{behind}",
                 cause, remedy)  # fmt: skip


def _join(head: str, cause: str, remedy: str) -> str:
    body = f"{head}; {cause}." if cause else f"{head}."
    return f"{body} {opening(remedy)}." if remedy else body


def silent_sentence(bars: str, name: str) -> str:
    """Say that a written line was not found in the sound."""
    return (
        f"{opening(bars)}: {name} has notes on the page, but nothing of it is in the sound. "
        f"See whether its track is muted or unrouted."
    )


def idle_sentence(bars: str, name: str, doubled: str, interval: int) -> str:
    """Say that a doubling adds nothing a listener hears."""
    octaves = abs(interval) // 12
    place = {0: "in unison", 1: "at the octave"}.get(octaves, f"at {octaves} octaves")
    return (
        f"{opening(bars)}: {name} doubles {doubled} {place}, but adds nothing a listener "
        f"hears here; {doubled} is clear without it. It could rest, or have a note of its own."
    )


def works_sentence(bars: str, names: Sequence[str], others: int, solo: bool) -> str:
    """Say what works: a solo that carries, a mixture that speaks, a line that stays clear."""
    where = opening(bars)
    who = listed(names)
    around = f" with {others} other lines around it" if others >= 5 else ""
    if len(names) > 1:
        return f"{where}: {who} speak well as one line{around}. Leave it as it is."
    if solo:
        return f"{where}: the solo in {who} carries well{around}. Leave it as it is."
    return f"{where}: {who} stays clear{around}. Leave it as it is."

"""The load of high playing for winds and brass, and brass that overpowers its neighbours.

The load is a heap that grows while a player plays high, the faster the higher and louder,
and melts in rests. Its rates are common practice, no source; only the player can say what
is too much.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from auditor.craft.abilities import ability
from auditor.craft.limits import CraftLimits
from auditor.craft.moments import Moment, moments, stretches
from auditor.craft.naming import pitch_name, seconds_name
from auditor.craft.page import Page
from auditor.craft.players import WINDS, Stream, streams
from auditor.craft.remark import Remark
from auditor.craft.tempo import weighed
from auditor.findings.wording import listed, mark
from auditor.score.notes import Note

POWER = (
    "N. Rimsky-Korsakov, Principles of Orchestration (1922), p. 33: in forte one trumpet, "
    "trombone or tuba equals two horns, one horn two woodwinds, a string section about two"
)
LOAD = "teachers' advice to rest as long as one plays; rates common practice, no source"
_CAUTION = "How much is too much is the player's to say; nobody should play through pain."
# Parts of one forte trumpet, after POWER.
_BRASS_UNITS, _HORN_UNITS, _WOOD_UNITS, _STRING_UNITS = 4.0, 2.0, 1.0, 2.0
_MF = 3.0
_FF = 4.75


@dataclass(slots=True)
class _Heap:
    """Load in seconds of high playing at mf, and the notes it came from."""

    seconds: float = 0.0
    peak: float = 0.0
    notes: list[Note] | None = None

    def melt(self, seconds: float) -> None:
        self.seconds = max(0.0, self.seconds - seconds)


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on load and on the blend of loud brass."""
    for stream in streams(page, *WINDS):
        yield from high_load(page, stream, limits)
        yield from whole_load(page, stream, limits)
    yield from over_neighbours(page, limits)


def _strain(note: Note, at: int) -> float:
    """Load of one second of a note: 1 at the strained register in mf, more above and louder."""
    if note.pitch < at:
        return 0.0
    return 1.0 + 0.1 * (note.pitch - at) + 0.25 * max(0.0, note.dynamic - _MF)


def high_load(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """High playing heaped up faster than rests take it away."""
    at = ability(stream.instrument).strain_at
    if at is None:
        return
    allowed = limits.load_brass_s if stream.instrument.family == "brass" else limits.load_wood_s
    for heap in _heaps(page, stream, at, limits.load_recovery):
        if heap.peak <= allowed or not heap.notes:
            continue
        high = [n for n in heap.notes if n.pitch >= at]
        spent = sum(page.seconds_between(n.onset, n.onset + n.duration) for n in high)
        heavy = "risky" if heap.peak > limits.load_risky * allowed else "worth a thought"
        weight = weighed(page, high[0].onset, heavy)
        yield Remark(
            "high-load", weight, stream.part, high[0].bar, high[-1].bar,
            tuple(n.id for n in high),
            f"{stream.name} plays {seconds_name(spent)} at or above {pitch_name(at)} without "
            f"rest enough in between{page.said_tempo(high[0].onset)}.",
            f"The lip tires, the top notes go first, and the next solo pays for it. {_CAUTION}",
            "Rest the player before and after, let the second player or a bumper take the "
            "tutti, or write part of it an octave lower.",
            LOAD,
        )  # fmt: skip


def _heaps(page: Page, stream: Stream, at: int, recovery: float) -> Iterator[_Heap]:
    """Heaps from the first high note until they have melted."""
    heap, reached = _Heap(notes=[]), 0.0
    for note in stream.notes:
        end = note.onset + note.duration
        if note.grace or note.unpitched or end <= reached:
            continue
        if note.onset > reached:
            heap.melt(recovery * page.seconds_between(reached, note.onset))
        if heap.seconds <= 0 and heap.notes:
            yield heap
            heap = _Heap(notes=[])
        seconds = page.seconds_between(max(note.onset, reached), end)
        strain = _strain(note, at)
        heap.seconds += strain * seconds
        if strain <= 0:
            # Low playing rests the lip somewhat.
            heap.melt(0.25 * recovery * seconds)
        elif heap.notes is not None:
            heap.notes.append(note)
        heap.peak = max(heap.peak, heap.seconds)
        reached = end
    if heap.notes:
        yield heap


def whole_load(page: Page, stream: Stream, limits: CraftLimits) -> Iterator[Remark]:
    """High playing summed over the piece."""
    at = ability(stream.instrument).strain_at
    if at is None:
        return
    high = [n for n in stream.notes if not n.grace and not n.unpitched and n.pitch >= at]
    if not high:
        return
    spent = sum(page.seconds_between(n.onset, n.onset + n.duration) for n in high)
    total = sum(page.seconds_between(n.onset, n.onset + n.duration) for n in stream.notes)
    if spent < limits.load_total_s or spent < limits.load_total_share * total:
        return
    yield Remark(
        "high-load-in-all", "worth a thought", stream.part, high[0].bar, high[-1].bar,
        tuple(n.id for n in high),
        f"{stream.name} spends {seconds_name(spent)} of {seconds_name(total)} of playing at or "
        f"above {pitch_name(at)}{page.said_tempo(high[0].onset)}.",
        f"Over a whole piece this adds up, and a rehearsal plays it more than once. {_CAUTION}",
        "Share the high notes among the players, add a bumper, or lower the doublings.",
        LOAD,
    )  # fmt: skip


def over_neighbours(page: Page, limits: CraftLimits) -> Iterator[Remark]:
    """High brass at ff beside instruments marked softer, or too few to hold against it."""
    units = {line.number: _units(line.instrument.key, line.instrument.family)
             for line in page.score.lines}  # fmt: skip

    def overpowers(moment: Moment) -> bool:
        loud = _loud_brass(page, moment)
        others = [n for n in moment.pitched if page.instrument_of(n).family != "brass"]
        if not loud or len({n.line for n in others}) < 2:
            return False
        return _softer(loud, others) >= limits.blend_steps or (
            _sum_units(loud, units) > limits.blend_ratio * _sum_units(others, units)
        )

    for row in stretches(moments(page), overpowers, limits.blend_quarters):
        yield _overpowering(page, row)


def _loud_brass(page: Page, moment: Moment) -> list[Note]:
    found = []
    for note in moment.notes:
        instrument = page.instrument_of(note)
        at = ability(instrument).strain_at
        if instrument.family == "brass" and note.dynamic >= _FF and at and note.pitch >= at:
            found.append(note)
    return found


def _softer(loud: Sequence[Note], others: Sequence[Note]) -> float:
    """Steps by which the loudest of the others are marked below the brass."""
    return min(n.dynamic for n in loud) - max(n.dynamic for n in others)


def _units(key: str, family: str) -> float:
    if family == "brass":
        return _HORN_UNITS if key in ("horn", "wagner-tuba") else _BRASS_UNITS
    return _STRING_UNITS if family == "strings" else _WOOD_UNITS


def _sum_units(notes: Sequence[Note], units: dict[int, float]) -> float:
    return sum(units[line] for line in {n.line for n in notes})


def _overpowering(page: Page, row: Sequence[Moment]) -> Remark:
    loud = [n for moment in row for n in _loud_brass(page, moment)]
    others = [n for n in row[0].pitched if page.instrument_of(n).family != "brass"]
    names = list(dict.fromkeys(page.score.lines[n.line - 1].name for n in loud))
    level = max(n.dynamic for n in others)
    beside = (
        f"beside others at {mark(level)}"
        if mark(level) != mark(loud[0].dynamic)
        else ("beside too few others to hold against it")
    )
    return Remark(
        "brass-over-neighbours", "worth a thought", loud[0].part if len(names) == 1 else 0,
        row[0].bar, row[-1].bar, tuple(dict.fromkeys(n.id for n in loud)),
        f"{listed(names)} play{'s' if len(names) == 1 else ''} "
        f"{mark(loud[0].dynamic)} from {pitch_name(min(n.pitch for n in loud))} up {beside}.",
        "High brass at ff covers everything near it and stands outside the chord.",
        "Mark the brass one degree lower than the rest: the blend stays and the weight is "
        "still there.",
        POWER,
    )  # fmt: skip

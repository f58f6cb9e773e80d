"""A whole movement made worse on purpose in ten listed places, chosen by a seed.

A place is a part and some bars in which the true stems of the plain rendering let it be
heard; places lie apart in time. What is done there is what goes wrong in mock-ups: a fader,
a muted track, an octave switch, an articulation, a late patch, a dynamic that is not ridden,
a layer that nobody wrote.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import fonts
import numpy as np
from numpy.typing import NDArray
from repertory_excerpt import Block
from repertory_sound import Clock, play_score

from auditor.score.notes import Note, Part, Score

F32 = NDArray[np.float32]
# What is planted, in the order in which places are taken.
KINDS: tuple[str, ...] = (
    "way", "hairpin", "octave", "doubling", "main", "missing", "late", "coverer",
    "accompaniment", "layer",
)  # fmt: skip
# A place lasts about so long, and some bars at least; so many bars lie between two places.
PLACE_S, LEAST_BARS, APART = 12.0, 3, 1
# The places are drawn so often; the first draw that has room for all counts.
DRAWS = 40
MAIN_DB, COVERER_DB, ACCOMPANIMENT_DB, LAYER_DB = -14.0, 14.0, 9.0, -4.0
LATE_S, FADE_S = 0.25, 0.03
# General MIDI brass section, counted from 0.
_LAYER = 61
# A part is worth spoiling where this much of it is heard, and where it has so many notes.
HEARD, NOTES = 0.15, 8
# A written change of so many steps within the place.
STEPS = 2.0


@dataclass(frozen=True, slots=True)
class Planted:
    """One fault: its kind, the parts spoilt, the marked parts there, and its bars."""

    kind: str
    parts: tuple[int, ...]
    main: tuple[int, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Movement:
    """A rendered movement: stems of the parts that play, and what is heard of each note.

    `left` is the distinct ratio of each note, by the true stems; shape (notes,).
    """

    score: Score
    font: str
    parts: list[Part]
    stems: F32
    when: Clock
    marked: list[Block]
    left: NDArray[np.float64]

    def notes(self, part: int, first: int, last: int) -> list[int]:
        """Positions of a part's notes that begin in these bars."""
        return [
            i
            for i, n in enumerate(self.score.notes)
            if n.part == part and first <= n.bar <= last
        ]

    def samples(self, first: int, last: int) -> slice:
        """Where these bars lie in the stems."""
        bars = self.score.bars
        a = self.when.at(bars[first].onset)
        b = self.when.at(bars[last].onset + bars[last].duration)
        return slice(int(a * fonts.RATE_HZ), int(b * fonts.RATE_HZ))


def _main(m: Movement, first: int, last: int) -> tuple[int, ...]:
    """Parts that carry the marked line through most of these bars, the marked one first."""
    a = m.score.bars[first].onset
    b = m.score.bars[last].onset + m.score.bars[last].duration
    held: dict[tuple[int, ...], float] = {}
    for block in m.marked:
        long = min(b, block.stop) - max(a, block.start)
        if long > 0:
            held[block.members] = held.get(block.members, 0.0) + long
    best = max(held, key=lambda k: held[k], default=())
    return best if best and held[best] >= 0.6 * (b - a) else ()


def _heard(m: Movement, part: int, first: int, last: int) -> bool:
    notes = m.notes(part, first, last)
    left = m.left[notes]
    return len(notes) >= NOTES and float(np.nanmedian(left)) >= HEARD


def _candidates(m: Movement, kind: str, first: int, last: int) -> list[tuple[int, ...]]:
    """Sets of parts that may be spoilt so in these bars."""
    main = _main(m, first, last)
    playing = [p.number for p in m.parts if m.notes(p.number, first, last)]
    heard = [p for p in playing if _heard(m, p, first, last)]
    rest = tuple(p for p in playing if p not in main)
    if kind == "layer":
        return [(0,)] if len(playing) > 2 else []
    if kind == "main":
        return [main] if main and main[0] in heard else []
    if kind == "accompaniment":
        return [rest] if main and main[0] in heard and len(rest) > 2 else []
    if kind == "doubling":
        return [(p,) for p in main[1:] if p in heard]
    if kind == "coverer":
        return [(p,) for p in rest if main and len(m.notes(p, first, last)) >= NOTES]
    return [(p,) for p in heard if _fits(m, kind, p, first, last)]


def _fits(m: Movement, kind: str, part: int, first: int, last: int) -> bool:
    notes = [m.score.notes[i] for i in m.notes(part, first, last)]
    instrument = notes and next(p for p in m.parts if p.number == part).instrument
    if not notes or any(n.unpitched for n in notes) or instrument.family == "percussion":
        return kind == "missing" and bool(notes)
    if kind == "way":
        plucked = {"pizz" in n.techniques for n in notes}
        return instrument.family == "strings" and len(plucked) == 1
    if kind == "hairpin":
        levels = [n.dynamic for n in notes]
        return max(levels) - min(levels) >= STEPS
    return True


def plan(m: Movement, rng: np.random.Generator) -> list[Planted]:
    """Choose the ten places; fewer where a movement has no room for all."""
    best: list[Planted] = []
    for _ in range(DRAWS):
        drawn = _draw(m, rng)
        best = max(best, drawn, key=len)
        if len(best) == len(KINDS):
            break
    return best


def _draw(m: Movement, rng: np.random.Generator) -> list[Planted]:
    """Take places for one kind after another."""
    bar_s = float(m.when.seconds[-1] - m.when.seconds[0]) / len(m.score.bars)
    bars = max(LEAST_BARS, round(PLACE_S / bar_s))
    taken: list[tuple[int, int]] = []
    out: list[Planted] = []
    for kind in KINDS:
        starts = rng.permutation(max(len(m.score.bars) - bars, 0)).tolist()
        for first in starts:
            last = first + bars - 1
            if any(first <= b + APART and last >= a - APART for a, b in taken):
                continue
            sets = _candidates(m, kind, first, last)
            if sets:
                parts = sets[int(rng.integers(len(sets)))]
                out.append(Planted(kind, parts, _main(m, first, last), first, last))
                taken.append((first, last))
                break
    return out


def spoilt(m: Movement, plants: list[Planted], rng: np.random.Generator) -> tuple[F32, F32]:
    """Stems with all faults, and the layer that nobody wrote, shape (samples,)."""
    out = m.stems.copy()
    layer = np.zeros(m.stems.shape[1], np.float32)
    for p in plants:
        where = m.samples(p.first, p.last)
        fade = _fade(m.stems.shape[1], where)
        if p.kind == "layer":
            layer += _layer(m, where, rng) * fade
            continue
        for number in p.parts:
            row = [q.number for q in m.parts].index(number)
            out[row] += fade * (_CHANGES[p.kind](m, p, row) - m.stems[row])
    return out, layer


def _fade(size: int, where: slice) -> F32:
    """1 inside, 0 outside, with short slopes."""
    width = int(FADE_S * fonts.RATE_HZ)
    out = np.zeros(size, np.float32)
    out[where] = 1.0
    out[where.start : where.start + width] = np.linspace(0, 1, width)
    out[where.stop - width : where.stop] = np.linspace(1, 0, width)
    return out


def _louder(by_db: float) -> Callable[[Movement, Planted, int], F32]:
    return lambda m, p, row: m.stems[row] * np.float32(10 ** (by_db / 20))


def _late(m: Movement, p: Planted, row: int) -> F32:
    return np.pad(m.stems[row], (int(LATE_S * fonts.RATE_HZ), 0))[: m.stems.shape[1]]


def _anew(
    change: Callable[[Note, list[Note]], Note],
) -> Callable[[Movement, Planted, int], F32]:
    """Render the part's notes of a place changed, as loud as it was."""

    def made(m: Movement, p: Planted, row: int) -> F32:
        part = m.parts[row].number
        own = [n for n in m.score.notes if n.part == part]
        here = [n for n in own if p.first <= n.bar <= p.last]
        notes = [change(n, here) if p.first <= n.bar <= p.last else n for n in own]
        new = play_score(replace(m.score, notes=tuple(notes)), m.font)[1][0]
        size = m.stems.shape[1]
        return np.pad(new, (0, max(0, size - new.size)))[:size]

    return made


def _level(n: Note, here: list[Note]) -> Note:
    return replace(n, dynamic=float(np.median([other.dynamic for other in here])))


def _octave(n: Note, here: list[Note]) -> Note:
    """Up for a low passage, down for a high one: the patch's switch moves all alike."""
    up = float(np.median([other.pitch for other in here])) < 72
    return replace(n, pitch=n.pitch + (12 if up else -12))


def _other_way(n: Note, here: list[Note]) -> Note:
    words = set(n.techniques)
    return replace(n, techniques=tuple(sorted(words ^ {"pizz"})))


def _layer(m: Movement, where: slice, rng: np.random.Generator) -> F32:
    """Held notes of an ensemble patch at pitches drawn by lot."""
    a, b = where.start / fonts.RATE_HZ, where.stop / fonts.RATE_HZ
    times = np.arange(a, b - 0.8, 1.2)
    notes = tuple(
        fonts.Played(float(t), float(t + 1.15), int(rng.integers(58, 80)), 90, _LAYER)
        for t in times
    )
    size = m.stems.shape[1]
    raw = fonts.play([fonts.Voice(notes)], m.font, size / fonts.RATE_HZ - fonts.TAIL_S)[0]
    raw = np.pad(raw, (0, max(0, size - raw.size)))[:size]
    mix = m.stems[:, where].sum(axis=0)
    gain = 10 ** (LAYER_DB / 20) * np.sqrt(np.mean(mix**2) / (np.mean(raw[where] ** 2) + 1e-12))
    return np.asarray(raw * gain, np.float32)


_CHANGES: dict[str, Callable[[Movement, Planted, int], F32]] = {
    "way": _anew(_other_way),
    "hairpin": _anew(_level),
    "octave": _anew(_octave),
    "doubling": _louder(-120.0),
    "main": _louder(MAIN_DB),
    "missing": _louder(-120.0),
    "late": _late,
    "coverer": _louder(COVERER_DB),
    "accompaniment": _louder(ACCOMPANIMENT_DB),
}


def listed(m: Movement, plants: list[Planted]) -> Iterator[str]:
    """Give the list of what was planted, a line each."""
    names = {p.number: p.name for p in m.parts}
    for p in plants:
        who = ", ".join(names.get(n, "nobody") for n in p.parts[:4])
        bars = [m.score.bars[b].number for b in (p.first, p.last)]
        yield f"{p.kind:14s} bars {bars[0]}-{bars[1]}  {who}"

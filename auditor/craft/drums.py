"""Tuning the timpani: which drum takes which note, and when it must be tuned anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, groupby, permutations
from typing import Any

# Usual range of each drum by its diameter in inches, a tone wider at either end: inside the
# largest ranges an instrumentation handbook gives for these sizes (75-80 cm C2 to C3,
# 65-70 cm E2 to E3, 60-65 cm A flat 2 to A flat 3, 50-60 cm C3 to C sharp 4); the 20-inch
# drum after J. J. Papastefan, Timpani Sizes and Ranges.
RANGES: dict[int, tuple[int, int]] = {
    32: (36, 47), 29: (39, 50), 26: (44, 55), 23: (48, 59), 20: (53, 60),
}  # fmt: skip
USUAL_SET = (32, 29, 26, 23)
# In what order an orchestra comes by its drums: the pair, a small one, a large one, a fifth
# (Papastefan for the pair and the four).
_ACQUIRED = (29, 26, 23, 32, 20)
MOST_DRUMS = len(_ACQUIRED)
# Ways of tuning kept while searching; far more than a passage has.
_KEPT = 60
# What a retuning costs: quicker than can be, quicker than is comfortable, and at leisure.
_IMPOSSIBLE, _QUICK, _EASY = 100.0, 1.0, 0.01


def drum_set(count: int) -> tuple[int, ...]:
    """Diameters of a set of so many drums, largest first; five at most."""
    return tuple(sorted(_ACQUIRED[:count], reverse=True))


@dataclass(frozen=True, slots=True)
class Stroke:
    """Notes struck together on the timpani.

    Parameters
    ----------
    start_s, end_s
        When they are struck, and when the drums may be touched again.
    pitches
        MIDI numbers, lowest first.
    note
        Identifier of one of them.
    """

    start_s: float
    end_s: float
    pitches: tuple[int, ...]
    note: str


@dataclass(frozen=True, slots=True)
class Retuning:
    """One drum tuned anew: inches, from and to a pitch, and the seconds there are for it."""

    drum: int
    old: int
    new: int
    seconds: float
    note: str


# Drum by drum: pitch (None before its first note) and when it was last struck.
_State = tuple[tuple[int | None, float], ...]


def retunings(
    strokes: Sequence[Stroke], drums: Sequence[int], quick_s: float, fastest_s: float
) -> tuple[Retuning, ...]:
    """Share the strokes out among drums with as little hurry as can be, and tell each retuning.

    Parameters
    ----------
    strokes
        In the order of the music. Notes that no drum of the set reaches are left out.
    drums
        Diameters in inches, of `RANGES`.
    quick_s, fastest_s
        Seconds below which a retuning is hurried, and below which it cannot be done.
    """
    best: dict[_State, tuple[float, Any]] = {
        tuple((None, float("-inf")) for _ in drums): (0.0, None)
    }
    for stroke in _without_repeats(strokes):
        after: dict[_State, tuple[float, Any]] = {}
        for state, (cost, past) in best.items():
            for new, made in _takes(state, stroke, drums):
                total = cost + sum(_cost(r.seconds, quick_s, fastest_s) for r in made)
                if new not in after or total < after[new][0]:
                    after[new] = (total, (made, past) if made else past)
        if after:
            ways = sorted(after.items(), key=lambda item: item[1][0])
            best = dict(ways[:_KEPT])
    _, past = min(best.values(), key=lambda way: way[0])
    found: list[Retuning] = []
    while past is not None:
        made, past = past
        found.extend(made)
    return tuple(reversed(found))


def _without_repeats(strokes: Sequence[Stroke]) -> Iterator[Stroke]:
    """Strokes with those on the same notes one after the other as one long stroke."""
    for _, group in groupby(strokes, key=lambda stroke: stroke.pitches):
        first, *others = group
        yield replace(first, end_s=others[-1].end_s) if others else first


def _cost(seconds: float, quick_s: float, fastest_s: float) -> float:
    if seconds < fastest_s:
        return _IMPOSSIBLE
    return _QUICK if seconds < quick_s else _EASY


def _takes(
    state: _State, stroke: Stroke, drums: Sequence[int]
) -> Iterator[tuple[_State, tuple[Retuning, ...]]]:
    """Every way for a set of drums, as it is tuned, to take a stroke."""
    pitches = [p for p in stroke.pitches if any(_reaches(drum, p) for drum in drums)]
    kept = [k for k, (pitch, _) in enumerate(state) if pitch in pitches]
    if len(kept) == len(pitches) and pitches:
        yield (
            _struck(state, dict(zip(kept, (state[k][0] for k in kept), strict=True)), stroke),
            (),
        )
        return
    for places in permutations(range(len(drums)), len(pitches)):
        chosen = dict(zip(places, pitches, strict=True))
        if all(_reaches(drums[k], pitch) for k, pitch in chosen.items()):
            made = tuple(_tuned(state, chosen, stroke, drums))
            yield _struck(state, chosen, stroke), made


def _reaches(drum: int, pitch: int) -> bool:
    low, high = RANGES[drum]
    return low <= pitch <= high


def _struck(state: _State, chosen: dict[int, Any], stroke: Stroke) -> _State:
    return tuple(
        (chosen[k], stroke.end_s) if k in chosen else one for k, one in enumerate(state)
    )


def _tuned(
    state: _State, chosen: dict[int, int], stroke: Stroke, drums: Sequence[int]
) -> Iterator[Retuning]:
    for k, pitch in chosen.items():
        old, free_s = state[k]
        if old is not None and old != pitch:
            yield Retuning(drums[k], old, pitch, stroke.start_s - free_s, stroke.note)


def drums_needed(strokes: Iterable[Stroke], quick_s: float, fastest_s: float) -> int:
    """Fewest drums of the usual sizes that play a part without hurried retuning.

    Five at most are tried; 6 says that five do not suffice.
    """
    strokes = tuple(strokes)
    sizes = _ACQUIRED
    for count in range(1, len(sizes) + 1):
        for chosen in combinations(sizes, count):
            lost = any(
                not any(_reaches(drum, p) for drum in chosen)
                for stroke in strokes
                for p in stroke.pitches
            ) or any(len(stroke.pitches) > count for stroke in strokes)
            if lost:
                continue
            made = retunings(strokes, chosen, quick_s, fastest_s)
            if all(r.seconds >= quick_s for r in made):
                return count
    return len(sizes) + 1

"""String sections spread over several parts, and strings that are soloists.

A section written as "Viola 1" and "Viola 2", or as "Violin 1" and "Violin 1 div.", is one
body: its players divide over those of its parts that play in a bar. The bodies are those of
the instrument table.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from auditor.score.instruments import numbers_of
from auditor.score.noteheads import Notehead
from auditor.score.notes import Part

# Two violins, viola and cello, with one more of them at most: no bass, no winds.
_CHAMBER = range(3, 6)


def with_bodies(
    parts: Sequence[Part], settled: Sequence[int] = (), *, chamber: bool = False
) -> list[Part]:
    """Parts with the players their whole score makes likely.

    Parameters
    ----------
    parts
        All of the score.
    settled
        Numbers of parts whose players are settled already.
    chamber
        The strings are soloists.
    """
    if chamber:
        return [p if p.number in settled else replace(p, players=1.0) for p in parts]
    violins = [p for p in parts if p.instrument.key == "violin" and p.players > 1]
    numbered = [p for p in violins if len(numbers_of(p.name)) == 1]
    highest = {numbers_of(p.name)[0] for p in numbered}
    if not highest or max(highest) < 3:
        return list(parts)
    # Three or more violin parts share the first and second violins.
    body = 22.0 / len(highest)
    own = {p.number for p in numbered if p.number not in settled}
    return [replace(p, players=body) if p.number in own else p for p in parts]


def is_chamber(parts: Sequence[Part]) -> bool:
    """Tell whether a score is for solo strings: a quartet, or one more or less."""
    keys = Counter(part.instrument.key for part in parts)
    return (
        len(parts) in _CHAMBER
        and set(keys) == {"violin", "viola", "cello"}
        and max(keys.values()) <= 2
    )


def body_of(key: str, name: str) -> tuple[str, tuple[int, ...]]:
    """Tell which body of strings a part belongs to, by its instrument and name.

    Examples
    --------
    >>> body_of("violin", "Violin 1") == body_of("violin", "Violin 1 div.")
    True
    """
    return key, tuple(numbers_of(name)[:1]) if key == "violin" else ()


def shares(
    parts: Sequence[Part], heads: Sequence[Sequence[Notehead]], settled: Sequence[int] = ()
) -> dict[int, Mapping[int, float]]:
    """Share of the body that plays each part, by part number and bar of the page.

    Parts that have their body to themselves are left out.
    """
    bodies: dict[tuple[str, tuple[int, ...]], list[int]] = {}
    for place, part in enumerate(parts):
        if part.instrument.family != "strings" or part.players <= 1 or part.number in settled:
            continue
        bodies.setdefault(body_of(part.instrument.key, part.name), []).append(place)
    found: dict[int, Mapping[int, float]] = {}
    for places in bodies.values():
        if len(places) < 2:
            continue
        bars = {place: {head.bar for head in heads[place]} for place in places}
        busy = Counter(bar for own in bars.values() for bar in own)
        for place in places:
            found[parts[place].number] = {bar: 1.0 / busy[bar] for bar in bars[place]}
    return found

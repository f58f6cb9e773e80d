"""Lines gathered into strands and layers: one musical line, or one job, whoever plays it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from auditor.intent.roles import ROLES, Doubling, Strand
from auditor.intent.texture import Texture, per_bar
from auditor.score.notes import Score

IntArray = NDArray[np.int64]

# A line belongs to the other's strand in a bar if it is its doubling for this share of
# the time it sounds there.
IN_BAR = 0.5
# A strand that does not lead is worth naming from this many notes or bars on.
NOTES, BARS = 4, 2


def joined(doublings: tuple[Doubling, ...], texture: Texture) -> list[list[tuple[int, int]]]:
    """Pairs of rows that carry the same notes, bar by bar."""
    bars = texture.starts.size - 1
    out: list[list[tuple[int, int]]] = [[] for _ in range(bars)]
    sounding = per_bar(texture.active.astype(float), texture)
    for d in doublings:
        a, b = texture.row[d.line], texture.row[d.of]
        for bar in range(d.first_bar, d.last_bar + 1):
            cells = slice(texture.starts[bar], texture.starts[bar + 1])
            agree = np.zeros(texture.starts[bar + 1] - texture.starts[bar], bool)
            for x in (texture.top[a, cells], texture.low[a, cells]):
                for y in (texture.top[b, cells], texture.low[b, cells]):
                    agree |= (x >= 0) & (y >= 0) & ((x.astype(int) - y) % 12 == 0)
            need = IN_BAR * min(sounding[a, bar], sounding[b, bar])
            if agree.sum() >= max(need, 1):
                out[bar].append((a, b))
    return out


def components(pairs: list[list[tuple[int, int]]], lines: int) -> IntArray:
    """Smallest row each row is joined with in each bar, shape (lines, bars)."""
    label = np.repeat(np.arange(lines, dtype=np.int64)[:, None], len(pairs), axis=1)
    for bar, edges in enumerate(pairs):
        column = label[:, bar]
        for a, b in edges:
            x, y = column[a], column[b]
            if x != y:
                column[column == max(x, y)] = min(x, y)
    return label


def carriers(label: IntArray, on: NDArray[np.bool_]) -> IntArray:
    """How many sounding lines share each line's notes, shape (lines, bars)."""
    out = np.zeros_like(label)
    for i in range(label.shape[0]):
        out[i] = ((label == label[i]) & on).sum(axis=0)
    return np.where(on, out, 0)


@dataclass(slots=True)
class _Run:
    """A strand while it is being followed through the bars."""

    role: str
    core: frozenset[int]
    last: int
    members: list[tuple[int, frozenset[int]]] = field(default_factory=list)


def _chains(label: IntArray, on: NDArray[np.bool_], role: list[list[str]]) -> list[_Run]:
    """Follow components from bar to bar while one line carries on in the same role."""
    done: list[_Run] = []
    open_: list[_Run] = []
    for bar in range(label.shape[1]):
        rows = np.flatnonzero(on[:, bar])
        groups: dict[int, set[int]] = {}
        for row in rows.tolist():
            groups.setdefault(int(label[row, bar]), set()).add(row)
        for members in sorted(groups.values(), key=lambda m: -len(m)):
            name = Counter(role[row][bar] for row in sorted(members)).most_common(1)[0][0]
            fits = [r for r in open_ if r.role == name and r.last < bar and r.core & members]
            run = max(fits, key=lambda r: len(r.core & members), default=None)
            if run is None:
                run = _Run(name, frozenset(members), bar)
                open_.append(run)
            run.core, run.last = run.core & members, bar
            run.members.append((bar, frozenset(members)))
        # A strand may breathe for one bar.
        done += [r for r in open_ if r.last < bar - 1]
        open_ = [r for r in open_ if r.last >= bar - 1]
    return done + open_


def _worth_naming(run: _Run, notes: int) -> bool:
    if run.role in ("leading", "answer"):
        return notes > 0
    many = len({row for _, m in run.members for row in m}) > 1
    return many and notes >= NOTES and len(run.members) >= BARS


def _interval_words(interval: int) -> str:
    octaves = abs(interval) // 12
    if octaves == 0:
        return "in unison with"
    number = {1: "an octave", 2: "two octaves", 3: "three octaves"}.get(
        octaves, f"{octaves} octaves"
    )
    return f"{number} {'above' if interval > 0 else 'below'}"


def _doubling_words(
    score: Score, doublings: tuple[Doubling, ...], run: _Run, lines: set[int]
) -> tuple[str, ...]:
    name = {line.number: line.name for line in score.lines}
    first, last = run.members[0][0], run.members[-1][0]
    said: dict[str, None] = {}
    for d in doublings:
        if {d.line, d.of} <= lines and d.first_bar <= last and d.last_bar >= first:
            said[f"{name[d.line]} {_interval_words(d.interval)} {name[d.of]}"] = None
    return tuple(said)


def _notes_by_place(score: Score, texture: Texture) -> dict[tuple[int, int], list[int]]:
    out: dict[tuple[int, int], list[int]] = {}
    for position, note in enumerate(score.notes):
        out.setdefault((texture.row[note.line], note.bar), []).append(position)
    return out


def find_strands(
    score: Score,
    texture: Texture,
    doublings: tuple[Doubling, ...],
    label: IntArray,
    role: list[list[str]],
) -> tuple[Strand, ...]:
    """Strands through the bars, then one layer for each role.

    Parameters
    ----------
    score, texture, doublings
        The page, its grid and its doublings.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    role : list of list of str, (lines, bars)
        Role of each line in each bar; empty where it rests.
    """
    on = np.array([[bool(r) for r in row] for row in role], bool)
    places = _notes_by_place(score, texture)
    strands: list[Strand] = []
    runs = _chains(label, on, role) if on.size else []
    for run in sorted(runs, key=lambda r: (r.members[0][0], min(r.members[0][1]))):
        notes = sorted(
            n for bar, m in run.members for row in m for n in places.get((row, bar), [])
        )
        if not _worth_naming(run, len(notes)):
            continue
        lines = {score.lines[row].number for _, m in run.members for row in m}
        strands.append(
            Strand(
                id=f"S{len(strands) + 1}",
                kind="strand",
                role=run.role,
                lines=tuple(line.number for line in score.lines if line.number in lines),
                notes=tuple(notes),
                first_bar=run.members[0][0],
                last_bar=run.members[-1][0],
                doublings=_doubling_words(score, doublings, run, lines),
            )
        )
    return tuple(strands) + _layers(score, places, role)


def _layers(
    score: Score, places: dict[tuple[int, int], list[int]], role: list[list[str]]
) -> tuple[Strand, ...]:
    layers: list[Strand] = []
    for name in ROLES:
        held = [(row, bar) for (row, bar) in places if role[row][bar] == name]
        if not held:
            continue
        lines = {score.lines[row].number for row, _ in held}
        layers.append(
            Strand(
                id=f"L-{name}",
                kind="layer",
                role=name,
                lines=tuple(line.number for line in score.lines if line.number in lines),
                notes=tuple(sorted(n for place in held for n in places[place])),
                first_bar=min(bar for _, bar in held),
                last_bar=max(bar for _, bar in held),
            )
        )
    return tuple(layers)

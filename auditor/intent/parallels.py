"""Where one line moves with another in thirds or sixths, and so shadows it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.roles import Parallel
from auditor.intent.stretches import NOTES, Pair, best_stretches
from auditor.intent.texture import CELL, Texture, lay_out
from auditor.score.notes import Score

# Semitones of a third and a sixth, minor and major, at any number of octaves.
INTERVALS: dict[str, tuple[int, ...]] = {"third": (3, 4), "sixth": (8, 9)}
# Octaves beyond which nobody hears two lines as one movement (our choice).
WIDEST = 24
# Two lines that move together start this share of their notes together.
TOGETHER = 0.75


def _pair(texture: Texture, above: int, below: int, steps: tuple[int, ...]) -> Pair:
    step = texture.top[above].astype(int) - texture.top[below]
    both = (texture.top[above] >= 0) & (texture.top[below] >= 0)
    agree = both & (step > 0) & (step <= WIDEST) & np.isin(step % 12, steps)
    apart = (texture.active[above] | texture.active[below]) & ~agree
    return Pair(agree, apart)


def _moves(texture: Texture, row: int, cells: slice, agree: NDArray[np.bool_]) -> bool:
    """Whether a line has four notes at three pitches there: a held third is a chord."""
    notes = texture.note[row, cells][agree[cells]]
    pitches = texture.top[row, cells][agree[cells]]
    return np.unique(notes).size >= NOTES and np.unique(pitches).size >= NOTES - 1


def _in_rhythm(texture: Texture, a: int, b: int, cells: slice) -> bool:
    one, two = texture.onset[a, cells], texture.onset[b, cells]
    return bool((one & two).sum() >= TOGETHER * (one | two).sum())


def _of_pair(score: Score, texture: Texture, a: int, b: int) -> list[Parallel]:
    common = (texture.onset[a] & texture.onset[b]).sum()
    if common < NOTES:
        return []
    found: list[Parallel] = []
    for above, below in ((a, b), (b, a)):
        for name, steps in INTERVALS.items():
            pair = _pair(texture, above, below, steps)
            if np.count_nonzero(pair.agree) * CELL < 1.0:
                continue
            for first, last in best_stretches(pair):
                cells = slice(first, last)
                if (
                    _moves(texture, above, cells, pair.agree)
                    and _moves(texture, below, cells, pair.agree)
                    and _in_rhythm(texture, above, below, cells)
                ):
                    found.append(
                        Parallel(
                            line=score.lines[below].number,
                            of=score.lines[above].number,
                            interval=name,
                            first_bar=int(texture.bar[first]),
                            last_bar=int(texture.bar[last - 1]),
                        )
                    )
    return found


def find_parallels(score: Score, texture: Texture | None = None) -> tuple[Parallel, ...]:
    """Find every span in which two lines move in thirds or sixths.

    Parameters
    ----------
    score
        The page.
    texture
        The same score on the grid, if it is at hand.

    Returns
    -------
    tuple of Parallel
        Sorted by first bar, then line.
    """
    grid = lay_out(score) if texture is None else texture
    pitched = [i for i in range(len(score.lines)) if np.any(grid.top[i] >= 0)]
    found = [p for a, b in combinations(pitched, 2) for p in _of_pair(score, grid, a, b)]
    return tuple(sorted(found, key=lambda p: (p.first_bar, p.line, p.of, p.interval)))


def shadows(
    parallels: Sequence[Parallel], role: Sequence[Sequence[str]], row: dict[int, int]
) -> NDArray[np.bool_]:
    """Where a line moves in thirds or sixths with one that leads, and does not lead itself.

    Parameters
    ----------
    parallels
        From `find_parallels`.
    role : (lines, bars)
        Role of each line in each bar; empty in rests.
    row
        Line number to row.

    Returns
    -------
    ndarray of bool, shape (lines, bars)
    """
    out = np.zeros((len(role), len(role[0]) if role else 0), bool)
    for p in parallels:
        for own, other in ((row[p.line], row[p.of]), (row[p.of], row[p.line])):
            for bar in range(p.first_bar, p.last_bar + 1):
                if role[other][bar] == "leading" and role[own][bar] not in ("leading", ""):
                    out[own, bar] = True
    return out

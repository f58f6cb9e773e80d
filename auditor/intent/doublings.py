"""Where one line carries another's notes, in unison or at one or more octaves.

Lines are compared by what sounds at a time, so repeated notes agree with held ones,
and an ornament or a dropped note does not end a doubling; a hand-over does.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from auditor.intent.roles import Doubling
from auditor.intent.stretches import Pair, best_stretches, long_enough
from auditor.intent.texture import CELL, Texture, lay_out
from auditor.score.notes import Line, Score


def _intervals(texture: Texture, a: int, b: int) -> list[int]:
    """Octave multiples at which the rows agree for at least a quarter, most first."""
    both = (texture.top[a] >= 0) & (texture.top[b] >= 0)
    if np.count_nonzero(both) * CELL < 1.0:
        return []
    counts: dict[int, int] = {}
    for upper in {id(x): x for x in (texture.top, texture.low)}.values():
        step = upper[a][both].astype(int) - upper[b][both]
        values, n = np.unique(step[step % 12 == 0], return_counts=True)
        for value, count in zip(values.tolist(), n.tolist(), strict=True):
            counts[value] = max(counts.get(value, 0), count)
    kept = [(n, d) for d, n in counts.items() if n * CELL >= 1.0 and abs(d) <= 48]
    return [d for _, d in sorted(kept, key=lambda x: (-x[0], abs(x[1])))]


def _compare(texture: Texture, a: int, b: int, interval: int) -> Pair:
    top_a, top_b = texture.top[a], texture.top[b]
    low_a, low_b = texture.low[a], texture.low[b]
    both = (top_a >= 0) & (top_b >= 0)
    agree = np.zeros_like(both)
    for x, y in ((top_a, top_b), (low_a, low_b), (top_a, low_b), (low_a, top_b)):
        agree |= (x.astype(int) - y) == interval
    agree &= both
    # The same pitch class in another octave neither speaks for the doubling nor against it.
    elsewhere = both & ((top_a.astype(int) - top_b) % 12 == 0)
    apart = (texture.active[a] | texture.active[b]) & ~agree & ~elsewhere
    return Pair(agree, apart)


def _carrier_first(lines: tuple[Line, Line], cells: tuple[int, int]) -> bool:
    """Whether the first of two lines is the one that is doubled.

    The line with more to play carries; between equals a bowed line does, since winds are
    added to strings (common practice, no source), then the one higher in its family.
    """
    if abs(cells[0] - cells[1]) > 0.1 * max(cells):
        return cells[0] > cells[1]
    bowed = tuple(line.instrument.family == "strings" for line in lines)
    if bowed[0] != bowed[1]:
        return bowed[0]
    if lines[0].instrument.low != lines[1].instrument.low:
        return lines[0].instrument.low > lines[1].instrument.low
    return lines[0].number < lines[1].number


def _of_pair(score: Score, texture: Texture, a: int, b: int) -> list[Doubling]:
    found: list[Doubling] = []
    taken = np.zeros(texture.top.shape[1], bool)
    lines = (score.lines[a], score.lines[b])
    for interval in _intervals(texture, a, b):
        pair = _compare(texture, a, b, interval)
        for first, last in best_stretches(pair):
            both_move = all(long_enough(texture, row, pair, first, last) for row in (a, b))
            if not both_move or taken[first:last].any():
                continue
            taken[first:last] = True
            sounding = (
                int(np.count_nonzero(texture.active[a, first:last])),
                int(np.count_nonzero(texture.active[b, first:last])),
            )
            swap = _carrier_first(lines, sounding)
            row = b if swap else a
            notes = np.unique(texture.note[row, first:last])
            found.append(
                Doubling(
                    line=lines[1].number if swap else lines[0].number,
                    of=lines[0].number if swap else lines[1].number,
                    interval=-interval if swap else interval,
                    first_bar=int(texture.bar[first]),
                    last_bar=int(texture.bar[last - 1]),
                    notes=tuple(int(i) for i in notes[notes >= 0]),
                )
            )
    return found


def find_doublings(score: Score, texture: Texture | None = None) -> tuple[Doubling, ...]:
    """Find every span in which a line carries another line's notes.

    Parameters
    ----------
    score
        The page.
    texture
        The same score on the grid, if it is at hand.

    Returns
    -------
    tuple of Doubling
        Sorted by first bar, then line. Intervals are constant inside a span.
    """
    grid = lay_out(score) if texture is None else texture
    pitched = [i for i in range(len(score.lines)) if np.any(grid.top[i] >= 0)]
    found: list[Doubling] = []
    for a, b in combinations(pitched, 2):
        found += _of_pair(score, grid, a, b)
    return tuple(sorted(found, key=lambda d: (d.first_bar, d.line, d.of)))

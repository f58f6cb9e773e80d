"""Sentences on where the sound leaves the order of the page."""

from __future__ import annotations

from collections import Counter

from auditor.alignment.visits import Order
from auditor.score.notes import Bar, Score


def surprises(score: Score, order: Order) -> tuple[str, ...]:
    """One sentence for each repeat not taken, cut, extra passage or strange music."""
    out = []
    counts = Counter(v.bar for v in order.visits)
    last_pass: dict[int, int] = {}
    for bar in score.bars:
        last_pass[bar.written_index] = max(bar.pass_number, last_pass.get(bar.written_index, 0))
    for bars in _runs([b.index for b in score.bars if not counts[b.index]]):
        repeated = all(last_pass[score.bars[k].written_index] > 1 for k in bars)
        if repeated and any(counts[b.index] for b in _same(score, bars[0])):
            out.append(f"{_name(score, bars)} sounds once less than the repeats ask")
        else:
            out.append(f"{_name(score, bars)} is not played")
    for bars in _runs([k for k, n in sorted(counts.items()) if n > 1]):
        out.append(f"{_name(score, bars)} sounds more often than the score asks")
    for start, end in order.strange:
        out.append(f"from {start:.1f} s to {end:.1f} s the sound is not in the score")
    return tuple(out)


def _same(score: Score, index: int) -> list[Bar]:
    written = score.bars[index].written_index
    return [b for b in score.bars if b.written_index == written]


def _runs(indices: list[int]) -> list[list[int]]:
    out: list[list[int]] = []
    for k in indices:
        if out and k == out[-1][-1] + 1:
            out[-1].append(k)
        else:
            out.append([k])
    return out


def _name(score: Score, bars: list[int]) -> str:
    first, last = score.bars[bars[0]], score.bars[bars[-1]]
    time = f" (time {first.pass_number})" if first.pass_number > 1 else ""
    if first.index == last.index:
        return f"bar {first.number}{time}"
    return f"the music of bars {first.number} to {last.number}{time}"

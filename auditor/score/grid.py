"""One grid of bars for all parts, by index and not by running length.

Laying each part end to end lets one overfull bar shift everything after it; here a
bar begins where it begins for everybody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.score import tempo_words
from auditor.score.sheet import Sheet
from auditor.score.signs import Mark

_TINY = 1e-4


@dataclass(frozen=True, slots=True)
class Grid:
    """Where each bar of the page begins, if the page is read once.

    Parameters
    ----------
    numbers
        As printed.
    onsets, lengths, nominal
        Quarters; `nominal` is what the time signature asks for.
    tempos
        Quarters per minute in force, or None before the first tempo mark.
    remarks
        What was odd.
    """

    numbers: tuple[str, ...]
    onsets: tuple[float, ...]
    lengths: tuple[float, ...]
    nominal: tuple[float, ...]
    tempos: tuple[float | None, ...]
    remarks: tuple[str, ...] = ()


def lay_out(sheets: Sequence[Sheet]) -> Grid:
    """Grid over all parts: the length most parts agree on, the nominal one on ties."""
    count = max(len(sheet.bars) for sheet in sheets)
    lengths, nominal, odd = [], [], []
    for index in range(count):
        length, asked, agreed = _length(sheets, index)
        lengths.append(length)
        nominal.append(asked)
        if not agreed:
            odd.append(index)
    first = max(sheets, key=lambda sheet: len(sheet.bars))
    onsets = [0.0]
    for length in lengths[:-1]:
        onsets.append(onsets[-1] + length)
    numbers = tuple(bar.number for bar in first.bars)
    return Grid(
        numbers=numbers,
        onsets=tuple(onsets),
        lengths=tuple(lengths),
        nominal=tuple(nominal),
        tempos=_tempos(sheets, lengths),
        remarks=tuple(_remarks(sheets, count, numbers, odd)),
    )


def _length(sheets: Sequence[Sheet], index: int) -> tuple[float, float, bool]:
    bars = [sheet.bars[index] for sheet in sheets if index < len(sheet.bars)]
    asked = Counter(round(bar.nominal, 4) for bar in bars).most_common(1)[0][0] or 4.0
    votes = Counter(round(bar.length, 4) for bar in bars if bar.length > _TINY)
    if not votes:
        return asked, asked, True
    top = max(votes.values())
    best = [length for length, n in votes.items() if n == top]
    length = asked if asked in best else max(best)
    # Exporters round tuplets to divisions, so a hair of difference means nothing.
    agreed = all(abs(v - length) < 0.02 for v in votes)
    return length, asked, agreed


def _tempos(sheets: Sequence[Sheet], lengths: Sequence[float]) -> tuple[float | None, ...]:
    """Tempo in force in each bar; a mark past the middle of a bar counts from the next."""
    marks: dict[int, tuple[float, int, Mark]] = {}
    for sheet in sheets:
        for mark in sheet.marks:
            rank = _rank(mark)
            if rank is None or mark.bar >= len(lengths):
                continue
            late = mark.at > lengths[mark.bar] / 2
            bar = mark.bar + (1 if late else 0)
            key = (0.0 if late else mark.at, rank)
            if bar not in marks or key < marks[bar][:2]:
                marks[bar] = (*key, mark)
    tempo: float | None = None
    first: float | None = None
    out: list[float | None] = []
    for bar in range(len(lengths)):
        if bar in marks:
            tempo = _next_tempo(marks[bar][2], tempo, first)
            first = tempo if first is None else first
        out.append(tempo)
    return tuple(out)


def _rank(mark: Mark) -> int | None:
    """Order in which signs of tempo at one place are believed; None for other signs."""
    if mark.kind == "tempo":
        return 0
    if mark.kind == "modulation":
        return 1
    if mark.kind != "words":
        return None
    if tempo_words.rate(mark.text) is not None:
        return 2
    if tempo_words.modulation(mark.text) is not None:
        return 3
    return 4 if tempo_words.is_first_tempo(mark.text) else None


def _next_tempo(mark: Mark, tempo: float | None, first: float | None) -> float | None:
    if mark.kind == "tempo":
        return float(mark.text)
    if mark.kind == "modulation":
        return tempo * float(mark.text) if tempo else None
    rate, change = tempo_words.rate(mark.text), tempo_words.modulation(mark.text)
    if rate is not None:
        return rate
    if change is not None:
        return tempo * change if tempo else None
    return first


def _remarks(
    sheets: Sequence[Sheet], count: int, numbers: Sequence[str], odd: Sequence[int]
) -> list[str]:
    said = []
    short = [s.name or s.id for s in sheets if len(s.bars) != count]
    if short:
        said.append(
            f"The parts do not all have {count} bars ({', '.join(short[:4])} fewer); "
            f"bars were matched from the beginning."
        )
    if odd:
        places = ", ".join(numbers[i] for i in odd[:6]) + (" ..." if len(odd) > 6 else "")
        said.append(
            f"In {len(odd)} bars the parts are not equally long (bars {places}); each was "
            f"given the length most parts agree on."
        )
    return said

"""What the page says between the notes, laid on the played axis."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from auditor.score.grid import Grid
from auditor.score.notes import Bar, Direction
from auditor.score.sheet import Sheet
from auditor.score.signs import Mark

_TEMPO_WORDS = re.compile(
    r"\b(larg(o|hetto|amente)|grave|lento|lent\b|adag(io|ietto)|andant(e|ino)|moderato|"
    r"mod[ée]r|"
    r"allegr(o|etto)|vivace|vivo|vif\b|presto|prestissimo|tempo|rit(\.|ard|en|ardando|enuto)|"
    r"rall(\.|ent)|acc(el|elerando)|string(\.|endo)|allarg|mosso|meno mosso|pi[uù] "
    r"(mosso|lento)|"
    r"langsam|schnell(er)?|lebhaft|bewegt|m[äa](ß|ss)ig|ruhig|breit(er)?|rasch|"
    r"eilen|zeitma(ß|ss)|"
    r"anim(é|ez|ato|ando)|c[ée]dez|retenu|a tempo|doppio|l'istesso|listesso|calando|slow|fast|"
    r"lively|swing|con moto|sostenuto|mouv(\.|t|emen)|maestoso|zurückhalt|drängend|"
    r"pressez|serrez|animant|ralent|feierlich|getragen|gem[äa]chlich|broad|slower|faster|"
    r"rubato|alla marcia)",
    re.I,
)


@dataclass(frozen=True, slots=True)
class _Span:
    """A sign on the page: where it begins and ends."""

    kind: str
    part: int
    text: str
    bar: int
    at: float
    end_bar: int
    end_at: float


def directions(
    sheets: Sequence[Sheet], grid: Grid, bars: Sequence[Bar]
) -> tuple[Direction, ...]:
    """Dynamics, hairpins, words, tempo, rehearsal marks, slurs, fermatas, by onset and part.

    Tempo and rehearsal marks and fermatas on barlines hold for all parts and are given once,
    as part 0. What stands in a bar that is played twice is given twice.
    """
    spans = list(_for_all(sheets))
    for sheet in sheets:
        spans.extend(_for_one(sheet))
        spans.extend(_hairpins(sheet, grid))
        spans.extend(_slurs(sheet))
    passes: dict[int, list[Bar]] = {}
    for bar in bars:
        passes.setdefault(bar.written_index, []).append(bar)
    found = [_played(span, bar, bars) for span in spans for bar in passes.get(span.bar, ())]
    found.sort(key=lambda d: (d.onset, d.part, d.kind, d.end, d.text))
    return tuple(found)


def is_tempo(text: str) -> bool:
    """Tell whether words speak of the tempo.

    >>> is_tempo("Allegro con brio"), is_tempo("dolce")
    (True, False)
    """
    return _TEMPO_WORDS.search(text) is not None


def _for_all(sheets: Sequence[Sheet]) -> Iterator[_Span]:
    seen: set[tuple[str, int, float, str]] = set()
    for sheet in sheets:
        for mark in sheet.marks:
            kind = _general(mark)
            key = (kind, mark.bar, round(mark.at, 2), mark.text.lower())
            if kind and key not in seen:
                seen.add(key)
                yield _Span(kind, 0, mark.text, mark.bar, mark.at, mark.bar, mark.at)


def _general(mark: Mark) -> str:
    if mark.kind == "metronome" or (mark.kind == "words" and is_tempo(mark.text)):
        return "tempo"
    if mark.kind == "fermata" and mark.text == "barline":
        return "fermata"
    return "rehearsal" if mark.kind == "rehearsal" else ""


def _for_one(sheet: Sheet) -> Iterator[_Span]:
    seen: set[Mark] = set()
    for mark in sheet.marks:
        if (
            mark.kind in ("dynamic", "words", "fermata")
            and not _general(mark)
            and mark not in seen
        ):
            seen.add(mark)
            yield _Span(
                mark.kind, sheet.number, mark.text, mark.bar, mark.at, mark.bar, mark.at
            )


def _hairpins(sheet: Sheet, grid: Grid) -> Iterator[_Span]:
    open_wedges: dict[str, Mark] = {}
    for mark in in_order(sheet.marks):
        if mark.kind != "wedge":
            continue
        if mark.text == "stop":
            begin = open_wedges.pop(mark.number, None)
            if begin is not None:
                yield _hairpin(sheet, begin, mark.bar, mark.at)
        elif mark.text != "continue":
            begin = open_wedges.get(mark.number)
            if begin is not None:
                yield _hairpin(sheet, begin, mark.bar, mark.at)
            open_wedges[mark.number] = mark
    for begin in open_wedges.values():
        yield _hairpin(sheet, begin, begin.bar, grid.lengths[begin.bar])


def in_order(marks: Iterable[Mark]) -> list[Mark]:
    """Marks by place; at one place a hairpin that ends comes before one that begins."""
    return sorted(marks, key=lambda m: (m.bar, m.at, m.text != "stop"))


def _hairpin(sheet: Sheet, begin: Mark, bar: int, at: float) -> _Span:
    return _Span("hairpin", sheet.number, begin.text, begin.bar, begin.at, bar, at)


def _slurs(sheet: Sheet) -> Iterator[_Span]:
    events = {head.event: head for head in sheet.heads}
    for slur in sheet.slurs:
        first, last = events.get(slur.first), events.get(slur.last)
        if first is not None and last is not None:
            yield _Span(
                "slur", sheet.number, "", first.bar, first.at, last.bar, last.at + last.duration
            )


def _played(span: _Span, bar: Bar, bars: Sequence[Bar]) -> Direction:
    """One passing of the sign; what leads beyond a jump ends where the jump begins."""
    onset = bar.onset + span.at
    return Direction(
        kind=span.kind,
        part=span.part,
        bar=bar.index,
        onset=onset,
        end=max(onset, _end(span, bar, bars)),
        text=span.text,
    )


def _end(span: _Span, bar: Bar, bars: Sequence[Bar]) -> float:
    here = bar.index
    while bars[here].written_index < span.end_bar:
        after = bars[here + 1] if here + 1 < len(bars) else None
        if after is None or after.written_index != bars[here].written_index + 1:
            return bars[here].onset + bars[here].duration
        here += 1
    return bars[here].onset + span.end_at

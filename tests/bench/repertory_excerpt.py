"""Excerpts of printed scores, and where an analyst hears the main line in them."""

from __future__ import annotations

import csv
import zipfile
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from auditor.intent.doublings import find_doublings
from auditor.intent.strands import components, joined
from auditor.intent.texture import lay_out
from auditor.score.notes import Score
from auditor.score.reading import read_score

# Parts with this share of their onsets in common move together.
TOGETHER = 0.8
_STATE = ("divisions", "key", "time", "staves", "clef", "transpose")


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch in which one part is marked as the main one; quarters of the excerpt.

    `members` are the parts that carry its notes there, itself first; `layer` are these and
    the parts that move in its rhythm.
    """

    start: float
    stop: float
    part: int
    members: tuple[int, ...]
    layer: tuple[int, ...]


def _tree(path: Path) -> ElementTree.Element:
    with zipfile.ZipFile(path) as box:
        inner = [n for n in box.namelist() if n.endswith(".xml") and not n.startswith("META")]
        return ElementTree.fromstring(box.read(inner[0]))


def _carried(measures: list[ElementTree.Element]) -> list[ElementTree.Element]:
    """Gather what still holds after these measures: attributes, the dynamic, the tempo."""
    state: dict[tuple[str, str], ElementTree.Element] = {}
    last: dict[str, ElementTree.Element] = {}
    for measure in measures:
        for attributes in measure.iter("attributes"):
            state |= {(c.tag, c.get("number", "")): c for c in attributes if c.tag in _STATE}
        for direction in measure.iter("direction"):
            for mark in ("dynamics", "metronome"):
                if direction.find(f"direction-type/{mark}") is not None:
                    last[mark] = direction
    head = ElementTree.Element("attributes")
    order = sorted(state, key=lambda place: (_STATE.index(place[0]), place[1]))
    head.extend(deepcopy(state[place]) for place in order)
    return [head] * bool(state) + [deepcopy(d) for d in last.values()]


def cut(source: Path, target: Path, first: int, count: int) -> None:
    """Write measures `first` to `first + count` as a score of its own, without repeats."""
    root = _tree(source)
    for part in root.iter("part"):
        measures = part.findall("measure")
        kept = measures[first : first + count]
        for measure in measures:
            if measure not in kept:
                part.remove(measure)
        for element in reversed(_carried(measures[:first])):
            kept[0].insert(0, element)
        for measure in kept:
            for bar_line in measure.findall("barline"):
                measure.remove(bar_line)
            for sound in measure.iter("sound"):
                for jump in ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda"):
                    sound.attrib.pop(jump, None)
    ElementTree.ElementTree(root).write(target, encoding="utf-8", xml_declaration=True)


def measure_starts(source: Path, scratch: Path) -> NDArray[np.float64]:
    """Where each measure of the whole movement begins, in written quarters."""
    whole = scratch / "whole.musicxml"
    cut(source, whole, 0, 100_000)
    bars = read_score(whole).bars
    whole.unlink()
    return np.array([bar.onset for bar in bars] + [bars[-1].onset + bars[-1].duration])


@dataclass(frozen=True, slots=True)
class Company:
    """Who carries whose notes, bar by bar, as the program's own doublings have it."""

    score: Score
    label: NDArray[np.int64]

    def of(self, part: int, bar: int) -> tuple[int, ...]:
        """Parts that carry the part's notes in a bar, itself first."""
        owner = [line.part for line in self.score.lines]
        own = {int(self.label[k, bar]) for k, p in enumerate(owner) if p == part}
        playing = {n.part for n in self.score.notes if n.bar == bar}
        others = {p for k, p in enumerate(owner) if int(self.label[k, bar]) in own} & playing
        return (part, *sorted(others - {part}))


def company(score: Score) -> Company:
    """Who carries whose notes in a score."""
    texture = lay_out(score)
    pairs = joined(find_doublings(score, texture), texture)
    return Company(score, components(pairs, len(score.lines)))


def blocks(annotations: Path, score: Score, offset: float) -> list[Block]:
    """List the marked stretches inside the excerpt whose marked part plays.

    Parameters
    ----------
    annotations
        Columns qstamp (written quarters of the movement) and part_num (from 0).
    offset
        Where the excerpt begins in the movement, quarters.
    """
    with annotations.open(encoding="utf-8") as file:
        marks = sorted(
            (float(row["qstamp"]) - offset, int(row["part_num"]) + 1)
            for row in csv.DictReader(file)
        )
    out: list[Block] = []
    together = company(score)
    ends = [start for start, _ in marks[1:]] + [score.duration]
    for (mark, part), end in zip(marks, ends, strict=True):
        start, stop = max(mark, 0.0), min(end, score.duration)
        if stop - start >= 1:
            out += _by_bars(score, together, part, start, stop)
    return out


def _by_bars(
    score: Score, together: Company, part: int, start: float, stop: float
) -> list[Block]:
    """Split a stretch where the company of the marked part changes; leave out its rests."""
    out: list[Block] = []
    for k, bar in enumerate(score.bars):
        a, b = max(start, bar.onset), min(stop, bar.onset + bar.duration)
        if b - a <= 0 or not any(n.part == part and a <= n.onset < b for n in score.notes):
            continue
        members = together.of(part, k)
        layer = _in_rhythm(score, members, a, b)
        whole = (members, layer)
        if out and (out[-1].members, out[-1].layer) == whole and out[-1].stop == a:
            out[-1] = Block(out[-1].start, b, part, *whole)
        else:
            out.append(Block(a, b, part, *whole))
    return out


def _in_rhythm(
    score: Score, members: tuple[int, ...], start: float, stop: float
) -> tuple[int, ...]:
    """Find the members and the parts whose onsets are the main part's, but for one in five."""
    onsets: dict[int, set[int]] = {}
    for n in score.notes:
        if start <= n.onset < stop and not n.grace:
            onsets.setdefault(n.part, set()).add(round(n.onset * 12))
    main = onsets.get(members[0], set())
    same = {
        part
        for part, own in onsets.items()
        if main and len(own & main) >= TOGETHER * len(own | main)
    }
    return (*members, *sorted(same - set(members)))


def sounds_at(score: Score, part: int, quarters: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether a part sounds at each moment."""
    out = np.zeros(quarters.size, bool)
    for n in score.notes:
        if n.part == part:
            out |= (quarters >= n.onset) & (quarters < n.onset + n.duration)
    return out

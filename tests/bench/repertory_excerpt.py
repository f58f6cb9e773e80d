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

from auditor.score.notes import Score
from auditor.score.reading import read_score

# A part belongs to the main strand if it shares this much of its onsets and pitch classes.
SHARED = 0.7
_STATE = ("divisions", "key", "time", "staves", "clef", "transpose")


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch in which one part is marked as the main one; quarters of the excerpt."""

    start: float
    stop: float
    part: int
    members: tuple[int, ...]


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


def _shares(score: Score, part: int, other: int, start: float, stop: float) -> bool:
    """Whether `other` carries what `part` plays there: onsets and pitch classes."""

    def heard(number: int) -> set[tuple[int, int]]:
        return {
            (round(n.onset * 12), n.pitch % 12)
            for n in score.notes
            if n.part == number and start <= n.onset < stop and not n.unpitched
        }  # fmt: skip

    own = heard(part)
    return bool(own) and len(own & heard(other)) >= SHARED * len(own)


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
    out = []
    ends = [start for start, _ in marks[1:]] + [score.duration]
    for (mark, part), end in zip(marks, ends, strict=True):
        start, stop = max(mark, 0.0), min(end, score.duration)
        plays = any(n.part == part and start <= n.onset < stop for n in score.notes)
        if stop - start < 1 or not plays:
            continue
        others = [p.number for p in score.parts if p.number != part]
        members = [p for p in others if _shares(score, part, p, start, stop)]
        out.append(Block(start, stop, part, (part, *members)))
    return out

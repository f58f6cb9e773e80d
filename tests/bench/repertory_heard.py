"""How the marked strand of an excerpt fares bar by bar, beside the other strands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import fonts
import numpy as np
from numpy.typing import NDArray
from repertory_excerpt import Block, company, sounds_at
from repertory_sound import Clock

from auditor.hearing.audibility import listen
from auditor.hearing.measures import Group, Limits, NoteWindows
from auditor.score.notes import Score
from auditor.spectra.line_spectra import FLOOR_DB, LineSpectra
from auditor.spectra.playing import is_sustained

# Quarters from one counted moment to the next.
MOMENT = 0.25


@dataclass(frozen=True, slots=True)
class Place:
    """One bar of a marked stretch, and the strands that sound beside the marked one.

    `quarters` is how long the marked part sounds there; `others` are sets of parts.
    """

    block: Block
    quarters: float
    others: tuple[tuple[int, ...], ...]


def places(score: Score, marked: Sequence[Block]) -> list[Place]:
    """Split the marked stretches into bars; a bar without an onset goes with the one before."""
    together = company(score)
    out: list[Place] = []
    for block in marked:
        for k, bar in enumerate(score.bars):
            a, b = max(block.start, bar.onset), min(block.stop, bar.onset + bar.duration)
            if b - a <= 0:
                continue
            long = MOMENT * sounds_at(score, block.part, np.arange(a, b, MOMENT)).sum()
            here = [n for n in score.notes if a <= n.onset < b]
            if not any(n.part in block.members for n in here):
                if out and out[-1].block.stop == a:
                    last = out[-1]
                    wide = replace(last.block, stop=b)
                    out[-1] = Place(wide, last.quarters + float(long), last.others)
                continue
            sets = {together.of(p, k) for p in {n.part for n in here} - set(block.members)}
            apart = {tuple(sorted(s)) for s in sets if not set(s) & set(block.members)}
            out.append(
                Place(replace(block, start=a, stop=b), float(long), tuple(sorted(apart)))
            )
    return out


def windows_of(score: Score, when: Clock) -> NoteWindows:
    """When the notes sound, as rendered."""
    row = {line.number: k for k, line in enumerate(score.lines)}
    on = np.array([when.at(n.onset) for n in score.notes])
    off = np.array([when.at(n.onset + n.duration) for n in score.notes])
    kinds = [score.lines[row[n.line]].instrument for n in score.notes]
    held = [is_sustained(n, kind) for n, kind in zip(score.notes, kinds, strict=True)]
    return NoteWindows(
        line=np.array([row[n.line] for n in score.notes]),
        onset_s=on,
        offset_s=np.maximum(off, on + 0.03),
        pitch=np.array([0 if n.unpitched else n.pitch for n in score.notes]),
        sustained=np.array(held),
        instrument=tuple(line.instrument.key for line in score.lines),
    )


def by_part(score: Score, parts: Sequence[int], windows: NoteWindows) -> NoteWindows:
    """Rewrite windows for stems: one row a part, because a stem holds the whole part."""
    row = {number: k for k, number in enumerate(parts)}
    keys = {p.number: p.instrument.key for p in score.parts}
    return replace(
        windows,
        line=np.array([row[n.part] for n in score.notes]),
        instrument=tuple(keys[number] for number in parts),
    )


def lowered_spectra(
    spectra: LineSpectra,
    parts: Sequence[int],
    marked: Sequence[Block],
    when: Clock,
    by_db: float,
) -> LineSpectra:
    """Spectra of stems with the marked strand this much (dB, negative is down) changed."""
    level = spectra.level_db.copy()
    for block in marked:
        a, b = np.searchsorted(spectra.frame_s, (when.at(block.start), when.at(block.stop)))
        for member in block.members:
            own = level[parts.index(member), a:b]
            own[own > FLOOR_DB] += np.float32(by_db)
    return replace(spectra, level_db=np.maximum(level, FLOOR_DB))


def lowered_stems(
    stems: NDArray[np.float32],
    parts: Sequence[int],
    marked: Sequence[Block],
    when: Clock,
    by_db: float,
) -> NDArray[np.float32]:
    """Stems with whatever carries the marked strand changed while it does."""
    out = stems.copy()
    for block in marked:
        a, b = (int(when.at(q) * fonts.RATE_HZ) for q in (block.start, block.stop))
        for member in block.members:
            out[parts.index(member), a:b] *= np.float32(10 ** (by_db / 20))
    return out


def heard_rows(
    score: Score, where: Sequence[Place], spectra: LineSpectra, windows: NoteWindows
) -> list[dict[str, Any]]:
    """Ratios and states of the marked strand, its layer and the other strands of each place."""
    groups: list[Group] = []
    for place in where:
        for parts in (place.block.members, place.block.layer, *place.others):
            groups.append(Group(str(len(groups)), _notes(score, place.block, parts)))
    heard = listen(spectra, windows, groups, Limits())
    ratio, state = heard.groups.distinct_ratio, heard.group_state
    rows, at = [], 0
    for place in where:
        count = len(place.others)
        layer = set(place.block.layer)
        rows.append({
            "quarters": place.quarters,
            "strand": float(ratio[at]),
            "layer": float(ratio[at + 1]),
            "state": state[at],
            "others": [
                [float(ratio[at + 2 + k]), bool(set(parts) & layer)]
                for k, parts in enumerate(place.others)
                if np.isfinite(ratio[at + 2 + k])
            ],
        })  # fmt: skip
        at += 2 + count
    return rows


def _notes(score: Score, block: Block, parts: Sequence[int]) -> NDArray[np.int64]:
    return np.array(
        [
            i
            for i, n in enumerate(score.notes)
            if n.part in parts and block.start <= n.onset < block.stop
        ],
        dtype=np.int64,
    )

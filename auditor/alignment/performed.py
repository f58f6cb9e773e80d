"""The score as it was performed: runs of bars laid end to end on one rising axis."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from auditor.alignment.expected import Events
from auditor.alignment.timeline import Stretch
from auditor.alignment.visits import Order, Visit
from auditor.score.notes import Score

F64 = NDArray[np.float64]

# A longer pause between two bars is a gap, not a slow barline.
_GAP_S = 1.0
_LEAST_S = 1e-3
# Keeps the performed axis rising where one run meets the next, in quarters.
_SEAM = 0.01


@dataclass(frozen=True, slots=True)
class Run:
    """Bars that follow each other on the played axis and in the sound.

    Parameters
    ----------
    start_q, end_q
        Quarters on the played axis.
    shift
        What to add to get quarters on the performed axis.
    """

    start_q: float
    end_q: float
    shift: float


def runs_of(score: Score, order: Order) -> tuple[list[Run], F64, F64]:
    """Find the runs, and knots at their barlines: performed quarters and seconds."""
    runs: list[Run] = []
    quarters: list[float] = []
    seconds: list[float] = []
    at = 0.0
    for group in _groups(order.visits):
        start_q = score.bars[group[0].bar].onset
        end = score.bars[group[-1].bar]
        run = Run(start_q, end.onset + end.duration, at - start_q)
        runs.append(run)
        quarters += [score.bars[v.bar].onset + run.shift for v in group]
        seconds += [v.start_s for v in group]
        quarters.append(run.end_q + run.shift)
        seconds.append(group[-1].end_s)
        at = run.end_q + run.shift + _SEAM
    return runs, np.array(quarters), rising(np.array(seconds))


def _groups(visits: tuple[Visit, ...]) -> list[list[Visit]]:
    groups: list[list[Visit]] = []
    for visit in visits:
        if (
            groups
            and visit.bar == groups[-1][-1].bar + 1
            and visit.start_s - groups[-1][-1].end_s < _GAP_S
        ):
            groups[-1].append(visit)
        else:
            groups.append([visit])
    return groups


def rising(seconds: F64) -> F64:
    """Make times rise by a millisecond at least, shape (knots,)."""
    steps = np.arange(seconds.size) * _LEAST_S
    out: F64 = np.maximum.accumulate(seconds - steps) + steps
    return out


def performed(notes: Events, runs: list[Run]) -> Events:
    """Put the notes of each run on the performed axis."""
    parts = []
    for run in runs:
        inside = (notes.onset >= run.start_q - 1e-6) & (notes.onset < run.end_q - 1e-6)
        part = notes.chosen(inside)
        offset = np.minimum(part.offset, run.end_q) + run.shift
        parts.append(replace(part, onset=part.onset + run.shift, offset=offset))
    return Events(
        *(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Events))
    )


def stretches_of(runs: list[Run], axis: F64, seconds: F64) -> tuple[Stretch, ...]:
    """Knots of each run, back on the played axis."""
    out = []
    for run in runs:
        low, high = run.start_q + run.shift, run.end_q + run.shift
        inside = (axis >= low - 1e-9) & (axis <= high + 1e-9)
        out.append(Stretch(axis[inside] - run.shift, seconds[inside]))
    return tuple(out)


def laid_out(stretches: tuple[Stretch, ...]) -> tuple[list[Run], F64, F64]:
    """Lay stretches end to end again: runs, and knots of the whole performed axis."""
    runs, quarters, at = [], [], 0.0
    for stretch in stretches:
        start_q, end_q = float(stretch.quarters[0]), float(stretch.quarters[-1])
        runs.append(Run(start_q, end_q, at - start_q))
        quarters.append(stretch.quarters + at - start_q)
        at += end_q - start_q + _SEAM
    return runs, np.concatenate(quarters), np.concatenate([s.seconds for s in stretches])

"""What is listened for: every line by itself, every group, and the spans they are summed over.

A target is a row: first the lines, then the groups. A span is a stretch of one target's
time with one figure to come out of it: a note of a line, or a moment of a group, which is
what begins together in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.hearing.masking import add_spans
from auditor.hearing.measures import Group, NoteWindows
from auditor.hearing.windows import TOGETHER_S, Companions, NoteFrames

Ints = NDArray[np.int64]
Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Spans:
    """Stretches of frames on rows, arrays of shape (spans,).

    `column` is the line concerned, where there is one.
    """

    start: Ints
    stop: Ints
    row: Ints
    column: Ints


@dataclass(frozen=True, slots=True)
class Targets:
    """Targets, who is part of them, and the spans to sum over.

    Parameters
    ----------
    lines, groups
        How many of each.
    carries : ndarray of bool, shape (groups, lines)
        Lines with at least one note in the group.
    members
        Note windows by group (row 0 is the first group) and line.
    sounding
        Note windows by line, all notes.
    fused
        Overlaps with fused partners, by target row and partner line.
    spans
        Notes first, one each in score order, then the groups' moments.
    moment_notes
        Judged notes of each moment.
    moment_s : ndarray, shape (moments,)
        Weight of each moment in its group's medians, seconds.
    """

    lines: int
    groups: int
    carries: NDArray[np.bool_]
    members: Spans
    sounding: Spans
    fused: Spans
    spans: Spans
    moment_notes: tuple[Ints, ...]
    moment_s: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Roles:
    """Who is target, masker and fused masker, arrays of shape (frames, targets, lines)."""

    target: Floats
    masker: Floats
    extra: Floats


def _moments(notes: Ints, windows: NoteWindows) -> list[Ints]:
    """Cut the notes of a group into those that begin together, in time order."""
    if notes.size == 0:
        return []
    order = notes[np.argsort(windows.onset_s[notes], kind="stable")]
    onset = windows.onset_s[order]
    cuts, first = [], onset[0]
    for k in range(1, order.size):
        if onset[k] - first >= TOGETHER_S:
            cuts.append(k)
            first = onset[k]
    return np.split(order, cuts)


def _fused_spans(pairs: Companions, windows: NoteWindows, member: list[Ints]) -> Spans:
    """Fused partners of each line's notes, and of each group's notes outside the group."""
    lines = len(windows.instrument)
    use = np.flatnonzero(pairs.fuses)
    note, partner = pairs.note[use], pairs.partner[use]
    picked, rows = [use], [windows.line[note]]
    for g, notes in enumerate(member):
        inside = np.zeros(windows.line.size, dtype=bool)
        inside[notes] = True
        out = inside[note] & ~inside[partner]
        picked.append(use[out])
        rows.append(np.full(int(out.sum()), lines + g))
    chosen = np.concatenate(picked)
    return Spans(
        start=pairs.start[chosen],
        stop=pairs.stop[chosen],
        row=np.concatenate(rows).astype(np.int64),
        column=windows.line[pairs.partner[chosen]],
    )


def find_targets(
    windows: NoteWindows, groups: Sequence[Group], frames: NoteFrames, pairs: Companions
) -> Targets:
    """Lay out every line and group as a target, with its spans."""
    lines = len(windows.instrument)
    named = [np.asarray(group.notes, dtype=np.int64) for group in groups]
    member = [notes[frames.judged[notes]] for notes in named]
    carries = np.zeros((len(groups), lines), dtype=bool)
    moments, moment_row = [], []
    for g, notes in enumerate(member):
        carries[g, windows.line[notes]] = True
        cut = _moments(notes, windows)
        moments += cut
        moment_row += [lines + g] * len(cut)
    flat = np.concatenate([*member, np.empty(0, np.int64)]).astype(np.int64)
    of = np.repeat(np.arange(len(groups)), [m.size for m in member]).astype(np.int64)
    begin = [frames.start[m].min() for m in moments]
    end = [frames.stop[m].max() for m in moments]
    return Targets(
        lines=lines,
        groups=len(groups),
        carries=carries,
        members=Spans(frames.start[flat], frames.stop[flat], of, windows.line[flat]),
        sounding=Spans(frames.start, frames.stop, np.zeros_like(frames.start), windows.line),
        fused=_fused_spans(pairs, windows, member),
        spans=Spans(
            start=np.concatenate([frames.start, np.array(begin, dtype=np.int64)]),
            stop=np.concatenate([frames.stop, np.array(end, dtype=np.int64)]),
            row=np.concatenate([windows.line, np.array(moment_row, dtype=np.int64)]),
            column=np.full(frames.start.size + len(moments), -1),
        ),
        moment_notes=tuple(moments),
        moment_s=np.array([frames.duration_s[m].max() for m in moments]),
    )


def _marked(spans: Spans, first: int, shape: tuple[int, int, int]) -> Floats:
    out = np.zeros(shape, dtype=np.float32)
    near = (spans.start < first + shape[0]) & (spans.stop > first)
    add_spans(
        out, first, spans.start[near], spans.stop[near], spans.row[near], spans.column[near]
    )
    return out


def roles(targets: Targets, first: int, frames: int) -> Roles:
    """Roles of every line for every target in a block of frames.

    A line is its own target all the time. In a group, a line is target while a member
    note of it sounds; it masks the group while another note of it sounds; and it is
    neither while only its members' release or ring is left, for nobody is covered by the
    end of their own note.
    """
    n, m = targets.lines, targets.groups
    sounding = _marked(targets.sounding, first, (frames, 1, n)) > 0
    member = _marked(targets.members, first, (frames, m, n)) > 0
    apart = ~member & (~targets.carries[None] | sounding)
    target = np.zeros((frames, n + m, n), dtype=np.float32)
    target[:, :n] = np.eye(n, dtype=np.float32)
    target[:, n:] = member
    masker = np.empty_like(target)
    masker[:, :n] = 1.0 - target[:, :n]
    masker[:, n:] = apart
    extra = np.minimum(_marked(targets.fused, first, (frames, n + m, n)), 1.0) * masker
    return Roles(target=target, masker=masker, extra=extra)

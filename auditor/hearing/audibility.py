"""What a listener hears of each note, line, strand and layer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.hearing.confidence import Evidence, confidence
from auditor.hearing.figures import gathered, span_measures, take
from auditor.hearing.measures import Group, Heard, Limits, Measures, NoteWindows
from auditor.hearing.states import (
    Doubts,
    best_company,
    classes,
    lifted_lines,
    line_twins,
    note_twins,
    silent,
    tosses,
    words,
)
from auditor.hearing.sweep import MIX_POWER, POWER, Sweep, sweep
from auditor.hearing.targets import Targets, find_targets
from auditor.hearing.windows import Companions, NoteFrames, companions, note_frames
from auditor.spectra.line_spectra import LineSpectra

Floats = NDArray[np.float64]


def _check(spectra: LineSpectra, windows: NoteWindows, groups: Sequence[Group]) -> None:
    lines, frames, _ = spectra.level_db.shape
    notes = windows.line.size
    if len(windows.instrument) != lines:
        raise InputError(
            f"the note windows name {len(windows.instrument)} lines, the spectra hold {lines}"
        )
    if notes and not 0 <= windows.line.min() <= windows.line.max() < lines:
        raise InputError(f"a note stands on line {windows.line.max()} of {lines}")
    for group in groups:
        if group.notes.size and not 0 <= group.notes.min() <= group.notes.max() < notes:
            raise InputError(f"group {group.id} names a note that does not exist")
    if frames == 0:
        raise InputError("the spectra hold no frames; give sound of at least one frame")


def _under_mix_db(sums: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        under: Floats = 10.0 * np.log10(sums[:, MIX_POWER] / sums[:, POWER])
    return under


def _by_owner(values: Floats, owner: NDArray[np.int64], weight: Floats, count: int) -> Floats:
    """Weighted means over what belongs together, NaN left out, shape (count,)."""
    use = np.isfinite(values) & (weight > 0)
    total = np.bincount(owner[use], weight[use], count)
    mean = np.bincount(owner[use], (values * weight)[use], count)
    average: Floats = np.divide(mean, total, out=np.full(count, np.nan), where=total > 0)
    return average


def _evidence(
    notes: Floats, pairs: Companions, salience: Floats | None, count: int
) -> Evidence:
    return Evidence(
        fused=np.bincount(pairs.note[pairs.fuses], minlength=count).astype(np.float64),
        under_mix_db=_under_mix_db(notes),
        salience=np.full(count, np.nan) if salience is None else salience,
    )


def _evidence_of(
    parts: Evidence, owner: NDArray[np.int64], weight: Floats, count: int
) -> Evidence:
    return Evidence(
        fused=_by_owner(parts.fused, owner, weight, count),
        under_mix_db=_by_owner(parts.under_mix_db, owner, weight, count),
        salience=_by_owner(parts.salience, owner, weight, count),
    )


def _group_evidence(targets: Targets, sums: Floats, notes: Evidence) -> Evidence:
    """Evidence of each moment: partners and salience of its notes, its own level."""
    members = targets.moment_notes
    return Evidence(
        fused=np.array([notes.fused[m].mean() for m in members]),
        under_mix_db=_under_mix_db(sums),
        salience=np.array([notes.salience[m].mean() for m in members]),
    )


def listen(
    spectra: LineSpectra,
    windows: NoteWindows,
    groups: Sequence[Group],
    limits: Limits,
    *,
    salience: Floats | None = None,
) -> Heard:
    """Hear every note, line and group against everything else that sounds.

    A note is heard as its line while the note sounds. A group is heard as the sum of the
    lines whose member notes sound; its members do not mask each other.

    Parameters
    ----------
    spectra
        What each line sounds like alone.
    windows
        When each note sounds.
    groups
        Strands and layers.
    limits
        Where the states part.
    salience : ndarray, shape (notes,), optional
        From `auditor.hearing.salience`, for the confidence; 0 to 1.

    Raises
    ------
    InputError
        If notes, groups and spectra do not belong together.
    """
    _check(spectra, windows, groups)
    frames = note_frames(windows, spectra.frame_s)
    pairs = companions(windows, frames)
    targets = find_targets(windows, groups, frames, pairs)
    heard = sweep(spectra, targets, limits.covered)
    return _verdict(spectra.source, windows, frames, pairs, targets, heard, limits, salience)


def _verdict(
    source: str,
    windows: NoteWindows,
    frames: NoteFrames,
    pairs: Companions,
    targets: Targets,
    heard: Sweep,
    limits: Limits,
    salience: Floats | None,
) -> Heard:
    count, lines = windows.line.size, targets.lines
    spans = span_measures(targets.spans, heard)
    notes, moments = take(spans, slice(0, count)), take(spans, slice(count, None))
    sums, moment_sums = heard.sums[:count], heard.sums[count:]
    owner = targets.spans.row[count:] - lines
    per_line = gathered(notes, sums, windows.line, frames.duration_s, lines)
    per_group = gathered(moments, moment_sums, owner, targets.moment_s, targets.groups)

    known = _evidence(sums, pairs, salience, count)
    known_line = _evidence_of(known, windows.line, frames.duration_s, lines)
    known_group = _evidence_of(
        _group_evidence(targets, moment_sums, known), owner, targets.moment_s, targets.groups
    )
    sure = confidence(notes, limits, known, source, "notes")
    sure_line = confidence(per_line, limits, known_line, source, "lines")
    sure_group = confidence(per_group, limits, known_group, source, "groups")

    def doubts(figures: Measures, of: Evidence, twin: NDArray[np.bool_], p: Floats) -> Doubts:
        return Doubts(silent(figures, of.under_mix_db), twin, tosses(p, source))

    own, own_line = classes(notes, limits), classes(per_line, limits)
    lifted = np.maximum(own, best_company(targets, moments, limits, count))
    twin = note_twins(pairs, frames, source)
    nobody = np.zeros(targets.groups, dtype=bool)
    return Heard(
        notes=notes,
        lines=per_line,
        groups=per_group,
        note_state=words(own, lifted > own, doubts(notes, known, twin, sure)),
        line_state=words(
            own_line,
            lifted_lines(own_line, lifted, windows, frames),
            doubts(per_line, known_line, line_twins(twin, windows, frames), sure_line),
        ),
        group_state=words(
            classes(per_group, limits),
            nobody,
            doubts(per_group, known_group, nobody, sure_group),
        ),
        note_confidence=sure,
        line_confidence=sure_line,
        group_confidence=sure_group,
        frame_sone=heard.frame_sone,
        mix_sone=heard.mix_sone,
    )

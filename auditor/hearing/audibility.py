"""What a listener hears of each note, line, strand and layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.errors import InputError
from auditor.hearing.confidence import confidence
from auditor.hearing.figures import gathered, span_measures, take
from auditor.hearing.measures import Evidence, Group, Heard, Limits, Measures, NoteWindows
from auditor.hearing.salience import Colour, note_colour
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
from auditor.units import midi_to_hz

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Scene:
    """What was listened for, and what the pass over the sound summed up."""

    source: str
    windows: NoteWindows
    frames: NoteFrames
    pairs: Companions
    targets: Targets
    heard: Sweep


@dataclass(frozen=True, slots=True)
class _Figures:
    """Measures of notes, moments of groups, lines and groups."""

    notes: Measures
    moments: Measures
    lines: Measures
    groups: Measures


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


def _evidence_of(
    parts: Evidence, owner: NDArray[np.int64], weight: Floats, count: int
) -> Evidence:
    return Evidence(
        **{
            name: _by_owner(getattr(parts, name), owner, weight, count)
            for name in Evidence.__slots__
        }
    )


def _note_evidence(scene: _Scene, colour: Colour, salience: Floats | None) -> Evidence:
    windows, count = scene.windows, scene.windows.line.size
    fused = scene.pairs.note[scene.pairs.fuses]
    pitched = windows.pitch > 0
    octaves = np.full(count, np.nan)
    octaves[pitched] = np.log2(colour.centroid_hz[pitched] / midi_to_hz(windows.pitch[pitched]))
    return Evidence(
        fused=np.bincount(fused, minlength=count).astype(np.float64),
        under_mix_db=_under_mix_db(scene.heard.sums[:count]),
        salience=np.full(count, np.nan) if salience is None else salience,
        brightness=octaves,
        attack_s=np.where(windows.sustained, 0.0, colour.attack_s),
    )


def _moment_owner(scene: _Scene) -> NDArray[np.int64]:
    owner: NDArray[np.int64] = scene.targets.spans.row[scene.windows.line.size :]
    return owner - scene.targets.lines


def _measure(scene: _Scene) -> _Figures:
    windows, targets, sums = scene.windows, scene.targets, scene.heard.sums
    count = windows.line.size
    spans = span_measures(targets.spans, scene.heard)
    notes, moments = take(spans, slice(0, count)), take(spans, slice(count, None))
    return _Figures(
        notes=notes,
        moments=moments,
        lines=gathered(
            notes, sums[:count], windows.line, scene.frames.duration_s, targets.lines
        ),
        groups=gathered(
            moments, sums[count:], _moment_owner(scene), targets.moment_s, targets.groups
        ),
    )


def _evidence(
    scene: _Scene, colour: Colour, salience: Floats | None
) -> tuple[Evidence, Evidence, Evidence]:
    """Gather what else is known of notes, lines and groups."""
    windows, targets = scene.windows, scene.targets
    notes = _note_evidence(scene, colour, salience)
    means = {
        name: np.array([getattr(notes, name)[m].mean() for m in targets.moment_notes])
        for name in Evidence.__slots__
    }
    count = windows.line.size
    means["under_mix_db"] = _under_mix_db(scene.heard.sums[count:])
    return (
        notes,
        _evidence_of(notes, windows.line, scene.frames.duration_s, targets.lines),
        _evidence_of(Evidence(**means), _moment_owner(scene), targets.moment_s, targets.groups),
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
    scene = _Scene(spectra.source, windows, frames, pairs, targets, heard)
    known = _evidence(scene, note_colour(spectra, windows), salience)
    return _verdict(scene, _measure(scene), known, limits)


def _verdict(
    scene: _Scene,
    figures: _Figures,
    known: tuple[Evidence, Evidence, Evidence],
    limits: Limits,
) -> Heard:
    source, windows, frames = scene.source, scene.windows, scene.frames
    measured = (figures.notes, figures.lines, figures.groups)
    kinds = ("notes", "lines", "groups")
    sure = [
        confidence(measures, limits, evidence, source, kind)
        for measures, evidence, kind in zip(measured, known, kinds, strict=True)
    ]
    own = [classes(measures, limits) for measures in measured]
    company = best_company(scene.targets, figures.moments, limits, windows.line.size)
    better = np.maximum(own[0], company)
    nobody = np.zeros(scene.targets.groups, dtype=bool)
    twin = note_twins(scene.pairs, frames, source)
    lifted = (better > own[0], lifted_lines(own[1], own[0], better, windows, frames), nobody)
    twins = (twin, line_twins(twin, windows, frames), nobody)
    states = [
        words(
            own[k],
            lifted[k],
            Doubts(
                silent=silent(measured[k], known[k].under_mix_db),
                twin=twins[k],
                toss=tosses(sure[k], source, kinds[k]),
            ),
        )
        for k in range(3)
    ]
    return Heard(
        notes=figures.notes,
        lines=figures.lines,
        groups=figures.groups,
        note_state=states[0],
        line_state=states[1],
        group_state=states[2],
        note_confidence=sure[0],
        line_confidence=sure[1],
        group_confidence=sure[2],
        note_evidence=known[0],
        frame_sone=scene.heard.frame_sone,
        mix_sone=scene.heard.mix_sone,
    )

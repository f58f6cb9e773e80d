"""Texture: spacing, holes, missing bass, doubled leading notes, the weight of each register.

References
----------
.. [1] N. Rimsky-Korsakov, *Principles of Orchestration* (1922), ch. III: octaves and sixths
       low, fifths and fourths in the middle, thirds and seconds high; the bass no further than
       an octave below the next part; no gap in the middle of a loud chord.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.craft.limits import CraftLimits
from auditor.craft.moments import Moment, moments, stretches
from auditor.craft.naming import pitch_name
from auditor.craft.page import Page
from auditor.craft.remark import COMMON_PRACTICE, Remark
from auditor.score.notes import Note

SPACING = "N. Rimsky-Korsakov, Principles of Orchestration (1922), ch. III"
# Lowest MIDI pitch of tenor, alto, treble and brilliance; below the first lies the bass.
# Octaves from C3, as singers' registers and the treble staff divide them: our choice.
REGISTER_EDGES: tuple[int, ...] = (48, 60, 72, 84)
REGISTERS: tuple[str, ...] = ("bass", "tenor", "alto", "treble", "brilliance")
_FORTE = 3.9


def remarks(page: Page, limits: CraftLimits) -> Iterable[Remark]:
    """Every remark on texture but for leading notes."""
    cut = moments(page)
    yield from low_spacing(cut, limits)
    yield from holes(cut, limits)
    yield from missing_bass(page, cut, limits)
    yield from doubled_by_all(cut, limits)


def low_spacing(cut: Sequence[Moment], limits: CraftLimits) -> Iterator[Remark]:
    """Close intervals at the bottom of a full chord."""

    def close(moment: Moment) -> bool:
        pitches = sorted({n.pitch for n in moment.pitched})
        if len(moment.lines) < limits.spacing_lines or len(pitches) < 3:
            return False
        low, above = pitches[0], pitches[1]
        return above <= limits.spacing_pitch and above - low < limits.spacing_interval

    for row in stretches(cut, close, limits.spacing_quarters):
        low, above = sorted({n.pitch for n in row[0].pitched})[:2]
        yield _over(
            row, "low-spacing", "worth a thought",
            f"The chord is close at the bottom: {pitch_name(low)} and {pitch_name(above)}.",
            "Low tones have their overtones where the next ones lie; close intervals down "
            "there growl instead of sounding.",
            "Open the bottom to an octave, a sixth or a fifth, and put the third higher up.",
            SPACING,
        )  # fmt: skip


def _over(
    row: Sequence[Moment], kind: str, weight: str, says: str, why: str, remedy: str, source: str
) -> Remark:
    notes = dict.fromkeys(n.id for moment in row for n in moment.pitched)
    return Remark(
        kind, weight, 0, row[0].bar, row[-1].bar, tuple(notes), says, why, remedy, source
    )


def _loud(moment: Moment) -> bool:
    pitched = moment.pitched
    return bool(pitched) and sum(n.dynamic for n in pitched) / len(pitched) >= _FORTE


def _widest_gap(moment: Moment, limits: CraftLimits) -> tuple[int, int]:
    """The gap between neighbouring pitches that goes furthest beyond its limit."""
    pitches = sorted({n.pitch for n in moment.pitched})
    allowed = [limits.hole_over_bass, *(limits.hole for _ in pitches[2:])]
    gaps = zip(pairwise(pitches), allowed, strict=True)
    (low, high), most = max(gaps, key=lambda g: g[0][1] - g[0][0] - g[1], default=((0, 0), 0.0))
    return (low, high) if high - low > most else (0, 0)


def holes(cut: Sequence[Moment], limits: CraftLimits) -> Iterator[Remark]:
    """Gaps in the middle of loud full chords."""

    def gaping(moment: Moment) -> bool:
        if len(moment.lines) < limits.hole_lines or not _loud(moment):
            return False
        low, high = _widest_gap(moment, limits)
        below = sum(n.pitch <= low for n in moment.pitched)
        above = sum(n.pitch >= high for n in moment.pitched)
        return high > low and min(below, above) >= 2

    for row in stretches(cut, gaping, limits.hole_quarters):
        low, high = _widest_gap(row[0], limits)
        yield _over(
            row, "hole", "worth a thought",
            f"Nothing sounds between {pitch_name(low)} and {pitch_name(high)}.",
            "A loud chord with an empty middle falls into two halves, top and bottom.",
            "Fill the middle: horns and violas usually can, or bring the outer parts closer.",
            SPACING,
        )  # fmt: skip


def missing_bass(page: Page, cut: Sequence[Moment], limits: CraftLimits) -> Iterator[Remark]:
    """Loud tutti over nothing."""
    lines = {n.line for p in page.parts for n in page.notes_of(p.number) if not n.unpitched}
    enough = max(limits.tutti_lines, limits.tutti_share * len(lines))

    def floating(moment: Moment) -> bool:
        pitched = moment.pitched
        if len({n.line for n in pitched}) < enough or not _loud(moment):
            return False
        return pitched[0].pitch >= limits.bass_pitch

    for row in stretches(cut, floating, limits.bass_quarters):
        lowest = min(n.pitch for moment in row for n in moment.pitched)
        yield _over(
            row, "no-bass", "worth a thought",
            f"A loud tutti has nothing below {pitch_name(lowest)}.",
            "Without a bass a tutti is loud and small; the ear takes the lowest part for one.",
            "Bring in basses, bassoons, bass trombone or tuba, or thin out the top if it is "
            "meant to float.",
            COMMON_PRACTICE,
        )  # fmt: skip


def doubled_by_all(cut: Sequence[Moment], limits: CraftLimits) -> Iterator[Remark]:
    """A moving top line that nearly everyone doubles."""

    def crowded(moment: Moment) -> bool:
        pitched = moment.pitched
        lines = {n.line for n in pitched}
        if len(lines) < limits.doubled_lines:
            return False
        top = pitched[-1].pitch % 12
        return len({n.line for n in pitched if n.pitch % 12 == top}) >= (
            limits.doubled_share * len(lines)
        )

    for row in stretches(cut, crowded, limits.doubled_quarters):
        if len({moment.pitched[-1].pitch for moment in row}) < limits.doubled_tones:
            continue
        count = len({n.line for n in row[0].pitched})
        yield _over(
            row, "doubled-by-all", "worth a thought",
            f"The melody is doubled by nearly all of the {count} lines that sound.",
            "When everyone has the tune no colour is left for it and nothing stands beside it; "
            "a grey unison is the usual result.",
            "Keep two or three colours on the melody and give the others harmony, rhythm or "
            "rest, unless a bare unison is the point.",
            SPACING,
        )  # fmt: skip


def register_weight(page: Page) -> NDArray[np.float64]:
    """How much sounds in each register along the page, for a picture.

    Returns
    -------
    ndarray, shape (bars, registers)
        Mean number of players sounding in each of `REGISTERS`, weighed by dynamic: a player
        at mf counts 1, each step louder or softer half as much again or less.
    """
    row = {bar.index: i for i, bar in enumerate(page.bars)}
    weight = np.zeros((len(page.bars), len(REGISTERS)))
    for part in page.parts:
        for note in page.notes_of(part.number):
            if not note.unpitched and not note.grace:
                _spread(page, note, row, weight)
    lengths = np.array([max(bar.duration, 1e-9) for bar in page.bars])
    mean: NDArray[np.float64] = weight / lengths[:, None]
    return mean


def _spread(page: Page, note: Note, row: dict[int, int], weight: NDArray[np.float64]) -> None:
    """Add one note to every bar it sounds in."""
    register = int(np.searchsorted(REGISTER_EDGES, note.pitch, side="right"))
    strength = note.players * 1.5 ** (note.dynamic - 3.0)
    end = note.onset + note.duration
    for i in range(row[note.bar], len(page.bars)):
        bar = page.bars[i]
        inside = min(end, bar.onset + bar.duration) - max(note.onset, bar.onset)
        if inside <= 0:
            break
        weight[i, register] += strength * inside

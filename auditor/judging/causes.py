"""Who covers a passage, where in the register, and how: figures first, then words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Cover
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS
from auditor.judging.scene import IntArray, Scene
from auditor.units import midi_to_hz

# Coverers named at most, and the least share of the masking that is worth a name.
MOST, LEAST = 3, 0.12
# Lines whose mean pitches lie within a fifth share a register (common practice, no source).
NEAR = 7.0
# Where shares are comparable (this factor apart at most), the coverer that shares the line's
# register is named before one far above or below it.
COMPARABLE = 1.8
# Semitones a coverer may lie outside a line's own compass and still sit on it.
MARGIN = 2
# Share of what is lost from which on one register is worth naming.
NAMED = 0.5
# A dynamic step apart on the page counts as marked louder.
LOUDER = 0.75


@dataclass(frozen=True, slots=True)
class Covering:
    """What covers a passage.

    Parameters
    ----------
    covers
        Coverers, most first.
    registers
        Share of what is lost in each register band.
    cause
        In words, ready to follow "…is lost under X;".
    kind
        ``unison``, ``decay``, ``attack``, ``noise``, ``register`` or ``partials``.
    """

    covers: tuple[Cover, ...]
    registers: tuple[float, ...]
    cause: str
    kind: str


def _compass(s: Scene, notes: IntArray) -> tuple[float, float] | None:
    """Lowest and highest sounding pitch; None without pitches."""
    pitches = s.windows.pitch[notes]
    pitches = pitches[pitches > 0]
    return (float(pitches.min()), float(pitches.max())) if pitches.size else None


def sits_on(s: Scene, number: int, first: int, last: int, notes: IntArray) -> bool:
    """Whether a line's middle pitch lies within the compass of these notes, or close to it."""
    theirs, own = s.notes((number,), first, last), _compass(s, notes)
    height = _pitch(s, theirs) if theirs.size else float("nan")
    return own is not None and own[0] - MARGIN <= height <= own[1] + MARGIN


def _shares(
    s: Scene, lines: tuple[int, ...], first: int, last: int, notes: IntArray
) -> tuple[Cover, ...]:
    share = np.nan_to_num(s.heard.notes.cover_share[notes])
    weight = s.quarters[notes] * np.maximum(1.0 - _lost(s, notes), 1e-3)
    total = (share * weight[:, None]).sum(axis=0)
    total[[s.row[n] for n in lines]] = 0.0
    if total.sum() <= 0:
        return ()
    total = total / total.sum()
    near = [sits_on(s, line.number, first, last, notes) for line in s.score.lines]
    order = np.argsort(-total * np.where(near, COMPARABLE, 1.0))[:MOST]
    return tuple(
        Cover(s.score.lines[int(i)].number, round(float(total[i]), 3))
        for i in order
        if total[i] >= LEAST
    )


def _lost(s: Scene, notes: IntArray) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return what is left of each note, 0 to 1."""
    return np.clip(np.nan_to_num(s.heard.notes.distinct_ratio[notes]), 0.0, 1.0)


def _registers(s: Scene, notes: IntArray) -> tuple[float, ...]:
    share = np.nan_to_num(s.heard.notes.register_share[notes])
    total = (share * s.quarters[notes][:, None]).sum(axis=0)
    whole = total.sum()
    return tuple(float(x) for x in (total / whole if whole > 0 else total))


def _pitch(s: Scene, notes: IntArray) -> float:
    pitches = s.windows.pitch[notes]
    return float(pitches[pitches > 0].mean()) if (pitches > 0).any() else float("nan")


def _marked_louder(s: Scene, other: int, mine: IntArray, first: int, last: int) -> bool:
    """Whether another line is marked louder in the bars in which both play."""
    own: dict[int, list[float]] = {}
    for n in mine.tolist():
        own.setdefault(s.score.notes[n].bar, []).append(s.score.notes[n].dynamic)
    steps = [
        float(np.mean(theirs) - np.mean(own[bar]))
        for bar in range(first, last + 1)
        if bar in own and (theirs := s.dynamics(other, bar, bar))
    ]
    return bool(steps) and float(np.mean(steps)) >= LOUDER


def _is_partner(s: Scene, lines: tuple[int, ...], other: int, first: int, last: int) -> bool:
    return any(
        {d.line, d.of} & set(lines)
        and other in (d.line, d.of)
        and d.first_bar <= last
        and d.last_bar >= first
        for d in s.intent.doublings
    )


def _where(s: Scene, registers: tuple[float, ...], notes: IntArray) -> str:
    """Say where most is lost, if the line has notes there or below it.

    That a low line loses its upper partials first goes without saying, and naming a register
    it does not play in puzzles the player.
    """
    own = _compass(s, notes)
    if not registers or max(registers) < NAMED or own is None:
        return ""
    k = int(np.argmax(registers))
    lower = 0.0 if k == 0 else REGISTER_EDGES_HZ[k - 1]
    if float(midi_to_hz(own[1])) < lower:
        return ""
    return f" (most is lost in the {REGISTERS[k]})"


def _said(
    s: Scene, lines: tuple[int, ...], first: int, last: int, mine: IntArray, other: int
) -> tuple[str, str]:
    """Words and kind for what the main coverer does to the line."""
    theirs = s.notes((other,), first, last)
    name = s.line(other).name
    if not theirs.size:
        return f"{name} rings on over it", "decay"
    if not s.line(other).instrument.pitched:
        return f"the noise of {name} spreads over its register", "noise"
    if _is_partner(s, lines, other, first, last):
        return f"{name} has the same notes, so only a little colour of it is left", "unison"
    held = bool(s.windows.sustained[theirs].mean() > 0.5)
    holding = bool(s.windows.sustained[mine].mean() > 0.5)
    louder = _marked_louder(s, other, mine, first, last)
    marked = " and is marked louder" if louder else ""
    besides = ", is marked louder" if louder else ""
    if held and not holding:
        return f"its notes die away while {name} holds{marked}", "decay"
    if holding and not held and s.windows.onset_s.size:
        return f"the attacks of {name} hide its entries", "attack"
    step = _pitch(s, theirs) - _pitch(s, mine)
    if abs(step) <= NEAR or not np.isfinite(step):
        return f"{name} plays in the same register{marked}", "register"
    if step < 0:
        return (
            f"{name} lies below{besides}, and its upper partials fill the register",
            "partials",
        )
    return f"{name} lies above, where its overtones are{marked}", "register"


def what_covers(
    s: Scene, lines: tuple[int, ...], first: int, last: int, notes: IntArray
) -> Covering:
    """Find who covers these notes, and say how.

    Parameters
    ----------
    s
        The case.
    lines
        Numbers of the lines that carry the passage.
    first, last
        Bars on the played axis.
    notes
        Positions of the passage's notes.
    """
    covers = _shares(s, lines, first, last, notes)
    # A partner with the same notes is named only if nobody else covers.
    strangers = [c for c in covers if not _is_partner(s, lines, c.line, first, last)]
    covers = tuple(strangers) or covers
    registers = _registers(s, notes)
    if not covers:
        return Covering((), registers, "it is very soft in this mix", "level")
    words, kind = _said(s, lines, first, last, notes, covers[0].line)
    return Covering(covers, registers, words + _where(s, registers, notes), kind)

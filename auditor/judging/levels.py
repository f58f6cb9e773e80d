"""Faults of the rendering: a written dynamic that the sound does not make, or overdoes.

A line's level is held against what its mark would give: the published power of its players,
shifted to where most lines of this rendering lie, and what the same line gives elsewhere.
Softer is remarked of what carries the foreground, louder of anything else.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, listed, mark, opening
from auditor.judging.passages import RELIED, Unit, carrying, units
from auditor.judging.saying import remark
from auditor.judging.scene import UNKNOWN, FloatArray, IntArray, Scene
from auditor.timbre.dynamics import power_level_db

# A passage this far (dB) under its mark by both yardsticks, or by its own alone, is remarked.
# Our choice: two dynamic steps are 8 to 10 dB, and levels read from a mix err by 2 to 3.
UNDER_ALL, UNDER_OWN_TOO, UNDER_OWN = -7.0, -3.0, -9.0
# A line's own usual level: of its bars, this percentile, so that a line that is too soft for
# half of the time is still held against its better half.
USUAL = 70.0
# Bars a line needs for a usual level of its own; quarters and seconds of a passage worth a
# remark.
ENOUGH_BARS, SHORTEST, SHORTEST_S = 6, 4.0, 2.5
# What is not the foreground is too loud from here on by both yardsticks, for so many quarters.
OVER, OVER_QUARTERS = 9.0, 8.0
# dB under the mark at which the weight is full.
FULL = 16.0
# Remarks of this kind at most in 100 bars, and at least.
PER_100_BARS, AT_LEAST = 6, 3


@dataclass(frozen=True, slots=True)
class Levels:
    """dB from what the marks ask: against all lines, and against the line itself.

    Both ``(lines, bars)``, NaN where nothing can be said.
    """

    among_all: FloatArray
    among_own: FloatArray


def asked_db(s: Scene) -> FloatArray:
    """Power that the page asks of each note, dB re 1 pW; NaN for drums, shape (notes,)."""
    out = np.full(len(s.score.notes), np.nan)
    for i, note in enumerate(s.score.notes):
        if note.unpitched:
            continue
        kind = s.line(note.line).instrument
        out[i] = power_level_db(
            kind.key, kind.family, note.dynamic, note.players, plucked="pizz" in note.techniques
        )
    return out


def levels_of(s: Scene) -> Levels:
    """Hold each line's level in each bar against its marks."""
    told = np.array([w not in (*UNKNOWN, "silent") for w in s.heard.note_state], bool)
    off = np.where(told, s.heard.notes.level_db - asked_db(s), np.nan)
    table: FloatArray = np.full(s.intent.reliance.shape, np.nan)
    for (row, bar), notes in s.places.items():
        known = off[notes][np.isfinite(off[notes])]
        if known.size:
            table[row, bar] = np.median(known)
    usual: FloatArray = np.full(len(table), np.nan)
    middles = []
    for row, own in enumerate(table):
        known = own[np.isfinite(own)]
        if known.size:
            middles.append(float(np.median(known)))
        if known.size >= ENOUGH_BARS:
            usual[row] = np.percentile(known, USUAL)
    whole = float(np.median(middles)) if middles else 0.0
    return Levels(table - whole, table - usual[:, None])


def _under(s: Scene, levels: Levels, unit: Unit) -> tuple[IntArray, FloatArray]:
    """Find bars of a unit whose best carrier lies too far under its mark, and how far."""
    bars, depth = [], []
    for bar in unit.bars.tolist():
        rows = [s.row[n] for n in unit.lines if (s.row[n], bar) in s.places]
        known = [i for i in rows if np.isfinite(levels.among_all[i, bar])]
        if not known:
            continue
        best = max(known, key=lambda i: levels.among_all[i, bar])
        a, b = float(levels.among_all[best, bar]), float(levels.among_own[best, bar])
        low = a <= UNDER_ALL and not b > UNDER_OWN_TOO
        if low or b <= UNDER_OWN:
            bars.append(bar)
            # The gentler of two yardsticks that agree; its own where it alone speaks.
            depth.append(b if not low else max(a, b) if np.isfinite(b) else a)
    return np.array(bars, np.int64), np.array(depth)


def _finding(s: Scene, unit: Unit, run: IntArray, depth: FloatArray) -> Finding:
    first, last = int(run[0]), int(run[-1])
    lines = carrying(s, unit, first, last)
    notes = s.notes(lines, first, last)
    asked = mark(float(np.mean([s.score.notes[int(n)].dynamic for n in notes])))
    reliance = float(np.mean([s.reliance(lines, int(b)) for b in run]))
    down = -float(np.median(depth))
    names, many = listed(s.names(lines)), len(lines) > 1
    where = bars_named(s.score.bars, first, last)
    where = opening(where)
    verb = ("are marked", "sound") if many else ("is marked", "sounds")
    whose = "their" if many else "its"
    badly = float(np.clip(down / FULL, 0.0, 1.0)) * length_factor(s.length(first, last))
    return remark(
        s, "dynamic", lines, (first, last), own=len(lines),
        weight=0.6 * reliance * badly,
        why=f"it is marked about {asked} and carries the foreground",
        cause=f"about {down:.0f} dB under what the mark gives in this rendering",
        remedies=(f"raise {names} in the rendering to {whose} mark before changing the score",),
        sentence=(
            f"{where}: {names} {verb[0]} about {asked}, but {verb[1]} some {down:.0f} dB "
            f"softer than that mark gives in the rest of this rendering. That is the "
            f"rendering's doing: see {whose} level before you change the scoring."
        ),
    )  # fmt: skip


def find_soft_renderings(s: Scene) -> list[Finding]:
    """Find passages of the foreground that sound well below their marks."""
    levels = levels_of(s)
    found: list[Finding] = []
    for unit in units(s):
        bars, depth = _under(s, levels, unit)
        if not bars.size:
            continue
        cuts = np.flatnonzero(np.diff(bars) > 2) + 1
        for run, deep in zip(np.split(bars, cuts), np.split(depth, cuts), strict=True):
            long = sum(s.score.bars[int(b)].duration for b in run) >= SHORTEST
            relied = np.mean(unit.reliance[np.isin(unit.bars, run)]) >= RELIED
            if long and relied and s.intent.role[s.row[unit.lines[0]]][int(run[0])] != "bass":
                found.append(_finding(s, unit, run, deep))
    found = [f for f in found if f.end_s - f.start_s >= SHORTEST_S]
    most = max(AT_LEAST, round(PER_100_BARS * len(s.score.bars) / 100))
    return sorted(found, key=lambda f: -f.weight)[:most]


def find_loud_renderings(s: Scene) -> list[Finding]:
    """Find passages of other lines that sound far above marks and their usual level."""
    levels = levels_of(s)
    over = np.nan_to_num(np.minimum(levels.among_all, levels.among_own), nan=-np.inf) >= OVER
    found: list[Finding] = []
    for row, line in enumerate(s.score.lines):
        role = s.intent.role[row]
        bars = [b for b in np.flatnonzero(over[row]).tolist() if role[b] != "leading"]
        if not bars:
            continue
        for run in np.split(np.array(bars), np.flatnonzero(np.diff(bars) > 2) + 1):
            if sum(s.score.bars[int(b)].duration for b in run) >= OVER_QUARTERS:
                found.append(_loud(s, line.number, run, levels.among_own[row, run]))
    return sorted(found, key=lambda f: -f.weight)[:AT_LEAST]


def _loud(s: Scene, number: int, run: IntArray, above: FloatArray) -> Finding:
    first, last = int(run[0]), int(run[-1])
    notes = s.notes((number,), first, last)
    asked = mark(float(np.mean([s.score.notes[int(n)].dynamic for n in notes])))
    up, name = float(np.median(above)), s.line(number).name
    where = bars_named(s.score.bars, first, last)
    badly = float(np.clip(up / FULL, 0.0, 1.0)) * length_factor(s.length(first, last))
    return remark(
        s, "dynamic", (number,), (first, last),
        weight=0.6 * badly,
        why=f"it is marked about {asked} and stands behind others",
        cause=f"about {up:.0f} dB over what the mark gives in this rendering",
        remedies=(f"lower {name} in the rendering to its mark before changing the score",),
        sentence=(
            f"{opening(where)}: {name} is marked about {asked}, but sounds some "
            f"{up:.0f} dB louder than that mark gives in the rest of this rendering. That is "
            f"the rendering's doing: see its level before you change the scoring."
        ),
    )  # fmt: skip

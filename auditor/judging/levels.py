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
# half of the time is still held against its better half. Bars within so many steps of the mark
# count if there are enough: a patch whose p is 10 dB under what its f promises is no slip of
# one passage.
USUAL, ALIKE = 70.0, 1.0
# Bars a line needs for a usual level of its own; quarters and seconds of a passage worth a
# remark.
ENOUGH_BARS, SHORTEST, SHORTEST_S = 6, 4.0, 2.5
# What is not the foreground is too loud from here on by both yardsticks, for so many quarters.
OVER, OVER_QUARTERS = 9.0, 8.0
# All that accompanies is too loud together where the middle of so many lines, most of which
# agree, lies so far (dB) above its marks and above the melody's (our choice: half of what one
# line by itself must show, as three that err at once by chance are rare).
TOGETHER, LINES, AGREE = 4.0, 3, 0.75
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
    steps, marked = table.copy(), np.array([n.dynamic for n in s.score.notes])
    for (row, bar), notes in s.places.items():
        known = notes[np.isfinite(off[notes])]
        if known.size:
            table[row, bar] = np.median(off[known])
            steps[row, bar] = np.median(marked[known])
    middles = [float(np.nanmedian(own)) for own in table if np.isfinite(own).any()]
    whole = float(np.median(middles)) if middles else 0.0
    usual = np.array([_usual(*both) for both in zip(table, steps, strict=True)])
    return Levels(table - whole, table - usual.reshape(table.shape))


def _usual(own: FloatArray, steps: FloatArray) -> FloatArray:
    """What a line gives elsewhere at such marks, or at all, (bars,); NaN if too little."""
    out: FloatArray = np.full(own.size, np.nan)
    there = np.isfinite(own)
    if there.sum() < ENOUGH_BARS:
        return out
    for bar in np.flatnonzero(there):
        alike = there & (np.abs(np.where(there, steps, np.inf) - steps[bar]) <= ALIKE)
        out[bar] = np.percentile(own[alike if alike.sum() >= ENOUGH_BARS else there], USUAL)
    return out


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


def _finding(s: Scene, lines: tuple[int, ...], run: IntArray, depth: FloatArray) -> Finding:
    first, last = int(run[0]), int(run[-1])
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
                lines = carrying(s, unit, int(run[0]), int(run[-1]))
                found.append(_finding(s, lines, run, deep))
    found += _soft_leaders(s, levels, found)
    found = [f for f in found if f.end_s - f.start_s >= SHORTEST_S]
    most = max(AT_LEAST, round(PER_100_BARS * len(s.score.bars) / 100))
    return sorted(found, key=lambda f: -f.weight)[:most]


def _soft_leaders(s: Scene, levels: Levels, said: list[Finding]) -> list[Finding]:
    """Lines of the lead far under their marks by both yardsticks, though others carry it."""
    deep = np.maximum(levels.among_all, levels.among_own)
    under = np.nan_to_num(deep, nan=np.inf) <= -OVER
    runs: dict[tuple[int, int], list[int]] = {}
    for row in range(len(s.score.lines)):
        role = s.intent.role[row]
        bars = [b for b in np.flatnonzero(under[row]).tolist() if role[b] == "leading"]
        for run in _long_runs(s, bars):
            runs.setdefault((int(run[0]), int(run[-1])), []).append(row)
    out = []
    for (first, last), rows in runs.items():
        lines = tuple(s.score.lines[row].number for row in rows)
        span = np.arange(first, last + 1)
        depth = np.nanmedian(deep[rows][:, span], axis=0)
        if not any(set(lines) & set(f.lines) and f.first_bar <= last and f.last_bar >= first
                   for f in said):  # fmt: skip
            out.append(_finding(s, lines, span, depth[np.isfinite(depth)]))
    return out


def find_loud_renderings(s: Scene) -> list[Finding]:
    """Find passages of other lines that sound far above marks and their usual level."""
    levels = levels_of(s)
    over = np.nan_to_num(np.minimum(levels.among_all, levels.among_own), nan=-np.inf) >= OVER
    found = _loud_together(s, levels)
    for row, line in enumerate(s.score.lines):
        role = s.intent.role[row]
        bars = [b for b in np.flatnonzero(over[row]).tolist() if role[b] != "leading"]
        for run in _long_runs(s, bars):
            if not any(line.number in f.lines and f.first_bar <= run[0] <= f.last_bar
                       for f in found):  # fmt: skip
                up = float(np.median(levels.among_own[row, run]))
                found.append(_loud(s, (line.number,), (int(run[0]), int(run[-1])), up))
    return sorted(found, key=lambda f: -f.weight)[:AT_LEAST]


def _long_runs(s: Scene, bars: list[int]) -> list[IntArray]:
    """Runs of bars with at most one between, long enough for a remark."""
    if not bars:
        return []
    runs = np.split(np.array(bars, np.int64), np.flatnonzero(np.diff(bars) > 2) + 1)
    return [run for run in runs
            if sum(s.score.bars[int(b)].duration for b in run) >= OVER_QUARTERS]  # fmt: skip


def _loud_together(s: Scene, levels: Levels) -> list[Finding]:
    """Find passages in which all that accompanies is too loud, and the melody is not."""
    own, role = levels.among_own, s.intent.role
    bars = []
    for bar in range(len(s.score.bars)):
        known = np.flatnonzero(np.isfinite(own[:, bar]))
        lead = [i for i in known if role[i][bar] == "leading"]
        rest = own[[i for i in known if role[i][bar] != "leading"], bar]
        if not lead or rest.size < LINES or np.mean(rest >= 1.0) < AGREE:
            continue
        if np.median(rest) >= TOGETHER + max(0.0, float(np.median(own[lead, bar]))):
            bars.append(bar)
    out = []
    for run in _long_runs(s, bars):
        rows = [
            i for i in range(len(own))
            if np.isfinite(own[i, run]).any() and np.nanmedian(own[i, run]) >= TOGETHER
            and not any(role[i][int(b)] == "leading" for b in run)
        ]  # fmt: skip
        numbers = tuple(s.score.lines[i].number for i in rows)
        if len(numbers) >= LINES:
            up = float(np.nanmedian(own[rows][:, run]))
            out.append(_loud(s, numbers, (int(run[0]), int(run[-1])), up))
    return out


def _loud(s: Scene, numbers: tuple[int, ...], span: tuple[int, int], up: float) -> Finding:
    notes = s.notes(numbers, *span)
    asked = mark(float(np.mean([s.score.notes[int(n)].dynamic for n in notes])))
    many, names = len(numbers) > 1, listed(s.names(numbers))
    verb = ("are marked", "sound") if many else ("is marked", "sounds")
    it, stand, its = ("they are", "stand", "their") if many else ("it is", "stands", "its")
    # Several together weigh more, and in full at half the excess: the melody stands alone.
    badly = float(np.clip((1 + many) * up / FULL, 0.0, 1.0)) * length_factor(s.length(*span))
    return remark(
        s, "dynamic", numbers, span, own=len(numbers),
        weight=(0.8 if many else 0.6) * badly,
        why=f"{it} marked about {asked} and {stand} behind others",
        cause=f"about {up:.0f} dB over what the mark gives in this rendering",
        remedies=(f"lower {names} in the rendering to {its} mark before changing the score",),
        sentence=(
            f"{opening(bars_named(s.score.bars, *span))}: {names} {verb[0]} about {asked}, "
            f"but {verb[1]} some {up:.0f} dB louder than that mark gives in the rest of this "
            f"rendering. That is the rendering's doing: see {its} level before you change the "
            f"scoring."
        ),
    )  # fmt: skip

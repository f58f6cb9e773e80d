"""How loud things are to the ear beside each other: accompaniment and melody, climax, doubling.

Loudness is partial loudness in sone: what is left of a line in the mix. Twice the sones is
twice as loud (the definition of the sone, ISO 532).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.findings.finding import Cover, Finding
from auditor.findings.ranking import length_factor
from auditor.findings.wording import bars_named, change_of_marks, listed, opening
from auditor.judging.passages import Unit, carrying, line_ratio, units
from auditor.judging.saying import remark
from auditor.judging.scene import UNKNOWN, FloatArray, Scene, middle
from auditor.timbre.dynamics import power_level_db

# One accompanying line this many times as loud as the whole melody outweighs it.
OUTWEIGHS = 2.0
# A melody softer than this to the ear, in sone, is not outweighed but lost (our choice).
THERE_SONE = 0.1
ACCOMPANIMENT: tuple[str, ...] = ("harmony", "figuration", "rhythm")
# Quarters such a passage lasts at least (our choice).
SHORTEST = 8.0
# The loudest place of the page: this much (dB) above the place that sounds louder, which must
# be louder by this factor. Bars over which both are taken.
CLIMAX_DB, LOUDER, CLIMAX_BARS = 3.0, 1.25, 2
# A piece needs so many bars to have a climax.
PIECE = 16
# Remarks of one kind at most.
MOST = 2


def line_sone(s: Scene) -> FloatArray:
    """Mean partial loudness of each line in each bar, sone, (lines, bars).

    0 in rests, NaN where the sound cannot tell.
    """
    out = np.zeros(s.intent.reliance.shape)
    known = np.array([state not in UNKNOWN for state in s.heard.note_state])
    sone = np.where(known, s.heard.notes.partial_sone, np.nan)
    for (row, bar), notes in s.places.items():
        told = notes[np.isfinite(sone[notes])]
        out[row, bar] = np.nan
        if told.size:
            out[row, bar] = float(np.average(sone[told], weights=s.quarters[told]))
    return out


def _outweighed(s: Scene, sone: FloatArray, unit: Unit) -> list[tuple[int, int]]:
    """Bars of a leading unit, each with the row of an accompaniment that outweighs it."""
    rows = [s.row[n] for n in unit.lines]
    out: list[tuple[int, int]] = []
    for bar in unit.bars.tolist():
        own = float(sone[rows, bar].sum())
        others = [
            i
            for i in range(len(s.score.lines))
            if i not in rows
            and s.intent.role[i][bar] in ACCOMPANIMENT
            and np.isfinite(sone[i, bar])
        ]
        if not others or not own > THERE_SONE:
            continue
        loudest = max(others, key=lambda i: sone[i, bar])
        if sone[loudest, bar] >= OUTWEIGHS * own:
            out.append((bar, loudest))
    return out


def _heavy_accompaniment(
    s: Scene, unit: Unit, bars: list[int], row: int, times: float
) -> Finding:
    span = (bars[0], bars[-1])
    lines = carrying(s, unit, *span)
    other = s.score.lines[row]
    names, name = listed(s.names(lines)), other.name
    down = change_of_marks(s.players((other.number,), *span), -1)
    reliance = float(np.mean([s.reliance(lines, b) for b in bars]))
    more = "twice" if times < 2.5 else f"{times:.0f} times"
    return remark(
        s, "accompaniment", (*lines, other.number), span, own=len(lines),
        weight=0.5 * reliance * length_factor(s.length(*span)),
        covers=(Cover(other.number, 1.0),), state="faint",
        why="the melody should stand before what accompanies it",
        cause=f"{name} is about {more} as loud to the ear as {names}",
        remedies=(down, f"let {name} take shorter or fewer notes"),
        sentence=(
            f"{opening(bars_named(s.score.bars, *span))}: {name} accompanies, but is about "
            f"{more} as loud to the ear as the melody in {names}. To begin with, {down}."
        ),
    )  # fmt: skip


def _said_of(unit: Unit, faults: Sequence[Finding]) -> set[int]:
    """Bars in which a unit is said to be covered, faint or missing."""
    return {
        b
        for f in faults
        if f.kind in ("covered", "faint", "silent") and set(f.lines) & set(unit.lines)
        for b in range(f.first_bar, f.last_bar + 1)
    }


def find_heavy_accompaniment(s: Scene, faults: Sequence[Finding] = ()) -> list[Finding]:
    """Find a melody that is there, and an accompanying line far louder to the ear."""
    sone = line_sone(s)
    leading = {x.id for x in s.intent.strands if x.role == "leading"}
    found: list[Finding] = []
    for unit in (u for u in units(s) if u.strand in leading):
        said = _said_of(unit, faults)
        hits = [(b, i) for b, i in _outweighed(s, sone, unit) if b not in said]
        for row in sorted({i for _, i in hits}):
            bars = [b for b, i in hits if i == row]
            for run in np.split(np.array(bars), np.flatnonzero(np.diff(bars) > 1) + 1):
                span = [int(b) for b in run]
                if s.length(span[0], span[-1]) < SHORTEST:
                    continue
                rows = [s.row[n] for n in unit.lines]
                times = float(np.median(sone[row, span] / sone[rows][:, span].sum(axis=0)))
                found.append(_heavy_accompaniment(s, unit, span, row, times))
    return sorted(found, key=lambda f: -f.weight)[:MOST]


def _page_db(s: Scene) -> FloatArray:
    """Power the page asks of all players together in each bar, dB."""
    power = np.zeros(len(s.score.bars))
    for (row, bar), notes in s.places.items():
        line = s.score.lines[row]
        level = max(s.score.notes[int(n)].dynamic for n in notes)
        players = max(s.score.notes[int(n)].players for n in notes)
        kind = line.instrument
        time = min(float(s.quarters[notes].sum()) / s.score.bars[bar].duration, 1.0)
        asked = float(power_level_db(kind.key, kind.family, min(level, 5.0), players))
        power[bar] += time * 10 ** (asked / 10)
    return np.asarray(10 * np.log10(_over_bars(power) + 1e-12))


def _over_bars(values: FloatArray) -> FloatArray:
    """Mean over `CLIMAX_BARS` bars from each on."""
    width = min(CLIMAX_BARS, values.size)
    out: FloatArray = np.convolve(values, np.ones(width) / width, "full")[width - 1 :]
    return out


def find_climax(s: Scene) -> list[Finding]:
    """Find a climax of the page that is not the loudest place to the ear."""
    if len(s.score.bars) < PIECE:
        return []
    page, ear = _page_db(s), _over_bars(np.nan_to_num(s.bar_sone()))
    top, loud = int(np.argmax(page)), int(np.argmax(ear))
    near = np.flatnonzero(page >= page[top] - 1.0)
    best = int(near[np.argmax(ear[near])])
    if page[loud] > page[best] - CLIMAX_DB or ear[loud] < LOUDER * ear[best] or ear[best] <= 0:
        return []
    last = [min(b + CLIMAX_BARS, len(s.score.bars)) - 1 for b in (best, loud)]
    lines = s.foremost(best, last[0])
    here, there = (bars_named(s.score.bars, a, z)
                   for a, z in zip((best, loud), last, strict=True))  # fmt: skip
    come = "comes" if loud == last[1] else "come"
    return [remark(
        s, "climax", lines, (best, last[0]), own=len(lines),
        weight=0.45, why="the page asks most of all players here",
        cause=f"{there} {come} out louder to the ear",
        remedies=(f"hold {there} back", "see whether the rendering reaches its loudest marks"),
        sentence=(
            f"{opening(here)}: the page asks most of everybody here, but {there} {come} "
            f"out louder to the ear. Hold back there, or see whether the rendering makes the "
            f"marks here."
        ),
    )]  # fmt: skip


def _carried(s: Scene, line: int, of: int, first: int, last: int) -> bool:
    """Whether a doubling is clear in these bars while what it doubles is covered."""
    figures = s.heard.notes
    own = [line_ratio(s, line, b, figures.loudness_ratio) for b in range(first, last + 1)]
    other = [line_ratio(s, of, b, figures.distinct_ratio) for b in range(first, last + 1)]
    lost = [line_ratio(s, of, b, figures.loudness_ratio) for b in range(first, last + 1)]
    ones = np.ones(last - first + 1)
    clear = middle(np.array(own), ones) >= s.limits.clear
    gone = middle(np.array(other), ones) < s.limits.covered
    return bool(clear and gone and middle(np.array(lost), ones) < s.limits.clear)


def _leads(s: Scene, number: int, first: int, last: int) -> bool:
    """Whether a line leads in at least half of these bars."""
    roles = s.intent.role[s.row[number]][first : last + 1]
    return 2 * roles.count("leading") >= len(roles)


def find_carrying_doublings(s: Scene) -> list[Finding]:
    """Find lines of the foreground that are heard only through the line that doubles them."""
    found: list[Finding] = []
    for d in s.intent.doublings:
        span = (d.first_bar, d.last_bar)
        same = s.line(d.line).instrument.key == s.line(d.of).instrument.key
        if same or s.length(*span) < SHORTEST or not _leads(s, d.of, *span):
            continue
        if _carried(s, d.line, d.of, *span):
            found.append(_carrying(s, d.line, d.of, span))
    return sorted(found, key=lambda f: -f.weight)[:MOST]


def _carrying(s: Scene, line: int, of: int, span: tuple[int, int]) -> Finding:
    name, doubled = s.line(line).name, s.line(of).name
    tint = s.line(line).instrument.family != s.line(of).instrument.family
    colour = f" and gives its colour instead of tinting that of {doubled}" if tint else ""
    down = change_of_marks(s.players((line,), *span), -1)
    return remark(
        s, "carrying-doubling", (of, line), span,
        weight=0.35 * length_factor(s.length(*span)),
        covers=(Cover(line, 1.0),), state="covered",
        why=f"{doubled} has the line and {name} doubles it",
        cause=f"{name} is what is heard",
        remedies=(down, f"leave it so, if the line is meant for {name}"),
        sentence=(
            f"{opening(bars_named(s.score.bars, *span))}: {name} doubles {doubled}, but "
            f"carries the line{colour}; of {doubled} hardly anything is heard. If that is "
            f"not meant, {down}."
        ),
    )  # fmt: skip

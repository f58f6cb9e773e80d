"""Lines the score relies on that a listener would barely hear, or that were not rendered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.ranking import badness, finding_id, length_factor
from auditor.findings.wording import (
    bars_named,
    covered_sentence,
    faint_sentence,
    silent_sentence,
)
from auditor.intent.declared import DECLARED
from auditor.judging.causes import what_covers
from auditor.judging.passages import BASS_GONE, Unit, bad_runs, carrying, units
from auditor.judging.remedies import remedies
from auditor.judging.saying import trust
from auditor.judging.scene import IntArray, Scene, middle

# Bad places of one line no further apart than this with one cause are one remark; with
# different causes, no further apart than this.
JOIN_BARS, JOIN_ANYHOW = 4, 2
# A loss shorter than this in seconds passes before anybody remarks on it (our choice).
PASSING_S = 2.0
# A bass relied upon from this on is more than a bass: marked solo, or bearing the tune.
MORE_THAN_BASS = 0.55
# Share of what is lost that must lie in bass and tenor for a bass to have gone under.
BASS_REGISTER, MIDDLE_C = 0.3, 60
# A line that is missing is worth saying however little is relied on it.
MISSING = 0.5


def why_relied(s: Scene, lines: tuple[int, ...], first: int, last: int) -> str:
    """Say why the score relies on these lines in these bars."""
    for (number, a, b), words in s.intent.reasons:
        if number == lines[0] and a <= last and b >= first:
            return words
    roles = {s.intent.role[s.row[n]][bar] for n in lines for bar in range(first, last + 1)}
    if "bass" in roles:
        return "it is the bass of the texture"
    if s.marked_solo(lines, first, last):
        return "it is marked solo"
    marked = {t for n in s.notes(lines, first, last) for t in s.score.notes[n].techniques}
    if "espressivo" in marked:
        return "it is marked to be brought out"
    return "few others play here"


def _finding(s: Scene, unit: Unit, run: IntArray) -> Finding:
    first, last = int(unit.bars[run[0]]), int(unit.bars[run[-1]])
    lines = carrying(s, unit, first, last)
    notes = s.notes(lines, first, last)
    length = np.array([s.score.bars[b].duration for b in unit.bars[run]])
    ratio = middle(unit.ratio[run], length)
    reliance = float(np.average(unit.reliance[run], weights=length))
    kind = "covered" if ratio < s.limits.covered else "faint"
    cover = what_covers(s, lines, first, last, notes)
    ideas = remedies(s, lines, cover, (first, last), notes)
    start, end = s.seconds(first, last, notes)
    say = covered_sentence if kind == "covered" else faint_sentence
    names = [s.line(c.line).name for c in cover.covers]
    return Finding(
        id=finding_id(kind, s.parts(lines), (first, last)),
        kind=kind,
        weight=reliance * badness(ratio, s.limits) * length_factor(float(length.sum())),
        lines=lines,
        parts=s.parts(lines),
        strand=unit.strand,
        first_bar=first,
        last_bar=last,
        start_s=start,
        end_s=end,
        state=kind,
        distinct_ratio=ratio,
        margin_db=middle(s.heard.notes.margin_db[notes], s.quarters[notes]),
        covers=cover.covers,
        register_share=cover.registers,
        reliance=reliance,
        why=why_relied(s, lines, first, last),
        cause=cover.cause,
        remedies=ideas,
        confidence=trust(s, notes, first, last),
        sentence=say(
            bars_named(s.score.bars, first, last),
            s.names(lines),
            names,
            cover.cause,
            f"to begin with, {ideas[0]}" if ideas else "",
        ),
    )


def _same_cause(a: Finding, b: Finding) -> bool:
    """Whether two remarks are about one line and one coverer, or much the same lines."""
    coverer = [f.covers[0].line if f.covers else 0 for f in (a, b)]
    shared = len(set(a.lines) & set(b.lines)) / len(set(a.lines) | set(b.lines))
    return coverer[0] == coverer[1] and (a.lines[0] == b.lines[0] or shared >= 0.5)


def merged(s: Scene, unit_of: Sequence[tuple[Unit, IntArray]]) -> list[Finding]:
    """One finding for each place: what lies close with one cause is one remark."""
    todo = sorted(
        ((_finding(s, u, run), u, run) for u, run in unit_of),
        key=lambda x: (x[0].first_bar, x[0].lines),
    )
    out: list[tuple[Finding, Unit, IntArray]] = []
    for finding, unit, run in todo:
        at = next(
            (
                k
                for k in range(len(out) - 1, -1, -1)
                if (_same_cause(out[k][0], finding) or _goes_on(out[k][0], finding))
                and finding.first_bar - out[k][0].last_bar <= JOIN_BARS
                and _dense(out[k], (finding, unit, run))
            ),
            None,
        )
        if at is None:
            out.append((finding, unit, run))
            continue
        joint, places = _joint(out[at][1], out[at][2], unit, run)
        out[at] = (_finding(s, joint, places), joint, places)
    return [f for f, _, _ in out]


def _goes_on(a: Finding, b: Finding) -> bool:
    """Whether one line is lost almost straight on, though the main coverer changes."""
    return a.lines[0] == b.lines[0] and b.first_bar <= a.last_bar + JOIN_ANYHOW


def _passes(s: Scene, f: Finding) -> bool:
    """Whether a loss is over before it is missed, and no brief asks for the line."""
    return f.end_s - f.start_s < PASSING_S and not f.why.startswith(DECLARED)


def _dense(*places: tuple[Finding, Unit, IntArray]) -> bool:
    """Whether at least half of the bars from first to last are bad ones."""
    bad = {int(b) for _, unit, run in places for b in unit.bars[run]}
    return len(bad) >= 0.5 * (max(bad) - min(bad) + 1)


def _joint(a: Unit, run_a: IntArray, b: Unit, run_b: IntArray) -> tuple[Unit, IntArray]:
    """Two bad runs as one unit; where they overlap the worse bar counts."""
    bars = np.concatenate([a.bars[run_a], b.bars[run_b]])
    ratio = np.concatenate([a.ratio[run_a], b.ratio[run_b]])
    reliance = np.concatenate([a.reliance[run_a], b.reliance[run_b]])
    order = np.lexsort((ratio, bars))
    first = np.unique(bars[order], return_index=True)[1]
    keep = order[first]
    lines = tuple(dict.fromkeys(a.lines + b.lines))
    notes = np.union1d(a.notes, b.notes)
    unit = Unit(a.strand or b.strand, lines, notes, bars[keep], ratio[keep], reliance[keep])
    return unit, np.arange(keep.size)


def find_covered(s: Scene) -> list[Finding]:
    """Every passage the score relies on that is covered or faint."""
    runs = [(u, run) for u in units(s) for run in bad_runs(u, s.limits.clear)]
    runs = [(u, r) for u, r in runs if not _missing_there(s, u, r)]
    roles = {strand.id: strand.role for strand in s.intent.strands}
    found = [f for f in merged(s, runs) if not _passes(s, f)]
    return [f for f in found if not _is_bass(s, f, roles) or _bass_goes_under(s, f)]


def _is_bass(s: Scene, f: Finding, roles: dict[str, str]) -> bool:
    """Whether a finding is about a line that is nothing but the bass there."""
    role = s.intent.role[s.row[f.lines[0]]]
    alone = [role[bar] for bar in range(f.first_bar, f.last_bar + 1) if role[bar]]
    bass = roles[f.strand] == "bass" if f.strand else alone.count("bass") * 2 > len(alone)
    return bass and f.reliance < MORE_THAN_BASS


def _bass_goes_under(s: Scene, f: Finding) -> bool:
    """Whether a bass is gone for long in its own register, under another low line.

    A bass lost only in its upper partials still carries the harmony.
    """
    low = sum(f.register_share[:2])
    under = [c for c in f.covers if _is_low(s, c.line, f.first_bar, f.last_bar)]
    long = s.length(f.first_bar, f.last_bar) >= BASS_GONE
    return f.kind == "covered" and long and low >= BASS_REGISTER and bool(under)


def _is_low(s: Scene, number: int, first: int, last: int) -> bool:
    pitches = s.windows.pitch[s.notes((number,), first, last)]
    pitches = pitches[pitches > 0]
    return bool(pitches.size) and float(pitches.mean()) < MIDDLE_C


def _missing_there(s: Scene, unit: Unit, run: IntArray) -> bool:
    """Whether nothing of the unit was rendered there: that is another finding."""
    notes = s.notes(unit.lines, int(unit.bars[run[0]]), int(unit.bars[run[-1]]))
    if not notes.size or not all(s.heard.note_state[n] == "silent" for n in notes):
        return False
    return all(_can_be_missed(s, number) for number in unit.lines)


def _can_be_missed(s: Scene, number: int) -> bool:
    """Whether silence of a line can be told from being covered.

    Stems tell it bar by bar; in a mix a line that sounds elsewhere may only be buried.
    """
    notes = s.notes((number,), 0, len(s.score.bars) - 1)
    exact = bool(np.all(np.nan_to_num(s.heard.notes.ownership[notes], nan=1.0) >= 1.0))
    return exact or all(s.heard.note_state[n] in ("silent", "not judged") for n in notes)


def _silent_runs(s: Scene, number: int) -> list[tuple[int, int]]:
    """Find runs of bars in which every note of a line is silent; rests do not end a run."""
    runs: list[tuple[int, int]] = []
    open_ = False
    for bar in range(len(s.score.bars)):
        notes = s.notes((number,), bar, bar)
        if not notes.size:
            continue
        silent = all(s.heard.note_state[n] == "silent" for n in notes)
        if silent and open_:
            runs[-1] = (runs[-1][0], bar)
        elif silent:
            runs.append((bar, bar))
        open_ = silent
    return runs


def find_silent(s: Scene) -> list[Finding]:
    """Every line that has notes but no sound, four notes or two bars at least."""
    found: list[Finding] = []
    for line in s.score.lines:
        if not _can_be_missed(s, line.number):
            continue
        for first, last in _silent_runs(s, line.number):
            notes = s.notes((line.number,), first, last)
            if notes.size < 4 and last - first < 1:
                continue
            found.append(_silent(s, line.number, first, last, notes))
    return found


def _silent(s: Scene, number: int, first: int, last: int, notes: IntArray) -> Finding:
    start, end = s.seconds(first, last, notes)
    relied = float(s.intent.reliance[s.row[number], first : last + 1].max())
    name = s.line(number).name
    words = bars_named(s.score.bars, first, last)
    return Finding(
        id=finding_id("silent", s.parts((number,)), (first, last)),
        kind="silent",
        weight=(MISSING + (1 - MISSING) * relied) * length_factor(s.length(first, last)),
        lines=(number,),
        parts=s.parts((number,)),
        strand="",
        first_bar=first,
        last_bar=last,
        start_s=start,
        end_s=end,
        state="silent",
        distinct_ratio=0.0,
        margin_db=middle(s.heard.notes.margin_db[notes], s.quarters[notes]),
        covers=(),
        register_share=(0.0,) * 5,
        reliance=relied,
        why=why_relied(s, (number,), first, last),
        cause="nothing of it is in the sound",
        remedies=(f"see whether the track of {name} is muted or unrouted",),
        confidence=trust(s, notes, first, last),
        sentence=silent_sentence(words, name),
    )

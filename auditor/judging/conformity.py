"""Faults of the rendering told from the sound, apart from faults of the scoring.

A line or a passage missing, moved or played the other way; notes that come early or late or
are cut short; and sound that no written line explains.

Nothing here is a remark on the scoring; what a covered line does cannot be told, and is
said to be unverified (`unverified_sentence`), never missing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import bars_named, listed
from auditor.hearing.measures import REGISTER_EDGES_HZ, REGISTERS
from auditor.intent.signs import stressed
from auditor.judging.saying import remark
from auditor.judging.scene import IntArray, Scene
from auditor.score.notes import Score
from auditor.sound.spectrum import POOL_HZ
from auditor.spectra.suspicions import FAULTS, Suspicion, Suspicions
from auditor.spectra.unwritten import CLEARLY

KINDS: tuple[str, ...] = ("transposed", "technique", "silent", "entry", "short", "unwritten")
# How much each weighs: a wrong pitch misleads every other remark (our choice).
_WEIGHT = {
    "transposed": 0.85, "technique": 0.55, "silent": 0.75, "unwritten": 0.5, "entry": 0.5,
    "short": 0.4,
}  # fmt: skip
# A bar holds foreign sound if so much of its time does; such bars may lie so far apart.
_SHARE, _APART = 0.1, 2
_INTERVALS = {
    2: "a tone", 3: "a minor third", 5: "a fourth", 7: "a fifth", 9: "a major sixth",
    12: "an octave", 14: "a ninth",
}  # fmt: skip
# Remarks about unverified lines name this many.
_NAMED = 4


def played_rows(s: Scene) -> IntArray:
    """Positions in ``score.notes`` of the notes that were played."""
    known = np.isfinite(s.windows.onset_s) & np.isfinite(s.windows.offset_s)
    return np.flatnonzero(known)


def _span(s: Scene, found: Suspicion, played: IntArray) -> tuple[int, int]:
    bars = [s.score.notes[int(n)].bar for n in played[found.notes]]
    return min(bars), max(bars)


def _where(s: Scene, span: tuple[int, int]) -> str:
    words = bars_named(s.score.bars, *span)
    return words[:1].upper() + words[1:]


def _place(s: Scene, span: tuple[int, int]) -> float:
    """How surely these bars are placed, 0 to 1."""
    bars = [b.confidence for b in s.timeline.bars if span[0] <= b.bar <= span[1]]
    return float(np.clip(np.nan_to_num(np.mean(bars)), 0.0, 1.0)) if bars else 1.0


def _words(s: Scene, found: Suspicion, name: str) -> tuple[str, str, str, str]:
    """Kind, cause, remedy and what is said of the line."""
    if found.answer == "transposed":
        way = "higher" if found.interval > 0 else "lower"
        apart = f"{_INTERVALS[abs(found.interval)]} {way} than written"
        remedy = "check the patch's key or octave switch"
        if abs(found.interval) != 12:
            remedy = "see whether its transposition was left out or applied twice"
        return "transposed", f"it sounds {apart}", remedy, f"{name} seems to sound {apart}"
    if found.answer == "otherwise":
        now, asked = ("bowed", "pizz.") if _plucked(s, found) else ("plucked", "arco")
        said = f"{name} seems to be {now} where {asked} is written"
        remedy = "check the patch's articulation or key switch"
        return "technique", f"it is {now} where {asked} is written", remedy, said
    if found.answer in ("early", "late"):
        apart = f"about {abs(found.seconds):.1f} s {found.answer}"
        remedy = "check its track delay, the attack of the patch and where its notes lie"
        return "entry", f"it sounds {apart}", remedy, f"{name} seems to come in {apart}"
    if found.answer == "short":
        part = _share(found.kept)
        said = f"held notes of {name} seem to stop after about {part} of their length"
        remedy = "check note lengths, and whether the patch dies away"
        return "short", "its notes end well before the page ends them", remedy, said
    said = f"{name} has notes on the page, but where they should stand out the mix shows none"
    remedy = f"see whether the track of {name} is muted, unrouted or turned far down"
    return "silent", "nothing of it is found in the sound", remedy, said


def _share(kept: float) -> str:
    return "a third" if kept < 0.42 else "half" if kept < 0.58 else "two thirds"


def _plucked(s: Scene, found: Suspicion) -> bool:
    notes = played_rows(s)[found.notes]
    pizz = ["pizz" in s.score.notes[int(n)].techniques for n in notes]
    return 2 * sum(pizz) > len(pizz)


def _fault(s: Scene, found: Suspicion, played: IntArray) -> Finding:
    line = s.score.lines[found.line]
    span = _span(s, found, played)
    kind, cause, remedy, said = _words(s, found, line.name)
    made = remark(
        s, kind, (line.number,), span,
        weight=_WEIGHT[kind], state="silent" if kind == "silent" else "",
        why="a fault of the rendering, not of the scoring",
        cause=cause, remedies=(remedy,),
        sentence=f"{_where(s, span)}: {said}; {remedy}.",
    )  # fmt: skip
    return replace(made, confidence=found.chance * _place(s, span))


def foreign_bars(s: Scene, found: Suspicions) -> tuple[int, int] | None:
    """First and last bar of the longest stretch that holds sound nobody wrote."""
    rest = found.unwritten
    long = np.maximum(rest.end_s - rest.start_s, 0.0) * (rest.rise > CLEARLY)
    bars: list[int] = []
    for time in s.timeline.bars:
        if not (np.isfinite(time.start_s) and time.end_s > time.start_s):
            continue
        inside = (rest.start_s < time.end_s) & (rest.end_s > time.start_s)
        if long[inside].sum() >= _SHARE * (time.end_s - time.start_s):
            bars.append(time.bar)
    if not bars:
        return None
    kept = np.unique(bars)
    runs = np.split(kept, np.flatnonzero(np.diff(kept) > _APART) + 1)
    best = max(runs, key=len)
    return int(best[0]), int(best[-1])


def _register(found: Suspicions) -> str:
    """Register band that most of the foreign sound's power lies in."""
    power = found.unwritten.power
    band = np.searchsorted(np.array(REGISTER_EDGES_HZ), POOL_HZ[: power.size], side="right")
    return REGISTERS[int(np.argmax(np.bincount(band, power, minlength=len(REGISTERS))))]


def _foreign(s: Scene, found: Suspicions) -> list[Finding]:
    span = foreign_bars(s, found) if found.foreign else None
    if span is None or not s.sounding(*span):
        return []
    lines = s.foremost(*span)
    beyond = found.unwritten.beyond_stems
    what = "is in no stem" if beyond else "no written line explains"
    made = remark(
        s, "unwritten", lines, span, own=len(lines), weight=_WEIGHT["unwritten"],
        why="a fault of the rendering, not of the scoring",
        cause="it is in the mix alone" if beyond else "notes sound that stand in no part",
        remedies=("see whether a layer, an added patch or a forgotten track is playing",),
        sentence=(
            f"{_where(s, span)}: something sounds that {what}, mostly in the "
            f"{_register(found)} register. See whether a layer, an added patch or a "
            f"forgotten track is playing."
        ),
    )  # fmt: skip
    return [replace(made, confidence=found.unwritten_chance * _place(s, span))]


def find_rendering_faults(
    s: Scene, found: Suspicions | None, said: Sequence[Finding] = ()
) -> list[Finding]:
    """Find what the rendering does other than the page says.

    Parameters
    ----------
    s
        The case.
    found
        What the mix says of each line; None where it was not asked (stems, forecast).
    said
        Findings already made; a line said to be silent is not said to be so again.
    """
    if found is None:
        return []
    silent = {f.lines[0] for f in said if f.kind == "silent"}
    played = played_rows(s)
    faulty = [f for f in found.lines if f.answer in FAULTS] + list(found.passages)
    out = [
        _fault(s, f, played)
        for f in faulty
        if not (f.answer == "missing" and s.score.lines[f.line].number in silent)
        and not _meant(s, f, played)
    ]
    return out + _foreign(s, found)


def _meant(s: Scene, found: Suspicion, played: IntArray) -> bool:
    """Whether the page or the instrument asks for what looks like a fault of time."""
    if found.answer in ("early", "late"):
        # A roll is strokes, each of which dies away: where it begins is not told by its level.
        return s.score.lines[found.line].instrument.kind != "sustained"
    if found.answer != "short":
        return False
    # What is marked sf or fp falls off after its attack.
    marked = stressed(s.score)[played[found.notes]]
    return 2 * int(marked.sum()) >= marked.size


def tainted(finding: Finding, faults: Sequence[Finding]) -> bool:
    """Whether a remark on hearing is only about lines not rendered as written in its bars."""
    wrong = {
        n
        for f in faults
        if f.kind in ("transposed", "silent") and _mostly_inside(finding, f)
        for n in f.lines
    }
    return finding.kind in ("covered", "faint") and set(finding.lines) <= wrong


def among_strangers(
    finding: Finding, faults: Sequence[Finding], found: Suspicions | None
) -> bool:
    """Whether a remark lies where a mix holds sound nobody wrote: it swells lines beside it."""
    if found is None or found.unwritten.beyond_stems:
        return False
    return any(f.kind == "unwritten" and _mostly_inside(finding, f) for f in faults)


def _mostly_inside(finding: Finding, fault: Finding) -> bool:
    shared = min(finding.last_bar, fault.last_bar) - max(finding.first_bar, fault.first_bar) + 1
    return 2 * shared > finding.last_bar - finding.first_bar + 1


def unverified_sentence(score: Score, found: Suspicions | None) -> str:
    """Name the lines of which the mix shows too little to check them; empty if none."""
    if found is None:
        return ""
    names = [score.lines[f.line].name for f in found.lines if f.answer == "unverified"]
    if not names:
        return ""
    they = "it is" if len(names) == 1 else "they are"
    return (
        f"Too little of {listed(names, _NAMED)} shows in this mix to verify that {they} "
        f"rendered as written; that is no sign of a fault."
    )

"""How heavy a finding is, in what order findings stand, and how many are worth saying."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from auditor.findings.finding import Finding
from auditor.findings.wording import bars_named, listed
from auditor.hearing.measures import Limits
from auditor.score.notes import Bar

# Findings from this weight on are the ones a teacher would stop the reading for.
HEAVY = 0.6
# A teacher who stops more often than this is not listened to (our choice).
HEAVY_PER_100_BARS, ALL_PER_100_BARS = 6.0, 8.0
# However short the piece, this many may be said.
AT_LEAST = 4
# Lighter remarks are not worth the reader's time (our choice).
LIGHTEST = 0.15
# So many remarks may lie on the same bars.
CROWD = 2
# Kinds a real tutti is full of; all others are few by nature or limited where they are found.
CAPPED = ("covered", "faint")
# Quarters from which on a passage counts in full, and what the shortest counts.
FULL_LENGTH, SHORTEST = 16.0, 0.4


def finding_id(kind: str, parts: Sequence[int], bars: tuple[int, int]) -> str:
    """Stable name of a finding: ``f`` and eight hexadecimal digits of kind, parts and bars.

    The letter keeps spreadsheets from reading it as a number.
    """
    text = f"{kind}|{','.join(map(str, sorted(parts)))}|{bars[0]}-{bars[1]}"
    return "f" + hashlib.sha256(text.encode()).hexdigest()[:8]


def badness(ratio: float, limits: Limits) -> float:
    """How badly a line fares, 0 (clear) to 1 (gone); 0.6 at the limit of covered."""
    if ratio >= limits.clear:
        return 0.0
    if ratio >= limits.covered:
        return 0.6 * (limits.clear - ratio) / (limits.clear - limits.covered)
    return 1.0 - 0.4 * max(ratio, 0.0) / limits.covered


def length_factor(quarters: float) -> float:
    """Return what a passage's length makes of its weight: 1 from four common bars on."""
    return float(np.clip(np.sqrt(quarters / FULL_LENGTH), SHORTEST, 1.0))


def _thinned(faults: Sequence[Finding]) -> list[Finding]:
    """Leave out lighter remarks where `CROWD` heavier ones lie on half of their bars."""
    kept: list[Finding] = []
    for f in faults:
        bars = f.last_bar - f.first_bar + 1
        crowd = sum(
            2 * (min(f.last_bar, k.last_bar) - max(f.first_bar, k.first_bar) + 1) >= bars
            for k in kept
        )
        if crowd < CROWD:
            kept.append(f)
    return kept


def folded(findings: Iterable[Finding], bars: Sequence[Bar]) -> list[Finding]:
    """Say once what could be said of several places: one kind, one line, one coverer.

    Parameters
    ----------
    findings
        In any order.
    bars
        Of the played axis.

    Returns
    -------
    list of Finding
        Heaviest first; the heaviest of each names the other places that are worth a word.
    """
    groups: dict[tuple[str, tuple[int, ...], int, bool], list[Finding]] = {}
    for f in sorted(findings, key=lambda f: (-f.weight, f.first_bar, f.id)):
        coverer = f.covers[0].line if f.covers else 0
        groups.setdefault((f.kind, f.lines[:1], coverer, _over(f)), []).append(f)
    out = []
    for first, *others in groups.values():
        places = tuple((f.first_bar, f.last_bar) for f in others if f.weight >= LIGHTEST)
        named = [bars_named(bars, a, z) for a, z in places]
        again = f" So too in {listed(named)}." if named else ""
        out.append(replace(first, sentence=first.sentence + again, also=places))
    return sorted(out, key=lambda f: (-f.weight, f.first_bar, f.id))


def _over(f: Finding) -> bool:
    """Whether a line is over its mark: that and under it are not the same remark."""
    return f.kind == "dynamic" and "over" in f.cause.split()


def rank(findings: Iterable[Finding], bars: int) -> tuple[Finding, ...]:
    """Put what needs work first, heaviest first, then what works; drop what is too much.

    Parameters
    ----------
    findings
        In any order.
    bars
        Bars of the piece as played, for how many remarks it can bear.
    """
    everything = sorted(findings, key=lambda f: (-f.weight, f.first_bar, f.lines))
    faults = [f for f in everything if f.kind != "works" and f.weight >= LIGHTEST]
    praise = [f for f in everything if f.kind == "works"]
    always = [f for f in faults if f.kind not in CAPPED]
    faults = _thinned([f for f in faults if f.kind in CAPPED])
    heavy = max(AT_LEAST, round(HEAVY_PER_100_BARS * bars / 100))
    most = max(2 * AT_LEAST, round(ALL_PER_100_BARS * bars / 100))
    first = [f for f in faults if f.weight >= HEAVY][:heavy]
    rest = [f for f in faults if f.weight < HEAVY]
    kept = (first + rest)[:most]
    kept = sorted(kept + always, key=lambda f: (-f.weight, f.first_bar, f.lines))
    return tuple(kept + praise)

"""Remedies heard again: what a teacher would propose, tried on the line spectra themselves.

Each change is made to the spectra of the passage's own bars and heard through the same
model. What brings the line out with the smallest change is said first; what it would come
to is a prediction about this rendering or forecast, never a promise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import ndtr

from auditor.findings.finding import Finding, Tried
from auditor.hearing.measures import Limits
from auditor.judging.doublings_tried import adds_nothing, earned
from auditor.judging.proposals import Idea, ideas
from auditor.judging.remedies import MOST
from auditor.judging.scene import Scene
from auditor.judging.trial import Ground, Hearing, cut, hear
from auditor.spectra.line_spectra import LineSpectra

# Findings that are tried at most, heaviest first: each costs about a dozen hearings.
TRIED_MOST = 12
KINDS: tuple[str, ...] = ("covered", "faint")
# What a change must bring to be worth a word, dB of margin (our choice; about the least
# difference in level between two tones that is noticed without attention).
LEAST_GAIN_DB = 1.0
# Standard deviation of a predicted ratio's common logarithm: marks and rests where line
# levels are measured (0.16 and 0.22 on made cases, tests/bench/remedy_bench.py), and more
# where templates must stand in; how loud another player's patch is nothing here can tell.
_SD = {"stems": 0.15, "mix": 0.25, "forecast": 0.35}
_NEW_SD = {"octave": 0.3, "doubling": 0.5, "player": 0.5}
_NOTHING = 1e-4
# A list of one idea at several sizes helps nobody.
_OF_A_KIND = 2


def heard_again(
    s: Scene, spectra: LineSpectra, findings: Sequence[Finding]
) -> tuple[Finding, ...]:
    """Findings whose remedies were tried, where any change helps; the rest as they are.

    Parameters
    ----------
    s
        The case as it was judged.
    spectra
        Power per line, frame and band that `s` was heard from.
    findings
        As judged.
    """
    chosen = sorted(
        (f for f in findings if f.kind in KINDS), key=lambda f: (-f.weight, f.first_bar)
    )[:TRIED_MOST]
    better = {f.id: _with_trials(s, spectra, f) for f in chosen}
    told = [better.get(f.id, f) for f in findings]
    told = [earned(s, spectra, f) if f and f.kind == "works" else f for f in told]
    return tuple(
        f
        for f in told
        if f and not (f.kind == "idle-doubling" and not adds_nothing(s, spectra, f))
    )


def _with_trials(s: Scene, spectra: LineSpectra, finding: Finding) -> Finding | None:
    """Put what helped in place of what was guessed; None where the passage is clear as a whole.

    Bar by bar each of its lines may be lost while all together, heard as one, are not.
    """
    ground = cut(s, spectra, finding)
    before = None if ground is None else hear(ground)
    if ground is None or before is None or not np.isfinite(before.ratio):
        return finding
    if before.ratio >= s.limits.clear:
        return None
    tried = _trials(s, spectra, finding, ground, before)
    place = "forecast" if spectra.source == "forecast" else "rendering"
    said = tuple(f"{t.words}: {outlook(t, s.limits, place)}" for t in tried)
    old = f"To begin with, {finding.remedies[0]}." if finding.remedies else ""
    sentence = finding.sentence
    if old:
        sentence = sentence.replace(old, advice(tried, s.limits, place))
    return replace(finding, remedies=said, sentence=sentence, tried=tried)


def advice(tried: Sequence[Tried], limits: Limits, place: str) -> str:
    """Say what to begin with, or plainly that no single change brings the passage out."""
    if tried and _class(tried[0].ratio_after, limits) > _class(tried[0].ratio_before, limits):
        return f"To begin with, {tried[0].words}: {outlook(tried[0], limits, place)}."
    if not tried:
        return "Nothing that was tried helps here: it needs other scoring, or fewer lines."
    return (
        f"No single change that was tried brings it out; most is gained if you "
        f"{tried[0].words} (about {tried[0].margin_gain_db:.0f} dB by this {place}). It needs "
        f"other scoring, or fewer lines around it."
    )


def trials(s: Scene, spectra: LineSpectra, finding: Finding) -> tuple[Tried, ...]:
    """Changes for one finding that help, the smallest that brings the line out first."""
    ground = cut(s, spectra, finding)
    if ground is None:
        return ()
    before = hear(ground)
    if not np.isfinite(before.ratio) or before.ratio >= s.limits.clear:
        return ()
    return _trials(s, spectra, finding, ground, before)


def _trials(
    s: Scene, spectra: LineSpectra, finding: Finding, ground: Ground, before: Hearing
) -> tuple[Tried, ...]:
    simple: list[Tried] = []
    compound: list[Tried] = []
    for idea in ideas(ground, finding):
        t = _tried(idea, before, hear(ground, idea.change), s.limits, spectra.source, s)
        if t.margin_gain_db >= LEAST_GAIN_DB and t.ratio_after > before.ratio:
            (compound if idea.compound else simple).append(t)
    base = _class(before.ratio, s.limits)
    # Two things at once are asked for only where they bring it out and no one thing does.
    enough = [t for t in simple if _class(t.ratio_after, s.limits) > base]
    if not any(t.state == "clear" for t in simple):
        out = [t for t in compound if t.state == "clear"]
        enough += sorted(out, key=lambda t: t.cost)[:1]
    if not enough:
        return tuple(sorted(simple, key=lambda t: -t.margin_gain_db)[:_OF_A_KIND])
    order = sorted(enough, key=lambda t: (t.state != "clear", t.cost))
    kept: list[Tried] = []
    for t in order:
        if sum(k.kind == t.kind for k in kept) < _OF_A_KIND:
            kept.append(t)
    return tuple(kept[:MOST])


def _class(ratio: float, limits: Limits) -> int:
    return int(ratio >= limits.covered) + int(ratio >= limits.clear)


def _tried(
    idea: Idea, before: Hearing, after: Hearing, limits: Limits, source: str, s: Scene
) -> Tried:
    state = ("covered", "faint", "clear")[_class(after.ratio, limits)]
    sd = _SD.get(source, _SD["mix"])
    sd = float(np.hypot(sd, _NEW_SD.get(idea.kind, 0.0)))
    limit = {"covered": 0.0, "faint": limits.covered, "clear": limits.clear}[state]
    chance = (
        float(ndtr((np.log10(max(after.ratio, 0.0) + _NOTHING) - np.log10(limit)) / sd))
        if limit > 0
        else 1.0
    )
    gain = after.margin_db - before.margin_db
    return Tried(
        words=idea.words,
        kind=idea.kind,
        lines=tuple(s.score.lines[r].number for r in idea.rows),
        cost=idea.cost,
        ratio_before=before.ratio,
        ratio_after=after.ratio,
        margin_gain_db=float(gain) if np.isfinite(gain) else 0.0,
        state=state,
        chance=round(chance, 3),
    )


def outlook(t: Tried, limits: Limits, place: str) -> str:
    """What a change would come to, in words that promise nothing.

    Parameters
    ----------
    t
        A change that was heard.
    limits
        Where the states part.
    place
        ``rendering`` or ``forecast``.
    """
    sure = "very likely" if t.chance >= 0.85 else "probably" if t.chance >= 0.6 else "perhaps"
    gain = f"about {t.margin_gain_db:.0f} dB"
    if t.state == "clear":
        return f"by this {place} it would {sure} come out ({gain} gained)"
    if t.state == "faint" and t.ratio_before < limits.covered:
        return f"by this {place} it would {sure} be heard, but faintly ({gain} gained)"
    return f"by this {place} that gains {gain}, not enough by itself"

"""What the music leans on: the role of each line in each bar, and how much it matters.

Who leads is a fitted model's opinion (see `leading`); the other roles are rules.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.intent.brief import Brief
from auditor.intent.chairs import chairs
from auditor.intent.declared import certain, declared_reasons, overrule
from auditor.intent.doublings import find_doublings
from auditor.intent.features import FIGURES, features
from auditor.intent.leading import who_leads
from auditor.intent.parallels import find_parallels, shadows
from auditor.intent.reasons import lead_reasons
from auditor.intent.roles import Intent
from auditor.intent.signs import solos
from auditor.intent.strands import carriers, components, find_strands, joined
from auditor.intent.texture import Texture, lay_out, per_bar
from auditor.score.notes import Score

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

# A second strand with this share of the lead answers it: our choice, half of an even race.
ANSWER = 0.22
# Moves in a quarter from which on a line moves at all.
MOVING = 0.25
# What each role is worth when it does not lead, 0 to 1. Our choice: an accompaniment is
# missed less than a bass, and a bass less than a melody.
WORTH = {"bass": 0.40, "harmony": 0.20, "figuration": 0.25, "rhythm": 0.15}
# A line that doubles the strand's main carrier is missed a little less than the carrier, and
# the less the more of them there are: one of eight is missed by nobody.
DOUBLER = 0.85
# A line marked solo, and a line among at most two that sound, matter whatever they do.
SOLO, EXPOSED, FEW = 0.85, 0.45, 2
# A line that moves in thirds or sixths with the leading one: less than what leads, more than
# what accompanies (our choice).
SHADOW = 0.34
# A line marked to be brought out (espressivo, hervortretend, en dehors ...) while at most
# half of the others are. Our choice: between an accompaniment and a solo.
BROUGHT_OUT = 0.60


def brought_out(score: Score, on: BoolArray) -> BoolArray:
    """Where a line is marked to be brought out and most others are not, (lines, bars)."""
    row = {line.number: i for i, line in enumerate(score.lines)}
    marked = np.zeros(on.shape, bool)
    for note in score.notes:
        if "espressivo" in note.techniques:
            marked[row[note.line], note.bar] = True
    marked &= on
    few: BoolArray = marked & (2 * marked.sum(axis=0) <= on.sum(axis=0))
    return few


def _leaders(strand: FloatArray, share: FloatArray, label: NDArray[np.int64]) -> BoolArray:
    """Lines of the strand with the largest share of the lead in each bar."""
    best = np.argmax(strand + 1e-6 * share, axis=0)
    bars = np.arange(label.shape[1])
    leads: BoolArray = (label == label[best, bars]) & (share > 0)
    return leads


def _other_role(figures: dict[str, float], unpitched: bool, bass: bool) -> str:
    if unpitched:
        return "rhythm"
    if bass:
        return "bass"
    busy = figures["notes-per-quarter"]
    if busy >= 1.0 and figures["repeated"] >= 0.75:
        return "rhythm"
    if busy >= 1.5 and figures["moves-per-quarter"] >= 0.6 * busy:
        return "figuration"
    return "harmony"


def _basses(table: FloatArray, on: BoolArray, label: NDArray[np.int64]) -> BoolArray:
    """Find the lowest line of each bar, and the lines that carry its notes."""
    lowest = np.where(on, table[:, :, FIGURES.index("lowest")], 0.0)
    root = np.argmax(lowest, axis=0)
    bars = np.arange(on.shape[1])
    found: BoolArray = (label == label[root, bars]) & on & (lowest[root, bars] >= 0.5)
    # One line alone has no bass.
    found &= on.sum(axis=0) > 1
    return found


def _supporting(
    score: Score, table: FloatArray, on: BoolArray, bass: BoolArray
) -> list[list[str]]:
    """Role of each line in each bar as if it did not lead; empty in rests."""
    names = ("notes-per-quarter", "moves-per-quarter", "repeated")
    at = {name: FIGURES.index(name) for name in names}
    out: list[list[str]] = []
    for i, line in enumerate(score.lines):
        drum = not line.instrument.pitched or line.instrument.key == "timpani"
        row: list[str] = []
        for b in range(on.shape[1]):
            figures = {name: float(table[i, b, k]) for name, k in at.items()}
            row.append(_other_role(figures, drum, bool(bass[i, b])) if on[i, b] else "")
        out.append(row)
    return out


def _roles(
    supporting: list[list[str]], leads: BoolArray, answers: BoolArray
) -> list[list[str]]:
    out: list[list[str]] = []
    for i, own in enumerate(supporting):
        row: list[str] = []
        for b, name in enumerate(own):
            foreground = "leading" if leads[i, b] else "answer" if answers[i, b] else ""
            row.append(foreground if name and foreground else name)
        out.append(_with_phrase_ends(row))
    return out


def _with_phrase_ends(row: list[str]) -> list[str]:
    """Let a line that led answer through the bar in which its phrase ends in a rest."""
    out = list(row)
    for b in range(1, len(row)):
        ends = b + 1 == len(row) or row[b + 1] == ""
        if ends and row[b] == "harmony" and row[b - 1] in ("leading", "answer"):
            out[b] = "answer"
    return out


def _reliance(
    role: list[list[str]],
    solo: BoolArray,
    on: BoolArray,
    share: FloatArray,
    strand: FloatArray,
    label: NDArray[np.int64],
    brought: BoolArray,
) -> FloatArray:
    names = np.array(role, dtype=object).reshape(on.shape)
    out = np.zeros(on.shape)
    for what, worth in WORTH.items():
        out[names == what] = worth
    out = np.where(names == "leading", 0.5 + 0.5 * strand, out)
    out = np.where(names == "answer", 0.3 + 0.5 * strand, out)
    carrier, helpers = np.zeros(on.shape, bool), np.zeros(on.shape)
    for i in range(on.shape[0]):
        same = (label == label[i]) & on
        carrier[i] = share[i] >= np.where(same, share, 0).max(axis=0) - 1e-12
        helpers[i] = np.maximum(same.sum(axis=0) - 1, 0)
    foreground = (names == "leading") | (names == "answer")
    out = np.where(foreground & ~carrier, out * DOUBLER**helpers, out)
    few = on & (on.sum(axis=0) <= FEW)
    out = np.where(few, np.maximum(out, EXPOSED), out)
    out = np.where(brought, np.maximum(out, BROUGHT_OUT), out)
    out = np.where(solo & on, np.maximum(out, SOLO), out)
    return np.where(on, np.clip(out, 0.0, 1.0), 0.0)


def look_at(
    score: Score, texture: Texture, label: NDArray[np.int64]
) -> tuple[FloatArray, BoolArray]:
    """Figures of each line in each bar (see `features`), and where it sounds."""
    on = per_bar(texture.active.astype(float), texture) > 0
    return features(score, texture, label, carriers(label, on))


def read_intent(score: Score, brief: Brief | None = None) -> Intent:
    """Read from the page what the music leans on.

    Parameters
    ----------
    score
        The page; lyrics are not looked at.
    brief
        What the composer declares; overrules what is inferred.

    Returns
    -------
    Intent
        Strands and layers, doublings, and role and reliance of each line in each bar.
    """
    texture = lay_out(score)
    doublings = find_doublings(score, texture)
    label = components(joined(doublings, texture), len(score.lines))
    table, on = look_at(score, texture, label)
    lead = who_leads(texture, table, on, label)
    leads = _leaders(lead.strand, lead.share, label)
    solo = solos(score) & on
    brought = brought_out(score, on)
    bass = _basses(table, on, label)
    moving = table[:, :, FIGURES.index("moves-per-quarter")] > MOVING
    answers = ~bass & (solo | brought | ((lead.strand >= ANSWER) & moving))
    supporting = _supporting(score, table, on, bass)
    role = _roles(supporting, leads, answers)
    seats = chairs(score.lines)
    reliance = _reliance(role, solo, on, lead.share, lead.strand, label, brought)
    reasons = lead_reasons(score, role, lead, on, (solo, brought), seats)
    certainty = lead.strand.max(axis=0, initial=0.0)
    parallels = find_parallels(score, texture)
    shadow = shadows(parallels, role, texture.row)
    reliance = np.where(shadow, np.maximum(reliance, SHADOW), reliance)
    if brief is not None:
        role, reliance = overrule(score, brief, role, reliance, label, supporting)
        reasons, certainty = declared_reasons(brief) + reasons, certain(brief, certainty)
    return Intent(
        strands=find_strands(score, texture, doublings, label, role),
        doublings=doublings,
        role=tuple(tuple(row) for row in role),
        reliance=reliance,
        reasons=reasons,
        certainty=certainty,
        parallels=parallels,
    )

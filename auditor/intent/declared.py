"""A brief laid over what was inferred: what the composer declares overrules."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.intent.brief import Brief
from auditor.score.notes import Score

FloatArray = NDArray[np.float64]
Reasons = tuple[tuple[tuple[int, int, int], str], ...]

# What a declared role is worth, 0 to 1 (our choice): a foreground must be heard, a colour
# need not be heard as itself.
WORTH = {"foreground": 1.0, "middleground": 0.55, "background": 0.2, "colour": 0.1}
# How the reason of a line that the brief names begins.
DECLARED = "the brief puts it in the "
# What is left to a line that was taken to lead where the brief names others.
OUSTED = 0.4


def overrule(
    score: Score,
    brief: Brief,
    role: list[list[str]],
    reliance: FloatArray,
    label: NDArray[np.int64],
    supporting: list[list[str]],
) -> tuple[list[list[str]], FloatArray]:
    """Put declared roles in place of inferred ones.

    Parameters
    ----------
    score, brief
        The page and what is declared.
    role : list of list of str, (lines, bars)
        Inferred roles; empty in rests.
    reliance : ndarray, shape (lines, bars)
        Inferred reliance.
    label : ndarray, shape (lines, bars)
        Equal for lines that carry the same notes in a bar.
    supporting : list of list of str, (lines, bars)
        The role each line has when it neither leads nor answers.
    """
    row = {line.number: i for i, line in enumerate(score.lines)}
    roles, worth = [list(r) for r in role], reliance.copy()
    declared = {(row[n], b): p.role for p in brief.passages for n in p.lines for b in p.bars}
    _oust(declared, roles, worth, label)
    for (i, b), name in declared.items():
        if not role[i][b]:
            continue
        worth[i, b] = WORTH[name]
        if name == "foreground":
            roles[i][b] = "leading"
        elif name == "middleground":
            roles[i][b] = "answer"
        else:
            roles[i][b] = supporting[i][b]
    return roles, worth


def _oust(
    declared: dict[tuple[int, int], str],
    roles: list[list[str]],
    worth: FloatArray,
    label: NDArray[np.int64],
) -> None:
    """Let others no longer lead where a foreground is declared, but for its doublings."""
    sounding = [
        (i, b) for (i, b), name in declared.items() if name == "foreground" and roles[i][b]
    ]
    heads: dict[int, set[int]] = {}
    for i, b in sounding:
        heads.setdefault(b, set()).add(int(label[i, b]))
    for b, labels in heads.items():
        for i in range(len(roles)):
            if (i, b) in declared or not roles[i][b]:
                continue
            if int(label[i, b]) in labels:
                roles[i][b] = "leading"
            elif roles[i][b] == "leading":
                roles[i][b], worth[i, b] = "answer", min(float(worth[i, b]), OUSTED)


def declared_reasons(brief: Brief) -> Reasons:
    """Say that the brief asks for a line, with its comment, for each run of bars."""
    out = []
    for passage in brief.passages:
        if passage.role not in ("foreground", "middleground"):
            continue
        words = f"{DECLARED}{passage.role}"
        words += f" ({passage.comment.strip()})" if passage.comment.strip() else ""
        cuts = [k for k in range(1, len(passage.bars))
                if passage.bars[k] != passage.bars[k - 1] + 1]  # fmt: skip
        edges = [0, *cuts, len(passage.bars)]
        for a, z in pairwise(edges):
            for number in passage.lines:
                out.append(((number, passage.bars[a], passage.bars[z - 1]), words))
    return tuple(out)


def certain(brief: Brief, certainty: FloatArray) -> FloatArray:
    """Where a foreground is declared nothing is unclear."""
    out = certainty.copy()
    for passage in brief.passages:
        if passage.role == "foreground":
            out[list(passage.bars)] = 1.0
    return out

"""Strands and layers as groups of notes for hearing to measure as one."""

from __future__ import annotations

import numpy as np

from auditor.hearing.measures import Group
from auditor.intent.roles import Intent
from auditor.score.notes import Score


def groups_of(intent: Intent, score: Score) -> tuple[Group, ...]:
    """One group for each strand and layer, in the order of ``intent.strands``.

    Grace notes stay in: they sound.
    """
    count = len(score.notes)
    return tuple(
        Group(s.id, np.asarray([n for n in s.notes if n < count], dtype=np.int64))
        for s in intent.strands
    )

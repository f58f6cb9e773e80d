"""What the user's own library or stems would settle, said only where something is unsure."""

from dataclasses import replace

import numpy as np
import pytest

from auditor.judging.certainty import better_known


def told(case, sure, **given):
    heard = case.heard(lambda line, bar: 0.3)
    heard = replace(heard, line_confidence=np.full(len(case.score.lines), sure))
    given = {"learned": False, "exact": (), **given}
    return better_known(case.score, case.intent, heard, **given)


def test_nothing_is_said_where_all_is_sure(flute_tune):
    assert told(flute_tune, 0.95) == ""


def test_unsure_lines_are_named(flute_tune):
    said = told(flute_tune, 0.5)
    assert "Flute 1" in said
    assert "auditor learn" in said


def test_who_has_a_library_is_not_sent_for_one(flute_tune):
    assert "auditor learn" not in told(flute_tune, 0.5, learned=True)


@pytest.mark.parametrize("sure", [0.3, 0.7])
def test_a_line_with_a_stem_is_not_named(flute_tune, sure):
    every = range(len(flute_tune.score.lines))
    assert told(flute_tune, sure, exact=list(every)) == ""

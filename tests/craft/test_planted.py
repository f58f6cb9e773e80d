"""Planted faults are found, at least 10 of each kind, and clean pages are left alone.

The bar is the project's own: 0.95 of the planted faults, by kind, part and bar.
"""

import pytest

from auditor.craft.checking import FAMILIES, remarks_on
from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page

SEEDS = range(10)
# What a planted fault brings with it by its nature.
COMPANIONS = {
    "high-load": {"high-lying"},
    "high-load-in-all": {"high-lying", "high-load"},
    "exposed-lower-chair": {"entry-without-dynamic"},
    "out-of-range": {"low-spacing"},
    "low-register-loud": {"low-spacing"},
    "low-register-soft": {"low-spacing"},
    "horn-pairs": {"low-spacing"},
    "hole": {"low-spacing"},
    "extra-player": {"low-spacing"},
    "unusual-words": {"needless-switch"},
    "doubled-by-all": {"high-lying"},
    "missing-arco": {"low-spacing"},
}


def found(remarks, kind, part, first, last):
    return any(
        r.kind == kind
        and r.first_bar <= last
        and r.last_bar >= first
        and part in (None, r.part, r.part or part)
        for r in remarks
    )


@pytest.mark.parametrize("family", ["range", "winds", "brass", "chairs", "changes", "texture",
                                    "leading notes", "notation", "forces"])  # fmt: skip
def test_planted_faults_are_found(planted, family):
    limits = CraftLimits()
    check = dict(FAMILIES)[family]
    for fault in planted.FAULTS[family]:
        hits = 0
        for seed in SEEDS:
            score, *where = planted.planted(fault, 1000 + seed)
            hits += found(check(Page(score, limits), limits), *where)
        assert hits >= 0.95 * len(SEEDS), (fault.__name__, hits)


def test_planted_pages_have_nothing_else(planted):
    for row in planted.FAULTS.values():
        for fault in row:
            score, kind, *_ = planted.planted(fault, 7)
            others = {r.kind for r in remarks_on(score)} - {kind}
            assert others <= COMPANIONS.get(kind, set()), (fault.__name__, others)


@pytest.mark.parametrize("seed", range(5))
def test_clean_pages_are_left_alone(planted, seed):
    assert remarks_on(planted.clean(seed)) == ()

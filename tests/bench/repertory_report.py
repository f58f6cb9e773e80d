"""Figures of real scores: limits chosen on half of the works, everything judged on the rest."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sklearn.metrics import roc_auc_score

from auditor.findings.ranking import HEAVY
from auditor.hearing.measures import Limits

Row = dict[str, Any]
# What was asked: share of time heard; the limits tried for a strand.
ASKED_HEARD = 0.93
TRIED = (0.05, 0.04, 0.03, 0.025, 0.02, 0.015, 0.01, 0.005)
# Ways to say that a strand is lost, or too soft for its mark or beside its accompaniment.
LOST = ("covered", "faint", "silent")
TOO_SOFT = (*LOST, "dynamic", "accompaniment", "weak-answer", "hairpin")
LEVELS = ("0.0", "-6.0", "-12.0")


def work(row: Row) -> str:
    """Name of the work a movement belongs to."""
    return str(row["name"]).rpartition("_")[0] or str(row["name"])


def halves(rows: Sequence[Row]) -> tuple[list[Row], list[Row]]:
    """Split by work: every other work of the sorted list, and the rest."""
    names = sorted({work(row) for row in rows})
    first = set(names[::2])
    return [r for r in rows if work(r) in first], [r for r in rows if work(r) not in first]


def _table(rows: Sequence[Row], level: str, source: str) -> NDArray[np.float64]:
    """Quarters, ratio of the strand and of its layer for each place, shape (places, 3)."""
    out = [
        (p["quarters"], p["strand"], p["layer"])
        for row in rows
        for p in row["levels"][level][source]
    ]
    return np.nan_to_num(np.array(out, dtype=np.float64).reshape(-1, 3))


def heard(
    rows: Sequence[Row], source: str, limit: float, level: str = "0.0"
) -> tuple[float, float]:
    """Share of the marked time in which the strand is heard; or it or its layer is."""
    long, strand, layer = _table(rows, level, source).T
    total = max(long.sum(), 1e-9)
    alone, either = strand >= limit, (strand >= limit) | (layer >= Limits().covered)
    return float(long[alone].sum() / total), float(long[either].sum() / total)


def parted(rows: Sequence[Row], source: str) -> tuple[float, float]:
    """AUC of the marked strand against strands outside its layer: all, and in its bar."""
    yes: list[float] = []
    no: list[float] = []
    within: list[float] = []
    for row in rows:
        for p in row["levels"]["0.0"][source]:
            apart = [ratio for ratio, inside in p["others"] if not inside]
            if not apart or not p["quarters"] or p["strand"] is None:
                continue
            own = max(p["strand"], p["layer"] if np.isfinite(p["layer"]) else 0.0)
            yes.append(own)
            no += apart
            within.append(float(np.mean([(own > r) + 0.5 * (own == r) for r in apart])))
    label = [1] * len(yes) + [0] * len(no)
    return float(roc_auc_score(label, np.nan_to_num(yes + no))), float(np.mean(within))


def worse(rows: Sequence[Row], source: str, level: str) -> float:
    """Share of the marked time in which the lowered strand's ratio falls."""
    before, after = _table(rows, "0.0", source), _table(rows, level, source)
    fell = after[:, 1] < before[:, 1]
    return float(before[fell, 0].sum() / max(before[:, 0].sum(), 1e-9))


def monotone(rows: Sequence[Row], source: str) -> float:
    """Share of places whose state never gets better from 0 to -6 and -12 dB."""
    limits = Limits()
    steps = [
        np.digitize(_table(rows, level, source)[:, 1], (limits.covered, limits.clear))
        for level in LEVELS
    ]
    return float(np.mean((steps[0] >= steps[1]) & (steps[1] >= steps[2])))


def found(
    rows: Sequence[Row], level: str, kinds: Sequence[str] = TOO_SOFT, lost: float | None = None
) -> float:
    """Share of the marked time of which a remark says it is too weak; of what is lost only."""
    hit = total = 0.0
    for row in rows:
        entry = row["levels"][level]
        for place, told in zip(entry["stems"], entry["told"], strict=True):
            if lost is not None and not place["strand"] < lost:
                continue
            total += place["quarters"]
            hit += place["quarters"] * any(kind in kinds for kind, _ in told)
    return hit / total if total else float("nan")


def per_100_bars(rows: Sequence[Row], kinds: Sequence[str] = (), heavy: bool = False) -> float:
    """Remarks at natural level for 100 bars: of some kinds, or the heavy ones."""
    bars = sum(row["bars"] for row in rows)
    count = sum(
        kind != "works" and (weight >= HEAVY if heavy else kind in kinds)
        for row in rows
        for kind, weight, _ in row["levels"]["0.0"]["findings"]
    )
    return 100.0 * count / bars


def chosen_limit(rows: Sequence[Row]) -> float:
    """Return the highest limit tried at which the strand or its layer is heard as asked."""
    for limit in TRIED:
        if heard(rows, "stems", limit)[1] >= ASKED_HEARD:
            return limit
    return TRIED[-1]


def report(files: Sequence[Path]) -> None:
    """Print all figures."""
    rows = [json.loads(path.read_text(encoding="utf-8")) for path in files]
    first, second = halves(rows)
    limit = chosen_limit(first)
    print(f"limit of a strand chosen on {sorted({work(r) for r in first})}: {limit}")
    for name, some in (("chosen on", first), ("judged on", second), ("all", rows)):
        if some:
            _print(name, some, limit)
    for row in rows:
        one = [row]
        print(
            f"{row['name']:26s} {row['font']:9s} {row['parts']:2d} parts  heard "
            + "  ".join(f"{s} {heard(one, s, limit)[0]:.2f} {heard(one, s, limit)[1]:.2f}"
                        for s in ("stems", "mix"))
            + "  found " + " ".join(f"{found(one, level):.2f}" for level in LEVELS)
            + f"  heavy {per_100_bars(one, heavy=True):.1f}"
        )  # fmt: skip


def _print(name: str, rows: Sequence[Row], limit: float) -> None:
    print(f"{name}: {len(rows)} movements of {len({work(r) for r in rows})} works")
    for source in ("stems", "mix"):
        for at in dict.fromkeys((Limits().covered, limit)):
            a, b = heard(rows, source, at)
            print(f"  {source}: heard at {at}: strand {a:.3f}, it or its layer {b:.3f}")
        auc, within = parted(rows, source)
        print(f"  {source}: against other strands AUC {auc:.3f}, in its bar {within:.3f}")
        fell = [f"{worse(rows, source, level):.3f}" for level in LEVELS[1:]]
        print(
            f"  {source}: ratio falls {fell}, state never better {monotone(rows, source):.3f}"
        )
    for level in LEVELS:
        told = [found(rows, level), found(rows, level, LOST), found(rows, level, lost=limit)]
        print(
            f"  at {level} dB: told too weak {told[0]:.3f}, told lost {told[1]:.3f}, "
            f"of what is lost {told[2]:.3f}"
        )
    print(
        f"  heavy per 100 bars {per_100_bars(rows, heavy=True):.1f}; faults of the rendering "
        f"{ {k: round(per_100_bars(rows, (k,)), 1) for k in RENDERING} }"
    )


RENDERING = (
    "dynamic", "hairpin", "transposed", "technique", "silent", "entry", "short", "unwritten",
)  # fmt: skip

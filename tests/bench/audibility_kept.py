"""Results of the audibility bench, one file a case, so that tables need no second run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from audibility_metrics import Pairs
from numpy.typing import NDArray

KINDS = ("lines", "notes")
Table = tuple[tuple[str, ...], NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Result:
    """One case: truth against estimate, and what the confidence model saw.

    `features` and `undecided` have a row for each row of the pairs; `undecided` marks what
    the program gives no verdict on.
    """

    case: str
    group: str
    lines: Pairs
    notes: Pairs
    features: dict[str, Table]
    undecided: dict[str, NDArray[np.bool_]]


def keep(folder: Path, result: Result) -> None:
    """Write one result."""
    folder.mkdir(parents=True, exist_ok=True)
    table: dict[str, NDArray[np.generic]] = {"group": np.array(result.group)}
    for kind in KINDS:
        pairs = getattr(result, kind)
        table |= {f"{kind}_{name}": getattr(pairs, name) for name in Pairs.__slots__}
        names, values = result.features[kind]
        table |= {f"{kind}_names": np.array(names), f"{kind}_features": values}
        table[f"{kind}_undecided"] = result.undecided[kind]
    np.savez_compressed(folder / f"{result.case}.npz", **table)  # type: ignore[arg-type]


def _read(path: Path) -> Result:
    with np.load(path) as data:
        pairs = [Pairs(*(data[f"{k}_{name}"] for name in Pairs.__slots__)) for k in KINDS]
        return Result(
            path.stem,
            str(data["group"]),
            *pairs,
            {k: (tuple(data[f"{k}_names"]), data[f"{k}_features"]) for k in KINDS},
            {k: data[f"{k}_undecided"] for k in KINDS},
        )


def kept(folders: Iterable[Path]) -> list[Result]:
    """Read every result of the folders."""
    paths = [path for folder in folders for path in sorted(folder.glob("*.npz"))]
    if not paths:
        raise SystemExit("no results there; make them with audibility_bench.py --keep")
    return [_read(path) for path in paths]

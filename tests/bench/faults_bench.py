"""How well faults of the rendering are told from the mix: planted ones, and how many are found.

    faults_bench.py keep OUT CASE ... [--full] [--reverb] [--recorded FOLDER ...]
    faults_bench.py report KEPT ...
    faults_bench.py fit KEPT ...

`keep` makes four variants of each case of mixes.py (faults_made.py says which), decomposes
them with templates from sources the case has not met, note times as rendered or, with --full,
as the program finds them, and writes one file a case. `report` prints recall at 5 % false
alarms and what the program says in the end, passages included; intervals by composition;
`fit` writes models/rendering_faults.json from the cases given, which `report` must not see.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import faults_made
import numpy as np
from audibility_estimate import fair_sources, page_of
from audibility_truth import true_windows
from faults_made import OCTAVES, Variant, variants
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

from auditor.alignment.aligning import timeline_of
from auditor.errors import AlignmentError
from auditor.sound.features import listen
from auditor.spectra.explained import Decomposed, explained
from auditor.spectra.mixture import mix_spectra
from auditor.spectra.playing import line_timbres, note_times, played_notes
from auditor.spectra.suspicions import (
    ANSWERS,
    FAULTS,
    best_interval,
    line_features,
    score,
    suspicions,
    unwritten_features,
)
from auditor.spectra.trials import trials
from auditor.spectra.unwritten import unwritten

OUT = Path(__file__).parents[2] / "models" / "rendering_faults.json"
# Name of the model by planted fault.
MODEL = {"transposed": "transposed", "way": "otherwise", "muted": "missing"}
# Share of lines (of mixes, for foreign sound) without a fault that are not accused.
SAID = {"missing": 0.99, "transposed": 0.99, "otherwise": 0.99, "unwritten": 0.95}
# A line is accused of nothing that is less likely than this, however well made cases part:
# they are no more than some hundred lines in a few fonts.
LIKELY = {"missing": 0.85, "transposed": 0.85, "otherwise": 0.85, "unwritten": 0.0}
Row = dict[str, Any]


def heard(variant: Variant, full: bool = False) -> list[Row]:
    """Features of every line of a variant, and of its unexplained sound."""
    made, score_ = variant.made, page_of(variant.made)
    windows = true_windows(made)
    onset_s, offset_s = windows.onset_s, windows.offset_s
    if full:
        timeline = timeline_of(score_, listen(variant.mix))
        onset_s, offset_s = note_times(score_, timeline)
    found: list[Decomposed] = []
    started = time.perf_counter()
    mix_spectra(
        variant.mix, played_notes(score_, onset_s, offset_s),
        line_timbres(score_), made.calibration_db, sources=fair_sources(made),
        watch=found.append,
    )  # fmt: skip
    separated = time.perf_counter()
    mix = explained(found[0])
    tried = trials(found[0], mix)
    rest = unwritten(found[0], mix, {})
    cost = (time.perf_counter() - separated) / (separated - started)
    said = suspicions(found[0])
    planted = {p.line: p for p in variant.planted}
    common = {"case": made.folder.name, "seed": made.seed, "variant": variant.name}
    rows: list[Row] = [
        {**common, "line": -1, "kind": "layer" if -1 in planted else "none",
         "audible": all(p.audible for p in variant.planted), "cost": cost,
         "said": [["unwritten", 0]] * said.foreign,
         "features": {"unwritten": unwritten_features(rest)}}
    ]  # fmt: skip
    for trial in tried:
        fault = planted.get(trial.line)
        part = made.parts[trial.line]
        rows.append(
            {**common, "line": trial.line, "kind": fault.kind if fault else "none",
             "interval": fault.interval if fault else 0,
             "audible": bool(fault.audible if fault else variant.audible[trial.line]),
             "instrument": part["instrument"], "doubles": part["doubles"] is not None,
             "notes": int(trial.notes.size),
             "best": best_interval(trial) if trial.moved else 0,
             "said": [[s.answer, s.interval] for s in (*said.lines, *said.passages)
                      if s.line == trial.line],
             "features": line_features(trial)}
        )  # fmt: skip
    return rows


def keep(given: argparse.Namespace) -> None:
    """Write the rows of every variant of every case."""
    given.out.mkdir(parents=True, exist_ok=True)
    faults_made.RECORDED += given.recorded
    for folder in given.cases:
        path = given.out / f"{folder.parent.name}-{folder.name}.json"
        if path.exists():
            continue
        rows: list[Row] = []
        for variant in variants(folder, given.cases, reverb=given.reverb):
            try:
                rows += heard(variant, given.full)
            except AlignmentError as refused:
                print(f"{path.stem} {variant.name}: {refused}", flush=True)
        path.write_text(json.dumps(rows), encoding="utf-8")
        print(path.stem, flush=True)


def kept(paths: Sequence[Path]) -> list[Row]:
    """Rows of all files in these folders."""
    files = [file for path in paths for file in sorted(path.glob("*.json"))]
    return [row for file in files for row in json.loads(file.read_text(encoding="utf-8"))]


def chosen(rows: Sequence[Row], kind: str) -> tuple[list[Row], list[Row]]:
    """Rows of lines that have a fault of this kind, and of lines that have none."""
    if kind == "layer":
        whole = [r for r in rows if r["line"] < 0]
        faulty = [r for r in whole if r["kind"] == "layer"]
        return faulty, [r for r in whole if r["variant"] == "clean"]
    lines = [r for r in rows if r["line"] >= 0 and MODEL[kind] in r["features"]]
    lines = [r for r in lines if r["variant"] != "layer"]
    return [r for r in lines if r["kind"] == kind], [r for r in lines if r["kind"] == "none"]


def _scores(rows: Sequence[Row], model: str) -> NDArray[np.float64]:
    return np.array([score(model, r["features"][model]) for r in rows])


def _audible(rows: Sequence[Row]) -> NDArray[np.bool_]:
    return np.array([r["audible"] for r in rows], dtype=bool)


def _interval(hits: Sequence[bool], seeds: Sequence[int]) -> str:
    """Mean with a bootstrap interval over compositions."""
    if not len(hits):
        return "-"
    values, seed = np.array(hits, dtype=float), np.array(seeds)
    names, rng = np.unique(seed), np.random.default_rng(3)
    groups = [values[seed == s] for s in names]
    drawn = [
        np.concatenate([groups[i] for i in rng.integers(0, len(groups), len(groups))]).mean()
        for _ in range(1000)
    ]
    low, high = np.quantile(drawn, [0.025, 0.975])
    return f"{values.mean():.3f} ({low:.2f}-{high:.2f})"


def report(rows: Sequence[Row]) -> None:
    """Print recall at 5 % false alarms, and at the limits the program uses."""
    from auditor.spectra.suspicions import _limits

    for kind in ("muted", "transposed", "way", "layer"):
        model = MODEL.get(kind, "unwritten")
        bad, good = chosen(rows, kind)
        zb, zg = _scores(bad, model), _scores(good, model)
        ab, ag = _audible(bad), _audible(good)
        seeds = np.array([r["seed"] for r in bad])
        five = float(np.quantile(zg[ag], 0.95))
        often = _limits(model)["often"]
        print(f"{kind}: {ab.sum()} audible of {len(bad)} planted, {len(good)} without")
        print(f"  recall at 5 % false alarms    {_interval(zb[ab] > five, seeds[ab])}")
        print(
            f"  at the limit fitted for 5 %   {_interval(zb[ab] > often, seeds[ab])}, "
            f"false {np.mean(zg[ag] > often):.3f} of audible, {np.mean(zg > often):.3f} of all"
        )
        if kind == "layer":
            told = [bool(r["said"]) for r in bad if r["audible"]]
            false = np.mean([bool(r["said"]) for r in good])
            print(
                f"  said by the program           {_interval(told, seeds[ab])}, "
                f"false {false:.3f}"
            )
        else:
            _answers(kind, bad, good)
        if kind == "transposed":
            _intervals(bad, zb, ab, five)
    cost = [r["cost"] for r in rows if "cost" in r]
    print(f"cost over the separation: median {np.median(cost):.2f}")


def _answers(kind: str, bad: Sequence[Row], good: Sequence[Row]) -> None:
    """Print what the program answers of faulty, of audible and of covered lines."""
    right = [r for r in bad if r["audible"]]
    told = [_answer(r) == MODEL[kind] for r in right]
    false = sum(_answer(r) == MODEL[kind] for r in good)
    print(
        f"  answered so by the program    {_interval(told, [r['seed'] for r in right])}, "
        f"of {len(good)} without {false} accused"
    )
    if kind != "muted":
        return
    groups = {
        "audible, muted": right,
        "covered, muted": [r for r in bad if not r["audible"]],
        "audible, as written": [r for r in good if r["audible"]],
        "covered, as written": [r for r in good if not r["audible"]],
    }
    for name, rows in groups.items():
        answers = [_answer(r) for r in rows]
        shares = {a: answers.count(a) / max(len(rows), 1) for a in ANSWERS}
        print(f"  {name}: " + ", ".join(f"{a} {share:.3f}" for a, share in shares.items()))


def _answer(row: Row) -> str:
    """What the program says of a line: of all of it, or of a passage if that is as written."""
    said = [answer for answer, _ in row["said"]]
    return next((answer for answer in said if answer in FAULTS), said[0])


def _intervals(
    bad: Sequence[Row], z: NDArray[np.float64], audible: NDArray[np.bool_], limit: float
) -> None:
    found = [r for r, s, a in zip(bad, z, audible, strict=True) if a and s > limit]
    right = [r["best"] == r["interval"] for r in found]
    print(f"  right interval of those found {_interval(right, [r['seed'] for r in found])}")
    for name, octave in (("octaves", True), ("other intervals", False)):
        rows = [k for k, r in enumerate(bad) if audible[k] and
                (r["interval"] in OCTAVES) == octave]  # fmt: skip
        hits = [bool(z[k] > limit) for k in rows]
        print(f"  {name}: {_interval(hits, [bad[k]['seed'] for k in rows])} of {len(rows)}")


def _fitted(bad: Sequence[Row], good: Sequence[Row], model: str) -> dict[str, Any]:
    names = list(bad[0]["features"][model])
    values = np.array([[r["features"][model][n] for n in names] for r in (*bad, *good)])
    fault = np.array([True] * len(bad) + [False] * len(good))
    # A covered fault cannot be told; what cannot be told must not teach.
    use = ~fault | _audible((*bad, *good))
    mean, scale = values[use].mean(axis=0), values[use].std(axis=0) + 1e-9
    logit = LogisticRegression(C=0.3, class_weight="balanced", max_iter=5000)
    logit.fit((values[use] - mean) / scale, fault[use])
    z = logit.decision_function((values - mean) / scale)
    audible = _audible((*bad, *good))
    share = SAID[model]
    limits = {
        "said": max(float(np.quantile(z[~fault], share)), _logit(LIKELY[model])),
        "often": float(np.quantile(z[~fault & audible], 0.95)),
        "there": min(float(np.quantile(z[fault & audible], 0.05)), 0.0),
    }
    rounded = lambda values: [round(float(v), 5) for v in values]  # noqa: E731
    return {
        "names": names, "mean": rounded(mean), "scale": rounded(scale),
        "coefficients": rounded(logit.coef_[0]),
        "intercept": round(float(logit.intercept_[0]), 5),
        "limits": {name: round(value, 4) for name, value in limits.items()},
    }  # fmt: skip


def _logit(chance: float) -> float:
    return float(np.log(chance / (1 - chance))) if chance else -np.inf


def fit(rows: Sequence[Row]) -> None:
    """Write the models."""
    out: dict[str, Any] = {}
    for kind in ("muted", "transposed", "way", "layer"):
        model = MODEL.get(kind, "unwritten")
        out[model] = _fitted(*chosen(rows, kind), model)
    out["provenance"] = {
        "made_by": "tests/bench/faults_bench.py",
        "cases": len({r["case"] for r in rows}),
        "compositions": sorted({r["seed"] for r in rows}),
        "said": SAID,
        "likely": LIKELY,
        "limits": "said: that share of all without a fault lies below, and the fault is at "
        "least so likely; often: 95 % of those "
        "that are heard; there: 5 % of missing lines lie below, and no fault is more likely "
        "than not",
    }
    OUT.write_text(json.dumps(out, indent=1) + "\n", encoding="utf-8")
    print(OUT)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    jobs = parser.add_subparsers(dest="job", required=True)
    keeping = jobs.add_parser("keep")
    keeping.add_argument("out", type=Path)
    keeping.add_argument("cases", type=Path, nargs="+")
    keeping.add_argument("--full", action="store_true", help="find the notes in the mix")
    keeping.add_argument("--reverb", action="store_true", help="the cases are in a room")
    keeping.add_argument("--recorded", type=Path, nargs="+", default=[])
    for name in ("report", "fit"):
        jobs.add_parser(name).add_argument("kept", type=Path, nargs="+")
    given = parser.parse_args()
    if given.job == "keep":
        keep(given)
        return
    rows = kept(given.kept)
    if not rows:
        sys.exit("nothing was kept there")
    (report if given.job == "report" else fit)(rows)


if __name__ == "__main__":
    main()

"""What a learned library is worth, against the shipped templates, in one run.

    library_bench.py CASE ... [--work FOLDER] [--plain] [--full] [--learned-only] [--room]
                     [--recorded FOLDER ...] [--keep FOLDER]

CASE are folders made by mixes.py, all of one font or of several. For each font the kit is
made by `auditor kit`, rendered by the made orchestra with that font (dynamics as it plays
them, without mixing), learned by `auditor learn`, and the mixes are judged with it and with
templates that never met the font. Cases of recorded notes need the folders they were made
from: their kit is played from the same notes, and what these do not reach by the font. With
--plain the kit's MIDI files go through fluidsynth as they are; with --room the kit is
rendered in a room such as mixes.py puts around its mixes. Sets that --work holds already
are used again.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from audibility_bench import run
from audibility_fit import columns, predicted, right_verdicts
from audibility_kept import Result, keep
from audibility_metrics import Pairs, figures, intervals, joined
from audibility_truth import Made, open_made
from kit_renders import Players, make_kit, render, render_plain, template_key
from mixes_recorded import Recordings

from auditor.learning.learn import learn
from auditor.model_files import read_json
from auditor.timbre.library import Library, open_library

# Below this confidence a verdict is called unsure in the report.
_SURE = 0.8
SHOWN = (
    "AUC",
    "F1 covered",
    "F1 audible",
    "gross",
    "level MAE dB",
    "level median dB",
    "coverer",
)


def learned(font: str, given: argparse.Namespace, folders: list[Path]) -> Library:
    """Kit, renders and library of a font, or of recorded notes."""
    work, kit = given.work, given.work / "kit"
    if not kit.exists():
        make_kit(kit)
    name = "recorded" if folders else font
    name = ("plain-" if given.plain else "room-" if given.room else "") + name
    sound = work / name
    if not sound.exists():
        sound.mkdir(parents=True)
        if given.plain and not folders:
            render_plain(kit, font, sound)
        else:
            players = Players(font, Recordings(folders) if folders else None)
            render(kit, players, sound, wet=given.room)
    out = work / f"library-{name}"
    if out.exists():
        return open_library(out)
    started = time.process_time()
    lesson = learn(sound, name, out, kit=kit)
    seconds = (time.process_time() - started) / max(len(lesson.learned), 1)
    print(f"{name}: {len(lesson.learned)} instruments learned in {seconds:.1f} s of processor "
          f"time each, {len(lesson.faults)} faults said")  # fmt: skip
    return lesson.library


def of_case(made: Made, font: Library, recorded: Library | None) -> Library:
    """The sounds of a case: recorded notes where its parts have them, else the font's."""
    if recorded is None or not any(p["source"] == "recorded" for p in made.parts):
        return font
    keys = {template_key(p["chair"]) for p in made.parts if p["source"] == "recorded"}
    own = {k: v for k, v in recorded.voices.items() if k.partition("+")[0] in keys}
    return Library("both", recorded.digest, {**font.voices, **own})


def table(title: str, pairs: Pairs) -> None:
    own, spread = figures(pairs), intervals(pairs)
    cells = [f"{own[n]:.3f} ± {spread.get(n, np.nan):.3f}" for n in SHOWN]
    print("| " + " | ".join([title, str(pairs.truth.size), *cells]) + " |", flush=True)


def doubtful(both: dict[str, list[Result]]) -> None:
    """What a library changes for the lines that the program itself calls unsure without it."""
    model = read_json("hearing_confidence.json")["lines"]
    seen: dict[str, list[Pairs]] = {kind: [] for kind in both}
    for one, two in zip(both["shipped"], both["learned"], strict=True):
        if one.case != two.case or one.lines.truth.size != two.lines.truth.size:
            continue
        unsure = predicted(model, columns(one, "lines", model["names"])) < _SURE
        seen["shipped"].append(one.lines.where(unsure))
        seen["learned"].append(two.lines.where(unsure))
    for kind, pairs in seen.items():
        some = joined(pairs)
        wrong = 1 - float(right_verdicts(some).mean())
        error = np.abs(some.estimated_db - some.true_db)
        print(f"unsure without a library, {kind}: {some.truth.size} lines, {wrong:.3f} states "
              f"wrong, level {np.nanmean(error):.2f} dB", flush=True)  # fmt: skip


def _judged(case: Path, given: argparse.Namespace) -> Result | None:
    """One case; one whose page is read otherwise than it was written is said and left out."""
    try:
        return run(case, given)
    except SystemExit as err:
        print(err, file=sys.stderr)
        return None


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("cases", type=Path, nargs="+")
    parser.add_argument("--work", type=Path, default=Path("library-bench"))
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--full", action="store_true", help="read the page and align")
    parser.add_argument("--learned-only", action="store_true")
    parser.add_argument("--room", action="store_true", help="render the kit in a room")
    parser.add_argument("--keep", type=Path, help="results by kind, for audibility_tables.py")
    parser.add_argument("--recorded", type=Path, nargs="+", default=[])
    return parser


def main() -> None:
    given = _parser().parse_args()
    given.jitter_ms, given.prior, given.sources = 0.0, False, ()
    cases = [open_made(case) for case in given.cases]
    recorded = learned("", given, given.recorded) if given.recorded else None
    libraries = {font: learned(font, given, []) for font in {made.font for made in cases}}
    both: dict[str, list[Result]] = {"shipped": [], "learned": []}
    for made in cases:
        for kind in ("shipped", "learned")[given.learned_only :]:
            own = of_case(made, libraries[made.font], recorded)
            given.library = own if kind == "learned" else None
            result = _judged(made.folder, given)
            both[kind] += [] if result is None else [result]
            if given.keep and result is not None:
                keep(given.keep / kind, result)
    print("| templates | lines | " + " | ".join(SHOWN) + " |")
    for kind, results in both.items():
        names = [r.case.rpartition("-")[0] for r in results]
        for name in sorted(set(names)):
            some = [r.lines for r, own in zip(results, names, strict=True) if own == name]
            table(f"{name}, {kind}", joined(some))
        if results:
            table(f"all, {kind}: lines", joined([r.lines for r in results]))
            table(f"all, {kind}: notes", joined([r.notes for r in results]))
    if not given.learned_only:
        doubtful(both)


if __name__ == "__main__":
    main()

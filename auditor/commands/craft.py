"""``auditor craft``: what players will say about a page; no sound is needed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.commands.options import ScoreOrCase, Verbose
from auditor.commands.places import write_whole
from auditor.commands.terminal import console, log_to_stderr, say, show, tell
from auditor.errors import InputError

if TYPE_CHECKING:
    from auditor.craft.limits import CraftLimits
    from auditor.craft.remark import Remark
    from auditor.score.notes import Score

_RESULTS = ("craft.csv", "craft.json", "register-weight.svg", "register-weight.csv")


def _show_thresholds(wanted: bool) -> None:
    if wanted:
        from auditor.craft.limits import limits_text

        show(limits_text())
        raise typer.Exit(0)


def craft(
    score: ScoreOrCase,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FOLDER",
            help="Write the remarks as craft.csv and craft.json, and the weight of each "
            "register bar by bar, as a picture and a table (register-weight.svg and .csv).",
        ),
    ] = None,
    weight: Annotated[
        str,
        typer.Option(
            metavar="WEIGHT",
            help="The lightest weight told: 'worth a thought', 'risky' or 'cannot be played'.",
        ),
    ] = "worth a thought",
    limits: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Thresholds as TOML. Default: craft.toml beside the score, if there is one.",
        ),
    ] = None,
    show_thresholds: Annotated[
        bool,
        typer.Option(
            "--show-thresholds",
            is_eager=True,
            callback=_show_thresholds,
            help="Print every threshold with its source, as a file to begin from, and stop.",
        ),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Replace earlier results in the folder.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Say what players will remark on a score: reach, stops, pedals, breath, notation.

    Example: auditor craft overture.musicxml --weight risky
    """
    from auditor.case import score_of
    from auditor.craft.checking import remarks_on
    from auditor.report.craft_list import craft_text
    from auditor.score.reading import read_score

    log_to_stderr(verbose)
    lightest = _weight(weight)
    if out is not None:
        _check_place(out, force=force)
    named = score_of(score)
    thresholds = _limits(named, limits)
    with console.status("reading the score") as status:
        page = read_score(named)
        tell(status, "checking the page")
        remarks = remarks_on(page, thresholds)
    told = tuple(r for r in remarks if _as_heavy(r, lightest))
    show(craft_text(page, told))
    if out is not None:
        _write(out, page, told)
        say(f"{', '.join(_RESULTS)} are in {out}")


def _weight(given: str) -> str:
    from auditor.craft.remark import WEIGHTS

    if given not in WEIGHTS:
        names = ", ".join(repr(w) for w in WEIGHTS)
        raise InputError(f"--weight is {given!r}; expected one of {names}")
    return given


def _as_heavy(remark: Remark, lightest: str) -> bool:
    from auditor.craft.remark import WEIGHTS

    return WEIGHTS.index(remark.weight) >= WEIGHTS.index(lightest)


def _limits(score: Path, given: Path | None) -> CraftLimits:
    from auditor.craft.limits import CraftLimits, limits_beside, read_limits

    if given is not None:
        return read_limits(given)
    beside = limits_beside(score)
    if beside is None:
        return CraftLimits()
    say(f"Thresholds are taken from {beside}")
    return read_limits(beside)


def _check_place(folder: Path, *, force: bool) -> None:
    from auditor.report.results import check_folder

    check_folder(folder)
    there = [name for name in _RESULTS if (folder / name).exists()]
    if there and not force:
        raise InputError(
            f"{folder} already holds {' and '.join(there)}; name another folder or use --force"
        )


def _write(folder: Path, page: Score, remarks: tuple[Remark, ...]) -> None:
    from auditor.report.craft_list import craft_record, craft_table
    from auditor.report.tables import to_csv
    from auditor.report.written_weight import weight_svg, weight_table, written_weight

    table, record, picture, figures = _RESULTS
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise InputError(f"{folder} cannot be made ({err.strerror}); name another") from err
    write_whole(folder / table, to_csv(craft_table(page, remarks)))
    text = json.dumps(craft_record(page, remarks), ensure_ascii=False, indent=1)
    write_whole(folder / record, text + "\n")
    weight = written_weight(page)
    write_whole(folder / picture, weight_svg(weight, page.title.strip() or "the score"))
    write_whole(folder / figures, to_csv(weight_table(weight)))

"""``auditor sheet``: the reading sheet of a result or a case."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.commands.options import Verbose, WriteOver
from auditor.commands.places import check_target, named_after, write_whole
from auditor.commands.terminal import console, log_to_stderr, say, tell

if TYPE_CHECKING:
    from collections.abc import Callable


def sheet(
    place: Annotated[
        Path,
        typer.Argument(
            metavar="PLACE",
            readable=False,
            help="A result folder (auditor audit or forecast), a case folder, or a score.",
        ),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FILE",
            help="Where to write. Default: sheet.html in the result folder, else the score's "
            "name and -sheet.html here.",
        ),
    ] = None,
    minutes: Annotated[
        float, typer.Option(metavar="N", help="Length of the session, 1 to 600 minutes.")
    ] = 30.0,
    force: WriteOver = False,
    verbose: Verbose = False,
) -> None:
    """Write one or two pages to take to the session: what to listen for, what to try.

    Example: auditor sheet overture-audit --minutes 45
    """
    log_to_stderr(verbose)
    from auditor.report.session import check_minutes
    from auditor.report.sheet import RECORDS, compose_sheet

    check_minutes(minutes)
    done = place.is_dir() and any((place / name).is_file() for name in RECORDS)
    target = out or (place / "sheet.html" if done else named_after(place, "-sheet.html"))
    check_target(target, force=force or (done and out is None), example="sheet.html")
    with console.status("reading") as status:
        record = _record(place, done, lambda s: tell(status, s))
    write_whole(target, compose_sheet(record, minutes=minutes))
    say(f"The reading sheet is in {target}; print it on A4 or Letter")


def _record(place: Path, done: bool, told: Callable[[str], None]) -> dict[str, Any]:
    from auditor.report.sheet import read_record

    if done:
        return read_record(place)
    from auditor.case import AUDIO_SUFFIXES, BRIEF, case_of, score_of
    from auditor.report.record import as_record

    sounds = place.is_dir() and (
        (place / "stems").is_dir()
        or any(p.suffix.lower() in AUDIO_SUFFIXES for p in place.iterdir())
    )
    if sounds:
        from auditor.auditing import audit

        return as_record(audit(case_of(place), told=told))
    from auditor.forecasting import forecast_of
    from auditor.score.reading import read_score

    page = score_of(place)
    told("reading the score")
    brief = page.parent / BRIEF
    return as_record(
        forecast_of(page, read_score(page), brief=brief if brief.is_file() else None, told=told)
    )

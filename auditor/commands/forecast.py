"""``auditor forecast``: what a hall would hear of a score; no sound is needed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import ScoreOrCase, Verbose
from auditor.commands.terminal import console, log_to_stderr, say, show, tell
from auditor.errors import InputError


def forecast(
    score: ScoreOrCase,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--out", metavar="FOLDER", help="Write the tables and the reading sheet."
        ),
    ] = None,
    strings: Annotated[
        str,
        typer.Option(
            metavar="BODY",
            help="String body: full, medium or small. Players given in score.toml stay.",
        ),
    ] = "medium",
    room_gain: Annotated[
        float,
        typer.Option(
            metavar="DB",
            help="Strength G of the hall, -5 to 20 dB; concert halls have about 2 to 6.",
        ),
    ] = 4.5,
    minutes: Annotated[
        float, typer.Option(metavar="N", help="Minutes of the session, for the reading sheet.")
    ] = 30.0,
    force: Annotated[
        bool, typer.Option("--force", help="Replace the earlier forecast in the folder.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Say what a listener in a hall would barely hear, from the page alone.

    Example: auditor forecast overture.musicxml -o overture-forecast --strings small
    """
    log_to_stderr(verbose)
    from auditor.case import BRIEF, score_of
    from auditor.forecasting import forecast_of
    from auditor.report.forecast_results import (
        check_forecast_place,
        forecast_text,
        write_forecast,
    )
    from auditor.report.session import check_minutes
    from auditor.score.reading import read_score
    from auditor.score.string_bodies import BODIES
    from auditor.spectra.forecast import check_room_gain

    check_room_gain(room_gain)
    check_minutes(minutes)
    if strings not in BODIES:
        raise InputError(f"--strings is {strings!r}; expected one of {', '.join(BODIES)}")
    page = score_of(score)
    if out is not None:
        check_forecast_place(out, force=force)
    with console.status("reading the score") as status:
        read = read_score(page)
        brief = page.parent / BRIEF
        result = forecast_of(
            page, read, brief=brief if brief.is_file() else None, body=strings,
            settled=_settled(page, {p.number: p.name for p in read.parts}),
            room_gain_db=room_gain, told=lambda s: tell(status, s),
        )  # fmt: skip
    show(forecast_text(result))
    if out is not None:
        from auditor.report.record import as_record
        from auditor.report.sheet import compose_sheet

        write_forecast(
            result, out, sheet=compose_sheet(as_record(result), minutes=minutes), force=force
        )
        say(f"Everything is in {out}; print {out / 'sheet.html'}")


def _settled(page: Path, names: dict[int, str]) -> tuple[int, ...]:
    """Parts whose players are given beside the score."""
    from auditor.score.settings import beside, load

    path = beside(page)
    if path is None:
        return ()
    return tuple(n for n, s in load(path, names).items() if s.players is not None)

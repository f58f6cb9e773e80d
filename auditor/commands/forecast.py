"""``auditor forecast``: what a hall would hear of a score; no sound is needed."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from auditor.commands.options import RoomGain, ScoreOrCase, Strings, Verbose, check_hall
from auditor.commands.terminal import console, log_to_stderr, say, show, tell


def forecast(
    score: ScoreOrCase,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--out", metavar="FOLDER", help="Write the tables and the reading sheet."
        ),
    ] = None,
    strings: Strings = "medium",
    room_gain: RoomGain = 4.5,
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
    from auditor.score.string_bodies import players_given

    check_hall(strings, room_gain)
    check_minutes(minutes)
    page = score_of(score)
    if out is not None:
        check_forecast_place(out, force=force)
    with console.status("reading the score") as status:
        read = read_score(page)
        brief = page.parent / BRIEF
        result = forecast_of(
            page, read, brief=brief if brief.is_file() else None, body=strings,
            settled=players_given(page, read),
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

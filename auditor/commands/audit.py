"""``auditor audit``: one case, audited into a folder."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.case import case_of
from auditor.commands.options import RoomGain, Strings, Verbose, check_hall
from auditor.commands.places import named_after
from auditor.commands.terminal import console, log_to_stderr, say, show, tell
from auditor.errors import AuditError, InputError

if TYPE_CHECKING:
    from auditor.auditing import Audit
    from auditor.hearing.measures import Limits
    from auditor.score.notes import Score
    from auditor.timbre.library import Library


def audit(
    score: Annotated[
        Path,
        typer.Argument(
            metavar="SCORE",
            readable=False,
            help="MusicXML score (.musicxml, .mxl, .xml; MEI, Humdrum, ABC and MIDI files are "
            "read as well), or a case folder that holds score, mix and stems.",
        ),
    ],
    mix: Annotated[
        Path | None,
        typer.Argument(
            metavar="MIX",
            readable=False,
            help="The rendering as WAV, FLAC, AIFF, CAF, Ogg, Opus or MP3. Not needed with a "
            "case folder or with stems.",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--out",
            metavar="FOLDER",
            help="Folder for the results, new or empty. Default: the score's name and -audit.",
        ),
    ] = None,
    stems: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Folder with sound files of parts or groups, named as the parts are; see "
            "auditor stems.",
        ),
    ] = None,
    library: Annotated[
        str | None,
        typer.Option(
            metavar="NAME",
            help="Your own library, as auditor learn called it, or the folder of one.",
        ),
    ] = None,
    mix_only: Annotated[
        bool, typer.Option("--mix-only", help="Leave the stems of a case folder aside.")
    ] = False,
    playback_level: Annotated[
        float,
        typer.Option(
            metavar="DB",
            help="Assumed level of the music at the listener in dB SPL, 40 to 110. An "
            "assumption of the model; keep your own monitoring comfortable.",
        ),
    ] = 83.0,
    covered_below: Annotated[
        float,
        typer.Option(
            metavar="RATIO",
            help="A line is covered when less than this share of its loudness is left, "
            "between 0 and the limit of clear.",
        ),
    ] = 0.05,
    clear_from: Annotated[
        float,
        typer.Option(
            metavar="RATIO",
            help="A line is clear when at least this share of its loudness is left, below 1.",
        ),
    ] = 0.15,
    strings: Strings = "medium",
    room_gain: RoomGain = 4.5,
    no_forecast: Annotated[
        bool,
        typer.Option(
            "--no-forecast",
            help="Leave the forecast of a hall out; nothing is then said of what the "
            "rendering flatters or wrongs.",
        ),
    ] = False,
    pdf: Annotated[
        str | None,
        typer.Option(
            metavar="PAPER",
            help="Print the report to report.pdf as well, on a4 or letter. Needs a Chromium "
            "that is installed.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace the earlier result in the folder.")
    ] = False,
    verbose: Verbose = False,
) -> None:
    """Audit one case and print what the score relies on and a listener barely hears.

    Example: auditor audit overture.musicxml overture.wav -o overture-audit
    """
    log_to_stderr(verbose)
    limits = _limits(covered_below, clear_from)
    _check_level(playback_level)
    check_hall(strings, room_gain)
    if pdf is not None:
        _check_printing(pdf)
    case = case_of(score, mix, stems, mix_only=mix_only)
    timbres = _library(library) if library is not None else None
    folder = out if out is not None else named_after(score, "-audit")
    with console.status("auditing") as status:
        told = partial(tell, status)

        def run(read: Score) -> Audit:
            from auditor.auditing import audit as every_stage

            return every_stage(
                case, read, playback_db=playback_level, limits=limits, library=timbres,
                body=strings, room_gain_db=None if no_forecast else room_gain, told=told,
            )  # fmt: skip

        text = _audit_into(case.score, folder, run, pdf=pdf, force=force, told=told)
    show(text)
    say(f"Everything is in {folder}; open {folder / 'report.html'}")


def _audit_into(
    score: Path,
    folder: Path,
    run: Callable[[Score], Audit],
    *,
    pdf: str | None,
    force: bool,
    told: Callable[[str], None],
) -> str:
    """Audit a case into a folder and give the text for stdout."""
    # Heavy imports wait until there is something to do.
    from auditor.report.page import compose_page
    from auditor.report.passages import source_from
    from auditor.report.printing import worst_findings_text
    from auditor.report.results import check_place, write_results
    from auditor.score.reading import open_score

    check_place(folder, force=force)
    told("reading the score")
    page = open_score(score)
    result = run(page.score)
    _say_remarks(result)
    told("writing")
    composed = compose_page(result, source_from(page))
    paper = None if pdf is None else _on_paper(composed.html, pdf)
    write_results(result, folder, page=composed, score=score, pdf=paper, force=force)
    return worst_findings_text(result)


def _library(name: str) -> Library:
    from auditor.timbre.library import find_library, open_library

    return open_library(find_library(name))


def _limits(covered: float, clear: float) -> Limits:
    from auditor.hearing.measures import Limits

    if not 0.0 < covered < clear < 1.0:
        raise InputError(
            f"the limits are {covered:g} for covered and {clear:g} for clear; "
            f"expected 0 < covered < clear < 1"
        )
    return Limits(covered=covered, clear=clear)


def _check_level(playback_db: float) -> None:
    """Refuse a level before anything is read; the exact bounds are the sound room's."""
    if not 40.0 <= playback_db <= 110.0:
        raise InputError(
            f"playback level {playback_db:g} dB SPL is not one for music; give 40 to 110"
        )


def _check_printing(paper: str) -> None:
    """Refuse what could only fail at the end."""
    from auditor.report.printed import check_paper, find_browser

    check_paper(paper)
    find_browser()


def _on_paper(html: str, paper: str) -> bytes | None:
    """Print; a browser that fails does not cost the rest of the result."""
    from auditor.report.printed import printed

    try:
        return printed(html, paper)
    except AuditError as err:
        say(f"no PDF: {err}")
        return None


def _say_remarks(result: Audit) -> None:
    for remark in result.sounding.remarks:
        say(f"{result.sounding.name}: {remark}")

"""The command line: results on stdout, everything else on stderr."""

from __future__ import annotations

import importlib.metadata
import io
import logging
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer
from rich.console import Console
from rich.status import Status

from auditor.case import Case, case_of
from auditor.errors import AuditError, InputError

if TYPE_CHECKING:
    from auditor.auditing import Audit
    from auditor.hearing.measures import Limits

app = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
)
console = Console(stderr=True)  # stdout carries results only

_DONE, _USAGE, _BUG, _INTERRUPTED = 0, 2, 70, 130

# Typer brings its own parser, whose errors it names only through this descendant.
_UsageError = cast("type[typer.BadParameter]", typer.BadParameter.__base__)


def _say_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"auditor {importlib.metadata.version('auditor')}")
        raise typer.Exit(_DONE)


@app.callback(invoke_without_command=True)
def _auditor(
    context: typer.Context,
    version: Annotated[
        bool,
        typer.Option(
            "--version", is_eager=True, callback=_say_version, help="Say the version and stop."
        ),
    ] = False,
) -> None:
    """Say which lines of an orchestral mock-up a listener would barely hear.

    Example: auditor audit overture.musicxml overture.wav -o overture-audit
    """
    if context.invoked_subcommand is None:
        typer.echo(context.get_help(), err=True)
        raise typer.Exit(_USAGE)


@app.command(short_help="Audit one case: a score and its sound.")
def audit(
    score: Annotated[
        Path,
        typer.Argument(
            metavar="SCORE",
            help="MusicXML score (.musicxml, .mxl, .xml), or a case folder that holds score, "
            "mix and stems.",
        ),
    ],
    mix: Annotated[
        Path | None,
        typer.Argument(
            metavar="MIX",
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
            help="Folder with one sound file for each part, named as the part is.",
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
    force: Annotated[
        bool, typer.Option("--force", help="Replace the earlier result in the folder.")
    ] = False,
    verbose: Annotated[
        bool, typer.Option("-v", "--verbose", help="Say more on the way, and where it broke.")
    ] = False,
) -> None:
    """Audit one case and print what the score relies on and a listener barely hears.

    Example: auditor audit overture.musicxml overture.wav -o overture-audit
    """
    _log_to_stderr(verbose)
    limits = _limits(covered_below, clear_from)
    _check_level(playback_level)
    case = case_of(score, mix, stems, mix_only=mix_only)
    folder = _result_folder(score, out)
    with console.status("auditing") as status:
        text = _audit_into(
            case, folder, limits, playback_level, force=force, told=lambda s: _tell(status, s)
        )
    _show(text)
    _say(f"Everything is in {folder}; open {folder / 'report.html'}")


def _audit_into(
    case: Case,
    folder: Path,
    limits: Limits,
    playback_db: float,
    *,
    force: bool,
    told: Callable[[str], None],
) -> str:
    """Audit a case into a folder and give the text for stdout."""
    # Heavy imports wait until there is something to do.
    from auditor.auditing import audit as run
    from auditor.report.page import compose_page
    from auditor.report.passages import source_from
    from auditor.report.printing import worst_findings_text
    from auditor.report.results import check_place, write_results
    from auditor.score.reading import open_score

    check_place(folder, force=force)
    told("reading the score")
    page = open_score(case.score)
    result = run(case, page.score, playback_db=playback_db, limits=limits, told=told)
    _say_remarks(result)
    told("writing")
    write_results(result, folder, page=compose_page(result, source_from(page)), force=force)
    return worst_findings_text(result)


def _result_folder(score: Path, out: Path | None) -> Path:
    """Name the place of the results; what could only fail at the end is refused now."""
    folder = out if out is not None else Path(f"{score.resolve().stem}-audit")
    place = folder.resolve()
    if place == Path.cwd():
        raise InputError(
            f"{folder} is the folder you are in; give the results one of their own"
        )
    blocked = next((p for p in place.parents if p.exists() and not p.is_dir()), None)
    if blocked is not None:
        raise InputError(f"{blocked} is a file; name a folder for the results elsewhere")
    return folder


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


def _say_remarks(result: Audit) -> None:
    for remark in result.sounding.remarks:
        _say(f"{result.sounding.name}: {remark}")


def _tell(status: Status, stage: str) -> None:
    if console.is_terminal:
        status.update(stage)
    else:
        _say(stage)


def _say(sentence: str, *, style: str | None = None) -> None:
    # A sentence stays one line, whatever the width: scripts read it, paths are copied.
    console.print(sentence, style=style, highlight=False, markup=False, soft_wrap=True)


def _show(text: str) -> None:
    """Write to stdout; a reader that has seen enough (``| head``) is no failure."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal without ♭ is no bug
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _OneLine(logging.Formatter):
    """Leaves tracebacks out."""

    def formatException(self, ei: object) -> str:  # noqa: N802
        return ""


def _log_to_stderr(verbose: bool) -> None:
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter() if verbose else _OneLine())
    logging.basicConfig(level=logging.INFO if verbose else logging.ERROR, handlers=[handler])
    # Libraries' warnings are for us; our own are for the user.
    logging.captureWarnings(True)
    logging.getLogger("auditor").setLevel(logging.INFO if verbose else logging.WARNING)


def _run(arguments: Sequence[str]) -> int:
    """Run one command and give its exit code; only what the user can mend is told."""
    try:
        code = app(list(arguments), prog_name="auditor", standalone_mode=False)
    except AuditError as err:
        _say(f"auditor: {err}", style="bold")
        return err.exit_code
    except _UsageError as err:
        _say(f"auditor: {err.format_message().rstrip('.')}; see auditor audit -h", style="bold")
        return _USAGE
    except (KeyboardInterrupt, typer.Abort):
        code = _INTERRUPTED  # newer releases of Typer return it by themselves
    except Exception as err:
        if {"-v", "--verbose"} & set(arguments):
            logging.getLogger(__name__).exception("this is a bug of ours")
        what = " ".join(f"{type(err).__name__}: {err}".split())
        _say(
            f"auditor: this is a bug of ours ({what}); run again with -v and send what it says",
            style="bold",
        )
        return _BUG
    if code == _INTERRUPTED:
        _say("auditor: stopped; nothing was written", style="bold")
    return code if isinstance(code, int) else _DONE


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave with the exit code of the design.

    Parameters
    ----------
    arguments
        Words after the program's name; those of the process if None.

    Raises
    ------
    SystemExit
        Always: 0 done; 2 usage or settings; 3 a file cannot be used; 4 sound and score
        do not follow each other; 70 our bug; 130 interrupted.
    """
    raise SystemExit(_run(sys.argv[1:] if arguments is None else arguments))

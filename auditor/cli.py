"""The command line: results on stdout, everything else on stderr."""

from __future__ import annotations

import logging
import sys
from pathlib import Path
from typing import Annotated

import click
import typer
from rich.console import Console

from auditor.errors import AuditError

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
console = Console(stderr=True)  # stdout carries results only

_BUG, _INTERRUPTED, _USAGE = 70, 130, 2


@app.callback()
def _auditor() -> None:
    """Say which lines of an orchestral mock-up a listener would barely hear."""


@app.command()
def audit(
    score: Annotated[Path, typer.Argument(help="MusicXML score, or a case folder.")],
    mix: Annotated[Path | None, typer.Argument(help="The rendering: WAV, FLAC ...")] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", help="Folder for the results.")
    ] = None,
    stems: Annotated[
        Path | None, typer.Option(help="Folder with one sound file for each part.")
    ] = None,
    mix_only: Annotated[
        bool, typer.Option("--mix-only", help="Leave the stems of a case folder aside.")
    ] = False,
    playback_level: Annotated[
        float, typer.Option(help="Assumed level at the listener, dB SPL.")
    ] = 83.0,
    covered_below: Annotated[float, typer.Option(help="Limit of covered.")] = 0.05,
    clear_from: Annotated[float, typer.Option(help="Limit of clear.")] = 0.15,
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier result.")] = False,
    verbose: Annotated[bool, typer.Option("-v", "--verbose", help="Say more.")] = False,
) -> None:
    """Audit one case and print what the score relies on and a listener barely hears.

    Example: auditor audit overture.musicxml overture.wav -o overture-audit
    """
    _log_to_stderr(verbose)
    # Heavy imports wait until a command runs.
    from auditor.auditing import audit as run
    from auditor.case import Case, open_case
    from auditor.hearing.measures import Limits
    from auditor.report.page import compose_page
    from auditor.report.passages import source_from
    from auditor.report.printing import worst_findings_text
    from auditor.report.results import check_place, write_results
    from auditor.score.reading import open_score

    if mix is None and stems is None:
        case = open_case(score)
    else:
        case = Case(score=score, mix=mix, stems=stems)
    if mix_only:
        case = Case(score=case.score, mix=case.mix, stems=None)
    folder = out if out is not None else Path(f"{score.resolve().stem}-audit")
    check_place(folder, force=force)
    with console.status("auditing") as status:
        _tell(status, "reading the score")
        page = open_score(case.score)
        result = run(
            case,
            page.score,
            playback_db=playback_level,
            limits=Limits(covered=covered_below, clear=clear_from),
            told=lambda stage: _tell(status, stage),
        )
        _tell(status, "writing")
        write_results(
            result, folder, page=compose_page(result, source_from(page)), force=force
        )
    typer.echo(worst_findings_text(result), nl=False)
    console.print(f"Everything is in {folder}; open {folder / 'report.html'}", highlight=False)


def _tell(status, stage: str) -> None:  # type: ignore[no-untyped-def]
    if console.is_terminal:
        status.update(stage)
    else:
        console.print(stage, highlight=False)


def _log_to_stderr(verbose: bool) -> None:
    level = logging.INFO if verbose else logging.ERROR
    logging.basicConfig(level=level, stream=sys.stderr, format="%(message)s")


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with the exit code of the design."""
    try:
        code = app(arguments, standalone_mode=False)
    except AuditError as err:
        console.print(f"auditor: {err}", style="bold", highlight=False, markup=False)
        raise SystemExit(err.exit_code) from None
    except (KeyboardInterrupt, click.exceptions.Abort):
        raise SystemExit(_INTERRUPTED) from None
    except click.exceptions.ClickException as err:
        err.show(sys.stderr)
        raise SystemExit(_USAGE) from None
    except Exception as err:
        if "-v" in sys.argv or "--verbose" in sys.argv:
            raise
        console.print(
            f"auditor: this is a bug of ours ({type(err).__name__}: {err}); run again with -v "
            f"and send what it prints",
            style="bold", highlight=False, markup=False,
        )  # fmt: skip
        raise SystemExit(_BUG) from None
    raise SystemExit(code if isinstance(code, int) else 0)

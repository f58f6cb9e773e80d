"""The command line: results on stdout, everything else on stderr."""

from __future__ import annotations

import errno
import importlib.metadata
import logging
import sys
from collections.abc import Sequence
from typing import Annotated, cast

import typer

from auditor.commands.align import align
from auditor.commands.audit import audit
from auditor.commands.brief import brief
from auditor.commands.craft import craft
from auditor.commands.forecast import forecast
from auditor.commands.kit import kit
from auditor.commands.learn import learn
from auditor.commands.library import library
from auditor.commands.sheet import sheet
from auditor.commands.stems import stems
from auditor.commands.terminal import say
from auditor.errors import AuditError

app = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
)

_DONE, _USAGE, _UNUSABLE, _BUG, _INTERRUPTED = 0, 2, 3, 70, 130

# Typer brings its own parser, whose errors it names only through this descendant.
_UsageError = cast("type[typer.BadParameter]", typer.BadParameter.__base__)


# What a disk or its rights refuse is no bug, wherever it happens.
_REFUSALS = frozenset(
    {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.EIO}
    | {errno.ELOOP, errno.ENAMETOOLONG}
)


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


app.command(short_help="Audit one case: a score and its sound.")(audit)
app.command(short_help="Write where the bars of a score lie in a sound.")(align)
app.command(short_help="Write a first brief of what must be heard.")(brief)
app.command(short_help="Say what players will remark on a score.")(craft)
app.command(short_help="Say what a hall would hear, from the page alone.")(forecast)
app.command(short_help="Write files to render with your own library.")(kit)
app.command(short_help="Learn your library from its renders of the kit.")(learn)
app.add_typer(
    library, name="library", short_help="List, pass on and take in learned libraries."
)
app.command(short_help="Write the reading sheet for a session.")(sheet)
app.command(short_help="Show which stem belongs to which part.")(stems)


def _help_for(arguments: Sequence[str]) -> str:
    """Name the help page of the command that was meant."""
    commands = {
        command.name or command.callback.__name__
        for command in app.registered_commands
        if command.callback
    } | {group.name for group in app.registered_groups}
    return " ".join(["auditor", *(word for word in arguments[:1] if word in commands), "-h"])


def _run(arguments: Sequence[str]) -> int:
    """Run one command and give its exit code; only what the user can mend is told."""
    try:
        code = app(list(arguments), prog_name="auditor", standalone_mode=False)
    except AuditError as err:
        say(f"auditor: {err}", style="bold")
        return err.exit_code
    except _UsageError as err:
        told = err.format_message().rstrip(".")
        say(f"auditor: {told}; see {_help_for(arguments)}", style="bold")
        return _USAGE
    except (KeyboardInterrupt, typer.Abort):
        code = _INTERRUPTED  # newer releases of Typer return it by themselves
    except Exception as err:
        if isinstance(err, OSError) and err.errno in _REFUSALS:
            what = err.filename or "what is written to"
            said = f"{what} cannot be used ({err.strerror})"
            say(f"auditor: {said}; see to it, or name another", style="bold")
            return _UNUSABLE
        if {"-v", "--verbose"} & set(arguments):
            logging.getLogger(__name__).exception("this is a bug of ours")
        what = " ".join(f"{type(err).__name__}: {err}".split())
        say(
            f"auditor: this is a bug of ours ({what}); run again with -v and send what it says",
            style="bold",
        )
        return _BUG
    if code == _INTERRUPTED:
        say("auditor: stopped; nothing was written", style="bold")
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

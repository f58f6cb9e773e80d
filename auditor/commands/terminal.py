"""The terminal: results on stdout, everything else on stderr, and what is logged where."""

from __future__ import annotations

import io
import logging
import os
import sys

from rich.console import Console
from rich.status import Status

console = Console(stderr=True)  # stdout carries results only


def tell(status: Status, stage: str) -> None:
    """Say what begins: beside the turning mark of a terminal, as a line elsewhere."""
    if console.is_terminal:
        status.update(stage)
    else:
        say(stage)


def say(sentence: str, *, style: str | None = None) -> None:
    """Say one sentence on stderr."""
    # A sentence stays one line, whatever the width: scripts read it, paths are copied.
    console.print(sentence, style=style, highlight=False, markup=False, soft_wrap=True)


def show(text: str) -> None:
    """Write to stdout; a reader that has seen enough (``| head``) is no failure."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal without ♭ is no bug
    if sys.stdout is None:  # closed by whoever started us
        return
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _OneLine(logging.Formatter):
    """Leaves tracebacks out."""

    def formatException(self, ei: object) -> str:  # noqa: N802
        return ""


def log_to_stderr(verbose: bool) -> None:
    """Set the log up for one command."""
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter() if verbose else _OneLine())
    logging.basicConfig(level=logging.INFO if verbose else logging.ERROR, handlers=[handler])
    # Libraries' warnings are for us; our own are for the user.
    logging.captureWarnings(True)
    logging.getLogger("auditor").setLevel(logging.INFO if verbose else logging.WARNING)

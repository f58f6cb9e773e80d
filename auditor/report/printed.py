"""The report on paper: the page printed to PDF by a Chromium that is already there."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from auditor.errors import AuditError, InputError

# Names under which systems install it; the audit itself never needs one.
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
# CSS Paged Media Module Level 3, section 7.1: page sizes by name.
PAPERS = ("a4", "letter")
# A busy machine takes minutes for what takes seconds.
_LONGEST_S = 600


def find_browser() -> str:
    """Path of an installed Chromium.

    Raises
    ------
    InputError
        If there is none.
    """
    for name in BROWSERS:
        found = shutil.which(name)
        if found:
            return found
    raise InputError(
        "no Chromium was found to print the PDF with; install it (Debian: apt-get install "
        "chromium), or open report.html in any browser and print it from there"
    )


def check_paper(paper: str) -> str:
    """Name of the paper in small letters.

    Raises
    ------
    InputError
        If it is none of `PAPERS`.
    """
    if paper.lower() not in PAPERS:
        raise InputError(f"paper {paper} is not known; give {' or '.join(PAPERS)}")
    return paper.lower()


def printed(html: str, paper: str = "a4") -> bytes:
    """Print a report page.

    Parameters
    ----------
    html
        The page as `auditor.report.page.compose_page` gives it.
    paper
        One of `PAPERS`.

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    InputError
        If there is no Chromium, or the paper is not known.
    AuditError
        If it fails to print.
    """
    browser, paper = find_browser(), check_paper(paper)
    with tempfile.TemporaryDirectory(prefix="auditor-print-") as name:
        folder = Path(name)
        page, out = folder / "page.html", folder / "page.pdf"
        page.write_text(for_paper(html, paper), encoding="utf-8")
        _run(browser, folder, page, out)
        return out.read_bytes()


def for_paper(html: str, paper: str) -> str:
    """Page with its folds open, its sounds left out and its paper named."""
    silent = re.sub(r'(<audio [^>]*) src="data:[^"]*"', r"\1", html)
    opened = silent.replace("<details", "<details open")
    return opened.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>", 1)


def _run(browser: str, folder: Path, page: Path, out: Path) -> None:
    command = [
        browser, "--headless", "--disable-gpu", "--no-first-run", "--disable-sync",
        "--disable-background-networking", "--disable-component-update",
        f"--user-data-dir={folder / 'profile'}", "--no-pdf-header-footer",
        f"--print-to-pdf={out}", page.as_uri(),
    ]  # fmt: skip
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.insert(1, "--no-sandbox")  # Chromium refuses to sandbox for root
    try:
        done = subprocess.run(command, capture_output=True, timeout=_LONGEST_S, check=False)
    except (OSError, subprocess.TimeoutExpired) as err:
        raise AuditError(f"{browser} could not print the report ({err})") from err
    if done.returncode or not out.exists():
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise AuditError(f"{browser} could not print the report ({said[-1] if said else '?'})")

"""Chromium without a network, and the invented report to open in it."""

import importlib.util
import os
import shutil
import sys
from pathlib import Path

import pytest

FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


def _absent(what):
    # Where .ci/run has installed a browser a missing one is a fault, elsewhere a reason.
    if os.environ.get("AUDITOR_BROWSER") == "required":
        pytest.fail(what)
    pytest.skip(what)


@pytest.fixture(scope="session")
def browser():
    chromium = shutil.which("chromium") or "/usr/bin/chromium"
    if importlib.util.find_spec("playwright") is None:
        _absent("playwright is not installed: pip install 'auditor[browser]'")
    if not Path(chromium).exists():
        _absent(f"there is no {chromium}")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=chromium, args=list(FLAGS))
        yield running
        running.close()


@pytest.fixture(scope="session")
def report(tmp_path_factory):
    """Path of a written report page."""
    from auditor.report.page import compose_page

    path = Path(__file__).parents[1] / "report" / "made_audit.py"
    spec = importlib.util.spec_from_file_location("made_audit", path)
    made = importlib.util.module_from_spec(spec)
    sys.modules["made_audit"] = made
    spec.loader.exec_module(made)
    audit = made.made_audit(names={6: "Trumpet <b>in C</b>"})
    page = compose_page(audit, lambda f, b, p: made.made_excerpt(audit, f, b, p))
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(page.html, encoding="utf-8")
    return path

"""Made pages, for every test of the craft checks."""

import importlib.util
import sys
from pathlib import Path

import pytest

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page


def _made_page():
    path = Path(__file__).with_name("made_page.py")
    spec = importlib.util.spec_from_file_location("made_page", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["made_page"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def made():
    """The module that makes pages: ``made.page``, ``made.note``, ``made.chord``."""
    return _made_page()


@pytest.fixture
def kinds():
    """A function of a family and a score: the kinds and weights of its remarks, sorted."""

    def found(family, score, **limits):
        given = CraftLimits(**limits)
        return sorted((r.kind, r.weight) for r in family(Page(score, given), given))

    return found

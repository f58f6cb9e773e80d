"""Made pages, for every test of the craft checks."""

import importlib.util
import sys
from pathlib import Path

import pytest

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page


def _module(name):
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def made():
    """The module that makes pages: ``made.page``, ``made.note``, ``made.chord``."""
    return _module("made_page")


@pytest.fixture(scope="session")
def planted(made):
    """The module that plants faults; it imports those that make its pages."""
    for name in ("sketch", "planted_marks"):
        _module(name)
    return _module("planted")


@pytest.fixture
def kinds():
    """A function of a family and a score: the kinds and weights of its remarks, sorted."""

    def found(family, score, **limits):
        given = CraftLimits(**limits)
        return sorted((r.kind, r.weight) for r in family(Page(score, given), given))

    return found

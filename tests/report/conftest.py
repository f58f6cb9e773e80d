"""The invented audit, for every test of the report."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


def _made_audit_module() -> ModuleType:
    path = Path(__file__).with_name("made_audit.py")
    spec = importlib.util.spec_from_file_location("made_audit", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["made_audit"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def made():
    """Hand out the module that builds invented audits."""
    return _made_audit_module()


@pytest.fixture(scope="session")
def audit(made):
    return made.made_audit()


@pytest.fixture(scope="session")
def source(made, audit):
    return lambda first, last, parts: made.made_excerpt(audit, first, last, parts)


@pytest.fixture(scope="session")
def page(audit, source):
    from auditor.report.page import compose_page

    return compose_page(audit, source)

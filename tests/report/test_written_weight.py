"""Register weight as the page alone has it: the figures, the picture and the table agree."""

import re
import xml.etree.ElementTree as ET

import pytest

from auditor.craft.limits import CraftLimits
from auditor.craft.page import Page
from auditor.craft.texture import REGISTERS, register_weight
from auditor.report.tables import to_csv
from auditor.report.written_weight import (
    weight_rows,
    weight_svg,
    weight_table,
    weight_ticks,
    written_weight,
)

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def weight(audit):
    return written_weight(audit.score)


def test_the_figures_are_those_of_the_page_read_once(audit, weight):
    page = Page(audit.score, CraftLimits())
    assert weight.bars == tuple(bar.number for bar in page.bars)
    expected = register_weight(page)
    for k, column in enumerate(weight.registers):
        assert column == pytest.approx(expected[:, k])
    assert expected.sum() > 0


def test_the_table_has_a_row_a_bar_and_the_lowest_register_first(weight):
    lines = to_csv(weight_table(weight)).splitlines()
    assert lines[0] == "bar," + ",".join(REGISTERS)
    assert len(lines) == 1 + len(weight.bars)


def test_the_picture_draws_a_step_for_every_bar_and_register(weight):
    root = ET.fromstring(weight_svg(weight, "A <title> & more"))
    paths = root.findall(f"{SVG}path")
    assert [len(re.findall("V", p.get("d"))) - 1 for p in paths] == [len(weight.bars)] * 5
    heaviest = max(max(column) for column in weight.registers)
    tops = [float(t) for p in paths for t in re.findall(r"V([\d.]+)h1", p.get("d"))]
    # Highest register first; a step's top is 1 less its share of the heaviest.
    expected = [1 - v / heaviest for column in reversed(weight.registers) for v in column]
    assert tops == pytest.approx(expected, abs=1e-3)


def test_the_picture_says_what_it_shows_to_those_who_do_not_see_it(weight):
    root = ET.fromstring(weight_svg(weight, "A <title> & more"))
    said = root.find(f"{SVG}desc").text
    assert all(f"{row.name}: {row.words}" in said for row in weight_rows(weight))
    assert "A <title> & more" in root.find(f"{SVG}title").text


@pytest.mark.parametrize("bars", [1, 5, 40, 700])
def test_bar_numbers_beneath_do_not_crowd(weight, bars):
    long = type(weight)(tuple(map(str, range(1, bars + 1))), ((1.0,) * bars,) * 5)
    ticks = weight_ticks(long)
    assert 1 <= len(ticks) <= 24
    assert ticks[0] == (0, "1")

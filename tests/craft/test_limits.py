import dataclasses
import re
import tomllib
from pathlib import Path

import pytest

from auditor.craft.limits import CraftLimits, limits_text, read_limits
from auditor.errors import InputError


def written(tmp_path, text):
    path = tmp_path / "craft.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_file_sets_what_it_names_and_leaves_the_rest(tmp_path):
    limits = read_limits(written(tmp_path, "harp_span = 17\n"))
    assert limits == dataclasses.replace(CraftLimits(), harp_span=17.0)


def test_unknown_thresholds_are_told_all_at_once_with_the_nearest_name(tmp_path):
    path = written(tmp_path, "harp_spam = 17\nretune = 2\n")
    with pytest.raises(InputError) as told:
        read_limits(path)
    assert "'harp_spam', the nearest is 'harp_span'" in str(told.value)
    assert "'retune', the nearest is 'retune_s'" in str(told.value)


@pytest.mark.parametrize("value", ['"wide"', "true", "nan", "[1]"])
def test_refuses_what_is_no_number(tmp_path, value):
    with pytest.raises(InputError, match=r"harp_span is .*expected a"):
        read_limits(written(tmp_path, f"harp_span = {value}\n"))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("assumed_tempo = 0", "expected more than 0"),
        ("harp_span = -1", "expected 0 or more"),
    ],
)
def test_refuses_what_nothing_can_be_measured_by(tmp_path, line, said):
    with pytest.raises(InputError, match=said):
        read_limits(written(tmp_path, line))


def test_levels_may_lie_below_zero(tmp_path):
    assert read_limits(written(tmp_path, "soft_chord_level = -1")).soft_chord_level == -1.0


def test_refuses_a_file_that_is_no_toml(tmp_path):
    with pytest.raises(InputError, match="not valid TOML"):
        read_limits(written(tmp_path, "harp_span = \n"))


def test_the_printed_thresholds_read_back_as_they_are(tmp_path):
    text = limits_text()
    assert read_limits(written(tmp_path, text)) == CraftLimits()
    assert set(tomllib.loads(text)) == {f.name for f in dataclasses.fields(CraftLimits)}


def test_every_threshold_says_what_it_means_and_where_it_comes_from():
    for one in dataclasses.fields(CraftLimits):
        assert one.metadata["says"]
        assert one.metadata["source"]


def test_the_documentation_names_thresholds_that_exist():
    text = (Path(__file__).parents[2] / "docs" / "craft.md").read_text(encoding="utf-8")
    known = {one.name for one in dataclasses.fields(CraftLimits)}
    named = {w for w in re.findall(r"`([a-z]\w*_\w+|hole|cross|drums|mallets)`", text)}
    tests = {path.stem for path in Path(__file__).parents[1].glob("*/test_*.py")}
    assert named - tests <= known
    assert len(named & known) > 70

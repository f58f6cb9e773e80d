"""``findings.md``: complete, and text stays text."""

import dataclasses

import pytest

from auditor.craft.remark import Remark
from auditor.report.markdown import findings_markdown, text


def test_every_finding_with_its_remedies_and_the_cautions(audit):
    told = findings_markdown(audit)
    for finding in audit.findings:
        assert text(finding.sentence) in told
        for remedy in finding.remedies:
            assert text(remedy) in told
    for caution in audit.cautions:
        assert text(caution) in told
    assert "| Trombone | 62 % |" in told
    assert "| alto | 55 % |" in told
    assert told.endswith("\n")


@pytest.mark.parametrize(
    ("words", "written"),
    [
        # CommonMark 0.31.2, section 2.4: a backslash makes any ASCII punctuation literal.
        ("a *b* _c_ `d`", r"a \*b\* \_c\_ \`d\`"),
        ("<b>[x](y)</b>", r"\<b\>\[x\](y)\</b\>"),
        ("# x", r"\# x"),
        ("- x", r"\- x"),
        ("1. Horn", r"1\. Horn"),
        ("a | b", r"a \| b"),
        ("two\nlines", "two lines"),
        ("bars 5–8 (second time)", "bars 5–8 (second time)"),
    ],
)
def test_signs_that_would_be_markup_are_escaped(words, written):
    assert text(words) == written


def test_hostile_names_stay_text(made):
    audit = made.made_audit(names={2: "<img src=x>|\n# Oboe"}, title="**x**")
    told = findings_markdown(audit)
    assert "<img" not in told.replace(r"\<img", "")
    assert told.startswith(r"# \*\*x\*\*")
    assert "\n# Oboe" not in told


def test_remarks_on_craft_have_their_place(audit):
    remark = Remark(
        "high", "risky", 5, 9, 9, (), "The horn enters high.", "It may crack.", "Wait."
    )
    told = findings_markdown(dataclasses.replace(audit, craft=(remark,)))
    assert "## From the page" in told
    assert "**Horn in F, bar 10** (risky): The horn enters high. It may crack." in told
    assert "## From the page" not in findings_markdown(audit)


def test_light_remarks_are_gathered_by_their_reason(audit):
    pages = [(4, "One."), (6, "Two.")]
    remarks = tuple(
        Remark("high", "worth a thought", 5, k, k, (), words, "It may crack.", "Wait.")
        for k, words in pages
    )
    told = findings_markdown(dataclasses.replace(audit, craft=remarks))
    assert (
        "- Worth a thought: It may crack. Usually: Wait.\n"
        "  - **Horn in F, bar 5**: One.\n"
        "  - **Horn in F, bar 7**: Two."
    ) in told

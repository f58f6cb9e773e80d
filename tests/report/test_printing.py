"""The worst of an audit on a terminal."""

import dataclasses

from auditor.findings.finding import CAUTION
from auditor.report.printing import WIDTH, worst_findings_text


def flat(text):
    return " ".join(text.split())


def test_heaviest_first_with_bars_and_what_to_try(audit):
    paragraphs = worst_findings_text(audit).split("\n\n")
    assert flat(paragraphs[0]).startswith(
        "Bars 5–8 (0:10–0:19): The oboe has the tune in bars 5–8"
    )
    assert "Try: let the trombone play p instead of mf." in flat(paragraphs[0])
    assert len(paragraphs) == 4  # three that ask, and the caution


def test_what_the_sentence_says_is_not_said_twice(audit):
    finding = dataclasses.replace(
        audit.findings[0],
        sentence="Bars 5–8: the oboe is lost. To begin with, mark the trombone p.",
        remedies=("Mark the trombone p.",),
    )
    text = flat(worst_findings_text(dataclasses.replace(audit, findings=(finding,))))
    assert text.startswith("Bars 5–8 (0:10–0:19): the oboe is lost. To begin with")
    assert text.lower().count("mark the trombone p") == 1
    assert text.count("Bars 5–8") == 1


def test_the_caution_always_comes_last(audit):
    for some in (audit, dataclasses.replace(audit, findings=())):
        assert flat(worst_findings_text(some)).endswith(flat(CAUTION))


def test_no_finding_is_said_plainly(audit):
    text = worst_findings_text(dataclasses.replace(audit, findings=()))
    assert text.startswith("No line that the score relies on is covered")


def test_what_is_left_out_is_counted(audit):
    assert "2 more in the report." in worst_findings_text(audit, n=1)


def test_lines_fit_a_terminal_and_cannot_steer_it(audit):
    hostile = dataclasses.replace(
        audit.findings[0], sentence="\x1b[2J\x07The oboe\u202e is lost."
    )
    text = worst_findings_text(dataclasses.replace(audit, findings=(hostile,)))
    assert all(len(line) <= WIDTH for line in text.splitlines())
    assert all(c == "\n" or c.isprintable() for c in text)

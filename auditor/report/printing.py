"""The worst of an audit as plain text, for the command line."""

from __future__ import annotations

import textwrap

from auditor.auditing import Audit
from auditor.findings.finding import CAUTION, Finding
from auditor.report.places import bars_in_words, clock_span

WIDTH = 80


def concerns(audit: Audit) -> tuple[Finding, ...]:
    """Choose the findings that ask for something, heaviest first."""
    kept = [f for f in audit.findings if f.kind != "works"]
    return tuple(sorted(kept, key=lambda f: (-f.weight, f.first_bar, f.id)))


def praises(audit: Audit) -> tuple[Finding, ...]:
    """Choose the findings that say what works, heaviest first."""
    kept = [f for f in audit.findings if f.kind == "works"]
    return tuple(sorted(kept, key=lambda f: (-f.weight, f.first_bar, f.id)))


def worst_findings_text(audit: Audit, n: int = 8) -> str:
    """Heaviest findings, one a paragraph, and the caution that goes with them.

    Parameters
    ----------
    audit
        What was found.
    n
        At most so many findings.

    Returns
    -------
    str
        Lines of at most 80 characters, ending in a line feed; no control characters, so
        that a name from a file cannot steer a terminal.
    """
    chosen = concerns(audit)
    paragraphs = [_paragraph(audit, finding) for finding in chosen[:n]]
    if not chosen:
        where = "forecast" if audit.source == "forecast" else "rendering"
        paragraphs = [f"No line that the score relies on is covered in this {where}."]
    elif len(chosen) > n:
        paragraphs.append(_filled(f"{len(chosen) - n} more in the report."))
    paragraphs.append(_filled(audit.cautions[0] if audit.source == "forecast" else CAUTION))
    return "\n\n".join(paragraphs) + "\n"


def _paragraph(audit: Audit, finding: Finding) -> str:
    where = bars_in_words(audit.score, finding.first_bar, finding.last_bar)
    where = where[0].upper() + where[1:]
    time = clock_span(finding.start_s, finding.end_s)
    # Sentences may name their bars and the first remedy already.
    sentence = finding.sentence.removeprefix(f"{where}: ")
    first = finding.remedies[0].rstrip(".") if finding.remedies else ""
    change = finding.tried[0].words if finding.tried else first
    tail = f" Try: {first}." if first and change.lower() not in sentence.lower() else ""
    return _filled(f"{where} ({time}): {sentence}{tail}")


def _filled(text: str) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text)
    return textwrap.fill(plain, WIDTH, break_long_words=False, break_on_hyphens=False)

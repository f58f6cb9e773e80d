"""One remark for one place on the page, however often its bars are played."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.findings.finding import Finding
from auditor.score.notes import Bar


def said_once(findings: Sequence[Finding], bars: Sequence[Bar]) -> list[Finding]:
    """Leave out a finding that a heavier one of another pass says already.

    Parameters
    ----------
    findings
        In any order.
    bars
        Of the played axis.

    Returns
    -------
    list of Finding
        Heaviest first; of findings of one kind and line whose bars on the page are for the
        most part the same, only the heaviest.
    """
    kept: list[Finding] = []
    for finding in sorted(findings, key=lambda f: (-f.weight, f.first_bar, f.id)):
        here = _page(finding, bars)
        if not any(
            other.kind == finding.kind
            and finding.lines[0] in other.lines
            and 2 * len(here & _page(other, bars)) >= len(here)
            for other in kept
        ):
            kept.append(finding)
    return kept


def _page(finding: Finding, bars: Sequence[Bar]) -> set[int]:
    """Written bars of a finding."""
    return {bar.written_index for bar in bars[finding.first_bar : finding.last_bar + 1]}

"""The findings as Markdown, ``findings.md``: for notes, tickets and letters.

References
----------
.. [1] CommonMark 0.31.2: section 2.4, backslash escapes; sections 4.2, 5.2 and 6.6, what
       headings, list items and raw HTML begin with.
"""

from __future__ import annotations

import math
import re

from auditor.auditing import Audit
from auditor.craft.remark import WEIGHTS
from auditor.findings.finding import Finding
from auditor.hearing.measures import REGISTERS
from auditor.report.following import following
from auditor.report.places import bars_in_words, clock_span, line_of, listed
from auditor.report.printing import concerns, praises
from auditor.report.remarks import RemarkView, Thought, remark_views, told_apart
from auditor.report.views import KIND_WORDS, confidence_words
from auditor.report.weight import bar_weights

# Signs that can begin markup within a line, and at its start; a name must not [1]_.
_WITHIN = re.compile(r"([\\`*_\[\]<>|~&])")
_AT_START = re.compile(r"^([#+-]|\d+(?=[.)]))")


def findings_markdown(audit: Audit) -> str:
    """Everything found, in the order of the report.

    Parameters
    ----------
    audit
        What to tell.

    Returns
    -------
    str
        CommonMark with tables; names and sentences are escaped, so they stay text.
    """
    title = audit.score.title.strip() or audit.sounding.name
    parts = _forecast_head(audit, title) if audit.source == "forecast" else _head(audit, title)
    asks, works = concerns(audit), praises(audit)
    parts.append("## Findings, heaviest first")
    if not asks:
        where = "forecast" if audit.source == "forecast" else "rendering"
        parts.append(f"No line that the score relies on is covered in this {where}.")
    parts += [_finding(audit, n, f) for n, f in enumerate(asks, start=1)]
    if works:
        parts.append("## What works")
        parts += [_finding(audit, n, f) for n, f in enumerate(works, start=len(asks) + 1)]
    parts += _beside(audit)
    if audit.craft:
        parts.append("## From the page")
        parts.append("\n".join(_remarks(audit)))
    parts.append("## Cautions")
    parts.append("\n".join(f"- {text(words)}" for words in audit.cautions))
    return "\n\n".join(parts) + "\n"


def _head(audit: Audit, title: str) -> list[str]:
    told = following(audit, bar_weights(audit))
    head = [f"# {text(title)}: audit of the mock-up", text(told.sentence)]
    return head + [text(words) for words in told.details]


def _beside(audit: Audit) -> list[str]:
    """Where the rendering and the forecast of a hall part, and where they agree."""
    beside = audit.beside
    if beside is None:
        return []
    words = [word for _, word, _ in beside.agreement]
    said = "By published instrument power, heard in a hall without any rendering"
    counted = (
        f"{said}, {words.count('agrees')} of {len(words)} covered or faint passages are so "
        f"there too; {words.count('differs')} would be heard, {words.count('cannot tell')} "
        f"cannot be told."
        if words
        else f"{said}, there is nothing to add to the findings above."
    )
    rows = [f"- {text(f.sentence)}" for f in beside.findings]
    rests = () if audit.forecast is None else audit.forecast.remarks
    if rests:
        counted = f"{counted} The forecast rests on this. {' '.join(rests)}"
    return ["## Rendering and forecast", text(counted), *(["\n".join(rows)] if rows else [])]


def _forecast_head(audit: Audit, title: str) -> list[str]:
    said = "Forecast from the score alone; no sound was heard. Times are those of the marks."
    rests = "\n".join(f"- {text(words)}" for words in audit.sounding.remarks)
    return [f"# {text(title)}: forecast of the hall", said, rests]


def text(words: str) -> str:
    """Words as Markdown shows them as they are, on one line."""
    plain = _WITHIN.sub(r"\\\1", " ".join(words.split()))
    return _AT_START.sub(lambda m: f"\\{m[0]}" if not m[0].isdigit() else f"{m[0]}\\", plain)


def _finding(audit: Audit, number: int, finding: Finding) -> str:
    names = listed([line_of(audit.score, n).name for n in finding.lines])
    where = bars_in_words(audit.score, finding.first_bar, finding.last_bar)
    time = clock_span(finding.start_s, finding.end_s)
    kind = KIND_WORDS.get(finding.kind, finding.kind)
    blocks = [
        f"### {number}. {text(names)}, {text(where)}",
        f"*{text(time)}, {kind}, weight {finding.weight:.2f}, "
        f"confidence {text(confidence_words(finding.confidence))}*",
        text(finding.sentence),
    ]
    if finding.remedies:
        blocks.append("\n".join(f"1. {text(r)}" for r in finding.remedies))
    if finding.why:
        blocks.append(f"Why the score relies on it: {text(finding.why)}.")
    if finding.cause:
        blocks.append(f"How it comes about: {text(finding.cause)}.")
    if finding.covers:
        blocks.append(_table(audit, finding))
    return "\n\n".join(blocks)


def _table(audit: Audit, finding: Finding) -> str:
    rows = ["| Who covers it | share |", "| --- | ---: |"]
    rows += [
        f"| {text(line_of(audit.score, c.line).name)} | {_percent(c.share)} |"
        for c in finding.covers
    ]
    if any(share > 0 for share in finding.register_share):
        rows += ["", "| In which register it is lost | share |", "| --- | ---: |"]
        pairs = zip(REGISTERS, finding.register_share, strict=True)
        rows += [f"| {name} | {_percent(share)} |" for name, share in reversed([*pairs])]
    return "\n".join(rows)


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %" if math.isfinite(share) else "–"


def _remarks(audit: Audit) -> list[str]:
    heavy, thoughts = told_apart(remark_views(audit))
    rows = [f"- {_place(r)} ({r.weight}): {text(r.sentence)} {_reason(r)}" for r in heavy]
    for thought in thoughts:
        places = [f"  - {_place(r)}: {text(r.sentence)}" for r in thought.places]
        rows += [f"- {WEIGHTS[0].capitalize()}: {_reason(thought)}", *places]
    return rows


def _place(remark: RemarkView) -> str:
    return f"**{text(remark.part)}, {text(remark.where)}**"


def _reason(said: RemarkView | Thought) -> str:
    return text(said.why) + (f" Usually: {text(said.remedy)}" if said.remedy else "")

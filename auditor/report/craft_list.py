"""Remarks on craft as they leave the program: a list to read, a table, a record."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from auditor.craft.checking import CAUTION
from auditor.craft.remark import WEIGHTS, Remark
from auditor.report.places import bar_span, bars_in_words, part_name
from auditor.report.tables import Table
from auditor.score.notes import Score

SCHEMA_VERSION = 1
COLUMNS = (
    "kind", "weight", "part", "name", "bars", "sentence", "why", "remedy", "source", "notes",
)  # fmt: skip
_WIDTH = 88


def craft_text(score: Score, remarks: Sequence[Remark]) -> str:
    """Remarks as a text to read, the caution at the end of it."""
    paragraphs = [_paragraph(score, remark) for remark in remarks]
    return "\n\n".join([*paragraphs, _count(remarks), _filled(CAUTION)]) + "\n"


def _paragraph(score: Score, remark: Remark) -> str:
    bars = bars_in_words(score, remark.first_bar, remark.last_bar)
    head = f"{bars[:1].upper()}{bars[1:]}, {_who(score, remark)}: {remark.weight}"
    body = [remark.sentence, remark.why, f"What helps: {remark.remedy}", f"({remark.source})"]
    return "\n".join([head, *(_filled(sentence, "  ") for sentence in body)])


def _who(score: Score, remark: Remark) -> str:
    return part_name(score, remark.part) if remark.part else "the orchestra"


def _count(remarks: Sequence[Remark]) -> str:
    if not remarks:
        return "No remarks."
    counts = (
        (weight, sum(r.weight == weight for r in remarks)) for weight in reversed(WEIGHTS)
    )
    return "; ".join(f"{count} {weight}" for weight, count in counts if count) + "."


def _filled(text: str, indent: str = "") -> str:
    return textwrap.fill(text, _WIDTH, initial_indent=indent, subsequent_indent=indent)


def craft_table(score: Score, remarks: Sequence[Remark]) -> Table:
    """One row a remark, in the order of the music."""
    rows = tuple(
        (
            r.kind, r.weight, r.part, _who(score, r), bar_span(score, r.first_bar, r.last_bar),
            r.sentence, r.why, r.remedy, r.source, " ".join(r.notes),
        )
        for r in remarks
    )  # fmt: skip
    return Table("craft", COLUMNS, rows)


def craft_record(score: Score, remarks: Sequence[Remark]) -> dict[str, object]:
    """Everything about the remarks, ready for JSON."""
    table = craft_table(score, remarks)
    return {
        "schema_version": SCHEMA_VERSION,
        "title": score.title,
        "caution": CAUTION,
        "remarks": [
            {**dict(zip(table.columns, row, strict=True)), "notes": list(remark.notes)}
            for row, remark in zip(table.rows, remarks, strict=True)
        ],
    }

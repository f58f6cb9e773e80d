"""The tables that leave an audit: their columns, their rows, and how a cell is written.

A row holds plain values, already rounded, None where nothing was judged; the same
rows feed the CSV files and ``audit.json``.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from auditor.alignment.timeline import Timeline
from auditor.auditing import Audit
from auditor.findings.finding import Finding
from auditor.hearing.measures import Measures
from auditor.intent.roles import ROLES, Strand
from auditor.report.places import bar_span
from auditor.score.notes import Score

Value = str | int | float | None
Row = tuple[Value, ...]

# Decimals: seconds 4, quarters 6 (a triplet quaver stays a third), levels 2, the rest
# as fine as the figures mean anything.
PLACES = {
    "beat": 6, "onset_quarters": 6, "onset_s": 4, "offset_s": 4, "start_s": 4, "end_s": 4,
    "level_db": 2, "margin_db": 2, "loudness_alone_sone": 4, "partial_loudness_sone": 4,
    "loudness_ratio": 4, "distinct_ratio": 4, "covered_share": 4, "confidence": 3, "weight": 4,
    "bass": 2, "tenor": 2, "alto": 2, "treble": 2, "brilliance": 2,
}  # fmt: skip

_FIGURES = (
    "level_db", "partial_loudness_sone", "loudness_ratio", "distinct_ratio", "margin_db",
    "covered_share", "covered_by", "state", "confidence",
)  # fmt: skip

COLUMNS: dict[str, tuple[str, ...]] = {
    "notes": (
        "note_id", "part", "line", "bar", "pass", "beat", "onset_quarters", "pitch", "onset_s",
        "offset_s", "level_db", "loudness_alone_sone", "partial_loudness_sone",
        "loudness_ratio", "distinct_ratio", "margin_db", "covered_by", "state", "confidence",
    ),
    "lines": ("line", "part", "name", "instrument", "role", "strand", *_FIGURES),
    "strands": ("strand", "kind", "parts", "bars", *_FIGURES),
    "bars": ("bar", "pass", "start_s", "end_s", "confidence", "reason"),
    "findings": (
        "id", "kind", "weight", "parts", "bars", "start_s", "end_s", "state", "margin_db",
        "covered_by", "confidence", "sentence", "remedy",
    ),
}  # fmt: skip


FREE_TEXT = ("name", "reason", "sentence", "remedy")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Table:
    """One table: what it is called, its columns and its rows."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]


def rounded(value: float, places: int) -> float | None:
    """Round to so many decimals; None for what is not a finite number; never minus zero."""
    number = float(value)
    return round(number, places) + 0.0 if math.isfinite(number) else None


def _row(columns: Sequence[str], values: dict[str, Value]) -> Row:
    def cell(name: str) -> Value:
        value = values.get(name)
        if isinstance(value, float):
            return rounded(value, PLACES[name])
        return value

    return tuple(cell(name) for name in columns)


def _covering_part(audit: Audit, row: int) -> int | None:
    """Part number of a row of the line spectra; rows follow the lines of the score."""
    return audit.score.lines[row].part if row >= 0 else None


def _figures(
    audit: Audit, of: Measures, i: int, state: str, confidence: float
) -> dict[str, Value]:
    """Figures of one thing by column name; nothing but the state when it was not judged."""
    if state == "not judged":
        return {"state": state}
    return {
        "level_db": float(of.level_db[i]),
        "loudness_alone_sone": float(of.alone_sone[i]),
        "partial_loudness_sone": float(of.partial_sone[i]),
        "loudness_ratio": float(of.loudness_ratio[i]),
        "distinct_ratio": float(of.distinct_ratio[i]),
        "margin_db": float(of.margin_db[i]),
        "covered_share": float(of.covered_share[i]),
        "covered_by": _covering_part(audit, int(of.covered_by[i])),
        "state": state,
        "confidence": float(confidence),
    }


def notes_table(audit: Audit) -> Table:
    """One row a note, in the order of the score."""
    heard, windows = audit.heard, audit.windows
    rows = []
    for i, note in enumerate(audit.score.notes):
        bar = audit.score.bars[note.bar]
        values: dict[str, Value] = {
            "note_id": note.id,
            "part": note.part,
            "line": note.line,
            "bar": bar.number,
            "pass": bar.pass_number,
            "beat": float(note.beat),
            "onset_quarters": float(note.onset),
            "pitch": note.pitch,
            "onset_s": float(windows.onset_s[i]),
            "offset_s": float(windows.offset_s[i]),
        }
        values |= _figures(
            audit, heard.notes, i, heard.note_state[i], float(heard.note_confidence[i])
        )
        rows.append(_row(COLUMNS["notes"], values))
    return Table("notes", COLUMNS["notes"], tuple(rows))


def main_role(audit: Audit, line: int) -> str:
    """Role a line (its number) has for the longest time in quarters; empty if it has none."""
    time = dict.fromkeys(ROLES, 0.0)
    for bar, role in zip(audit.score.bars, audit.intent.role[line - 1], strict=True):
        if role:
            time[role] = time.get(role, 0.0) + bar.duration
    best = max(time, key=lambda role: time[role])
    return best if time[best] > 0 else ""


def main_strand(audit: Audit, line: int) -> str:
    """Strand in which a line spends most quarters; a layer only where there is no strand."""

    def spent(strand: Strand) -> float:
        notes = (audit.score.notes[i] for i in strand.notes)
        return sum(note.duration for note in notes if note.line == line)

    for kind in ("strand", "layer"):
        times = [(spent(s), s.id) for s in audit.intent.strands if s.kind == kind]
        longest = max((t for t, _ in times), default=0.0)
        if longest > 0:
            return next(name for t, name in times if t == longest)
    return ""


def lines_table(audit: Audit) -> Table:
    """One row a line, in score order."""
    heard = audit.heard
    rows = []
    for i, line in enumerate(audit.score.lines):
        values: dict[str, Value] = {
            "line": line.number,
            "part": line.part,
            "name": line.name,
            "instrument": line.instrument.key,
            "role": main_role(audit, line.number),
            "strand": main_strand(audit, line.number),
        }
        values |= _figures(
            audit, heard.lines, i, heard.line_state[i], float(heard.line_confidence[i])
        )
        rows.append(_row(COLUMNS["lines"], values))
    return Table("lines", COLUMNS["lines"], tuple(rows))


def parts_of(audit: Audit, lines: Iterable[int]) -> tuple[int, ...]:
    """Part numbers of some lines, each once, in score order."""
    return tuple(sorted({audit.score.lines[n - 1].part for n in lines}))


def strands_table(audit: Audit) -> Table:
    """One row a strand or layer; the groups heard stand in the order of the strands."""
    heard = audit.heard
    rows = []
    for i, strand in enumerate(audit.intent.strands):
        values: dict[str, Value] = {
            "strand": strand.id,
            "kind": strand.kind,
            "parts": _numbers(parts_of(audit, strand.lines)),
            "bars": bar_span(audit.score, strand.first_bar, strand.last_bar),
        }
        values |= _figures(
            audit, heard.groups, i, heard.group_state[i], float(heard.group_confidence[i])
        )
        rows.append(_row(COLUMNS["strands"], values))
    return Table("strands", COLUMNS["strands"], tuple(rows))


def bars_table(audit: Audit) -> Table:
    """One row a bar of the played axis."""
    return bar_times_table(audit.score, audit.timeline)


def bar_times_table(score: Score, timeline: Timeline) -> Table:
    """When each bar of the played axis sounds, as `bars.csv`."""
    rows = []
    for time in timeline.bars:
        bar = score.bars[time.bar]
        values: dict[str, Value] = {
            "bar": bar.number,
            "pass": bar.pass_number,
            "start_s": float(time.start_s),
            "end_s": float(time.end_s),
            "confidence": float(time.confidence),
            "reason": time.reason,
        }
        rows.append(_row(COLUMNS["bars"], values))
    return Table("bars", COLUMNS["bars"], tuple(rows))


def _finding_row(audit: Audit, finding: Finding) -> Row:
    values: dict[str, Value] = {
        "id": finding.id,
        "kind": finding.kind,
        "weight": float(finding.weight),
        "parts": _numbers(finding.parts),
        "bars": bar_span(audit.score, finding.first_bar, finding.last_bar),
        "start_s": float(finding.start_s),
        "end_s": float(finding.end_s),
        "state": finding.state,
        "margin_db": float(finding.margin_db),
        "covered_by": (
            audit.score.lines[finding.covers[0].line - 1].part if finding.covers else None
        ),
        "confidence": float(finding.confidence),
        "sentence": finding.sentence,
        "remedy": "; ".join(finding.remedies),
    }
    return _row(COLUMNS["findings"], values)


def findings_table(audit: Audit) -> Table:
    """One row a finding, heaviest first."""
    rows = tuple(_finding_row(audit, finding) for finding in audit.findings)
    return Table("findings", COLUMNS["findings"], rows)


def all_tables(audit: Audit) -> tuple[Table, ...]:
    """Every table of an audit, in the order of the documentation."""
    return (
        notes_table(audit),
        lines_table(audit),
        strands_table(audit),
        bars_table(audit),
        findings_table(audit),
    )


def _numbers(values: Sequence[int]) -> str:
    return " ".join(str(int(v)) for v in values)


def _cell(name: str, value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.{PLACES[name]}f}"
    text = str(value)
    # A spreadsheet runs a text cell that begins like a formula, and names come from files.
    return "'" + text if name in FREE_TEXT and text.startswith(FORMULA_STARTS) else text


def to_csv(table: Table) -> str:
    """Table as CSV text: one header line, comma, decimal point, line feed, UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    for row in table.rows:
        writer.writerow(
            [_cell(name, value) for name, value in zip(table.columns, row, strict=True)]
        )
    return out.getvalue()


def measured_rows(measures: Measures) -> list[dict[str, object]]:
    """Shares that have no column of their own, per thing heard, for ``audit.json``."""
    return [
        {
            "cover_share": [rounded(v, 4) for v in np.asarray(measures.cover_share[i])],
            "register_share": [rounded(v, 4) for v in np.asarray(measures.register_share[i])],
            "ownership": rounded(float(measures.ownership[i]), 3),
        }
        for i in range(len(measures))
    ]


def evidence_table(audit: Audit) -> dict[str, object]:
    """Evidence beside the loudness of each note, in the order of the notes' table."""
    known = audit.heard.note_evidence
    columns = ("salience", "brightness", "attack_s")
    rows = zip(*(getattr(known, name) for name in columns), strict=True)
    return {
        "columns": ["salience", "brightness_octaves", "attack_s"],
        "rows": [[rounded(value, 3) for value in row] for row in rows],
    }
